"""The entry of a visit or a card: which operations are filed for it, which of them stand, and what disagrees.

Nothing here knows a page or a file. The heads of a pointer are the operations whose value nobody has replaced yet; more
than one is a conflict that waits for a person.
"""

from __future__ import annotations

from typing import Any

from sync.records.record import Entry, FiledRecord, Kinds

# What people look a visit up by, kept beside it so that a list need not fold every visit.
SUMMARY = {
    "/started_at": "started_at",
    "/vehicle/plate": "plate",
    "/vehicle/vin": "vin",
    "/customer/name": "customer",
    "/place/label": "place",
}


def new_visit() -> Entry:
    """The entry of a visit of which nothing is filed yet."""
    return {"opened": False, "ops": [], "heads": {}, "stand_ins": {}, "summary": {}}


def draft_of(entry: Entry) -> Entry:
    """A copy of a visit's entry that `set_heads` and new operations may change without changing the entry."""
    return {
        "opened": entry["opened"],
        "ops": list(entry["ops"]),
        "heads": dict(entry["heads"]),
        "stand_ins": dict(entry["stand_ins"]),
    }


def enter(entry: Entry, filed: FiledRecord) -> None:
    """Add a filed operation to its visit's entry: its place, the new heads, the summary."""
    op, record = filed.op, filed.record
    told = {"id": op["id"], "digest": record.result["digest"], "status": filed.status}
    told |= {"device": op["device"], "seq": op["seq"], "offset": record.offset, "length": record.length}
    entry["ops"].append(told)
    set_heads(entry, filed)
    for pointer, value in filed.leaves:
        if pointer in SUMMARY:
            entry["summary"][SUMMARY[pointer]] = value


def opens(op: dict[str, Any], kinds: Kinds) -> bool:
    """Whether an operation opens its visit, or mends one that does."""
    kind = op["body"]["kind"] if op["kind"] == "op.mend" else op["kind"]
    return bool(kinds["kinds"][kind].get("opens"))


def set_heads(entry: Entry, filed: FiledRecord) -> None:
    """Move the heads of what an operation sets: what it builds on or settles goes, it comes."""
    op, heads = filed.op, entry["heads"]
    if opens(op, filed.kinds):
        entry["opened"] = True
    if op["kind"] == "op.mend":
        _stand_in(entry["stand_ins"], op, {pointer for pointer, _ in filed.leaves})
    for pointer, _ in filed.leaves:
        before = heads.get(pointer)
        if before:
            gone = superseded(entry, op, pointer)
            before = [head for head in before if head not in gone]
        heads[pointer] = [*(before or ()), op["id"]]


def _stand_in(stand_ins: dict[str, str], op: dict[str, Any], pointers: set[str]) -> None:
    """Note what stands for a mended operation: its mending, and on a pointer left out what the mending builds on."""
    replaced = op["body"]["replaces"]
    stand_ins[replaced] = op["id"]
    for pointer, base in op["base"].items():
        if base is not None and pointer not in pointers:
            stand_ins[f"{replaced} {pointer}"] = base


def standing(entry: Entry, name: str, pointer: str) -> str:
    """The id of what stands for an operation on a pointer; itself where nobody mended it."""
    stand_ins = entry["stand_ins"]
    for _ in stand_ins:
        found = stand_ins.get(f"{name} {pointer}") or stand_ins.get(name)
        if found is None:
            break
        name = found
    return name


def settled(op: dict[str, Any]) -> list[str]:
    """The ids that a settling operation, a correction, or the mending of one, names as settled [op ids]."""
    kind, body = op["kind"], op["body"]
    if kind == "op.mend":
        kind, body = body["kind"], body["body"]
    return list(body.get("of") or []) if kind in ("conflict.settle", "vehicle.set", "customer.set") else []


def superseded(entry: Entry, op: dict[str, Any], pointer: str) -> list[str]:
    """The ids that an operation follows on one pointer; a mended one is followed where its mending stands."""
    named = [op["base"].get(pointer), *settled(op)]
    return [standing(entry, name, pointer) for name in named if name is not None]


def disagrees(entry: Entry, filed: FiledRecord) -> bool:
    """Whether an operation sets something that others set meanwhile, so that a person must settle it.

    Args:
        entry: its visit, before the operation [JSON object]
        filed: the operation [FiledRecord]

    Returns:
        True where on some pointer none of the heads is one that the operation names [bool]
    """
    for pointer, _ in filed.leaves:
        heads = entry["heads"].get(pointer)
        if heads and not set(heads) & set(superseded(entry, filed.op, pointer)):
            return True
    return False


def not_seen(entry: Entry, op: dict[str, Any]) -> list[str]:
    """The ids that an operation builds on and that are not filed with its visit [op ids]."""
    named = {base for base in (*op["base"].values(), *settled(op)) if base is not None}
    if not named:
        return []
    return sorted(named - {filed["id"] for filed in entry["ops"]} - entry["stand_ins"].keys())
