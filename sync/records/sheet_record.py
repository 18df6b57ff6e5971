"""The record of one sheet: the states it came into, its file, and how its letter got on, as the notes on it say.

Nothing here reads or writes a record; `sheet_records` does.
"""

from __future__ import annotations

from typing import Literal, TypedDict, cast

from sync.kernel.json_tree import JsonObject
from sync.kernel.reason import Reason

State = Literal["made", "approved", "queued", "sent", "failed"]
# States in which the evening still has something to do by itself; the rest wait for a person or are over.
UNDERWAY = ("approved", "queued")


class StateEntry(TypedDict):
    """A state that a sheet came into, when [ms since 1970] and, where that needs saying, why."""

    state: State
    at: int
    reason: Reason | None


class RefusedAddress(TypedDict):
    """An address that the mail server refused for good, and what it said; `code` is its number, 0 for none."""

    address: str
    code: int
    text: str


class SheetPost(TypedDict, total=False):
    """What changes with a state: a sheet's file and number, its letter, and how its letter got on [ms since 1970]."""

    file: str
    number: int
    recipients: list[str]
    message_id: str
    spool: str
    letters: int
    tries: int
    next_try: int | None
    queued_at: int
    taken: list[str]
    refused: list[RefusedAddress]


class SheetRecord(TypedDict):
    """One sheet of a visit: which, the states it came into in their order, and what `SheetPost` says of it.

    `number` is 0 and what is none yet is null until the sheet is printed, and until its letter is written.
    """

    visit: str
    revision: str
    number: int
    file: str | None
    states: list[StateEntry]
    recipients: list[str]
    message_id: str | None
    spool: str | None
    letters: int
    tries: int
    next_try: int | None
    queued_at: int | None
    taken: list[str]
    refused: list[RefusedAddress]


class SheetRow(TypedDict):
    """A sheet on its view: its record, and the numbers of the notes that it is made of."""

    record: SheetRecord
    notes: list[int]


class SheetNote(TypedDict):
    """What a note says of a sheet: which revision came into which state, and what changed with it."""

    revision: str
    state: StateEntry
    more: SheetPost


def fresh(visit: str, revision: str) -> SheetRecord:
    """The record of a sheet of which nothing has happened yet [SheetRecord]."""
    return {
        "visit": visit, "revision": revision, "number": 0, "file": None, "states": [],
        "recipients": [], "message_id": None, "spool": None, "letters": 0, "tries": 0, "next_try": None,
        "queued_at": None, "taken": [], "refused": [],
    }


def state_of(record: SheetRecord) -> State:
    """The latest state of a sheet [State]."""
    return record["states"][-1]["state"]


def at_of(record: SheetRecord, state: State) -> int | None:
    """When a sheet last came into a state [ms since 1970], None when it never did."""
    times = [entry["at"] for entry in record["states"] if entry["state"] == state]
    return times[-1] if times else None


def key_of(visit: str, revision: str) -> str:
    """What a sheet is called on its view [text]."""
    return f"{visit} {revision}"


def revision_in(body: JsonObject) -> str:
    """The revision that a note of a sheet's state, or of a whole record, is about [64 hex digits]."""
    record = body.get("record")
    return str(record["revision"] if isinstance(record, dict) else body["revision"])


def after(row: SheetRow | None, visit: str, body: JsonObject, number: int) -> SheetRow:
    """A sheet's row once one more note is entered; twice changes nothing.

    Args:
        row: as it was, None before the first note [SheetRow or None]
        visit: the visit's id [UUID version 7]
        body: what the note says: a SheetNote, or a whole `record` [JSON object]
        number: of the note's record [count]

    Returns:
        the row, a new one where it changed [SheetRow]
    """
    if row is not None and number in row["notes"]:
        return row
    notes = [*(row["notes"] if row else []), number]
    # Nothing but `sheet_records` and the migration write these notes.
    if "record" in body:
        return {"record": cast(SheetRecord, body["record"]), "notes": notes}
    note = cast(SheetNote, body)
    before = row["record"] if row else fresh(visit, note["revision"])
    return {"record": {**before, **note["more"], "states": [*before["states"], note["state"]]}, "notes": notes}
