"""Changes: what a device is told of others' work on its visits and vehicles, from a cursor on.

Nothing here files anything. Only the device's own views from the cursor on are read, so that asking costs the same
however long the journal is. Whatever is told twice changes nothing on the phone.
"""

from __future__ import annotations

import re

from sync.errors import LaybyError
from sync.isolation import apart
from sync.records import change_feed
from sync.records.change_feed import FeedRow
from sync.records.logbook import Logbook
from sync.records.notifications import Notice, Notifications
from sync.wire import op_line
from sync.wire.responses import BaselineChange, Change, Changes
from sync.work import cards
from sync.work.baselines import baseline_of

CHANGES_MOST = 200
NOTICES_MOST = 500

# Where the device's feed was read to (a record's offset, its length and the check of its bytes) and the last notice.
_CURSOR = re.compile(r"(-1|\d{1,15})\.(\d{1,9})\.([0-9a-f]{8})\.(\d{1,12})", re.ASCII)
_START = (-1, 0, "00000000", 0)

Cursor = tuple[int, int, str, int]


class BadCursor(LaybyError):
    """A cursor that no answer of this desk has given."""

    code = "bad_cursor"


def changes(logbook: Logbook, notifications: Notifications, device: str, after: str) -> Changes:
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
        {kind: "baseline", vehicle, baseline, chart} and {kind: "erased", ...}, in an order that can be applied
        [Changes]

    Raises:
        BadCursor: it is none of this desk's.
    """
    with logbook.lock:
        start = _read(logbook, after)
        rows, more = _rows(logbook, device, start[0])
        result = _changes(logbook, device, rows)
        place = _place(logbook, rows, start)
        # A restored older backup has fewer notifications than the device has heard: it is told them all again.
        heard = start[3] if start[3] <= notifications.last() else 0
        notices = notifications.since(heard, NOTICES_MOST)
        result += [notice for _, notice, devices in notices if _is_for(logbook, notice, devices, device)]
        last = notices[-1][0] if notices else heard
    cursor = "{}.{}.{}.{}".format(*place, last)
    return {"cursor": cursor, "changes": result, "more": more or len(notices) == NOTICES_MOST}


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


def _rows(logbook: Logbook, device: str, after: int) -> tuple[list[FeedRow], bool]:
    """The feed's rows behind an offset, whole records at a time, and whether there are more."""
    rows: list[FeedRow] = []
    first = change_feed.view_name(device, max(after, 0))
    for name in logbook.view_names(f"changes/{device}"):
        if name < first:
            continue
        if len(rows) > CHANGES_MOST:
            return rows, True
        for row in sorted((row for row in logbook.view(name).feed.values() if row["at"] > after), key=_at):
            if len(rows) > CHANGES_MOST and row["at"] != rows[-1]["at"]:
                return rows, True
            rows.append(row)
    return rows, False


def _at(row: FeedRow) -> int:
    return row["at"]


def _place(logbook: Logbook, rows: list[FeedRow], start: Cursor) -> tuple[int, int, str]:
    if not rows:
        return start[:3]
    offset = rows[-1]["at"]
    return (offset, *logbook.check_of(offset))


def _changes(logbook: Logbook, device: str, rows: list[FeedRow]) -> list[Change]:
    """The rows as changes, each line and each card once."""
    lines: dict[bytes, None] = {}
    vehicles: dict[str, None] = {}
    for row in rows:
        if "offset" in row:
            lines[logbook.line({"offset": row["offset"], "length": row["length"]})] = None
        for what, identifier in _cards(logbook, row):
            if what == "vehicle":
                vehicles[identifier] = None
            lines |= dict.fromkeys(_lines_of(logbook, device, what, identifier))
    changes: list[Change] = [{"kind": "op", "line": line.decode("utf-8")} for line in lines]
    for vehicle in vehicles:
        change = _yardsticks(logbook, vehicle)
        if change is not None:
            changes.append(change)
    return changes


def _yardsticks(logbook: Logbook, vehicle: str) -> BaselineChange | None:
    """The baseline and the maker's chart of a vehicle; None where there was never one of them."""
    baseline, card = baseline_of(logbook, vehicle), cards.vehicle(logbook, vehicle)
    chart = cards.chart_of(card)
    if baseline is None and chart is None and "/chart" not in card["heads"]:
        return None
    change: BaselineChange = {"kind": "baseline", "vehicle": vehicle, "baseline": baseline or {"entries": []}}
    if chart is not None:
        change["chart"] = chart
    return change


def _cards(logbook: Logbook, row: FeedRow) -> list[tuple[str, str]]:
    if "visit" in row:
        visit_id = row["visit"]
        vehicle = apart(visit_id, lambda: (logbook.visit(visit_id).get("vehicle") or {}).get("id"))
        return [("vehicle", vehicle)] if isinstance(vehicle, str) else []
    if "vehicle" in row:
        return [("vehicle", row["vehicle"])]
    return [("customer", row["customer"])] if "customer" in row else []


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
