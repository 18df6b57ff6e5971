// What the phone remembers for every visit: the technician, units, instruments, the theme.
// DOM only: a change is handed to `save` at once; nothing is kept here.

import { INSTRUMENTS } from "../visit/calibration.js";
import { readNumber } from "../visit/number_input.js";
import { say, unitWord } from "../language/words.js";
import { button, el, showHead } from "./elements.js";
import { control } from "./fields.js";

// What the technician is asked, each by its name in a visit, the code of its label, and how it is typed.
/** @type {[name: string, code: string, more?: Partial<Field>][]} */
const TECHNICIAN = [
  ["name", "name", { names: true, autocomplete: "name" }],
  ["business", "business", { names: true, autocomplete: "organization" }],
  ["phone", "telephone", { inputmode: "tel", autocomplete: "tel" }],
  ["email", "email", { inputmode: "email", autocomplete: "email" }],
  ["certificate_no", "certificate_no", { capitals: true }],
];

const QUANTITIES = ["pressure", "temperature", "altitude", "mass", "distance", "vacuum"];

const GAUGES = ["low_gauge", "high_gauge"];

/** @param {string} code */
const label = (code) => say(`phone.settings.${code}`);

/** @param {string} code */
const heading = (code) => el("h2", null, label(code));

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
 * A number without a unit of its own; a text that isn't a number is shown as wrong and leaves the old value.
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
  meaning: ({ kind }, { text }) => (kind === "day" && DAY.test(text) && text < today ? label("past") : ""),
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
    const part = control(field, source, { rulebook: words, unitFor: () => undefined });
    controls.push(part);
    return part.root;
  };
  /** @param {string[]} path @param {string} words @param {Partial<Field>} [more] */
  const text = (path, words, more) => add({ kind: "text", path, label: words, ...more }, textSource(state, path));
  /** @param {string[]} path @param {string} words @param {string} suffix */
  const number = (path, words, suffix) =>
    add({ kind: "number", path, label: words, suffix }, numberSource(state, path));
  // A day written another way before there was a picker stays a text.
  /** @param {string[]} path @param {string} words */
  const day = (path, words) => {
    const value = at(state.settings, path) ?? "";
    if (value !== "" && !DAY.test(value)) return text(path, words);
    return add({ kind: "day", path, label: words }, textSource(state, path));
  };
  /** @param {string} quantity */
  const unit = (quantity) => {
    const path = ["units", quantity];
    /** @type {Field} */
    const field = { kind: "choice", path, label: label(quantity), unitsOf: quantity, required: true };
    return add(field, textSource(state, path));
  };
  const theme = () => {
    const words = { ...rulebook, vocabularies: { theme: ["sun", "dusk"] } };
    const path = ["theme"];
    /** @type {Field} */
    const field = { kind: "choice", path, label: label("theme"), vocabulary: "theme" };
    return add(field, textSource(state, path), words);
  };
  const hand = () => add({ kind: "flag", path: ["left_hand"], label: label("hand") }, textSource(state, ["left_hand"]));
  return { text, number, day, unit, theme, hand, refresh };
}

/** @param {ReturnType<typeof createFields>} fields */
function instruments({ number, day }) {
  /** @param {string} code */
  const words = (code) => say(`phone.instrument.${code}`);
  /** @param {string} first the first name in its path */
  const calibrated = (first) =>
    INSTRUMENTS.filter(([, path]) => path[0] === first).map(([name, path]) =>
      day(["instruments", ...path], say(`phone.calibration.until.${name}`)));
  return [
    ...GAUGES.flatMap((name) => [
      number(["instruments", name, "span_kpa"], words(`${name}_span`), unitWord("pressure", "kpa")),
      number(["instruments", name, "class_pct"], words(`${name}_class`), words("of_span")),
      ...calibrated(name),
    ]),
    number(["instruments", "thermometer_c"], words("thermometer"), unitWord("temperature_difference", "c")),
    ...calibrated("thermometer_calibrated_until"),
    number(["instruments", "hygrometer_pct"], words("hygrometer"), "%"),
    ...calibrated("hygrometer_calibrated_until"),
  ];
}

/** @param {Places} places @param {SettingsPage} page */
export function settingsScreen(places, page) {
  const fields = createFields(page);
  const { text, number, day, unit, theme, hand, refresh } = fields;
  const context = el("p", { class: "context" }, label("context"));
  const way = el("a", { class: "way", href: "/" }, say("phone.page.day"));
  showHead(places, context, el("h1", null, label("title")), way);
  places.page.className = "settings";
  places.page.replaceChildren(
    heading("technician"), ...TECHNICIAN.map(([name, code, more]) => text(["technician", name], label(code), more)),
    day(["technician", "certificate_until"], label("certificate_until")),
    heading("units"), ...QUANTITIES.map(unit),
    heading("instruments"), ...instruments(fields),
    heading("prices"),
    text(["currency"], label("currency"), { capitals: true, most: 3 }),
    number(["tax_pct"], label("tax"), "%"),
    heading("desk"), page.pairing,
    heading("screen"), theme(),
    el("p", { class: "meaning" }, label("theme_note")), hand(),
    heading("phone"), ...page.facts.map((line) => el("p", { class: "meaning" }, line)),
    button(label("carry"), page.carry, { class: "quiet" }),
  );
  places.foot.replaceChildren(button(say("phone.page.back"), page.home, { class: "main" }), places.status);
  refresh();
}
