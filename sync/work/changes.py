"""Changes: what a device is told of others' work on its visits and vehicles, from a cursor on.

Nothing here files anything. Only the device's own pages from the cursor on are read, so that asking costs the same
however long the journal is. Whatever is told twice changes nothing on the phone.
"""

from __future__ import annotations

import re
from typing import Any

from sync.errors import LaybyError
from sync.isolation import apart
from sync.records import change_feed
from sync.records.change_feed import FeedRow
from sync.records.logbook import Logbook
from sync.records.notifications import Notice, Notifications
from sync.wire import op_line
from sync.work import cards
from sync.work.baselines import baseline_of

CHANGES_MOST = 200
NOTICES_MOST = 500

# Where the device's feed was read to (a record's offset, its length and the check of its bytes) and the last notice.
_CURSOR = re.compile(r"(-1|\d{1,15})\.(\d{1,9})\.([0-9a-f]{8})\.(\d{1,12})", re.ASCII)
_START = (-1, 0, "00000000", 0)

Change = dict[str, Any]
Cursor = tuple[int, int, str, int]


class BadCursor(LaybyError):
    """A cursor that no answer of this desk has given."""

    code = "bad_cursor"


def changes(logbook: Logbook, notifications: Notifications, device: str, after: str) -> dict[str, Any]:
    """What a device has to be told after a cursor.

    A cursor is good for this journal: where the journal was made anew (something was erased, or a backup restored) the
    device is told from the beginning.

    Args:
        logbook: the open logbook [Logbook]
        notifications: the notifications of the same folder [Notifications]
        device: who asks [lower-case hex]
        after: the cursor of the last answer, "" at first [text]

    Returns:
        {cursor, changes, more}; changes are {kind: "op", line}, {kind: "sheet", visit, revision, state, at, reason},
        {kind: "baseline", vehicle, baseline} and {kind: "erased", ...}, in an order that can be applied [JSON object]

    Raises:
        BadCursor: it is none of this desk's.
    """
    with logbook.lock:
        start = _read(logbook, after)
        entries, more = _entries(logbook, device, start[0])
        told = _told(logbook, device, entries)
        place = _placed(logbook, entries, start)
        # A restored older backup has fewer notifications than the device has heard: it is told them all again.
        heard = start[3] if start[3] <= notifications.last() else 0
        noted = notifications.since(heard, NOTICES_MOST)
        told += [{**notice} for _, notice, devices in noted if _is_for(logbook, notice, devices, device)]
        last = noted[-1][0] if noted else heard
    cursor = "{}.{}.{}.{}".format(*place, last)
    return {"cursor": cursor, "changes": told, "more": more or len(noted) == NOTICES_MOST}


def _read(logbook: Logbook, text: str) -> Cursor:
    if not text:
        return _START
    match = _CURSOR.fullmatch(text)
    if match is None:
        raise BadCursor(cursor=text[:60])
    offset, length, check, notice = int(match[1]), int(match[2]), match[3], int(match[4])
    if offset < 0 or logbook.check_of(offset) != (length, check):
        return (*_START[:3], notice)
    return offset, length, check, notice


def _entries(logbook: Logbook, device: str, after: int) -> tuple[list[FeedRow], bool]:
    """The feed's rows behind an offset, whole records at a time, and whether there are more."""
    found: list[FeedRow] = []
    first = change_feed.view_name(device, max(after, 0))
    for name in logbook.view_names(f"changes/{device}"):
        if name < first:
            continue
        if len(found) > CHANGES_MOST:
            return found, True
        for entry in sorted((row for row in logbook.view(name).feed.values() if row["at"] > after), key=_at):
            if len(found) > CHANGES_MOST and entry["at"] != found[-1]["at"]:
                return found, True
            found.append(entry)
    return found, False


def _at(entry: FeedRow) -> int:
    return entry["at"]


def _placed(logbook: Logbook, entries: list[FeedRow], start: Cursor) -> tuple[int, int, str]:
    if not entries:
        return start[:3]
    offset = entries[-1]["at"]
    return (offset, *logbook.check_of(offset))


def _told(logbook: Logbook, device: str, entries: list[FeedRow]) -> list[Change]:
    """The rows as changes, each line and each card once."""
    lines: dict[bytes, None] = {}
    vehicles: dict[str, None] = {}
    for entry in entries:
        if "offset" in entry:
            lines[logbook.line({"offset": entry["offset"], "length": entry["length"]})] = None
        for what, identifier in _cards(logbook, entry):
            if what == "vehicle":
                vehicles[identifier] = None
            lines |= dict.fromkeys(_lines_of(logbook, device, what, identifier))
    told: list[Change] = [{"kind": "op", "line": line.decode("utf-8")} for line in lines]
    for vehicle in vehicles:
        baseline = baseline_of(logbook, vehicle)
        if baseline is not None:
            told.append({"kind": "baseline", "vehicle": vehicle, "baseline": baseline})
    return told


def _cards(logbook: Logbook, entry: FeedRow) -> list[tuple[str, str]]:
    if "visit" in entry:
        vehicle = apart(entry["visit"], lambda: (logbook.visit(entry["visit"]).get("vehicle") or {}).get("id"))
        return [("vehicle", vehicle)] if isinstance(vehicle, str) else []
    if "vehicle" in entry:
        return [("vehicle", entry["vehicle"])]
    return [("customer", entry["customer"])] if "customer" in entry else []


def _lines_of(logbook: Logbook, device: str, what: str, identifier: str) -> list[bytes]:
    """The op lines on a card that are not the device's own; of a customer, those of all it was merged with."""
    ids = cards.connected(logbook, identifier)[0] if what == "customer" else {identifier}
    cards_heads = [logbook.card_heads(what, one) for one in sorted(ids)]
    places = [op for heads in cards_heads if heads for op in heads["ops"]]
    return [logbook.line(place) for place in places if place["device"] != device]


def _is_for(logbook: Logbook, notice: Notice, devices: list[str] | None, device: str) -> bool:
    if devices is not None:
        return device in devices
    if notice["kind"] != "sheet" or not op_line.is_id(notice["visit"]):
        return False
    heads = logbook.visit_heads(notice["visit"])
    return heads is not None and any(op["device"] == device for op in heads["ops"])
