"""The card of a vehicle or customer: what its visits say about it, with corrections filed beside them, and merges.

Nothing here reads a file, a clock or a global. A card never changes a visit.
"""

from __future__ import annotations

from typing import cast

from sync.kernel import fold
from sync.kernel.books import KindsBook
from sync.kernel.json_tree import Json, JsonObject
from sync.kernel.operation import Card, Op, Statement
from sync.kernel.primitives import names_in_order
from sync.kernel.verdict_digest import canonical


def _by_time(statements: list[Statement]) -> list[Statement]:
    sequence: list[Statement] = []
    for one in statements:
        at = len(sequence)
        while at > 0 and sequence[at - 1]["at"] > one["at"]:
            at = at - 1
        sequence.insert(at, one)
    return sequence


def card_of(what: str, statements: list[Statement], ops: list[Op], kinds: KindsBook) -> Card:
    """What is known of a vehicle or customer now.

    The later statement of a field counts, whether a visit's or a correction's; a cleared field is absent. A chart
    travels from visit to visit automatically. Repeated unchanged, it isn't a later statement than its first, so a phone
    that hasn't heard of a correction doesn't undo it.

    Args:
        what: "vehicle" or "customer" [text]
        statements: {at, fields} of each visit; `at` is its start in ms since 1970 [list of JSON objects]
        ops: the operations on the card, in any order, each once [list of JSON objects]
        kinds: the rulebook's `kinds` book [JSON object]

    Returns:
        {fields, heads, conflicts}; heads and conflicts are those of the corrections, as `replay` gives them
        [JSON object]
    """
    values: JsonObject = {}
    since: dict[str, float] = {}
    for one in _by_time(statements):
        for pointer, value in fold.leaves(one["fields"], what + ".set", kinds):
            repeats = pointer == "/chart" and pointer in values and canonical(value) == canonical(values[pointer])
            if pointer != "/baseline" and not repeats:
                values[pointer] = value
                since[pointer] = one["at"]
    instants: dict[str, float] = {}
    corrections = []
    for op in ops:
        instants[op["id"]] = op["at"]
        inner = fold.unwrapped(op, kinds)
        if fold.rule_of(inner["kind"], kinds)["does"] == "correct":
            corrections.append(op)
    replayed = fold.replay(corrections, kinds)
    for pointer in replayed["heads"]:
        first = replayed["heads"][pointer]
        if len(first) > 0 and (pointer not in since or instants[first[0]] >= since[pointer]):
            values[pointer] = _value_at(cast(JsonObject, replayed["visit"]), pointer)
    fields: JsonObject = {}
    for pointer in values:
        if values[pointer] is not None:
            fold.put(fields, pointer.split("/")[1:], values[pointer])
    return {"fields": fields, "heads": replayed["heads"], "conflicts": replayed["conflicts"]}


def _value_at(tree: Json, pointer: str) -> Json:
    for token in pointer.split("/")[1:]:
        if not isinstance(tree, dict):
            return None
        tree = tree.get(fold.plain(token))
    return tree


def merged(ops: list[Op], kinds: KindsBook) -> dict[str, str]:
    """Which customer represents each one that was merged into another.

    Args:
        ops: operations, the merges among them, in any order, each once [list of JSON objects]
        kinds: the rulebook's `kinds` book [JSON object]

    Returns:
        {id: the id it is shown under}, for ids shown under another one [JSON object]; if two merges contradict each
        other, the earlier one counts
    """
    over: dict[str, str] = {}
    for op in fold.ordered(ops):
        inner = fold.unwrapped(op, kinds)
        if fold.rule_of(inner["kind"], kinds)["does"] != "merge":
            continue
        keep, drop = _root(over, _text(inner, "keep")), _root(over, _text(inner, "drop"))
        if keep != drop:
            over[drop] = keep
    keepers: dict[str, str] = {}
    for name in names_in_order(over):
        keepers[name] = _root(over, name)
    return keepers


def subjects_of(op: Op, kinds: KindsBook) -> list[tuple[str, str]]:
    """Whose cards an operation beside the visits belongs to; a replacement counts as the operation it replaces.

    Args:
        op: the operation [JSON object]
        kinds: the rulebook's `kinds` book [JSON object]

    Returns:
        ("vehicle" or "customer", id) each; a merge belongs to the cards of both customers, the kept one first [list]
    """
    inner = fold.unwrapped(op, kinds)
    rule = kinds["kinds"][inner["kind"]]
    subjects = [(rule["of"], _text(inner, rule["key"]))]
    if rule["does"] == "merge":
        subjects.append((rule["of"], _text(inner, "drop")))
    return subjects


def marks_of(ops: list[Op], kinds: KindsBook) -> dict[str, dict[str, bool]]:
    """The latest mark, healthy or not, of each marked test of a vehicle.

    Args:
        ops: the operations on the vehicle's card, in any order, each once [list of JSON objects]
        kinds: the rulebook's `kinds` book [JSON object]

    Returns:
        {visit: {test: healthy}} [JSON object]
    """
    marks: dict[str, dict[str, bool]] = {}
    for op in fold.ordered(ops):
        inner = fold.unwrapped(op, kinds)
        if fold.rule_of(inner["kind"], kinds)["does"] == "mark":
            marks.setdefault(_text(inner, "visit"), {})[_text(inner, "test")] = inner["body"]["healthy"] is True
    return marks


def _text(op: Op, name: str) -> str:
    """A field of an operation's body whose shape makes it a text."""
    return cast(str, op["body"][name])


def _root(over: dict[str, str], name: str) -> str:
    while name in over:
        name = over[name]
    return name
