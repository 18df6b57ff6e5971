// The line of a quick test that says where and in which units it is taken, and the panel that changes this.
// DOM only. The phone is asked for its altitude by a key, never by itself.

import { decimalMark } from "../language/formats.js";
import { say, term, unitWord } from "../language/words.js";
import { fieldIn, pressed, turned } from "../visit/quick_step.js";
import { plainInUnit, valueOf } from "../visit/number_input.js";
import { stepOf } from "../visit/steps.js";
import { entryFor } from "../visit/visit_model.js";
import { button, el, setText } from "./elements.js";
import { control } from "./fields.js";
import { numberPad } from "./pad.js";
import { openPanel } from "./panel.js";
import { beside } from "./words.js";

const ALTITUDE = "place.altitude_m";
const LOCATE = { enableHighAccuracy: true, timeout: 20_000 };
const QUANTITIES = ["pressure", "temperature", "altitude"];

/**
 * @typedef {object} FactsWays
 * @property {(entry: Entry) => Promise<void>} keep an altitude
 * @property {Actions["setUnit"]} setUnit
 * @property {() => void} again draws the page that the panel lay over
 * @property {(() => void) | null} other says that something else is in the car
 */

/** The altitude as the visit has it, else as the phone remembers it. @param {Tools} tools @returns {Entry} */
export function altitudeOf(tools) {
  const { page, rulebook } = tools;
  const step = stepOf("customer", rulebook);
  const field = fieldIn(ALTITUDE, step);
  const entry = entryFor(page, step, field, tools.unitFor(field), rulebook);
  return entry.text === "" ? (tools.settings().altitude ?? entry) : entry;
}

/** @param {Tools} tools */
function altitudeWords(tools) {
  const { text, unit = tools.units().altitude } = altitudeOf(tools);
  if (text === "") return say("quick.facts.altitude_none");
  return `${text.replace("-", "\u2212")}\u00a0${unitWord("altitude", unit)}`;
}

/** Whose it is, what is in it, how high it stands, in which units. @param {Tools} tools @param {Visit} visit */
export function factsWords(tools, { vehicle, customer }) {
  const units = tools.units();
  const inside = vehicle?.refrigerant;
  const named = inside === "other" ? vehicle?.refrigerant_text : undefined;
  return beside([
    vehicle?.plate ?? customer?.name, named ?? (inside && term("refrigerant", inside)), altitudeWords(tools),
    say("quick.facts.units", {
      pressure: unitWord("pressure", units.pressure), temperature: unitWord("temperature", units.temperature),
    }),
  ]);
}

/**
 * The way to the altitude of the place by the phone's own means.
 *
 * @param {Tools} tools
 * @param {(entry: Entry) => void} found
 */
function locateKey(tools, found) {
  const unit = tools.units().altitude;
  const told = el("p", { class: "meaning", role: "status" });
  /** @param {number} m */
  const words = (m) => `${plainInUnit("altitude", unit, m, tools.rulebook)}\u00a0${unitWord("altitude", unit)}`;
  const none = () => setText(told, say("quick.facts.not_located"));
  /** @param {GeolocationPosition} position */
  const take = ({ coords: { altitude } }) => {
    if (altitude === null) {
      none();
      return;
    }
    found({ text: plainInUnit("altitude", unit, altitude, tools.rulebook), unit });
    setText(told, say("quick.facts.located", { altitude: words(altitude) }));
  };
  const ask = () => navigator.geolocation.getCurrentPosition(take, none, LOCATE);
  const can = navigator.geolocation !== undefined;
  return el("div", null, can && button(say("quick.facts.locate"), ask, { class: "quiet" }), told);
}

/**
 * A choice of units, remembered at once.
 *
 * @param {string} quantity
 * @param {Tools} tools
 * @param {(quantity: string, unit: string) => void} set
 */
function unitChoice(quantity, tools, set) {
  /** @type {Field} */
  const field = {
    kind: "choice", path: ["units", quantity], label: say(`phone.settings.${quantity}`), unitsOf: quantity,
    required: true,
  };
  /** @type {Source} */
  const source = {
    get: () => ({ text: tools.units()[quantity] }),
    set: ({ text }) => set(quantity, text),
  };
  return control(field, source, tools).root;
}

/**
 * Opens the panel: the altitude on the pad, the units as choices, the refrigerant by way of its keys.
 *
 * @param {Tools} tools
 * @param {FactsWays} ways
 */
function openFacts(tools, { keep, setUnit, again, other }) {
  let entry = { ...altitudeOf(tools) };
  let fresh = true;
  const cell = el("output", { class: "altitude-cell" });
  const unit = () => entry.unit ?? tools.units().altitude;
  const field = fieldIn(ALTITUDE, stepOf("customer", tools.rulebook));
  const show = () => {
    setText(cell, entry.text === "" ? "\u2013" : entry.text.replace("-", "\u2212"));
    pad.show({
      name: say("quick.facts.altitude"), unit: say("quick.strip.alone", { unit: unitWord("altitude", unit()) }),
      minus: true, extra: null, next: [say("quick.pad.done"), ""], folds: false,
    });
  };
  const pad = numberPad((key) => {
    if (key === "next") {
      dialog.close();
      return;
    }
    // The first key starts a new number: a person who comes here has another place in mind.
    const text = fresh && /^\d$/.test(key) ? "" : entry.text;
    fresh = false;
    const next = key === "minus" ? turned({ ...entry, text }).text : pressed(text, key, decimalMark());
    entry = { text: next, unit: unit() };
    show();
  });
  /** @param {string} quantity @param {string} chosen */
  const changed = (quantity, chosen) => {
    setUnit(quantity, chosen);
    const isTyped = altitudeOf(tools).text !== entry.text || entry.text === "";
    if (isTyped) entry = { text: entry.text, unit: tools.units().altitude };
    show();
  };
  const dialog = openPanel(
    say("quick.facts.panel"),
    el("h2", { tabindex: "-1", autofocus: true }, say("quick.facts.panel")),
    QUANTITIES.map((quantity) => unitChoice(quantity, tools, changed)),
    other && button(say("quick.facts.else"), () => { other(); dialog.close(); }, { class: "quiet" }),
    el("div", { class: "altitude-row" }, el("span", null, say("quick.facts.altitude")), cell),
    locateKey(tools, (found) => { entry = { ...found }; show(); }),
    pad.root,
  );
  dialog.addEventListener("close", async () => {
    const isNew = entry.text !== altitudeOf(tools).text || entry.unit !== altitudeOf(tools).unit;
    if (isNew && valueOf(field, { ...entry, unit: unit() }, tools.rulebook).fault === undefined) {
      await keep({ text: entry.text, unit: unit() });
    }
    again();
  });
  show();
}

/**
 * The line and its key. `ways` says what a change does.
 *
 * @param {Tools} tools
 * @param {FactsWays} ways
 */
export function factsRow(tools, ways) {
  const words = el("span");
  const key = button(say("phone.page.change"), () => openFacts(tools, ways), { class: "quiet" });
  /** @param {Sight} sight */
  const refresh = (sight) => setText(words, factsWords(tools, sight.visit));
  return { root: el("div", { class: "row facts" }, words, key), refresh };
}
