"""The feed of a device or a person: which records of the journal they have to be told about, on views of changes.

Nothing here reads a file or knows a cursor; `changes` does. A view is named by its stretch of the records, so that one
can be made again without the others.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Required, TypedDict, cast

from sync.records.erasures import Erasure
from sync.records.heads import HANDED_TO, FiledOp, Heads, handed_to
from sync.records.record import FiledRecord
from sync.records.store.note import Note

# Work and moves of refrigerant say since when a vehicle's earlier healthy tests no longer count.
_WORK = ("work.add", "move.add")


class FeedItem(TypedDict, total=False):
    """What a device is to be told: an op line or a note by its number, or a whole visit, vehicle or customer again."""

    number: int
    visit: str
    vehicle: str
    customer: str


class FeedRow(FeedItem):
    """The same on a view of changes, with the number of the record that caused it."""

    at: Required[int]


# What each device is to be told because of one record, in order, by device.
Feed = dict[str, list[FeedItem]]


def view_name(device: str, number: int, stretch: int) -> str:
    """The view of a device's changes for a stretch of the records; twelve digits, so that names sort as numbers do."""
    return f"changes/{device}/{number // stretch:012d}"


def feed_of_visit(filed: FiledRecord, before: list[FiledOp], notes: list[int], handed: str | None = None) -> Feed:
    """What each device has to be told because of one filed operation of a visit.

    A device takes part in a visit from its first operation there. It then gets what others filed before; what they file
    later it gets as it is filed. It takes part in the vehicle and the customer of its visits. So does the person whom a
    visit was handed over to, under their id as if it were a device's: whatever phone they have is told.

    Args:
        filed: the record [FiledRecord]
        before: the visit's earlier operations [FiledOp each]
        notes: the numbers of the notes on its sheets [counts]
        handed: whom the visit was handed over to before, None if it wasn't [id]

    Returns:
        by device or person, in order [FeedItem each]
    """
    op, record = filed.op, filed.record
    mine, newly = op["device"], handed_to(filed)
    is_handed = handed is not None or newly is not None
    is_alone = all(one["device"] == mine for one in before)
    if not is_handed and not filed.names and op["kind"] not in _WORK and is_alone:
        return {}
    feed: Feed = {device: [] for device in {one["device"] for one in before}}
    if handed is not None:
        feed[handed] = []
    for device in feed.keys() - {mine}:
        feed[device].append({"number": record.number})
    if newly is not None and newly != handed and op["visit"] is not None:
        feed[newly] = [{"number": number} for number in (*(one["number"] for one in before), *notes, record.number)]
        feed[newly].append({"visit": op["visit"]})
    if mine not in feed:
        feed[mine] = [{"number": number} for number in (*(one["number"] for one in before), *notes)]
    feed[mine] += _cards_named(filed)
    if op["kind"] in _WORK and op["visit"] is not None:
        for items in feed.values():
            items.append({"visit": op["visit"]})
    return {device: items for device, items in feed.items() if items}


def feed_of_card(filed: FiledRecord, devices: list[str]) -> Feed:
    """What each device has to be told because of one filed operation beside the visits.

    Args:
        filed: the record [FiledRecord]
        devices: those that take part in the vehicle or customer concerned [lower-case hex each]

    Returns:
        by device, in order [FeedItem each]
    """
    return {device: [_card_item(*filed.subject)] for device in {*devices, filed.op["device"]}}


def feed_of_note(filed: FiledRecord, note: Note, heads: Heads | None) -> Feed:
    """What each device has to be told because of one note.

    Args:
        filed: the record [FiledRecord]
        note: its content [Note]
        heads: those of the note's visit, None if it has none [Heads or None]

    Returns:
        by device [FeedItem each]
    """
    if note["kind"] == "erasure":
        # Only an erasure writes this note.
        devices = {device for one in cast(list[Erasure], note["body"]["erasures"]) for device in one["devices"]}
    elif note["kind"] == "letter.handed" or heads is None:
        devices = set()
    else:
        devices = {op["device"] for op in heads["ops"]} | handed_among([heads])
    return {device: [{"number": filed.record.number}] for device in sorted(devices)}


def handed_among(visits: Iterable[Heads]) -> set[str]:
    """Whom any of some visits was handed over to [ids]."""
    return {str(heads["summary"][HANDED_TO]) for heads in visits if heads["summary"].get(HANDED_TO)}


def _cards_named(filed: FiledRecord) -> list[FeedItem]:
    cards = {"vehicle": "vehicle", "customer_id": "customer"}
    # An earlier version may have accepted something that isn't a text.
    named = [(cards[name], value) for name, value in filed.names if name in cards and isinstance(value, str)]
    return [_card_item(what, identifier) for what, identifier in named if identifier]


def _card_item(what: str, identifier: str) -> FeedItem:
    return {"vehicle": identifier} if what == "vehicle" else {"customer": identifier}


def views_of(filed: FiledRecord, feed: Feed, stretch: int) -> list[str]:
    """The views of changes that show a record."""
    return [view_name(device, filed.record.number, stretch) for device in feed]


def post(table: dict[str, FeedRow], filed: FiledRecord, items: list[FeedItem]) -> None:
    """Enter on a view of changes what its device has to be told because of a record; doing it twice changes nothing."""
    at = filed.record.number
    for number, item in enumerate(items):
        table[f"{at} {number}"] = {"at": at, **item}
