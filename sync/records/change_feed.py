"""The feed of a device: which records of the journal it has to be told of, and what stands in its pages of changes.

Nothing here reads a file or knows a cursor; `changes` does. A page is named by the stretch of the journal it is of, so
that one can be made again without the others.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sync.records.record import FiledRecord

STRETCH_BYTES = 4 * 1024 * 1024

Entry = dict[str, Any]
# Work and moves of refrigerant say since when a vehicle's healthy tests no longer count.
_WORK = ("work.add", "move.add")


def page_name(device: str, offset: int) -> str:
    """The page of a device's changes for a stretch of the journal; twelve digits, so that names sort as numbers do."""
    return f"changes/{device}/{offset // STRETCH_BYTES:012d}"


def entries(filed: FiledRecord) -> dict[str, list[Entry]]:
    """What each device has to be told because of one record.

    A device takes part in a visit from its first operation there: what others filed before comes to it then, what they
    file later comes as it is filed. It takes part in the vehicle and the customer of its visits. `before` of the record
    must list the visit's earlier operations, `parties` of one beside the visits the devices that take part.

    Args:
        filed: the record [FiledRecord]

    Returns:
        by device, in order: {offset, length} of an op line, or {"visit"}, {"vehicle"} or {"customer"} whose card it is
        to be told anew [JSON objects]
    """
    if not filed.in_visit:
        return _beside(filed) if filed.filed else {}
    op, record = filed.op, filed.record
    mine = str(op["device"])
    if not filed.names and op["kind"] not in _WORK and all(one["device"] == mine for one in filed.before):
        # Nearly every operation: nobody else takes part in the visit.
        return {}
    told: dict[str, list[Entry]] = {device: [] for device in {one["device"] for one in filed.before}}
    for device in told.keys() - {mine}:
        told[device].append(_place(record.offset, record.length))
    if mine not in told:
        told[mine] = [_place(one["offset"], one["length"]) for one in filed.before]
    if filed.names:
        told[mine] += [{what: value} for what, value in _joined(filed) if value and isinstance(value, str)]
    if op["kind"] in _WORK:
        for those in told.values():
            those.append({"visit": op["visit"]})
    return {device: those for device, those in told.items() if those}


def _joined(filed: FiledRecord) -> list[tuple[str, Any]]:
    named = {"vehicle": "vehicle", "customer_id": "customer"}
    return [(named[name], value) for name, value in filed.names if name in named]


def _beside(filed: FiledRecord) -> dict[str, list[Entry]]:
    what, identifier = filed.subject
    return {device: [{what: identifier}] for device in {*filed.parties, str(filed.op["device"])}}


def _place(offset: int, length: int) -> Entry:
    return {"offset": offset, "length": length}


def pages_of(filed: FiledRecord) -> list[str]:
    """The pages of changes that a record stands on."""
    return [page_name(device, filed.record.offset) for device in filed.told]


def post(table: dict[str, Entry], name: str, filed: FiledRecord) -> None:
    """Enter on a page of changes what its device has to be told because of a record; twice changes nothing."""
    for number, entry in enumerate(filed.told.get(name.split("/")[1], [])):
        table[f"{filed.record.offset} {number}"] = {"at": filed.record.offset, **entry}
