"""Erasing a customer: the data is found, written down, and then taken out of every record.

Nothing here asks for confirmation or knows who may erase; the command does. Copies outside the folder, such as backups
and mail that was sent, are out of its reach.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypedDict

from sync.isolation import Odd, apart
from sync.records import erasure, posting
from sync.records.erasure import Erasure, Erasures, ErasureUnfinished, Traces, remembered
from sync.records.locks import ALONE, SHEETS
from sync.records.logbook import Logbook
from sync.records.record import FiledRecord, actual_digest
from sync.work.customer_data import CustomerData, data_about


class Counts(TypedDict):
    """How much was erased."""

    visits: int
    entries: int
    photos: int


def erase(logbook: Logbook, wanted: str, now_ms: int) -> Counts:
    """Take all data on a customer out of the folder.

    The journal is written anew with blanks in place of the erased entries, and they are taken off their views. Their
    ids are remembered by their hashes, so that an entry that comes again is answered as accepted and not stored. Killed
    at any moment, either nothing is erased or the next start ends what was begun.

    Args:
        logbook: the open logbook [Logbook]
        wanted: as for `data_about` [text]
        now_ms: the time to note [ms since 1970]

    Returns:
        how many visits, entries and photos [Counts]

    Raises:
        UnknownCustomer: nothing is found; nothing was erased.
        DiskFull: there is no room to write the journal anew; nothing was erased.
        ErasureUnfinished: it was begun, and the disk did not let it end; the next start goes on.
    """
    with SHEETS.alone(), ALONE, logbook.writing():
        if (logbook.folder / erasure.PLAN).exists():
            # One that the disk did not let end: it goes first, or it would be forgotten under the new one.
            _carry_out(logbook)
        data = data_about(logbook, wanted)
        record = _erasure(logbook, data, now_ms)
        logbook.flush()
        erasure.begin(logbook.folder, record, _hashes(data), _traces(logbook, data))
        _carry_out(logbook)
    return {"visits": len(data.visits), "entries": len(data.records), "photos": len(data.photos)}


def _views_of(logbook: Logbook, filed: FiledRecord) -> set[str]:
    """The views that a record stands on; none for one that could never be entered on any."""
    names = apart(str(filed.id), lambda: posting.views_of(filed, logbook.feed_of(filed)), OSError)
    return set() if isinstance(names, Odd) else names


def _carry_out(logbook: Logbook) -> None:
    try:
        logbook.made_anew(lambda: erasure.finish(logbook.folder))
    except OSError as error:
        raise ErasureUnfinished(why=error.strerror or str(error)) from error


def _traces(logbook: Logbook, data: CustomerData) -> Traces:
    """Where the data has left something."""
    marks = [*data.visits, *(filed.id for filed in data.records if filed.id)]
    marks += [f'"{name}"' for name in (*data.customers, *data.vehicles)]
    places = [[filed.record.offset, filed.record.length] for filed in data.records]
    places += [[at, length] for at, length in _scars(logbook, [mark.encode("ascii") for mark in marks])]
    views = {name for filed in data.records for name in _views_of(logbook, filed)}
    return {
        "records": places, "pages": sorted(views), "photos": sorted(data.photos), "days": _days(data), "marks": marks,
    }


def _scars(logbook: Logbook, marks: list[bytes]) -> Iterator[tuple[int, int]]:
    """Places of damaged lines of the journal that bear one of the marks; `data_about` has read all of it before."""
    for at, length in logbook.journal.damage:
        for line in logbook.journal.stretch(at, length).split(b"\n"):
            if any(mark in line for mark in marks):
                yield at, len(line)
            at += len(line) + 1


def _days(data: CustomerData) -> list[str]:
    """The local days that the visits were ever said to start on."""
    return sorted({day for filed in data.records if filed.visit is not None for day in _started(filed)})


def _started(filed: FiledRecord) -> list[str]:
    days = apart(str(filed.id), lambda: filed.started_days)
    return [] if isinstance(days, Odd) else days


def _erasure(logbook: Logbook, data: CustomerData, now_ms: int) -> Erasure:
    """What the record says: no name, no address, no reading."""
    before = Erasures(logbook.folder).erasures
    return {
        "cursor": 1 + max((one["cursor"] for one in before), default=0), "at": now_ms, "visits": list(data.visits),
        "customers": sorted(data.customers), "vehicles": sorted(data.vehicles), "devices": sorted(data.devices),
        "entries": len(data.records), "photos": len(data.photos),
    }


def _hashes(data: CustomerData) -> list[str]:
    names = [*data.visits, *data.customers, *data.vehicles]
    for filed in data.records:
        names.append(actual_digest(filed.record.line) if filed.by_digest else str(filed.id))
    return [remembered(name) for name in names]
