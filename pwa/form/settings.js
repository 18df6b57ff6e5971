// What the phone remembers for every visit: the technician, units, instruments, the theme.
// DOM only: a change is handed to `save` at once; nothing is kept here.

import { INSTRUMENTS } from "../visit/calibration.js";
import { labelOf, readNumber } from "../visit/number_input.js";
import { button, el, showHead } from "./elements.js";
import { control } from "./fields.js";
import { sentenceCase } from "./words.js";

const TECHNICIAN = [
  ["name", "Technician"], ["business", "Business"], ["phone", "Telephone"], ["email", "Mail address"],
  ["certificate_no", "Certificate number"],
];

const QUANTITIES = [
  ["pressure", "Pressures"], ["temperature", "Temperatures"], ["altitude", "Altitude"], ["mass", "Masses"],
  ["distance", "Distances"],
];

const GAUGES = [["low_gauge", "Low gauge"], ["high_gauge", "High gauge"]];

const DAY = /^\d{4}-\d\d-\d\d$/;

/** @param {any} node @param {string[]} path @returns {any} */
const at = (node, path) => path.reduce((inner, key) => inner?.[key], node);

/**
 * The settings with another value at a path; undefined takes it out.
 *
 * @param {Settings} settings
 * @param {string[]} path
 * @param {unknown} value
 */
function changed(settings, path, value) {
  const next = structuredClone(settings);
  /** @type {Tree} */
  let node = next;
  for (const key of path.slice(0, -1)) node = node[key] ??= {};
  const name = path[path.length - 1];
  if (value === undefined) delete node[name];
  else node[name] = value;
  return next;
}

/** @typedef {{settings: Settings, keep: (settings: Settings) => void}} State of the settings while they are shown */

/** @param {State} state @param {string[]} path @returns {Source} */
function textSource(state, path) {
  return {
    get: () => ({ text: at(state.settings, path) ?? "" }),
    set: ({ text }) => state.keep(changed(state.settings, path, text === "" ? undefined : text)),
  };
}

/**
 * A number without a unit of its own; a text that is no number is shown as wrong and leaves the old value.
 *
 * @param {State} state
 * @param {string[]} path
 * @returns {Source}
 */
function numberSource(state, path) {
  let text = String(at(state.settings, path) ?? "");
  return {
    get: () => ({ text }),
    set: (entry) => {
      text = entry.text;
      const read = readNumber(text);
      if (text !== "" && read.fault !== undefined) return;
      state.keep(changed(state.settings, path, text === "" ? undefined : read.number));
    },
  };
}

/** @param {string} today @returns {FieldSight} */
const sightOf = (today) => ({
  meaning: ({ kind }, { text }) => (kind === "day" && DAY.test(text) && text < today ? "This day is past." : ""),
});

/**
 * Makes the fields of the settings, each the element of its control; whatever is kept refreshes them all.
 *
 * @param {SettingsPage} page
 */
function createFields({ settings, rulebook, save, today }) {
  /** @type {Control[]} */
  const controls = [];
  const refresh = () => controls.forEach((one) => one.refresh(sightOf(today)));
  /** @type {State} */
  const state = {
    settings,
    keep: (next) => {
      state.settings = next;
      save(next);
      refresh();
    },
  };
  /** @param {Field} field @param {Source} source @param {Rulebook} [words] */
  const add = (field, source, words = rulebook) => {
    const part = control(field, source, { rulebook: words, preferUnit: () => undefined });
    controls.push(part);
    return part.root;
  };
  /** @param {string[]} path @param {string} label @param {Partial<Field>} [more] */
  const text = (path, label, more) => add({ kind: "text", path, label, ...more }, textSource(state, path));
  /** @param {string[]} path @param {string} label @param {string} suffix */
  const number = (path, label, suffix) => add({ kind: "number", path, label, suffix }, numberSource(state, path));
  // A day that was written out in another way before there was a picker stays a text.
  /** @param {string[]} path @param {string} label */
  const day = (path, label) => {
    const value = at(state.settings, path) ?? "";
    if (value !== "" && !DAY.test(value)) return text(path, label);
    return add({ kind: "day", path, label }, textSource(state, path));
  };
  /** @param {string} quantity @param {string} label */
  const unit = (quantity, label) => {
    const path = ["units", quantity];
    return add({ kind: "choice", path, label, unitsOf: quantity, required: true }, textSource(state, path));
  };
  const paper = () => {
    const words = { ...rulebook, vocabularies: { theme: ["sun", "dusk"] } };
    const path = ["theme"];
    return add({ kind: "choice", path, label: "Paper", vocabulary: "theme" }, textSource(state, path), words);
  };
  return { text, number, day, unit, paper, refresh };
}

/** @param {ReturnType<typeof createFields>} fields @param {Rulebook} rulebook */
function instruments({ number, day }, rulebook) {
  /** @param {string} first the first name in its path */
  const calibrated = (first) =>
    INSTRUMENTS.filter(([, path]) => path[0] === first).map(([name, path]) =>
      day(["instruments", ...path], `${sentenceCase(name)}, calibrated until`));
  return [
    ...GAUGES.flatMap(([name, label]) => [
      number(["instruments", name, "span_kpa"], `${label}, span`, labelOf("pressure", "kpa", rulebook)),
      number(["instruments", name, "class_pct"], `${label}, class`, "% of span"),
      ...calibrated(name),
    ]),
    number(["instruments", "thermometer_c"], "Thermometer, limit", "K"),
    ...calibrated("thermometer_calibrated_until"),
    number(["instruments", "hygrometer_pct"], "Hygrometer, limit", "%"),
    ...calibrated("hygrometer_calibrated_until"),
  ];
}

/** @param {Places} places @param {SettingsPage} page */
export function settingsScreen(places, page) {
  const fields = createFields(page);
  const { text, number, day, unit, paper, refresh } = fields;
  const context = el("p", { class: "context" }, "for every visit from now on");
  showHead(places, context, el("h1", null, "Settings"), el("a", { class: "way", href: "/" }, "The day"));
  places.index.hidden = true;
  places.page.className = "settings";
  places.page.replaceChildren(
    el("h2", null, "Technician"), ...TECHNICIAN.map(([name, label]) => text(["technician", name], label)),
    day(["technician", "certificate_until"], "Certificate valid until"),
    el("h2", null, "Units to begin with"), ...QUANTITIES.map(([quantity, label]) => unit(quantity, label)),
    el("h2", null, "Instruments"), ...instruments(fields, page.rulebook),
    el("h2", null, "Prices"),
    text(["currency"], "Currency, three letters", { capitals: true, most: 3 }),
    number(["tax_pct"], "Tax on a new line", "%"),
    el("h2", null, "Desk"), page.pairing,
    el("h2", null, "Screen"), paper(),
    el("p", { class: "meaning" }, "With neither chosen the screen follows the phone."),
    el("h2", null, "This phone"), ...page.facts.map((line) => el("p", { class: "meaning" }, line)),
    button("Carry by hand, without a network", page.carry, { class: "quiet" }),
  );
  places.foot.replaceChildren(button("Back to the day", page.home, { class: "main" }), places.status);
  refresh();
}
