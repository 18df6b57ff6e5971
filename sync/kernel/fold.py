"""From the operations of one visit to the visit: what is set, added and struck, and where two people disagree.

Nothing here reads a file, a clock or a global, and no order depends on the order of arrival.
"""

from __future__ import annotations

from typing import cast

from sync.kernel.books import KindRule, KindsBook
from sync.kernel.json_tree import Json, JsonObject
from sync.kernel.operation import Conflict, ConflictValue, Leaf, Op, Replayed
from sync.kernel.primitives import names_in_order
from sync.kernel.trace_order import in_time
from sync.kernel.visit import Visit

# A setting: the operation that made it, and its value.
_Setting = tuple[Op, Json]
_NO_RULE: KindRule = {"does": ""}


def escaped(key: str) -> str:
    """One JSON pointer token (RFC 6901, section 3) for a key [text]."""
    return key.replace("~", "~0").replace("/", "~1")


def _walk(prefix: str, node: JsonObject, kinds: KindsBook, rows: list[Leaf]) -> None:
    for key in names_in_order(node):
        value = node[key]
        pointer = prefix + "/" + escaped(key)
        parent_is_whole = prefix == "/typed"
        if (isinstance(value, dict) and not parent_is_whole and key not in kinds["whole"]) or (
            key == "typed" and prefix == "" and isinstance(value, dict)
        ):
            _walk(pointer, value, kinds, rows)
        else:
            rows.append((pointer, value))


def _item_leaves(body: JsonObject, rule: KindRule, kinds: KindsBook) -> list[Leaf]:
    rows: list[Leaf] = []
    name = cast(str, body[rule["key"]])
    prefix = "/" + rule["list"] + "/" + escaped(name)
    inner = {key: body[key] for key in names_in_order(body) if key != rule["key"] and key != "typed"}
    _walk(prefix, inner, kinds, rows)
    typed = body.get("typed")
    if isinstance(typed, dict):
        for field in names_in_order(typed):
            rows.append(("/typed/" + escaped(name + "." + field), typed[field]))
    return rows


def rule_of(kind: str, kinds: KindsBook) -> KindRule:
    """What a kind of operation does; a kind that isn't in the book does nothing [JSON object]."""
    rule = kinds["kinds"].get(kind)
    return _NO_RULE if rule is None else rule


def unwrapped(op: Op, kinds: KindsBook) -> Op:
    """The op itself; for a replacement (`op.mend`), the op in its body, under the replacement's id."""
    if rule_of(op["kind"], kinds)["does"] != "mend":
        return op
    inner = dict(op)
    inner["kind"] = op["body"]["kind"]
    inner["body"] = op["body"]["body"]
    return cast(Op, inner)


def leaves(body: JsonObject, kind: str, kinds: KindsBook) -> list[Leaf]:
    """What an operation sets, leaf by leaf.

    Args:
        body: the operation's body [JSON object]
        kind: the operation's kind [code]
        kinds: the rulebook's `kinds` book [JSON object]

    Returns:
        (JSON pointer into the visit, value) pairs by name, because a body's own order differs between languages;
        list items are addressed by their id; an empty list if the kind sets nothing [list]
    """
    rule = rule_of(kind, kinds)
    does = rule["does"]
    rows: list[Leaf] = []
    if does == "set":
        _walk("", body, kinds, rows)
    elif does == "settle":
        _walk("", cast(JsonObject, body["set"]), kinds, rows)
    elif does == "add" or does == "set_item":
        rows = _item_leaves(body, rule, kinds)
    elif does == "correct":
        inner = {key: body[key] for key in names_in_order(body) if key != rule["key"] and key != "of"}
        _walk("", inner, kinds, rows)
    elif does == "mend":
        rows = leaves(cast(JsonObject, body["body"]), cast(str, body["kind"]), kinds)
    return rows


def text_before(left: str, right: str) -> bool:
    """Whether one lower-case hexadecimal name sorts before another: the only order of texts in use."""
    i = 0
    while i < len(left) and i < len(right):
        if left[i] != right[i]:
            return ord(left[i]) < ord(right[i])
        i = i + 1
    return len(left) < len(right)


def _earlier(one: Op, other: Op) -> bool:
    if one["at"] != other["at"]:
        return one["at"] < other["at"]
    return text_before(one["device"], other["device"])


def _by_device(ops: list[Op]) -> list[list[Op]]:
    names: list[str] = []
    lines: list[list[Op]] = []
    for op in ops:
        if op["device"] not in names:
            names.append(op["device"])
            lines.append([])
        line = lines[names.index(op["device"])]
        at = len(line)
        while at > 0 and line[at - 1]["seq"] > op["seq"]:
            at = at - 1
        line.insert(at, op)
    return lines


def ordered(ops: list[Op]) -> list[Op]:
    """Operations in the one common order: after what they build on, by seq within a device, then (at, device).

    If broken clocks or a broken writer leave a ring of references, the earliest goes first.
    """
    placement: dict[str, bool] = {}
    for op in ops:
        placement[op["id"]] = False
    lines = _by_device(ops)
    sequence: list[Op] = []
    positions = [0 for _ in lines]
    while len(sequence) < len(ops):
        first = -1
        first_ready = False
        for i in range(len(lines)):
            if positions[i] >= len(lines[i]):
                continue
            op = lines[i][positions[i]]
            ready = True
            for pointer in op["base"]:
                base = op["base"][pointer]
                if base is not None and placement.get(base) is False:
                    ready = False
            if (
                first < 0
                or (ready and not first_ready)
                or (ready == first_ready and _earlier(op, lines[first][positions[first]]))
            ):
                first = i
                first_ready = ready
        op = lines[first][positions[first]]
        positions[first] = positions[first] + 1
        placement[op["id"]] = True
        sequence.append(op)
    return sequence


def _sets(op: Op, pointer: str, kinds: KindsBook) -> bool:
    return any(name == pointer for name, _ in leaves(op["body"], op["kind"], kinds))


class _Replay:
    """The state of one replay; only `replay` makes, fills and reads it."""

    def __init__(self, kinds: KindsBook) -> None:
        self.kinds = kinds
        self.settings: dict[str, list[_Setting]] = {}
        self.superseded: dict[str, dict[str, bool]] = {}
        self.items: dict[str, list[str]] = {}
        self.struck: dict[str, bool] = {}
        self.traces: dict[str, list[Json]] = {}
        self.untraced: dict[str, list[Json]] = {}
        self.fields: JsonObject = {}
        self.mended: dict[str, Op] = {}

    def standing(self, name: str, pointer: str) -> str:
        """The op that stands for another at a pointer: its replacement, or what that builds on if it omits the pointer.
        """
        steps = 0
        while name in self.mended and steps < len(self.mended):
            mending = self.mended[name]
            name = mending["id"]
            base = mending["base"].get(pointer)
            if base is not None and not _sets(mending, pointer, self.kinds):
                name = base
            steps = steps + 1
        return name

    def apply(self, op: Op) -> None:
        rule = rule_of(op["kind"], self.kinds)
        does = rule["does"]
        body = op["body"]
        if does == "add":
            members = self.items.setdefault(rule["list"], [])
            member = cast(str, body[rule["key"]])
            if member not in members:
                members.append(member)
        elif does == "trace":
            points = self.traces.setdefault(cast(str, body["test"]), [])
            for point in cast(list[Json], body["points"]):
                points.append(point)
        elif does == "untrace":
            self.untraced.setdefault(cast(str, body["test"]), []).append(body["s"])
        elif does == "whole":
            self.fields[rule["field"]] = body
        elif does == "strike":
            self.struck[cast(str, body["list"]) + "/" + cast(str, body["id"])] = True
        elif does == "void":
            self.fields["void"] = body
        for pointer, value in leaves(body, op["kind"], self.kinds):
            self.settings.setdefault(pointer, []).append((op, value))
            ids = self.superseded.setdefault(pointer, {})
            base = op["base"].get(pointer)
            if base is not None:
                ids[self.standing(base, pointer)] = True
            if does == "settle" or does == "correct":
                for op_id in cast(list[str], body.get("of") or []):
                    ids[self.standing(op_id, pointer)] = True

    def trace(self, test: str) -> list[Json]:
        """The points of a test's trace that nobody struck, in rising time."""
        struck = self.untraced.get(test, [])
        kept = [point for point in self.traces.get(test, []) if cast(JsonObject, point)["s"] not in struck]
        return in_time(kept)

    def heads(self, pointer: str) -> list[_Setting]:
        heads: list[_Setting] = []
        for op, value in self.settings[pointer]:
            if not self.superseded[pointer].get(op["id"], False):
                heads.append((op, value))
        return heads


def plain(token: str) -> str:
    """The key that a JSON pointer token (RFC 6901, section 4) stands for [text]."""
    return token.replace("~1", "/").replace("~0", "~")


def put(root: JsonObject, path: list[str], value: Json) -> None:
    """Set a value in a tree of objects at a path of pointer tokens, making missing objects on the way."""
    node = root
    for token in path[:-1]:
        key = plain(token)
        if not isinstance(node.get(key), dict):
            node[key] = {}
        node = cast(JsonObject, node[key])
    node[plain(path[-1])] = value


def _assembled(state: _Replay, visit: JsonObject) -> JsonObject:
    # For every list, even if nothing was added to it: what is set of an item that was never added waits for it, and
    # isn't part of the visit until then.
    lists: dict[str, JsonObject] = {name: {} for name in _names_of_lists(state.kinds)}
    for pointer in state.settings:
        heads = state.heads(pointer)
        if len(heads) == 0 or heads[0][1] is None:
            continue
        path = pointer.split("/")[1:]
        if path[0] in lists:
            put(lists[path[0]], path[1:], heads[0][1])
        else:
            put(visit, path, heads[0][1])
    for name in state.items:
        key = _key_of(name, state.kinds)
        members: list[Json] = []
        for member in state.items[name]:
            if state.struck.get(name + "/" + member, False):
                continue
            item: JsonObject = {key: member}
            item.update(cast(JsonObject, lists[name].get(member, {})))
            trace = state.trace(member) if name == "tests" else []
            if len(trace) > 0:
                item["trace"] = trace
            members.append(item)
        visit[name] = members
    for field in state.fields:
        visit[field] = state.fields[field]
    return visit


def _names_of_lists(kinds: KindsBook) -> list[str]:
    names: list[str] = []
    for kind in kinds["kinds"]:
        name = kinds["kinds"][kind].get("list")
        if name is not None and name not in names:
            names.append(name)
    return names


def _key_of(name: str, kinds: KindsBook) -> str:
    for kind in kinds["kinds"]:
        rule = kinds["kinds"][kind]
        if rule["does"] == "add" and rule["list"] == name:
            return rule["key"]
    return "id"


def replay(ops: list[Op], kinds: KindsBook) -> Replayed:
    """A visit with the heads of every pointer and the conflicts that a person has yet to settle.

    A pointer's heads are the operations that set it and that no other operation on it names as its base (or, when
    settling, in `of`). More than one head is a conflict: the visit shows the first in order, `conflicts` shows all.

    Args:
        ops: the visit's operations, in any order, each once [list of JSON objects]
        kinds: the rulebook's `kinds` book [JSON object]

    Returns:
        {visit, heads: {pointer: [op ids]}, conflicts: [{pointer, values: [{op, device, at, value}]}]} [JSON object]
    """
    state = _Replay(kinds)
    visit: JsonObject = {}
    for op in ops:
        if rule_of(op["kind"], kinds)["does"] == "mend":
            state.mended[cast(str, op["body"]["replaces"])] = op
    for op in ordered(ops):
        if "id" not in visit and op["visit"] is not None:
            visit["id"] = op["visit"]
            visit["schema"] = op["schema"]
        state.apply(unwrapped(op, kinds))
    heads: dict[str, list[str]] = {}
    conflicts: list[Conflict] = []
    for pointer in state.settings:
        settings = state.heads(pointer)
        heads[pointer] = [op["id"] for op, _ in settings]
        if len(settings) > 1:
            values: list[ConflictValue] = []
            for op, value in settings:
                values.append({"op": op["id"], "device": op["device"], "at": op["at"], "value": value})
            conflicts.append({"pointer": pointer, "values": values})
    return {"visit": cast(Visit, _assembled(state, visit)), "heads": heads, "conflicts": conflicts}


def fold(ops: list[Op], kinds: KindsBook) -> Visit:
    """The visit that results from its operations, in any order of arrival.

    Args:
        ops: the visit's operations, each once [list of JSON objects]
        kinds: the rulebook's `kinds` book [JSON object]

    Returns:
        the visit, design of schema 1 [JSON object]
    """
    return replay(ops, kinds)["visit"]
