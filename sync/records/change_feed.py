"""The feed of a device: which records of the journal it has to be told of, and what stands on its views of changes.

Nothing here reads a file or knows a cursor; `changes` does. A view is named by the stretch of the journal it is of, so
that one can be made again without the others.
"""

from __future__ import annotations

from typing import Required, TypedDict

from sync.records.heads import FiledOp
from sync.records.record import FiledRecord

STRETCH_BYTES = 4 * 1024 * 1024

# Work and moves of refrigerant say since when a vehicle's healthy tests no longer count.
_WORK = ("work.add", "move.add")


class FeedItem(TypedDict, total=False):
    """What a device is to be told: an op line by its place, or the visit, vehicle or customer to be told anew."""

    offset: int
    length: int
    visit: str
    vehicle: str
    customer: str


class FeedRow(FeedItem):
    """The same on a view of changes, with the offset of the record that it is told because of."""

    at: Required[int]


# What each device is to be told because of one record, in order, by device.
Feed = dict[str, list[FeedItem]]


def view_name(device: str, offset: int) -> str:
    """The view of a device's changes for a stretch of the journal; twelve digits, so that names sort as numbers do."""
    return f"changes/{device}/{offset // STRETCH_BYTES:012d}"


def feed_of_visit(filed: FiledRecord, before: list[FiledOp]) -> Feed:
    """What each device has to be told because of one filed operation of a visit.

    A device takes part in a visit from its first operation there: what others filed before comes to it then, what they
    file later comes as it is filed. It takes part in the vehicle and the customer of its visits.

    Args:
        filed: the record [FiledRecord]
        before: the visit's earlier operations [FiledOp each]

    Returns:
        by device, in order [FeedItem each]
    """
    op, record = filed.op, filed.record
    mine = op["device"]
    if not filed.names and op["kind"] not in _WORK and all(one["device"] == mine for one in before):
        # Nearly every operation: nobody else takes part in the visit.
        return {}
    feed: Feed = {device: [] for device in {one["device"] for one in before}}
    for device in feed.keys() - {mine}:
        feed[device].append({"offset": record.offset, "length": record.length})
    if mine not in feed:
        feed[mine] = [{"offset": one["offset"], "length": one["length"]} for one in before]
    feed[mine] += _cards_named(filed)
    if op["kind"] in _WORK and op["visit"] is not None:
        for items in feed.values():
            items.append({"visit": op["visit"]})
    return {device: items for device, items in feed.items() if items}


def feed_of_card(filed: FiledRecord, devices: list[str]) -> Feed:
    """What each device has to be told because of one filed operation beside the visits.

    Args:
        filed: the record [FiledRecord]
        devices: those that take part in the vehicle or customer it is about [lower-case hex each]

    Returns:
        by device, in order [FeedItem each]
    """
    return {device: [_card_item(*filed.subject)] for device in {*devices, filed.op["device"]}}


def _cards_named(filed: FiledRecord) -> list[FeedItem]:
    cards = {"vehicle": "vehicle", "customer_id": "customer"}
    # An earlier version may have taken what is no text.
    named = [(cards[name], value) for name, value in filed.names if name in cards and isinstance(value, str)]
    return [_card_item(what, identifier) for what, identifier in named if identifier]


def _card_item(what: str, identifier: str) -> FeedItem:
    return {"vehicle": identifier} if what == "vehicle" else {"customer": identifier}


def views_of(filed: FiledRecord, feed: Feed) -> list[str]:
    """The views of changes that a record stands on."""
    return [view_name(device, filed.record.offset) for device in feed]


def post(table: dict[str, FeedRow], filed: FiledRecord, items: list[FeedItem]) -> None:
    """Enter on a view of changes what its device has to be told because of a record; twice changes nothing."""
    at = filed.record.offset
    for number, item in enumerate(items):
        table[f"{at} {number}"] = {"at": at, **item}
