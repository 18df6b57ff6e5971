// A thermometer or hygrometer over Bluetooth: one reading of the Environmental Sensing Service, as a number.
// It fills no field and draws nothing; which units and which values mean "not known" is the Bluetooth SIG's.

import { say } from "../language/words.js";

const SERVICE = 0x181a;

/**
 * Both in hundredths, least significant byte first; what lies beyond the range is prohibited.
 * Source: Bluetooth SIG, GATT Specification Supplement, Temperature (0x2A6E) and Humidity (0x2A6F).
 *
 * @typedef {{id: number, read: (view: DataView) => number, unknown: number, least: number, most: number}} Kind
 * @type {Record<string, Kind>}
 */
const KINDS = {
  temperature: { id: 0x2a6e, read: (view) => view.getInt16(0, true), unknown: -0x8000, least: -27315, most: 32767 },
  humidity: { id: 0x2a6f, read: (view) => view.getUint16(0, true), unknown: 0xffff, least: 0, most: 10000 },
};

/**
 * @param {BluetoothDevice} device
 * @param {Kind} kind
 */
async function hundredths({ gatt }, { id, read }) {
  try {
    const server = await gatt.connect();
    const service = await server.getPrimaryService(SERVICE);
    return read(await (await service.getCharacteristic(id)).readValue());
  } finally {
    gatt.disconnect();
  }
}

/**
 * What a person is told of a sensor that gave no reading.
 *
 * @param {unknown} error
 * @param {string} name
 * @param {string} what
 */
function lackWords(error, name, what) {
  console.warn("sensor:", error);
  const lacks = error instanceof DOMException && error.name === "NotFoundError";
  return say(lacks ? "loggers.sensor.lacking" : "loggers.sensor.lost", { name, what });
}

/**
 * Asks a person for a sensor and reads it once; `words` is what to tell, nothing where they chose none.
 *
 * @param {string} code "temperature" [°C] or "humidity" [%]
 * @returns {Promise<{value?: number, words?: string}>}
 */
export async function readSensor(code) {
  const kind = KINDS[code];
  /** @type {BluetoothDevice} */
  let device;
  try {
    device = await /** @type {BluetoothRadio} */ (navigator.bluetooth).requestDevice({
      filters: [{ services: [SERVICE] }],
    });
  } catch (error) {
    const isCancelled = error instanceof DOMException && error.name === "NotFoundError";
    if (!isCancelled) console.warn("sensor:", error);
    return isCancelled ? {} : { words: say("loggers.sensor.off") };
  }
  const name = device.name || say("loggers.sensor.nameless");
  const what = say(`loggers.sensor.${code}`);
  try {
    const value = await hundredths(device, kind);
    if (value === kind.unknown || value < kind.least || value > kind.most) {
      return { words: say("loggers.sensor.unknown", { name, what }) };
    }
    return { value: value / 100, words: say("loggers.sensor.read", { name, what }) };
  } catch (error) {
    return { words: lackWords(error, name, what) };
  }
}
