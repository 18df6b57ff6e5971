"""The heads of a visit or a card: which operations are filed for it, which of them are current, and what conflicts.

Nothing here knows a view or a file. The heads of a pointer are the operations whose value hasn't been replaced yet;
more than one is a conflict that waits for a person.
"""

from __future__ import annotations

from typing import TypedDict, cast

from sync.kernel.books import KindsBook
from sync.kernel.json_tree import JsonObject
from sync.kernel.operation import Op
from sync.records.record import FiledRecord, kind_and_body
from sync.wire import op_line
from sync.wire.results import Status

# What people look a visit up by, kept beside it so that a list needn't fold every visit.
SUMMARY = {
    "/started_at": "started_at",
    "/vehicle/plate": "plate",
    "/vehicle/vin": "vin",
    "/customer/name": "customer",
    "/place/label": "place",
}
TECHNICIAN = "/technician/id"
# In the summary: whom the desk handed the visit over to.
HANDED_TO = "handed_to"


class FiledOp(TypedDict):
    """One operation of a visit or card, by the number of its record."""

    number: int
    id: str
    digest: str
    status: Status
    device: str
    seq: int


class Heads(TypedDict):
    """The bookkeeping of a visit or card.

    `opened` says whether an operation opened it, `ops` lists all in the order they came in, `notes` has the numbers of
    the notes on its sheets, `heads` the current ids by pointer. `stand_ins` has what stands for a replaced operation:
    under its id the replacement, under its id and a pointer what is current at that pointer. `summary` has the latest
    value of each field of SUMMARY. `missing` has, as id and pointer, what operations build on and nobody has here: it
    was lost, and may come again from its phone.
    """

    opened: bool
    ops: list[FiledOp]
    notes: list[int]
    heads: dict[str, list[str]]
    stand_ins: dict[str, str]
    summary: JsonObject
    missing: list[str]


def new_heads() -> Heads:
    """The heads of a visit or card for which nothing is filed yet."""
    return {"opened": False, "ops": [], "notes": [], "heads": {}, "stand_ins": {}, "summary": {}, "missing": []}


def draft_of(heads: Heads) -> Heads:
    """A copy that new operations may change without changing the original."""
    return {
        "opened": heads["opened"],
        "ops": list(heads["ops"]),
        "notes": list(heads["notes"]),
        "heads": dict(heads["heads"]),
        "stand_ins": dict(heads["stand_ins"]),
        "summary": dict(heads["summary"]),
        "missing": list(heads["missing"]),
    }


def enter(heads: Heads, filed: FiledRecord) -> None:
    """Add a filed operation to the heads of its visit or card: its place, what is current now, the summary."""
    op, record = filed.op, filed.record
    heads["ops"].append({
        "id": op["id"], "digest": record.result["digest"], "status": filed.status,
        "device": op["device"], "seq": op["seq"], "number": record.number,
    })
    set_heads(heads, filed)
    for pointer, value in filed.leaves:
        if pointer in SUMMARY:
            heads["summary"][SUMMARY[pointer]] = value
    if handed_to(filed) is not None:
        heads["summary"][HANDED_TO] = handed_to(filed)


def handed_to(filed: FiledRecord) -> str | None:
    """Whom an operation hands its visit over to; None if it doesn't. Only the desk does [id]."""
    if filed.op["device"] != op_line.DESK:
        return None
    # An earlier version may have accepted something that isn't a text.
    return next((value for pointer, value in filed.leaves if pointer == TECHNICIAN and isinstance(value, str)), None)


def opens(op: Op, kinds: KindsBook) -> bool:
    """Whether an operation opens its visit, or replaces one that does."""
    return bool(kinds["kinds"][kind_and_body(op)[0]].get("opens"))


def set_heads(heads: Heads, filed: FiledRecord) -> None:
    """Move the heads of what an operation sets: what it builds on or settles goes, it comes in."""
    op, standing_ids = filed.op, heads["heads"]
    if opens(op, filed.kinds):
        heads["opened"] = True
    if op["kind"] == "op.mend":
        _stand_in(heads["stand_ins"], op, {pointer for pointer, _ in filed.leaves})
    for pointer, _ in filed.leaves:
        if heads["missing"] and _was_missing(heads, op, pointer):
            continue
        before, base = standing_ids.get(pointer), op["base"].get(pointer)
        if base is not None and base not in (before or ()):
            _note_missing(heads, base, pointer)
        if before:
            replaced = superseded(heads, op, pointer)
            before = [head for head in before if head not in replaced]
        standing_ids[pointer] = [*(before or ()), op["id"]]


def _note_missing(heads: Heads, base: str, pointer: str) -> None:
    """Note what is built on but missing, unless it is here and was only followed or replaced."""
    if base not in heads["stand_ins"] and all(filed["id"] != base for filed in heads["ops"]):
        heads["missing"].append(f"{base} {pointer}")


def _was_missing(heads: Heads, op: Op, pointer: str) -> bool:
    """Whether others followed an operation at a pointer before it came again; then it isn't current there."""
    name = f"{op['id']} {pointer}"
    if name not in heads["missing"]:
        return False
    heads["missing"].remove(name)
    return True


def _stand_in(stand_ins: dict[str, str], op: Op, pointers: set[str]) -> None:
    """Note what stands for a replaced operation: its replacement, or what that builds on at a pointer it omits."""
    replaced = str(op["body"]["replaces"])
    stand_ins[replaced] = op["id"]
    for pointer, base in op["base"].items():
        if base is not None and pointer not in pointers:
            stand_ins[f"{replaced} {pointer}"] = base


def standing(heads: Heads, name: str, pointer: str) -> str:
    """The id of what stands for an operation at a pointer; its own if nobody replaced it."""
    stand_ins = heads["stand_ins"]
    for _ in stand_ins:
        stand_in = stand_ins.get(f"{name} {pointer}") or stand_ins.get(name)
        if stand_in is None:
            break
        name = stand_in
    return name


def settled(op: Op) -> list[str]:
    """The ids that a settling operation, a correction, or the replacement of one, names as settled [op ids]."""
    kind, body = kind_and_body(op)
    if kind not in ("conflict.settle", "vehicle.set", "customer.set"):
        return []
    # The shapes of these kinds allow only ids here.
    return list(cast(list[str], body.get("of") or []))


def superseded(heads: Heads, op: Op, pointer: str) -> list[str]:
    """The ids that an operation follows at one pointer; a replaced one is followed where its replacement stands."""
    named = [op["base"].get(pointer), *settled(op)]
    return [standing(heads, name, pointer) for name in named if name is not None]


def disagrees(heads: Heads, filed: FiledRecord) -> bool:
    """Whether an operation sets something that others have set meanwhile, so that a person must settle it.

    Args:
        heads: those of its visit or card, before the operation [Heads]
        filed: the operation [FiledRecord]

    Returns:
        True if at some pointer none of the heads is one that the operation names [bool]
    """
    for pointer, _ in filed.leaves:
        before = heads["heads"].get(pointer)
        if heads["missing"] and f"{filed.op['id']} {pointer}" in heads["missing"]:
            continue
        if before and not set(before) & set(superseded(heads, filed.op, pointer)):
            return True
    return False


def not_seen(heads: Heads, op: Op) -> list[str]:
    """The ids that an operation builds on but that aren't filed with its visit [op ids]."""
    named = {base for base in (*op["base"].values(), *settled(op)) if base is not None}
    if not named:
        return []
    return sorted(named - {filed["id"] for filed in heads["ops"]} - heads["stand_ins"].keys())
