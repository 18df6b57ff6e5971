// A logger's file on the phone: a panel with its columns, what each is, and the entries that it comes to.
// DOM only: how a file is read is the desk's reading, made into JavaScript; what is added is written by the page.

import { clockExact } from "../language/formats.js";
import { say, unitWord } from "../language/words.js";
import { button, el, freshId, replace } from "../form/elements.js";
import { codes_of, encoding_of, known_match, match_faults, table_of } from "../loggers.js";
import { entries_of, next_number, span_of, zero_of } from "../loggers.js";

const HEAD = 512;
const MEGABYTE = 1_000_000;
const COUNTED = ["time:seconds", "time:minutes", "time:count"];
const SEPARATOR = " \u00b7 ";

/** @typedef {import("../loggers.js").LoggersBook} LoggersBook */
/** @typedef {import("../loggers.js").Table} Table */
/** @typedef {import("../loggers.js").Fault} Fault */
/** @typedef {import("../loggers.js").Entries} Entries */
/** @typedef {Record<string, string[]>} Matches what columns were matched to, by their header */
/**
 * @typedef {object} About the test that a file is read for, and what becomes of its entries
 * @property {Test} test
 * @property {Page} page of its visit
 * @property {any} units the rulebook's
 * @property {Matches | undefined} known
 * @property {(known: Matches) => unknown} remember
 * @property {(points: TracePoint[]) => Promise<boolean>} add
 */
/** @typedef {{table: Table, match: string[], zero: string, matched: boolean}} Opened */

/** The text of a file, in whichever way it is written. @param {ArrayBuffer} buffer */
function decoded(buffer) {
  const bytes = new Uint8Array(buffer);
  const encoding = encoding_of(Array.from(bytes.subarray(0, HEAD)));
  if (encoding !== "utf-8") return new TextDecoder(encoding).decode(bytes);
  try {
    return new TextDecoder("utf-8", { fatal: true }).decode(bytes);
  } catch (error) {
    if (!(error instanceof TypeError)) throw error;
    return Array.from(bytes, (byte) => String.fromCharCode(byte)).join("");
  }
}

/** @param {File} file @param {About} about @param {LoggersBook} book @returns {Promise<Opened>} */
async function opened(file, { test: { at = "" }, known }, book) {
  if (file.size > book.most.bytes) {
    const table = table_of("", at, book);
    return { table: { ...table, faults: [{ ...table.faults[0], code: "huge" }] }, match: [], zero: "", matched: false };
  }
  const table = table_of(decoded(await file.arrayBuffer()), at, book);
  const before = known?.[table.header];
  const matched = before?.length === table.columns.length;
  const match = known_match(matched && before ? before : table.columns.map(({ guess }) => guess), table, book);
  return { table, match, zero: "", matched: matched && table.faults.length === 0 };
}

/** What a column can be, in words. @param {string} code @param {LoggersBook} book */
function choiceWords(code, book) {
  const [what, how] = code.split(":");
  const channel = book.channels[what];
  if (channel === undefined) return say(`loggers.${what}.${how}`);
  const unit = channel.quantity === "percent" ? say(`fields.suffix.${how}`) : unitWord(channel.quantity, how);
  return say("loggers.in_unit", { what: say(`fields.tests.${channel.field}`), unit });
}

/** @param {Fault} fault @param {LoggersBook} book */
function faultWords({ code, line, column, found }, { most, channels }) {
  const what = channels[found] === undefined ? `loggers.what.${found}` : `fields.tests.${channels[found].field}`;
  return say(`loggers.fault.${code}`, {
    line, column: column || say("loggers.nameless"), found: code === "twice" ? say(what) : found,
    letters: most.line, columns: most.columns, size: Math.floor(most.bytes / MEGABYTE),
  });
}

/** @param {string} at @param {number} seconds */
const clockAt = (at, seconds) => clockExact(new Date(Date.parse(at) + Math.floor(seconds) * 1000));

/**
 * What a file comes to, and which of its rows are not of the test's time.
 *
 * @param {Entries} entries
 * @param {string} at
 * @param {number[]} ends
 */
function sumsOf({ points, before, after, thinned }, at, ends) {
  const [first, last] = ends.map((end) => clockAt(at, end));
  const [from, to] = [points[0], points[points.length - 1]].map((point) => point && clockAt(at, point.s));
  const code = points.length === 1 ? "at_one" : "from_to";
  return [
    points.length === 0
      ? say("loggers.none", { first, last })
      : say("loggers.sum", { count: points.length, times: say(`loggers.${code}`, { first: from, last: to }) }),
    before > 0 && say("loggers.before", { count: before, time: first }),
    after > 0 && say("loggers.after", { count: after, time: last }),
    thinned > 0 && say("loggers.thinned", { count: thinned }),
  ].filter((words) => words !== false);
}

/** @param {string[]} faults @param {number} more */
const faultList = (faults, more) => faults.length > 0 && el(
  "div", { class: "bar" }, el("p", null, say("loggers.left_out")),
  el("ul", null, faults.map((words) => el("li", null, words))),
  more > 0 && el("p", null, say("loggers.more", { count: more })),
);

/**
 * A column: its name, its first values, and the choice of what it is.
 *
 * @param {Opened} file
 * @param {number} index
 * @param {LoggersBook} book
 * @param {() => void} changed
 */
function columnPart({ table, match }, index, book, changed) {
  const { name, firsts } = table.columns[index];
  const [id, meaning] = [freshId("column"), freshId("column")];
  const options = ["", ...codes_of(book)].map((code) => el(
    "option", { value: code, selected: code === match[index] },
    code === "" ? say("loggers.unused") : choiceWords(code, book),
  ));
  const select = el("select", { id, class: "written", "aria-describedby": meaning }, options);
  select.addEventListener("change", () => {
    match[index] = select.value;
    changed();
  });
  const title = [say("loggers.column", { number: index + 1 }), name].filter((words) => words !== "").join(": ");
  const values = say("loggers.firsts", { values: firsts.join(SEPARATOR) });
  return el("div", { class: "field" }, el("label", { for: id }, title), select,
    el("p", { class: "meaning", id: meaning }, values));
}

/**
 * When a logger was started, for a file that counts from then.
 *
 * @param {Opened} file
 * @param {() => void} changed
 */
function zeroPart(file, changed) {
  const [id, meaning] = [freshId("zero"), freshId("zero")];
  const input = el("input", { id, class: "written", type: "text", autocomplete: "off", "aria-describedby": meaning });
  input.addEventListener("input", () => {
    file.zero = input.value;
    changed();
  });
  return el("div", { class: "field" }, el("label", { for: id }, say("loggers.zero")), input,
    el("p", { class: "meaning", id: meaning }, say("loggers.zero_meaning")));
}

/** Those of all entries that a log ever had. @param {string} test @param {Op[]} ops @returns {number[]} */
const secondsOf = (test, ops) => ops.map((op) => (op.kind === "op.mend" ? op.body : op))
  .filter(({ kind, body }) => /^trace\./.test(kind) && body.test === test)
  .flatMap(({ body }) => (body.points ?? [body]).map((/** @type {TracePoint} */ { s }) => s));

/**
 * What a file comes to as its columns are matched now.
 *
 * @param {Opened} file
 * @param {About} about
 * @param {LoggersBook} book
 */
function reading({ table, match, zero }, { test, page, units }, book) {
  const { at = "" } = test;
  const faults = [...table.faults, ...(table.columns.length > 0 ? match_faults(match, table, book) : [])];
  if (faults.length > 0) return { faults, entries: null, ends: [] };
  const { tests = [], work = [] } = page.visit;
  const ends = span_of(at, [...tests, ...work].map((one) => one.at ?? ""), book);
  const span = {
    at, from_s: ends[0], to_s: ends[1], zero_s: zero_of(zero, at, book),
    number: next_number(secondsOf(test.id, page.ops)),
  };
  return { faults, entries: entries_of(table, match, span, [book, units]), ends };
}

/**
 * Opens a panel for a file; it goes when its entries are added or it is closed.
 *
 * @param {File} chosen
 * @param {About} about
 * @param {LoggersBook} book
 */
export async function openFile(chosen, about, book) {
  const file = await opened(chosen, about, book);
  const { table, match } = file;
  const title = say("loggers.columns_of", { name: chosen.name });
  const sums = el("div", { role: "status" });
  const keys = el("div", null);
  const zero = zeroPart(file, draw);
  /** @type {HTMLDialogElement} */
  const dialog = el(
    "dialog", { class: "help-text", "aria-label": title, on: { close: () => dialog.remove() } },
    el("h2", { tabindex: "-1", autofocus: true }, title),
    table.columns.length > 0
      && el("p", { class: "meaning" }, say(file.matched ? "loggers.remembered" : "loggers.once")),
    table.columns.map((_, index) => columnPart(file, index, book, draw)), zero, sums, keys,
  );
  const close = () => button(say("loggers.close"), () => dialog.close(), { class: "quiet" });

  /** @param {Entries["points"]} points */
  async function add(points) {
    if (!(await about.add(/** @type {any} */ (points)))) return;
    const others = Object.entries(about.known ?? {}).filter(([header]) => header !== table.header);
    about.remember(Object.fromEntries([...others, [table.header, match]].slice(-book.most.matches)));
    dialog.close();
  }

  function draw() {
    const { faults, entries, ends } = reading(file, about, book);
    zero.hidden = !match.some((code) => COUNTED.includes(code));
    const count = entries?.points.length ?? 0;
    const [first, ...more] = entries === null ? [] : sumsOf(entries, about.test.at ?? "", ends);
    replace(
      sums, ...faults.map((fault) => el("p", { class: "fault" }, faultWords(fault, book))),
      first !== undefined && el("p", { class: "sentence" }, first),
      ...more.map((words) => el("p", { class: "meaning" }, words)),
      faultList((entries?.faults ?? []).map((one) => faultWords(one, book)), entries?.more ?? 0),
    );
    const points = entries?.points ?? [];
    const key = count > 0 && button(say("loggers.add", { count }), () => add(points), { class: "main" });
    replace(keys, key, close());
  }

  draw();
  document.body.append(dialog);
  dialog.showModal();
  return dialog;
}
