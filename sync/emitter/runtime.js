// @ts-nocheck -- made from Python, which is checked itself; the types in the comments are for callers.
// What Python does and JavaScript lacks. The rules below call these by name: names in camelCase are defined here, names
// with underscores come from the kernel. An error that Python itself would raise is raised here too when a name is
// looked up; elsewhere the rules prevent it.

/** The root of all errors that are raised on purpose: a stable code and the values that caused it. */
export class LaybyError extends Error {
  static code = "layby";

  /** @param {Record<string, any>} values */
  constructor(values = {}) {
    super(new.target.code);
    this.code = new.target.code;
    this.values = values;
  }
}

const isDict = (value) => value !== null && typeof value === "object" && !Array.isArray(value);
const isNumber = (value) => typeof value === "number" || typeof value === "boolean";

// Empty lists and dicts are false in Python; NaN, which isn't equal to itself, is true.
function truthOf(value) {
  if (value === null || typeof value !== "object") return Boolean(value) || value !== value;
  return sizeOf(value) > 0;
}
const orElse = (value, other) => (truthOf(value) ? value : other);

// Names: own ones only, so that "constructor" is a name like any other; absent and undefined are null.
const hasKey = (dict, key) => typeof key === "string" && Object.hasOwn(dict, key);
const getItem = (dict, key, other = null) => (hasKey(dict, key) ? (dict[key] ?? null) : other);

function itemOf(value, key) {
  if (Array.isArray(value) ? !(key in value) : !hasKey(value, key)) throw new RangeError(`there is no ${key}`);
  return value[key];
}

// An assignment to "__proto__" would change the object's prototype.
function setItem(dict, key, value) {
  if (key !== "__proto__") dict[key] = value;
  else Object.defineProperty(dict, key, { value, writable: true, enumerable: true, configurable: true });
}
function setDefault(dict, key, value) {
  if (!hasKey(dict, key)) setItem(dict, key, value);
  return dict[key];
}
function updateItems(dict, other) {
  for (const key of Object.keys(other)) setItem(dict, key, other[key]);
}
function popItem(dict, key) {
  const value = itemOf(dict, key);
  delete dict[key];
  return value;
}

// JavaScript puts names that look like whole numbers first, Python keeps the order in which they were written: an order
// that depends on such a name is refused. They come first, so checking the first is enough. Data keys go through
// names_in_order.
function keysOf(dict) {
  const keys = Object.keys(dict);
  if (keys.length > 1 && /^(0|[1-9]\d*)$/.test(keys[0])) throw new RangeError(`${keys[0]} has no place among the names`);
  return keys;
}
const itemsOf = (dict) => keysOf(dict).map((key) => [key, dict[key]]);
const valuesOf = (dict) => keysOf(dict).map((key) => dict[key]);

// Members of a list, a dict or a text; Python counts a text in characters.
const characters = (value) => (typeof value === "string" && /[\ud800-\udfff]/.test(value) ? Array.from(value) : value);
function membersOf(value) {
  if (typeof value === "string") return Array.from(value);
  return Array.isArray(value) ? value : keysOf(value);
}
function sizeOf(value) {
  return isDict(value) ? Object.keys(value).length : characters(value).length;
}
function isIn(value, where) {
  return isDict(where) ? hasKey(where, value) : where.includes(value);
}
function indexIn(where, value) {
  const index = characters(where).indexOf(value);
  if (index < 0) throw new RangeError(`there is no ${value}`);
  return index;
}
const removeFrom = (list, value) => list.splice(indexIn(list, value), 1);
const charOf = (text, index) => itemOf([...characters(text)], index);
const sliceOf = (value, start, end) =>
  typeof value === "string" ? Array.from(value).slice(start, end).join("") : value.slice(start, end);
const rangeOf = (start, end) =>
  end === undefined ? rangeOf(0, start) : Array.from({ length: Math.max(end - start, 0) }, (_, index) => start + index);

// Numbers: from truth values, numbers and texts only.
function numberOf(value) {
  if (typeof value === "number") return value;
  const number = typeof value === "string" && value.trim() === "" ? NaN : Number(value);
  if (value === null || typeof value === "object" || Number.isNaN(number)) throw new RangeError(`${value} is no number`);
  return number;
}
function wholeOf(text) {
  if (!/^-?\d+$/.test(text)) throw new RangeError(`${text} is no whole number`);
  return BigInt(text);
}
// Rounded down; BigInt's own division rounds toward zero.
function floorDivide(value, by) {
  const quotient = value / by;
  return value % by !== 0n && value < 0n !== by < 0n ? quotient - 1n : quotient;
}

// The kernel's `primitives`, as JavaScript does them itself.
const number_text = (value) => {
  if (!Number.isFinite(value)) throw new RangeError(`${value} has no text in JSON`);
  return String(value);
};
const quoted = (text) => JSON.stringify(text);
const names_in_order = (dict) => Object.keys(dict).sort();
