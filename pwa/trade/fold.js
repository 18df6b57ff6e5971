// From the operations of one visit to the visit: what is set, added, struck, and where two hands disagree.
// Twin of sync/kernel/fold.py; nothing here reads a file, a clock or a global, and no order rests on the order of arrival.

const isObject = (value) => value !== null && typeof value === "object" && !Array.isArray(value);

const has = (object, key) => Object.prototype.hasOwnProperty.call(object, key);

export function escaped(key) {
  return key.replaceAll("~", "~0").replaceAll("/", "~1");
}

function walk(prefix, node, kinds, found) {
  for (const key of Object.keys(node)) {
    const value = node[key];
    const pointer = prefix + "/" + escaped(key);
    const parentIsWhole = prefix === "/typed";
    if (isObject(value) && !parentIsWhole && !kinds.whole.includes(key)) {
      walk(pointer, value, kinds, found);
    } else if (key === "typed" && prefix === "" && isObject(value)) {
      walk(pointer, value, kinds, found);
    } else {
      found.push([pointer, value]);
    }
  }
}

function itemLeaves(body, rule, kinds) {
  const found = [];
  const name = String(body[rule.key]);
  const prefix = "/" + rule.list + "/" + escaped(name);
  const inner = {};
  for (const key of Object.keys(body)) {
    if (key !== rule.key && key !== "typed") inner[key] = body[key];
  }
  walk(prefix, inner, kinds, found);
  if (isObject(body.typed)) {
    for (const field of Object.keys(body.typed)) {
      found.push(["/typed/" + escaped(name + "." + field), body.typed[field]]);
    }
  }
  return found;
}

const ruleOf = (kind, kinds) => (has(kinds.kinds, kind) ? kinds.kinds[kind] : {});

// The op itself, or for a mending op the op that it stands for, under the mending op's id.
export function unwrapped(op, kinds) {
  if (ruleOf(op.kind, kinds).does !== "mend") return op;
  return { ...op, kind: op.body.kind, body: op.body.body };
}

// What an operation sets: [JSON pointer into the visit, value] pairs; list items are addressed by their id.
export function leaves(body, kind, kinds) {
  const rule = ruleOf(kind, kinds);
  const found = [];
  if (rule.does === "set") walk("", body, kinds, found);
  else if (rule.does === "settle") walk("", body.set, kinds, found);
  else if (rule.does === "add" || rule.does === "set_item") return itemLeaves(body, rule, kinds);
  else if (rule.does === "correct") {
    const inner = {};
    for (const key of Object.keys(body)) if (key !== rule.key && key !== "of") inner[key] = body[key];
    walk("", inner, kinds, found);
  } else if (rule.does === "mend") return leaves(body.body, body.kind, kinds);
  return found;
}

// The only order of texts there is: lower-case hexadecimal names, character by character.
export function textBefore(left, right) {
  let i = 0;
  while (i < left.length && i < right.length) {
    if (left[i] !== right[i]) return left.charCodeAt(i) < right.charCodeAt(i);
    i = i + 1;
  }
  return left.length < right.length;
}

function earlier(one, other) {
  if (one.at !== other.at) return one.at < other.at;
  return textBefore(one.device, other.device);
}

function byDevice(ops) {
  const names = [];
  const lines = [];
  for (const op of ops) {
    if (!names.includes(op.device)) {
      names.push(op.device);
      lines.push([]);
    }
    const line = lines[names.indexOf(op.device)];
    let at = line.length;
    while (at > 0 && line[at - 1].seq > op.seq) at = at - 1;
    line.splice(at, 0, op);
  }
  return lines;
}

// Operations in the one order everybody uses: after what they build on, by seq within a device, then (at, device).
// Where broken clocks or a broken writer leave a ring of references, the earliest goes first.
export function ordered(ops) {
  const known = new Map();
  for (const op of ops) known.set(op.id, false);
  const lines = byDevice(ops);
  const placed = [];
  const positions = lines.map(() => 0);
  while (placed.length < ops.length) {
    let chosen = -1;
    let chosenReady = false;
    for (let i = 0; i < lines.length; i += 1) {
      if (positions[i] >= lines[i].length) continue;
      const op = lines[i][positions[i]];
      let ready = true;
      for (const pointer of Object.keys(op.base)) {
        if (known.get(op.base[pointer]) === false) ready = false;
      }
      if (
        chosen < 0 ||
        (ready && !chosenReady) ||
        (ready === chosenReady && earlier(op, lines[chosen][positions[chosen]]))
      ) {
        chosen = i;
        chosenReady = ready;
      }
    }
    const op = lines[chosen][positions[chosen]];
    positions[chosen] = positions[chosen] + 1;
    known.set(op.id, true);
    placed.push(op);
  }
  return placed;
}

const sets = (op, pointer, kinds) => leaves(op.body, op.kind, kinds).some(([name]) => name === pointer);

// The state of one replay; made, filled and read by `replay` alone.
class Replay {
  constructor(kinds) {
    this.kinds = kinds;
    this.settings = new Map();
    this.superseded = new Map();
    this.items = new Map();
    this.struck = new Set();
    this.traces = new Map();
    this.fields = new Map();
    this.mended = new Map();
  }

  // The op that stands for another on a pointer: its mending, or what that builds on where it leaves the pointer out.
  standing(name, pointer) {
    let steps = 0;
    let found = name;
    while (this.mended.has(found) && steps < this.mended.size) {
      const mending = this.mended.get(found);
      const base = has(mending.base, pointer) ? mending.base[pointer] : null;
      found = base === null || sets(mending, pointer, this.kinds) ? mending.id : base;
      steps = steps + 1;
    }
    return found;
  }

  apply(op) {
    const rule = ruleOf(op.kind, this.kinds);
    const body = op.body;
    if (rule.does === "add") {
      if (!this.items.has(rule.list)) this.items.set(rule.list, []);
      const members = this.items.get(rule.list);
      if (!members.includes(String(body[rule.key]))) members.push(String(body[rule.key]));
    } else if (rule.does === "trace") {
      if (!this.traces.has(body.test)) this.traces.set(body.test, []);
      for (const point of body.points) this.traces.get(body.test).push(point);
    } else if (rule.does === "whole") {
      this.fields.set(rule.field, body);
    } else if (rule.does === "strike") {
      this.struck.add(body.list + "/" + body.id);
    } else if (rule.does === "void") {
      this.fields.set("void", body);
    }
    for (const [pointer, value] of leaves(body, op.kind, this.kinds)) {
      if (!this.settings.has(pointer)) {
        this.settings.set(pointer, []);
        this.superseded.set(pointer, new Set());
      }
      this.settings.get(pointer).push([op, value]);
      const gone = this.superseded.get(pointer);
      if (has(op.base, pointer) && op.base[pointer] !== null) gone.add(this.standing(op.base[pointer], pointer));
      if (rule.does === "settle" || rule.does === "correct") for (const settled of body.of ?? []) gone.add(this.standing(settled, pointer));
    }
  }

  heads(pointer) {
    const gone = this.superseded.get(pointer);
    return this.settings.get(pointer).filter(([op]) => !gone.has(op.id));
  }
}

export const plain = (token) => token.replaceAll("~1", "/").replaceAll("~0", "~");

export function put(root, path, value) {
  let node = root;
  for (const token of path.slice(0, -1)) {
    const key = plain(token);
    if (!has(node, key) || !isObject(node[key])) node[key] = {};
    node = node[key];
  }
  node[plain(path[path.length - 1])] = value;
}

function keyOf(name, kinds) {
  for (const kind of Object.keys(kinds.kinds)) {
    const rule = kinds.kinds[kind];
    if (rule.does === "add" && rule.list === name) return rule.key;
  }
  return "id";
}

function assembled(state, visit) {
  const lists = {};
  for (const pointer of state.settings.keys()) {
    const heads = state.heads(pointer);
    if (heads.length === 0 || heads[0][1] === null) continue;
    const path = pointer.split("/").slice(1);
    if (state.items.has(path[0]) && path.length > 2) {
      if (!has(lists, path[0])) lists[path[0]] = {};
      put(lists[path[0]], path.slice(1), heads[0][1]);
    } else {
      put(visit, path, heads[0][1]);
    }
  }
  for (const [name, all] of state.items) {
    const key = keyOf(name, state.kinds);
    const members = [];
    for (const member of all) {
      if (state.struck.has(name + "/" + member)) continue;
      const kept = has(lists, name) && has(lists[name], member) ? lists[name][member] : {};
      const item = { [key]: member, ...kept };
      if (name === "tests" && state.traces.has(member)) item.trace = state.traces.get(member);
      members.push(item);
    }
    visit[name] = members;
  }
  for (const [field, value] of state.fields) visit[field] = value;
  return visit;
}

// A visit with the heads of every pointer and the conflicts a person still has to settle.
// A pointer's heads are the operations that set it and that no other operation on it names as its base (or, when
// settling, in `of`). More than one head is a conflict: the visit shows the first in order, `conflicts` shows all.
export function replay(ops, kinds) {
  const state = new Replay(kinds);
  const visit = {};
  for (const op of ops) {
    if (ruleOf(op.kind, kinds).does === "mend") state.mended.set(op.body.replaces, op);
  }
  for (const op of ordered(ops)) {
    if (!has(visit, "id") && op.visit !== null) {
      visit.id = op.visit;
      visit.schema = op.schema;
    }
    state.apply(unwrapped(op, kinds));
  }
  const heads = {};
  const conflicts = [];
  for (const pointer of state.settings.keys()) {
    const found = state.heads(pointer);
    heads[pointer] = found.map(([op]) => op.id);
    if (found.length > 1) {
      const values = found.map(([op, value]) => ({ op: op.id, device: op.device, at: op.at, value }));
      conflicts.push({ pointer, values });
    }
  }
  return { visit: assembled(state, visit), heads, conflicts };
}

export function fold(ops, kinds) {
  return replay(ops, kinds).visit;
}
