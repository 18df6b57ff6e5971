// What each step of a visit asks, in the trade's order: the rulebook's rows of fields, made into parts of a form.
// No screen, no store and no rule of judgement; which fields there are, and what each is like, is data of the book.

import { say, sentenceAt } from "../language/words.js";

/** @typedef {import("../kernel.js").FieldRow} FieldRow A row of the book of fields */
/** @typedef {(code: string) => string | undefined} Said The words under a code, none where there are none */

/** @type {{slug: string, role?: string, lists: ListName[], photos?: string[]}[]} */
const OUTLINE = [
  { slug: "customer", lists: ["consent"] },
  { slug: "vehicle", lists: [], photos: ["arrival", "label", "chart"] },
  { slug: "cautions", lists: [] },
  { slug: "look", lists: ["checks", "rests"] },
  { slug: "before", role: "before", lists: [], photos: ["before"] },
  { slug: "work", lists: ["work", "refrigerant_moves"], photos: ["other"] },
  { slug: "after", role: "after", lists: [], photos: ["after"] },
  { slug: "result", lists: ["advice", "charges"] },
];

/**
 * How the entries of a list are told apart: by the code of a vocabulary, which stands in the field `key`, or as
 * its only one, under a name of its own; those of any other list by their ids.
 *
 * @type {Partial<Record<ListName, {vocabulary?: string, key?: string, only?: string, timed?: boolean}>>}
 */
const LISTS = {
  consent: { vocabulary: "consent", key: "code", timed: true },
  checks: { vocabulary: "checks", key: "code" },
  work: { vocabulary: "work", key: "code", timed: true },
  refrigerant_moves: { vocabulary: "move", key: "kind", timed: true },
  rests: { only: "rest", timed: true },
  advice: { only: "advice" },
};
// Only seen while the system runs, so the key that marks everything as in order leaves them out.
const RUNNING = ["air_strong", "stays_cold", "frost_free", "compressor_quiet"];

/** How a field is asked for, by the first word of its type; as a text else. @type {Record<string, FieldKind>} */
const KINDS = {
  number: "number", range: "number", whole: "number", money: "money", truth: "flag", code: "choice", oneof: "choice",
  unit: "choice", codes: "codes",
};

/** The one way to the words of the fields. @type {Said} */
const said = (code) => sentenceAt(`fields.${code}`);

/** @param {FieldRow} row @returns {FieldClock | undefined} */
const clockOf = ({ clock: name, then }) =>
  name === undefined
    ? undefined
    : { name, start: said(`clock.${name}.start`) ?? "", stop: said(`clock.${name}.stop`), then };

/**
 * A field of the form; `code` is that of the entry in which it is asked.
 *
 * @param {string} scope
 * @param {string} path
 * @param {FieldRow} row
 * @param {string} [code]
 * @returns {Field}
 */
function fieldOf(scope, path, row, code = "") {
  const [word, rest] = row.type.split(" ");
  return {
    ...(/** @type {any} */ (row)),
    kind: row.kind ?? (row.codes ? "choice" : KINDS[word] ?? "text"),
    path: path.split("."),
    label: said(row.labels?.[code] ?? row.label ?? `${scope}.${path}`) ?? "",
    note: said(`note.${scope}.${path}`),
    suffix: row.suffix && said(`suffix.${row.suffix}`),
    vocabulary: row.codes ?? (word.startsWith("code") ? rest : undefined),
    unitsOf: word === "unit" ? rest : undefined,
    counted: word === "oneof",
    integer: word === "whole",
    outside: scope !== "tests",
    most: word === "text" ? Number(rest) : undefined,
    clock: clockOf(row),
  };
}

/**
 * The rows of a scope that some steps ask for.
 *
 * @param {Rulebook} rulebook
 * @param {string} scope
 * @param {string[]} steps
 */
const rowsOf = ({ fields }, scope, steps) =>
  Object.entries(fields.scopes[scope] ?? {}).filter(([, { step }]) => step !== undefined && steps.includes(step));

/**
 * The fields that some steps ask for in a scope, each behind the heading or key that stands before it.
 *
 * @param {Rulebook} rulebook
 * @param {string} scope
 * @param {string[]} steps
 * @returns {StepPart[]}
 */
function partsOf(rulebook, scope, steps) {
  return rowsOf(rulebook, scope, steps).flatMap(([path, row]) => {
    const field = fieldOf(scope, path, row);
    if (row.mark === undefined) return [field];
    const label = said(`heading.${row.mark}`) ?? "";
    const { folded, when } = field;
    return [row.mark === "taps" ? { kind: "taps", label, folded, when } : { kind: "heading", label }, field];
  });
}

/**
 * Makes the entries of a list. `slot` tells which item an entry means: the one with that code or id, or the only one.
 *
 * @param {Rulebook} rulebook
 * @param {ListName} list
 * @param {string} step
 * @returns {(slot: string) => Item}
 */
function makerOf(rulebook, list, step) {
  const rows = rowsOf(rulebook, list, [step]);
  const { key, only, timed } = LISTS[list] ?? {};
  /** @type {Map<string, Field[]>} */
  const made = new Map();
  /** @param {string} code */
  function fieldsFor(code) {
    const ofCode = rows.filter(([, { of }]) => of === undefined || of.includes(code));
    const fields = made.get(code) ?? ofCode.map(([path, row]) => fieldOf(list, path, row, code));
    made.set(code, fields);
    return fields;
  }
  return (slot) => {
    const fields = fieldsFor(key === undefined ? "" : slot);
    /** @param {string} last */
    const asks = (last) => fields.some(({ path }) => path.at(-1) === last);
    return {
      kind: "item", list, slot, label: said(`heading.${list}`) ?? null, fields,
      base: key === undefined ? {} : { [key]: slot },
      timed,
      mixed: asks("passes"),
      weighed: asks("cylinder_after_g"),
      repeated: key === undefined && only === undefined,
      group: list === "checks" ? (RUNNING.includes(slot) ? "running" : "checks") : undefined,
    };
  };
}

/** @param {typeof OUTLINE[number]} outline @param {Rulebook} rulebook @returns {Step} */
function stepFor({ slug, role, lists, photos }, rulebook) {
  /** @type {Step} */
  const step = {
    slug, role, photos, title: say(`fields.step.${slug}`), items: [], listed: [],
    fields: role === undefined ? partsOf(rulebook, "visit", [slug]) : partsOf(rulebook, "tests", ["test", role]),
  };
  for (const list of lists) {
    const make = makerOf(rulebook, list, slug);
    const { vocabulary, only } = LISTS[list] ?? {};
    if (vocabulary !== undefined) step.listed?.push([vocabulary, make]);
    else if (only !== undefined) step.items.push(make(only));
    else step.repeated = { list, make };
  }
  return step;
}

const ROWS = "vehicle.chart.rows.";

/** Both ends of a range. @param {Field} field @returns {Field[]} */
const endsOf = (field) => ["from", "to"].map((end, place) => ({
  ...field,
  path: [...field.path, String(place)],
  label: say(`fields.range.${end}`, { label: field.label }),
}));

/** @param {Rulebook} rulebook @returns {ChartFields} */
function chartFor(rulebook) {
  /** @type {ChartFields} */
  const chart = { settings: [], row: [], ranges: {} };
  for (const [path, row] of rowsOf(rulebook, "visit", ["chart"])) {
    const field = fieldOf("visit", path, row);
    field.path = path.replace(ROWS, "").replace("vehicle.chart.", "").split(".");
    if (row.type === "range") chart.ranges[field.path[0]] = field.label;
    const fields = row.type === "range" ? endsOf(field) : [field];
    (path.startsWith(ROWS) ? chart.row : chart.settings).push(...fields);
  }
  return chart;
}

/** @type {WeakMap<Rulebook, {steps: Step[], chart: ChartFields}>} */
const MADE = new WeakMap();

/** What a rulebook asks, made at its first use. @param {Rulebook} rulebook */
function asked(rulebook) {
  const known = MADE.get(rulebook);
  if (known !== undefined) return known;
  const made = { steps: OUTLINE.map((outline) => stepFor(outline, rulebook)), chart: chartFor(rulebook) };
  MADE.set(rulebook, made);
  return made;
}

/** The steps of a visit in their order. @param {Rulebook} rulebook */
export const stepsOf = (rulebook) => asked(rulebook).steps;

/** The settings of a maker's chart, the cells of a row, and its ranges by name. @param {Rulebook} rulebook */
export const chartFieldsOf = (rulebook) => asked(rulebook).chart;

/** The one of that name, else the first. @param {string | undefined} slug @param {Rulebook} rulebook @returns {Step} */
export const stepOf = (slug, rulebook) =>
  stepsOf(rulebook).find((step) => step.slug === slug) ?? stepsOf(rulebook)[0];

/** The fields that hold something: neither headings nor keys. @param {StepPart[]} fields */
export const entries = (fields) => fields.filter((field) => field.path !== undefined);

/** The field of that path, its parts joined by points. @param {StepPart[]} fields @param {string} name */
export const fieldNamed = (fields, name) => entries(fields).find((field) => field.path.join(".") === name);
