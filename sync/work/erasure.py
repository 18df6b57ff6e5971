"""Erasing a customer: the data is found, written down, and then removed from every record.

Nothing here asks for confirmation or knows who may erase; the command does. Copies outside the folder, such as backups
and mail that was sent, are out of its reach.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import nullcontext
from typing import TypedDict

from sync.errors import DiskFull, JournalFailed
from sync.isolation import Odd, apart
from sync.records import erasure
from sync.records.erasure import ErasureUnfinished, Traces
from sync.records.erasures import Erasure, remembered
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
    """Remove all data on a customer from the folder.

    The journal is written again with blanks in place of the erased entries, which are also removed from their views.
    Their ids are remembered as hashes, so that an entry that comes again is answered as accepted and not stored. If it
    is killed at any moment, either nothing is erased or the next start finishes the job.

    Args:
        logbook: the open logbook [Logbook]
        wanted: as for `data_about` [text]
        now_ms: the time to note [ms since 1970]

    Returns:
        how many visits, entries and photos [Counts]

    Raises:
        UnknownCustomer: nothing is found; nothing was erased.
        DiskFull: there is no room to write the journal again; nothing was erased.
        ErasureUnfinished: it was begun, and the disk didn't let it finish; the next start goes on.
    """
    with SHEETS.alone(logbook.store.claim), logbook.claim(ALONE):
        # An erasure that the disk didn't let finish goes first, or the new one would make it forgotten.
        _or_unfinished(logbook, erasure.finish)
        data = _begun(logbook, wanted, now_ms)
        _or_unfinished(logbook, erasure.finish)
    return {"visits": len(data.visits), "entries": len(data.entries), "photos": len(data.photos)}


def _begun(logbook: Logbook, wanted: str, now_ms: int) -> CustomerData:
    """What is to be erased, found and written down.

    The search runs while others file. What came in meanwhile could be the customer's too, so the search is repeated,
    the last time while nobody files.
    """
    logbook.store.check_room()
    for is_last_try in (False, False, True):
        with logbook.writing() if is_last_try else nullcontext():
            last = logbook.store.last
            data = data_about(logbook, wanted)
            with logbook.writing():
                if logbook.store.last == last:
                    record, traces = _erasure(logbook, data, now_ms), _traces(logbook, data)
                    erasure.begin(logbook.files, record, _hashes(data), traces)
                    # Before anybody files again: what came in now wouldn't be among the traces.
                    _or_unfinished(logbook, erasure.remember)
                    return data
    raise AssertionError("nobody filed while the lock was held")


def _views_of(logbook: Logbook, filed: FiledRecord) -> set[str]:
    """The views that show a record; none for one that could never be entered on any."""
    names = apart(str(filed.id), lambda: logbook.views_of(filed), OSError)
    return set() if isinstance(names, Odd) else names


def _or_unfinished(logbook: Logbook, work: Callable[[Logbook], object]) -> None:
    try:
        work(logbook)
    except (OSError, DiskFull, JournalFailed) as error:
        raise ErasureUnfinished(why=getattr(error, "strerror", None) or str(error)) from error


def _traces(logbook: Logbook, data: CustomerData) -> Traces:
    """Where the data has left traces."""
    marks = [*data.visits, *(filed.id for filed in data.records if filed.id)]
    marks += [f'"{name}"' for name in (*data.customers, *data.vehicles)]
    views = {name for filed in data.records for name in _views_of(logbook, filed)}
    return {
        "records": [filed.record.number for filed in data.records], "pages": sorted(views),
        "photos": sorted(data.photos), "days": _days(data), "marks": marks,
    }


def _days(data: CustomerData) -> list[str]:
    """The local days on which the visits were ever said to start."""
    return sorted({day for filed in data.records if filed.visit is not None for day in _started(filed)})


def _started(filed: FiledRecord) -> list[str]:
    days = apart(str(filed.id), lambda: filed.started_days)
    return [] if isinstance(days, Odd) else days


def _erasure(logbook: Logbook, data: CustomerData, now_ms: int) -> Erasure:
    """What the record says: no name, no address, no reading."""
    before = logbook.erased.erasures
    return {
        "cursor": 1 + max((one["cursor"] for one in before), default=0), "at": now_ms, "visits": list(data.visits),
        "customers": sorted(data.customers), "vehicles": sorted(data.vehicles), "devices": sorted(data.devices),
        "entries": len(data.entries), "photos": len(data.photos),
    }


def _hashes(data: CustomerData) -> list[str]:
    names = [*data.visits, *data.customers, *data.vehicles]
    for filed in data.entries:
        names.append(actual_digest(filed.record.line) if filed.by_digest else str(filed.id))
    return [remembered(name) for name in names]
