// A key at a reading that a sensor with Bluetooth can fill; where a browser has no Bluetooth there is no key.
// DOM only: a reading is typed into the field as by hand, in the unit of the field; reading the sensor comes later.

import { plainInUnit } from "../visit/number_input.js";
import { say } from "../language/words.js";
import { button } from "./elements.js";

/** @type {Record<string, string>} */
const SENSED = {
  ambient_c: "temperature", vent_c: "temperature", return_air_c: "temperature", humidity_pct: "humidity",
};

/**
 * @param {Field} field
 * @param {Source} source
 * @param {Tools} tools
 */
export function sensorKey({ path, quantity, label }, source, { later, rulebook, tell }) {
  const kind = navigator.bluetooth && SENSED[path.at(-1) ?? ""];
  if (!kind) return null;
  const press = async () => {
    const parts = await later().catch(() => null);
    const { value, words } = parts === null ? { words: say("phone.later") } : await parts.readSensor(kind);
    if (value !== undefined) {
      const { unit } = source.get();
      source.set({ text: quantity ? plainInUnit(quantity, unit ?? "", value, rulebook) : value.toFixed(1), unit });
    }
    if (words !== undefined) tell(words, value === undefined ? "wrong" : "");
  };
  return button(say("phone.sensor"), press, { class: "sign sensor", "aria-label": say("phone.sensor_for", { label }) });
}
