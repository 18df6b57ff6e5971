// The first page of a quick test: the cautions of a running test, and keys that confirm them and name the refrigerant.
// DOM only: which cautions fit is decided by the kernel; nothing is kept before a key is pressed.

import { cautions_for } from "../kernel.js";
import { foundBy } from "../visit/earlier_cards.js";
import { stepOf } from "../visit/steps.js";
import { has, say, term } from "../language/words.js";
import { button, el, replace } from "./elements.js";
import { take } from "./offers.js";
import { openPanel } from "./panel.js";
import { sourceIn } from "./quick_typing.js";
import { beside } from "./words.js";

/** @typedef {import("./quick.js").QuickState} QuickState */
/** @typedef {{title: string, codes: string[], read: string[], keys: HTMLElement[], note?: string}} StartView */

const USUAL = ["R134a", "R1234yf"];

/** @param {Visit} visit @param {string} refrigerant @param {Rulebook} rulebook @returns {string[]} */
const fitting = (visit, refrigerant, rulebook) =>
  cautions_for({ ...visit, vehicle: { ...visit.vehicle, refrigerant } }, rulebook);

/** Those that fit whatever is in it. @param {Visit} visit @param {Rulebook} rulebook */
function alwaysFitting(visit, rulebook) {
  const all = rulebook.vocabularies.refrigerant.map((one) => fitting(visit, one, rulebook));
  return all[0].filter((code) => all.every((codes) => codes.includes(code)));
}

/** @param {Visit} visit */
const confirmedIn = (visit) => new Set((visit.cautions ?? []).map(({ code }) => code));

/**
 * The cautions still unread for a refrigerant: those for any, and those for it alone.
 *
 * @param {Visit} visit
 * @param {string} refrigerant
 * @param {Rulebook} rulebook
 */
function unread(visit, refrigerant, rulebook) {
  const done = confirmedIn(visit);
  const common = alwaysFitting(visit, rulebook);
  return {
    common: common.filter((code) => !done.has(code)),
    own: fitting(visit, refrigerant, rulebook).filter((code) => !common.includes(code) && !done.has(code)),
  };
}

/** A name as it may stand alone on a key or in a row. @param {string} refrigerant */
const nameFor = (refrigerant) =>
  (refrigerant === "other" ? say("quick.start.other") : term("refrigerant", refrigerant));

/** What a refrigerant means for a test, in a few words. @param {string} refrigerant @param {Rulebook} rulebook */
function meaningFor(refrigerant, rulebook) {
  const { trust, safety_class: safety } = rulebook.refrigerants.refrigerants[refrigerant];
  const judged = trust === 0 ? "recorded" : trust < 1 ? "doubt" : "judged";
  const visit = /** @type {Visit} */ ({ vehicle: { refrigerant } });
  const own = cautions_for(visit, rulebook).includes("very_high_pressure");
  return beside([
    safety?.startsWith("A2") && say("quick.start.burns"), own && say("quick.start.own_gauges"),
    say(`quick.start.${judged}`),
  ]);
}

/** @param {string} words @param {() => unknown} press @param {{main?: boolean, small?: string}} [more] */
const wideKey = (words, press, { main = false, small } = {}) => {
  const key = button("", press, { class: main ? "main" : "outlined" });
  key.append(words);
  if (small !== undefined) key.append(el("small", null, small));
  return key;
};

/**
 * A refrigerant that the rulebook does not know, by its name.
 *
 * @param {(name: string) => void} choose
 */
function namedRow(choose) {
  const input = el("input", {
    class: "written", type: "text", maxlength: "200", autocomplete: "off", "aria-label": say("quick.start.name"),
  });
  const use = button(say("quick.start.use"), () => input.value.trim() !== "" && choose(input.value.trim()),
    { class: "outlined" });
  const fields = el("div", { class: "named", hidden: true }, input, use);
  const open = () => {
    fields.hidden = false;
    input.focus();
  };
  return { open, fields };
}

/**
 * The panel with the other refrigerants and what each means.
 *
 * @param {Tools} tools
 * @param {string[]} shown those that have a key already
 * @param {(refrigerant: string, text?: string) => void} choose
 */
function openOthers({ rulebook }, shown, choose) {
  const { open, fields } = namedRow((text) => {
    dialog.close();
    choose("other", text);
  });
  const rows = rulebook.vocabularies.refrigerant.filter((one) => !shown.includes(one)).map((one) => {
    const press = () => {
      if (one === "other") {
        open();
        return;
      }
      dialog.close();
      choose(one);
    };
    const words = one === "other" ? say("quick.start.by_name") : nameFor(one);
    const key = button("", press, { class: "panel-row" });
    key.append(el("b", null, words), " ", el("span", null, meaningFor(one, rulebook)));
    return [key, one === "other" && fields];
  });
  const dialog = openPanel(
    say("quick.start.asked"), el("h2", { tabindex: "-1", autofocus: true }, say("quick.start.asked")), rows.flat(),
    button(say("quick.start.close"), () => dialog.close(), { class: "main close" }),
  );
}

/**
 * The keys that name the refrigerant; while cautions are unread each reads them, too.
 *
 * @param {Tools} tools
 * @param {Visit} visit
 * @param {QuickState} state
 * @param {Actions} actions
 * @param {() => void} draw
 * @returns {StartView}
 */
function askView(tools, visit, state, actions, draw) {
  const { rulebook } = tools;
  const { common } = unread(visit, "R134a", rulebook);
  const last = tools.settings().refrigerant;
  const shown = [...new Set([last ?? USUAL[0], ...USUAL])].filter((one) => one !== "other" && one !== "unknown");
  /** @param {string} refrigerant @param {string} [text] */
  const choose = (refrigerant, text) => {
    const { own } = unread(visit, refrigerant, rulebook);
    Object.assign(state, { other: false, chosen: own.length > 0 ? { refrigerant, text } : null });
    const vehicle = { refrigerant, ...(text !== undefined && { refrigerant_text: text }) };
    if (own.length > 0 && common.length === 0) draw();
    else void actions.begin(common, own.length > 0 ? null : vehicle);
  };
  const verb = common.length > 0 ? "read" : "is";
  const keys = shown.map((one, place) => wideKey(
    say(`quick.start.${verb}`, { refrigerant: nameFor(one) }), () => choose(one),
    { main: place === 0, small: one === last ? say("quick.start.last") : undefined },
  ));
  const others = async () => {
    if (common.length > 0) {
      state.panel = true;
      await actions.begin(common, null);
    } else openOthers(tools, shown, choose);
  };
  if (state.panel && common.length === 0) {
    state.panel = false;
    openOthers(tools, shown, choose);
  }
  return {
    title: say(common.length > 0 ? "quick.start.title" : "quick.start.asked"), codes: common,
    read: alwaysFitting(visit, rulebook).filter((code) => !common.includes(code)),
    keys: [...keys, wideKey(say(common.length > 0 ? "quick.start.read_other" : "quick.start.other"), others)],
    note: common.length > 0 ? say("quick.start.one_tap") : undefined,
  };
}

/**
 * What one refrigerant asks besides, once it is named.
 *
 * @param {Tools} tools
 * @param {Visit} visit
 * @param {QuickState} state
 * @param {Actions} actions
 * @param {() => void} draw
 * @returns {StartView}
 */
function moreView({ rulebook }, visit, state, actions, draw) {
  const { refrigerant, text } = /** @type {NonNullable<QuickState["chosen"]>} */ (state.chosen);
  const name = text ?? nameFor(refrigerant);
  const { own } = unread(visit, refrigerant, rulebook);
  const read = () => {
    state.chosen = null;
    void actions.begin(own, { refrigerant, ...(text !== undefined && { refrigerant_text: text }) });
  };
  const back = () => {
    state.chosen = null;
    draw();
  };
  return {
    title: say(`quick.start.${own.length > 1 ? "mores" : "more"}`, { refrigerant: name }), codes: own,
    read: alwaysFitting(visit, rulebook),
    keys: [
      wideKey(say("quick.start.read", { refrigerant: name }), read, { main: true }),
      wideKey(say("quick.start.not", { refrigerant: name }), back),
    ],
  };
}

/**
 * A car that says what is in it: all its cautions at once, and one key.
 *
 * @param {Tools} tools
 * @param {Visit} visit
 * @param {QuickState} state
 * @param {Actions} actions
 * @param {() => void} draw
 * @returns {StartView}
 */
function knownView({ rulebook }, visit, state, actions, draw) {
  const { refrigerant = "unknown", refrigerant_text: text, plate, label_refrigerant: label } = visit.vehicle ?? {};
  const name = text ?? nameFor(refrigerant);
  const { common, own } = unread(visit, refrigerant, rulebook);
  const words = { name: plate ?? visit.customer?.name ?? say("quick.start.unnamed"), refrigerant: name };
  const other = () => {
    state.other = true;
    draw();
  };
  return {
    title: say(`quick.start.${label === undefined ? "known_last" : "known"}`, words), codes: [...common, ...own],
    read: [...confirmedIn(visit)],
    keys: [
      button(say("quick.facts.else"), other, { class: "quiet" }),
      wideKey(say("quick.start.read", { refrigerant: name }),
        () => actions.begin([...common, ...own], { refrigerant }), { main: true }),
    ],
  };
}

/** In short where there are words for that. @param {string[]} codes */
const cautionList = (codes) => el("ul", { class: "bar" }, codes.map((code) => (has(`quick.lead.${code}`)
  ? el("li", null, el("b", null, say(`quick.lead.${code}`)), " ", say(`quick.caution.${code}`))
  : el("li", null, term("caution", code)))));

/**
 * The cautions that were read, in one line that opens.
 *
 * @param {string[]} codes
 */
function readRow(codes) {
  const words = el("span", { class: "read" }, say("quick.start.count", { count: codes.length }));
  const turn = el("span", { class: "turn" }, say("quick.start.see"));
  return el("details", { class: "row" }, el("summary", null, words, turn), cautionList(codes));
}

/**
 * Whether the table has to wait: nothing is said of the refrigerant, or a caution that fits is unread.
 *
 * @param {Visit} visit
 * @param {QuickState} state
 * @param {Rulebook} rulebook
 */
export function waitsFor(visit, state, rulebook) {
  const inside = visit.vehicle?.refrigerant;
  if (state.other || state.chosen !== null || inside === undefined) return true;
  const { common, own } = unread(visit, inside, rulebook);
  return common.length + own.length > 0;
}

const FOUND_MOST = 8;

/**
 * The way to a car that was tested before; none where it is known which car this is.
 *
 * @param {Tools} tools
 * @param {Visit} visit
 * @param {boolean} isAsked
 * @param {() => void} draw
 */
function findRow(tools, { vehicle }, isAsked, draw) {
  if (!isAsked || vehicle?.plate !== undefined || vehicle?.vin !== undefined) return null;
  const key = button(say("quick.find.key"), () => openCars(tools, draw), { class: "quiet" });
  return el("div", { class: "row" }, el("span", null, say("quick.find.asked")), key);
}

/**
 * The panel where a car is found that was written down before; `chosen` is called once its record is taken.
 *
 * @param {Tools} tools
 * @param {() => void} chosen
 */
function openCars(tools, chosen) {
  const { vehicle: records } = tools.records;
  const step = stepOf("vehicle", tools.rulebook);
  const input = el("input", {
    class: "written", id: "car", type: "search", autocomplete: "off", autocapitalize: "characters",
  });
  const list = el("div");
  /** @param {PastRecord} record */
  const row = (record) => {
    const press = () => {
      dialog.close();
      take(record, { ...tools, step }, ({ path }) => {
        const { get, set } = sourceIn(path.join("."), step.slug, tools);
        return { get, set, put: set };
      });
      chosen();
    };
    const inside = record.values["vehicle.refrigerant"];
    const about = beside([inside && nameFor(inside), record.customer]);
    const key = button("", press, { class: "panel-row" });
    key.append(el("b", null, record.label), " ", el("span", null, about));
    return key;
  };
  const show = () => {
    const found = foundBy(records, input.value);
    const rows = found.slice(0, FOUND_MOST).map(row);
    replace(list, ...rows, rows.length === 0 && el("p", { class: "meaning", role: "status" }, say("quick.find.none")));
  };
  input.addEventListener("input", show);
  show();
  const dialog = openPanel(
    say("quick.find.title"), el("h2", { tabindex: "-1", autofocus: true }, say("quick.find.title")),
    el("div", null, el("label", { for: "car" }, say("quick.find.by")), input), list,
    button(say("quick.start.close"), () => dialog.close(), { class: "main close" }),
  );
}

/**
 * The first page, and its keys for the foot.
 *
 * @param {Tools} tools
 * @param {Visit} visit
 * @param {QuickState} state
 * @param {Actions} actions
 * @param {() => void} draw
 */
export function startPage(tools, visit, state, actions, draw) {
  const view = state.chosen !== null ? moreView : state.other || !visit.vehicle?.refrigerant ? askView : knownView;
  const { title, codes, read, keys, note } = view(tools, visit, state, actions, draw);
  const root = el(
    "section", { class: "start" }, findRow(tools, visit, view === askView, draw),
    read.length > 0 && codes.length === 0 ? readRow(read) : null,
    read.length > 0 && codes.length > 0 && state.chosen !== null ? readRow(read) : null,
    el("h2", { class: "asked" }, title), codes.length > 0 && cautionList(codes),
  );
  return { root, foot: [note && el("p", { class: "meaning" }, note), ...keys] };
}
