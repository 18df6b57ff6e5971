// What the phone remembers for every visit: the technician, units, instruments, the theme.
// DOM only: a change is handed to `save` at once; nothing is kept here.

import { INSTRUMENTS } from "../visit/calibration.js";
import { labelOf, readNumber } from "../visit/number_input.js";
import { button, el } from "./elements.js";
import { control } from "./fields.js";
import { sentenceCase } from "./words.js";

const TECHNICIAN = [
  ["name", "Technician"], ["business", "Business"], ["phone", "Telephone"], ["email", "Mail address"],
  ["certificate_no", "Certificate number"],
];

const QUANTITIES = [["pressure", "Pressures"], ["temperature", "Temperatures"], ["altitude", "Altitude"], ["mass", "Masses"], ["distance", "Distances"]];

const GAUGES = [["low_gauge", "Low gauge"], ["high_gauge", "High gauge"]];

/** @param {Settings} settings @param {string[]} path @returns {any} */
const at = (settings, path) => path.reduce((node, key) => node?.[key], settings);

/** @param {Settings} settings @param {string[]} path @param {unknown} value @returns {Settings} */
function changed(settings, path, value) {
  const next = structuredClone(settings);
  let node = next;
  for (const key of path.slice(0, -1)) node = node[key] ??= {};
  if (value === undefined) delete node[path.at(-1)];
  else node[path.at(-1)] = value;
  return next;
}

/** @param {SettingsState} state @param {string[]} path @param {(settings: Settings) => void} save @returns {Source} */
function textSource(state, path, save) {
  return {
    get: () => ({ text: at(state.settings, path) ?? "" }),
    set: ({ text }) => save((state.settings = changed(state.settings, path, text === "" ? undefined : text))),
  };
}

/**
 * A number without a unit of its own; a text that is no number is shown as wrong and leaves the old value.
 *
 * @param {SettingsState} state
 * @param {string[]} path
 * @param {(settings: Settings) => void} save
 * @returns {Source}
 */
function numberSource(state, path, save) {
  /**  */
  let text = String(at(state.settings, path) ?? "");
  return {
    get: () => ({ text }),
    set: (entry) => {
      text = entry.text;
      const read = readNumber(text);
      if (text !== "" && read.fault !== undefined) return;
      save((state.settings = changed(state.settings, path, text === "" ? undefined : read.number)));
    },
  };
}

const DAY = /^\d{4}-\d\d-\d\d$/;

/** @param {Field} field @param {Entry} entry @param {string} today */
const isPast = (field, entry, today) => field.kind === "day" && DAY.test(entry.text) && entry.text < today;

/** @param {Places} places @param {SettingsPage} page */
export function settingsScreen(places, { settings, rulebook, save, home, carry, facts, pairing, today }) {
  const state = { settings };
  const sight = { meaning: (field, entry) => (isPast(field, entry, today) ? "This day is past." : "") };
  const made = [];
  const tools = { rulebook, preferUnit: () => undefined };
  /** @param {Settings} next */
  const keep = (next) => {
    save(next);
    made.forEach((one) => one.refresh(sight));
  };
  /** @param {Field} field @param {Source} source */
  const add = (field, source) => {
    made.push(control(field, source, tools));
    return made.at(-1).root;
  };
  const text = (path, label) => add({ kind: "text", path, label, ...(path[0] === "currency" ? { capitals: true, most: 3 } : {}) }, textSource(state, path, keep));
  /** @param {string[]} path @param {string} label @param {string} suffix */
  const number = (path, label, suffix) => add({ kind: "number", path, label, suffix }, numberSource(state, path, keep));
  /**
   * A day that was written out in another way before there was a picker stays a text.
   *
   * @param {string[]} path
   * @param {string} label
   */
  const day = (path, label) => {
    const kept = at(state.settings, path) ?? "";
    return kept === "" || DAY.test(kept) ? add({ kind: "day", path, label }, textSource(state, path, keep)) : text(path, label);
  };
  /** @param {string} wanted */
  const calibrated = (wanted) => {
    const [name, path] = INSTRUMENTS.find(([, one]) => one[0] === wanted);
    return day(["instruments", ...path], `${sentenceCase(name)}, calibrated until`);
  };
  /** @param {string} quantity @param {string} label */
  const units = (quantity, label) => add({ kind: "choice", path: ["units", quantity], label, unitsOf: quantity, required: true }, textSource(state, ["units", quantity], keep));
  const theme = { kind: "choice", path: ["theme"], label: "Paper", vocabulary: "theme" };
  const themes = { ...rulebook, vocabularies: { theme: ["sun", "dusk"] } };
  made.push(control(theme, textSource(state, ["theme"], keep), { rulebook: themes }));
  const paper = made.at(-1).root;
  const back = el("a", { class: "way", href: "/" }, "The day");
  places.head.replaceChildren(el("div", { class: "headline" }, el("div", null, el("p", { class: "context" }, "for every visit from now on"), el("h1", null, "Settings")), back));
  places.index.hidden = true;
  places.page.className = "settings";
  places.page.replaceChildren(
    el("h2", null, "Technician"), ...TECHNICIAN.map(([name, label]) => text(["technician", name], label)),
    day(["technician", "certificate_until"], "Certificate valid until"),
    el("h2", null, "Units to begin with"), ...QUANTITIES.map(([quantity, label]) => units(quantity, label)),
    el("h2", null, "Instruments"),
    ...GAUGES.flatMap(([name, label]) => [
      number(["instruments", name, "span_kpa"], `${label}, span`, labelOf("pressure", "kpa", rulebook)),
      number(["instruments", name, "class_pct"], `${label}, class`, "% of span"),
      calibrated(name),
    ]),
    number(["instruments", "thermometer_c"], "Thermometer, limit", "K"), calibrated("thermometer_calibrated_until"),
    number(["instruments", "hygrometer_pct"], "Hygrometer, limit", "%"), calibrated("hygrometer_calibrated_until"),
    el("h2", null, "Prices"),
    text(["currency"], "Currency, three letters"), number(["tax_pct"], "Tax on a new line", "%"),
    el("h2", null, "Desk"), pairing,
    el("h2", null, "Screen"), paper,
    el("p", { class: "meaning" }, "With neither chosen the screen follows the phone."),
    el("h2", null, "This phone"), ...facts.map((line) => el("p", { class: "meaning" }, line)),
    button("Carry by hand, without a network", carry, { class: "quiet" }),
  );
  places.foot.replaceChildren(button("Back to the day", home, { class: "main" }), places.status);
  made.forEach((one) => one.refresh(sight));
}

