"""Changes: what a device is told about others' work on its visits and vehicles, from a cursor on.

Nothing here files anything. Only the device's own views from the cursor on are read, so that asking costs the same
however long the journal is. Being told twice changes nothing on the phone.
"""

from __future__ import annotations

import re
from typing import cast

from sync.errors import LaybyError
from sync.isolation import apart
from sync.records import change_feed
from sync.records.change_feed import FeedRow
from sync.records.erasures import Erasure
from sync.records.logbook import Logbook
from sync.records.pairing import Pairings
from sync.records.sheet_record import SheetNote, SheetRecord, StateEntry
from sync.records.store.interface import START, Mark, Record
from sync.records.store.note import Note, note_in
from sync.wire import op_line
from sync.wire.responses import BaselineChange, Change, Changes, ErasedChange, SheetChange
from sync.work import cards
from sync.work.baselines import baseline_of

CHANGES_MOST = 200

# The record up to which the device's feed was read, by its number and its check. A cursor of an earlier version has the
# record's length between the two, and the number of a notice after them.
_CURSOR = re.compile(r"(-1|\d{1,15})\.(?:\d{1,9}\.)?([0-9a-f]{8})(?:\.\d{1,12})?", re.ASCII)


class BadCursor(LaybyError):
    """A cursor that this desk never gave."""

    code = "bad_cursor"


def changes(logbook: Logbook, device: str, after: str) -> Changes:
    """What a device has to be told after a cursor.

    A cursor is valid for these records only: if they changed because a backup was restored, the device is told
    everything from the beginning.

    Args:
        logbook: the open logbook [Logbook]
        device: who asks [lower-case hex]
        after: the cursor of the last answer, "" at first [text]

    Returns:
        {cursor, changes, more}; changes are {kind: "op", line}, {kind: "sheet", visit, revision, state, at, reason},
        {kind: "baseline", vehicle, baseline, chart} and {kind: "erased", ...}, in an order that can be applied
        [Changes]

    Raises:
        BadCursor: it isn't one of this desk's.
    """
    with logbook.lock:
        start = _read(logbook, after)
        rows, more = _rows_for(logbook, device, start.number)
        mark = Mark(rows[-1]["at"], logbook.store.check_of(rows[-1]["at"])) if rows else start
        return {"cursor": f"{mark.number}.{mark.check}", "changes": _changes(logbook, device, rows), "more": more}


def _read(logbook: Logbook, text: str) -> Mark:
    if not text:
        return START
    match = _CURSOR.fullmatch(text)
    if match is None:
        raise BadCursor(cursor=text[:60])
    mark = Mark(int(match[1]), match[2])
    return mark if mark.number >= 0 and logbook.store.check_of(mark.number) == mark.check else START


def _rows_for(logbook: Logbook, device: str, after: int) -> tuple[list[FeedRow], bool]:
    """The rows for a device and for whoever is signed in with it, as far as both are known, and whether there are more.
    """
    person = Pairings(logbook.files).person_of(device)
    parts = [_rows(logbook, name, after) for name in (device, person) if name]
    # Beyond the last row of a feed that has more, nothing may be told yet: the cursor would pass over the rest.
    ends = [rows[-1]["at"] for rows, more in parts if more]
    rows = sorted((row for part, _ in parts for row in part if not ends or row["at"] <= min(ends)), key=_at)
    return rows, bool(ends)


def _rows(logbook: Logbook, device: str, after: int) -> tuple[list[FeedRow], bool]:
    """The feed's rows after a number, whole records at a time, and whether there are more."""
    rows: list[FeedRow] = []
    first = change_feed.view_name(device, max(after, 0), logbook.store.stretch)
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


def _changes(logbook: Logbook, device: str, rows: list[FeedRow]) -> list[Change]:
    """The rows as changes, each line and each card once; the desk's notes come last."""
    lines: dict[bytes, None] = {}
    vehicles: dict[str, None] = {}
    notes: list[Change] = []
    for row in rows:
        record = logbook.record(row["number"]) if "number" in row else None
        note = None if record is None else note_in(record)
        if note is not None:
            notes += [change for change in _told(note) if change not in notes]
        elif record is not None and not _is_own(record, device):
            lines[record.line] = None
        for what, identifier in _cards(logbook, row):
            if what == "vehicle":
                vehicles[identifier] = None
            lines |= dict.fromkeys(_lines_of(logbook, device, what, identifier))
    changes: list[Change] = [{"kind": "op", "line": line.decode("utf-8")} for line in lines]
    changes += [change for vehicle in vehicles if (change := _yardsticks(logbook, vehicle)) is not None]
    return changes + notes


def _is_own(record: Record, device: str) -> bool:
    """Whether a device wrote a record itself; only a person's feed has such."""
    is_named = device.encode() in record.line
    return is_named and op_line.outline(op_line.parts(record.line)[1])["device"] == device


def _told(note: Note) -> list[Change]:
    """What a note says, as it is told."""
    body = note["body"]
    # Only the records of sheets and of erasures write these notes.
    if note["kind"] == "erasure":
        return [_erased(one) for one in cast(list[Erasure], body["erasures"])]
    if note["kind"] == "sheet.record":
        record = cast(SheetRecord, body["record"])
        return [_state(record["visit"], record["revision"], state) for state in record["states"]]
    sheet = cast(SheetNote, body)
    return [_state(str(note["visit"]), sheet["revision"], sheet["state"])]


def _erased(erasure: Erasure) -> ErasedChange:
    return {
        "kind": "erased", "visits": erasure["visits"], "customers": erasure["customers"],
        "vehicles": erasure["vehicles"],
    }


def _state(visit: str, revision: str, state: StateEntry) -> SheetChange:
    return {"kind": "sheet", "visit": visit, "revision": revision, **state}


def _yardsticks(logbook: Logbook, vehicle: str) -> BaselineChange | None:
    """The baseline and the maker's chart of a vehicle; None if it never had either."""
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
    """The op lines on a card that aren't the device's own; for a customer, those of every merged card."""
    ids = cards.connected(logbook, identifier)[0] if what == "customer" else {identifier}
    cards_heads = [logbook.card_heads(what, one) for one in sorted(ids)]
    ops = [op for heads in cards_heads if heads for op in heads["ops"]]
    records = [logbook.record(op["number"]) for op in ops if op["device"] != device]
    return [record.line for record in records if record is not None]
