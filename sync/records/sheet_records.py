"""The sheets of a logbook: which were made, approved, queued, sent or failed, when and why; their files and letters.

It decides no state and draws nothing. A state is noted after what it reports is safe on disk, never before.
"""

from __future__ import annotations

from typing import cast

from sync.errors import LaybyError
from sync.kernel.json_tree import JsonObject
from sync.records.logbook import Logbook
from sync.records.sheet_record import SheetNote, SheetPost, SheetRecord, StateEntry, key_of, state_of
from sync.records.views import DAY_MS, UNDERWAY_VIEW, letter_view, sheet_view


class UnknownSheet(LaybyError):
    """No sheet of that visit and revision is kept here."""

    code = "unknown_sheet"


class SheetRecords:
    """The sheets of one logbook: what its notes say about them, and the files that they refer to.

    Args of the constructor:
        logbook: the open logbook [Logbook]
    """

    def __init__(self, logbook: Logbook) -> None:
        self.logbook = logbook
        self.files = logbook.files

    def records(self, visit: str) -> list[SheetRecord]:
        """All sheets of a visit, oldest first [SheetRecord each].

        Args:
            visit: the visit's id [UUIDv7]
        """
        with self.logbook.lock:
            rows = [row["record"] for row in self.logbook.view(sheet_view(visit)).sheets.values()]
        return sorted((one for one in rows if one["visit"] == visit), key=lambda record: record["states"][0]["at"])

    def record(self, visit: str, revision: str) -> SheetRecord:
        """One sheet.

        Raises:
            UnknownSheet: it isn't kept here.
        """
        for record in self.records(visit):
            if record["revision"] == revision:
                return record
        raise UnknownSheet(visit=visit, revision=revision[:12])

    def newest(self, visit: str) -> SheetRecord | None:
        """The latest sheet of a visit that got as far as a file; None if there is none."""
        printed = [record for record in self.records(visit) if record["file"]]
        return printed[-1] if printed else None

    def number_for(self, visit: str, revision: str) -> int:
        """The number of a sheet: its own if it was printed before, otherwise one more than were printed [count]."""
        printed = [record for record in self.records(visit) if record["file"]]
        own = [record["number"] for record in printed if record["revision"] == revision]
        return own[0] if own else 1 + len(printed)

    def underway(self) -> list[tuple[str, str]]:
        """Visit and revision of every sheet that is approved or queued."""
        with self.logbook.lock:
            return [(row["visit"], row["revision"]) for row in self.logbook.view(UNDERWAY_VIEW).underway.values()]

    def is_certain(self, record: SheetRecord) -> bool:
        """Whether everything noted about a sheet can be known: no record after its last note was ever lost.

        A lost record may have said that its letter was sent; nobody may guess.
        """
        key = key_of(record["visit"], record["revision"])
        with self.logbook.lock:
            numbers = self.logbook.view(sheet_view(record["visit"])).sheets[key]["notes"]
            return self.logbook.last_lost < numbers[-1]

    def handed(self, at_ms: int | None, since_ms: int) -> list[int]:
        """When letters were recently handed to the mail server; given a time, one more is noted.

        Args:
            at_ms: when a letter is being handed over, None to only ask [ms since 1970]
            since_ms: only those after this [ms since 1970]

        Returns:
            the times, oldest first [list of ms since 1970]
        """
        with self.logbook.lock:
            if at_ms is not None:
                self.logbook.note("letter.handed", None, {}, at_ms)
            names = dict.fromkeys((letter_view(since_ms), letter_view(at_ms or since_ms + DAY_MS)))
            times = [int(key.split(" ")[0]) for name in names for key in self.logbook.view(name).letters]
        return sorted(at for at in times if at > since_ms)

    def latest(self, days: int = 31) -> list[SheetRecord]:
        """The newest sheet of each visit of the latest days on file [SheetRecord each]."""
        return [records[-1] for visit in self._visits_of(days) if (records := self.records(visit))]

    def unsettled(self, days: int = 31) -> list[SheetRecord]:
        """Newest sheets of the latest days that a person or the mail still has to deal with [list of records]."""
        return [record for record in self.latest(days) if state_of(record) in ("approved", "queued", "failed")]

    def unapproved(self, days: int = 31) -> list[str]:
        """Visits of the latest days on file whose newest sheet waits for a person's approval [list of UUIDv7].

        A sheet left unapproved for longer isn't swept along with today's; it is approved by its visit's id.
        """
        newest = {visit: self.newest(visit) for visit in self._visits_of(days)}
        return [visit for visit, record in newest.items() if record and state_of(record) == "made"]

    def _visits_of(self, days: int) -> list[str]:
        """The visits that have sheets, from this many latest days on file."""
        with self.logbook.lock:
            names = self.logbook.view_names("sheets")[-days:]
            visits = [row["record"]["visit"] for name in names for row in self.logbook.view(name).sheets.values()]
        # Ids sort by the time they were made, so the list follows the days.
        return sorted(set(visits))

    def keep(self, visit: str, revision: str, pdf: bytes, at_ms: int) -> SheetRecord:
        """File a printed sheet: first the PDF, then its record.

        Args:
            visit: the visit's id [UUIDv7]
            revision: digest of what the sheet says [64 hex digits]
            pdf: the sheet [bytes]
            at_ms: when [ms since 1970]

        Returns:
            its record, in state made [SheetRecord]
        """
        name = f"{visit}-{revision[:12]}.pdf"
        with self.logbook.lock:
            self.files.write(f"sheets/{name}", pdf)
            more: SheetPost = {"file": name, "number": self.number_for(visit, revision)}
            return self.note(visit, revision, {"state": "made", "at": at_ms, "reason": None}, more)

    def note(self, visit: str, revision: str, state: StateEntry, more: SheetPost | None = None) -> SheetRecord:
        """Add a state to a sheet's history.

        Args:
            visit: the visit's id [UUIDv7]
            revision: digest of what the sheet says [64 hex digits]
            state: the state [StateEntry]
            more: other parts of the record that change with it [SheetPost or None]

        Returns:
            the record as it is now [SheetRecord]
        """
        body: SheetNote = {"revision": revision, "state": state, "more": more or {}}
        with self.logbook.lock:
            # What a note says consists entirely of JSON.
            self.logbook.note("sheet.state", visit, cast(JsonObject, body), state["at"])
            return self.logbook.view(sheet_view(visit)).sheets[key_of(visit, revision)]["record"]

    def spool(self, name: str, letter: bytes) -> None:
        """Make a letter safe before it is queued; its name is kept in the record.

        Args:
            name: the letter's file name [name]
            letter: the message [bytes]
        """
        self.files.write(f"spool/{name}", letter)

    def leave(self, name: str, letter: bytes) -> None:
        """Leave a letter as a file for a person's own mail program.

        Args:
            name: the letter's file name [name]
            letter: the message [bytes]
        """
        self.files.write(f"outgoing/{name}", letter)

    def letter(self, record: SheetRecord) -> bytes:
        """The queued letter of a sheet [bytes]."""
        return self.files.read(f"spool/{record['spool']}")

    def unspool(self, record: SheetRecord) -> None:
        """Drop a finished letter; harmless if it is already gone."""
        self.files.remove(f"spool/{record['spool']}", is_durable=False)

    def is_kept(self, record: SheetRecord) -> bool:
        """Whether the PDF of a sheet is still here."""
        return self.files.size(_pdf(record)) is not None

    def place(self, record: SheetRecord) -> str:
        """Where the PDF of a sheet is, for a person [text]."""
        return f"{self.files.place}/{_pdf(record)}"

    def pdf(self, record: SheetRecord) -> bytes:
        """The PDF of a sheet [bytes].

        Raises:
            FileNotFoundError, NotOwn: it is gone, or a link lies in its place.
        """
        return self.files.read(_pdf(record))


def _pdf(record: SheetRecord) -> str:
    return f"sheets/{record['file']}"
