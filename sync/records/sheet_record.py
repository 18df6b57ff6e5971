"""The record of one sheet: its states, its file, and the progress of its letter, as the notes on it say.

Nothing here reads or writes a record; `sheet_records` does.
"""

from __future__ import annotations

from typing import Literal, TypedDict, cast

from sync.kernel.json_tree import JsonObject
from sync.kernel.reason import Reason

State = Literal["made", "approved", "queued", "sent", "failed"]
# States in which the evening still has something to do by itself; the others wait for a person or are final.
UNDERWAY = ("approved", "queued")
# The reason of a letter that was sent and that a person says came back.
CAME_BACK = "marked_returned"


class StateEntry(TypedDict):
    """A state that a sheet entered, when [ms since 1970] and, if that needs saying, why."""

    state: State
    at: int
    reason: Reason | None


class RefusedAddress(TypedDict):
    """An address that the mail server refused for good, and what it said; `code` is its number, 0 for none."""

    address: str
    code: int
    text: str


class SheetPost(TypedDict, total=False):
    """What changes with a state: a sheet's file and number, its letter, and the letter's progress [ms since 1970]."""

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
    """One sheet of a visit: which, the states it entered in order, and what `SheetPost` says about it.

    `number` is 0 and missing parts are null until the sheet is printed, and until its letter is written.
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
    """A sheet on its view: its record, and the numbers of the notes it is made from."""

    record: SheetRecord
    notes: list[int]


class SheetNote(TypedDict):
    """What a note says about a sheet: which revision entered which state, and what changed with it."""

    revision: str
    state: StateEntry
    more: SheetPost


def fresh(visit: str, revision: str) -> SheetRecord:
    """The record of a sheet to which nothing has happened yet [SheetRecord]."""
    return {
        "visit": visit, "revision": revision, "number": 0, "file": None, "states": [],
        "recipients": [], "message_id": None, "spool": None, "letters": 0, "tries": 0, "next_try": None,
        "queued_at": None, "taken": [], "refused": [],
    }


def state_of(record: SheetRecord) -> State:
    """The latest state of a sheet [State]."""
    return record["states"][-1]["state"]


def at_of(record: SheetRecord, state: State) -> int | None:
    """When a sheet last entered a state [ms since 1970]; None if it never did."""
    times = [entry["at"] for entry in record["states"] if entry["state"] == state]
    return times[-1] if times else None


def is_held(record: SheetRecord) -> bool:
    """Whether the customer has this sheet: it was sent, and nobody said since that it came back."""
    told = [entry["state"] for entry in record["states"]
            if entry["state"] == "sent" or (entry["reason"] and entry["reason"]["code"] == CAME_BACK)]
    return bool(told) and told[-1] == "sent"


def key_of(visit: str, revision: str) -> str:
    """A sheet's key on its view [text]."""
    return f"{visit} {revision}"


def revision_in(body: JsonObject) -> str:
    """The revision that a note about a sheet's state, or about a whole record, refers to [64 hex digits]."""
    record = body.get("record")
    return str(record["revision"] if isinstance(record, dict) else body["revision"])


def after(row: SheetRow | None, visit: str, body: JsonObject, number: int) -> SheetRow:
    """A sheet's row once one more note is entered; entering it twice changes nothing.

    Args:
        row: as it was, None before the first note [SheetRow or None]
        visit: the visit's id [UUID version 7]
        body: what the note says: a SheetNote, or a whole `record` [JSON object]
        number: of the note's record [count]

    Returns:
        the row, a new one if it changed [SheetRow]
    """
    if row is not None and number in row["notes"]:
        return row
    notes = [*(row["notes"] if row else []), number]
    # Only `sheet_records` and the migration write these notes.
    if "record" in body:
        return {"record": cast(SheetRecord, body["record"]), "notes": notes}
    note = cast(SheetNote, body)
    before = row["record"] if row else fresh(visit, note["revision"])
    return {"record": {**before, **note["more"], "states": [*before["states"], note["state"]]}, "notes": notes}
