"""What was corrected of a visit at the desk: when, why, and what stood there before.

Nothing here is filed and nothing is judged; it is read from the visit's own operations.
"""

from __future__ import annotations

from typing import TypedDict, cast

from sync.kernel.books import KindsBook
from sync.kernel.fold import leaves, rule_of, unwrapped
from sync.kernel.json_tree import Json
from sync.kernel.operation import Op

NOTE = "change.note"
TYPED = "typed."
# Which of the changes of one correction, the list, and the path in an item of it.
_Key = tuple[int, str, str]


class ChangedPlace(TypedDict):
    """A place of a visit that was corrected: the list it belongs to, "" for none, its path, and both values."""

    scope: str
    path: str
    before: Json
    after: Json


class Correction(TypedDict):
    """One correction: when [ms since 1970], why, and what was changed."""

    at: int
    why: str
    places: list[ChangedPlace]


def corrections_of(ops: list[Op], kinds: KindsBook) -> list[Correction]:
    """The corrections of a visit, the newest first.

    Args:
        ops: the visit's operations [Op each]
        kinds: the rulebook's `kinds` [KindsBook]

    Returns:
        each that bears a reason [Correction each]
    """
    by_id = {op["id"]: op for op in ops}
    notes = sorted((op for op in ops if op["kind"] == NOTE), key=lambda op: (op["at"], op["seq"]), reverse=True)
    return [{"at": note["at"], "why": str(note["body"]["why"]),
             "places": _places([by_id[name] for name in cast(list[str], note["body"]["of"]) if name in by_id], by_id,
                               kinds)} for note in notes]


def _places(of: list[Op], by_id: dict[str, Op], kinds: KindsBook) -> list[ChangedPlace]:
    """What operations changed; an item that was struck and added again is told by the fields that differ."""
    before, after = dict[_Key, Json](), dict[_Key, Json]()
    group, struck = 0, ""
    for op in of:
        rule = rule_of(op["kind"], kinds)
        scope = str(op["body"]["list"]) if rule["does"] == "strike" else rule.get("list") or ""
        # An item that cannot be set is struck, and what replaces it is added right after.
        group += 0 if rule["does"] == "add" and scope == struck else 1
        struck = scope if rule["does"] == "strike" else ""
        if struck:
            values = _of_item(scope, str(op["body"]["id"]), by_id, kinds)
            before |= {(group, scope, path): value for path, value in values.items()}
        elif rule["does"] != "settle":
            for pointer, value in leaves(op["body"], op["kind"], kinds):
                key = (group, scope, _path(pointer, scope))
                base = by_id.get(op["base"].get(pointer) or "")
                before.setdefault(key, _value(base, pointer, kinds) if base else None)
                after[key] = value
    return [{"scope": key[1], "path": key[2], "before": before.get(key), "after": after.get(key)}
            for key in dict.fromkeys((*before, *after))
            if before.get(key) != after.get(key) and not key[2].startswith(TYPED)]


def _of_item(scope: str, item: str, by_id: dict[str, Op], kinds: KindsBook) -> dict[str, Json]:
    """What was last set of an item, by path."""
    start, values = f"/{scope}/{item}/", dict[str, Json]()
    for op in sorted(by_id.values(), key=lambda op: (op["at"], op["seq"])):
        inner = unwrapped(op, kinds)
        values |= {pointer.removeprefix(start).replace("/", "."): value
                   for pointer, value in leaves(inner["body"], inner["kind"], kinds) if pointer.startswith(start)}
    return values


def _path(pointer: str, scope: str) -> str:
    """A pointer as the path of a field; what was typed beside a field stays apart."""
    parts = pointer.split("/")[1:]
    return ".".join(parts[2:] if scope and parts[0] == scope else parts)


def _value(op: Op, pointer: str, kinds: KindsBook) -> Json:
    inner = unwrapped(op, kinds)
    return next((value for name, value in leaves(inner["body"], inner["kind"], kinds) if name == pointer), None)
