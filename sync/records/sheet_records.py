"""The sheets of a folder: which were made, approved, queued, sent or failed, when and why; their files and letters.

It decides no state and draws nothing. A state is written after what it tells of is safe on disk, never before.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import cast

from tinydb import Query, TinyDB

from sync.errors import LaybyError
from sync.records.notifications import Notifications
from sync.records.own_files import content_of
from sync.records.safe_files import SafeStorage, make_folder, write_whole
from sync.records.sheet_record import UNDERWAY, SheetPost, SheetRecord, StateEntry, fresh, state_of
from sync.wire.op_line import LAST_MS, made_ms

# One for the process, not for an object: several may be open over one folder.
_LOCK = threading.RLock()


class UnknownSheet(LaybyError):
    """No sheet of that visit and revision is kept here."""

    code = "unknown_sheet"


@contextmanager
def still() -> Iterator[None]:
    """Nobody notes a state or puts a letter away meanwhile, so that records and files can be copied as they belong."""
    with _LOCK:
        yield


class SheetRecords:
    """The records of sheets in one folder, a small file for each day of the visits, and a list of those underway.

    One process at a time, as for the logbook in the same folder; any number of threads.
    """

    def __init__(self, folder: Path) -> None:
        """Nothing is read or made before it is asked for.

        Args:
            folder: the logbook's folder [path]
        """
        self.folder = folder

    def records(self, visit: str) -> list[SheetRecord]:
        """All sheets of a visit, oldest first [SheetRecord each].

        Args:
            visit: the visit's id [UUIDv7]
        """
        with _LOCK, self._day(visit) as day:
            return sorted(_of_visit(day, visit), key=lambda record: record["states"][0]["at"])

    def record(self, visit: str, revision: str) -> SheetRecord:
        """One sheet.

        Raises:
            UnknownSheet: it is not kept here.
        """
        for record in self.records(visit):
            if record["revision"] == revision:
                return record
        raise UnknownSheet(visit=visit, revision=revision[:12])

    def newest(self, visit: str) -> SheetRecord | None:
        """The latest sheet of a visit that got as far as a file, None when there is none."""
        printed = [record for record in self.records(visit) if record["file"]]
        return printed[-1] if printed else None

    def number_for(self, visit: str, revision: str) -> int:
        """Which number a sheet bears: its own when it was printed before, else one more than were printed [count]."""
        printed = [record for record in self.records(visit) if record["file"]]
        own = [record["number"] for record in printed if record["revision"] == revision]
        return own[0] if own else 1 + len(printed)

    def underway(self) -> list[tuple[str, str]]:
        """Visit and revision of every sheet that is approved or queued."""
        with _LOCK, self._list() as listed:
            return [(row["visit"], row["revision"]) for row in listed.table("underway").all()]

    def handed(self, at_ms: int | None, since_ms: int) -> list[int]:
        """When letters were handed to the mail server lately; one more is noted when its time is given.

        Args:
            at_ms: when a letter is handed over now, None to only ask [ms since 1970]
            since_ms: what lies before is forgotten [ms since 1970]

        Returns:
            the times, oldest first [list of ms since 1970]
        """
        with _LOCK, self._list() as listed:
            table = listed.table("handed")
            times = sorted(int(row["at"]) for row in table.all() if int(row["at"]) > since_ms)
            if at_ms is not None:
                times.append(at_ms)
                table.truncate()
                table.insert_multiple({"at": time} for time in times)
        return times

    def unsettled(self, days: int = 31) -> list[SheetRecord]:
        """Newest sheets of the latest days on file that a person or the post still has to do with [list of records]."""
        newest = [records[-1] for visit in self._visits_of(days) if (records := self.records(visit))]
        return [record for record in newest if state_of(record) in ("approved", "queued", "failed")]

    def unapproved(self, days: int = 31) -> list[str]:
        """Visits of the latest days on file whose newest sheet waits for a person's approval [list of UUIDv7].

        A sheet left unapproved for longer is not swept along with today's; it is approved by its visit's id.
        """
        newest = {visit: self.newest(visit) for visit in self._visits_of(days)}
        return [visit for visit, record in newest.items() if record and state_of(record) == "made"]

    def failed(self, days: int = 31) -> list[SheetRecord]:
        """The newest sheets of visits of the latest days on file, where printing or mailing them failed [records]."""
        newest = [self.records(visit)[-1] for visit in self._visits_of(days)]
        return [record for record in newest if state_of(record) == "failed"]

    def _visits_of(self, days: int) -> list[str]:
        """The visits that have sheets, of so many latest days on file."""
        with _LOCK:
            visits = []
            for path in sorted((self.folder / "sheetbook").glob("????-??-??.json"))[-days:]:
                with TinyDB(path, storage=SafeStorage) as day:
                    visits += [str(record["visit"]) for record in day.table("sheets").all()]
        # Ids sort by the time they were made, so the list follows the days.
        return sorted(set(visits))

    def keep(self, visit: str, revision: str, pdf: bytes, at_ms: int) -> SheetRecord:
        """File a sheet that was printed: first the PDF, then its record.

        Args:
            visit: the visit's id [UUIDv7]
            revision: digest of what the sheet says [64 hex digits]
            pdf: the sheet [bytes]
            at_ms: when [ms since 1970]

        Returns:
            its record, in state made [SheetRecord]
        """
        name = f"{visit}-{revision[:12]}.pdf"
        with _LOCK:
            make_folder(self.folder / "sheets")
            write_whole(self.folder / "sheets" / name, pdf)
            more: SheetPost = {"file": name, "number": self.number_for(visit, revision)}
            return self._note(visit, revision, {"state": "made", "at": at_ms, "reason": None}, more)

    def note(self, visit: str, revision: str, state: StateEntry, more: SheetPost | None = None) -> SheetRecord:
        """Add a state to a sheet's history.

        Args:
            visit: the visit's id [UUIDv7]
            revision: digest of what the sheet says [64 hex digits]
            state: the state [StateEntry]
            more: other parts of the record that change with it [SheetPost or None]

        Returns:
            the record as it stands now [SheetRecord]
        """
        with _LOCK:
            return self._note(visit, revision, state, more or {})

    def spool(self, name: str, letter: bytes) -> Path:
        """Make a letter safe on disk before it is queued; its name is kept in the record.

        Args:
            name: the letter's file name [name]
            letter: the message [bytes]

        Returns:
            where it lies [path]
        """
        return self._put("spool", name, letter)

    def leave(self, name: str, letter: bytes) -> Path:
        """Leave a letter as a file for a person's own mail program.

        Args:
            name: the letter's file name [name]
            letter: the message [bytes]

        Returns:
            where it lies [path]
        """
        return self._put("outgoing", name, letter)

    def letter(self, record: SheetRecord) -> bytes:
        """The queued letter of a sheet [bytes]."""
        return content_of(self.folder, self.folder / "spool" / str(record["spool"]))

    def unspool(self, record: SheetRecord) -> None:
        """Drop a letter that is over; harmless when it is gone already."""
        with _LOCK:
            (self.folder / "spool" / str(record["spool"])).unlink(missing_ok=True)

    def forget(self, visits: list[str]) -> None:
        """Take all sheets and letters of some visits out, and every record of them; harmless where there are none.

        Args:
            visits: their ids [UUIDv7 each]
        """
        with _LOCK:
            for visit in visits:
                for folder in ("sheets", "spool", "outgoing"):
                    for path in (self.folder / folder).glob(f"{visit}-*"):
                        path.unlink()
                for opened in (self._day, lambda _: self._list()):
                    with opened(visit) as file:
                        for table in file.tables():
                            file.table(table).remove(Query().visit == visit)

    def pdf(self, record: SheetRecord) -> Path:
        """Where the PDF of a sheet lies [path]."""
        return self.folder / "sheets" / str(record["file"])

    def _put(self, folder: str, name: str, content: bytes) -> Path:
        with _LOCK:
            make_folder(self.folder / folder)
            write_whole(self.folder / folder / name, content)
        return self.folder / folder / name

    def _note(self, visit: str, revision: str, state: StateEntry, more: SheetPost) -> SheetRecord:
        # The list is widened before and narrowed after the record, so that a crash leaves one too many, never too few.
        if state["state"] in UNDERWAY:
            self._mark(visit, revision, True)
        with self._day(visit) as day:
            mine = [each for each in _of_visit(day, visit) if each["revision"] == revision]
            before = mine[0] if mine else fresh(visit, revision)
            record: SheetRecord = {**before, **more, "states": [*before["states"], state]}
            day.table("sheets").upsert(record, (Query().visit == visit) & (Query().revision == revision))
        Notifications(self.folder).add({"kind": "sheet", "visit": visit, "revision": revision, **state})
        if state["state"] not in UNDERWAY:
            self._mark(visit, revision, False)
        return record

    def _mark(self, visit: str, revision: str, underway: bool) -> None:
        mine = (Query().visit == visit) & (Query().revision == revision)
        with self._list() as listed:
            table = listed.table("underway")
            if underway and not table.contains(mine):
                table.insert({"visit": visit, "revision": revision})
            elif not underway and table.contains(mine):
                table.remove(mine)

    def _day(self, visit: str) -> TinyDB:
        return TinyDB(self.folder / "sheetbook" / f"{day_of(visit)}.json", storage=SafeStorage)

    def _list(self) -> TinyDB:
        return TinyDB(self.folder / "sheetbook" / "underway.json", storage=SafeStorage)


def day_of(visit: str) -> str:
    """The day whose file has a visit's sheets; what earlier versions took beyond the calendar is on its last [text]."""
    # Whole seconds: a fraction could be rounded up, beyond the last day.
    return datetime.fromtimestamp(min(made_ms(visit), LAST_MS) // 1000, UTC).date().isoformat()


def _of_visit(day: TinyDB, visit: str) -> list[SheetRecord]:
    # Nothing but `_note` and the repair write these files, each record as a whole.
    return [cast(SheetRecord, dict(record)) for record in day.table("sheets").search(Query().visit == visit)]
