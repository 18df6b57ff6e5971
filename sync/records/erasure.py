"""Carrying out an erasure: written down first, then carried to its end, no matter what stops it.

Nothing here decides what to erase; the use case does.
"""

from __future__ import annotations

import json
import logging
import re
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any, Protocol, TypedDict, cast

from sync.disk import calls
from sync.errors import LaybyError
from sync.kernel.json_tree import Json, JsonObject
from sync.records.erasures import Erased, Erasure
from sync.records.locks import ALONE, Ranked
from sync.records.photos import PhotoStore
from sync.records.store.files import Files, Holds, read_or_set_aside
from sync.records.store.interface import Entry, Store
from sync.records.store.note import entry_of
from sync.records.striking import Gone
from sync.wire.op_line import is_digest

PLAN = "erasure-under-way.json"
_OF_VISITS = ("sheets", "spool", "outgoing")
_ID = re.compile(r"[0-9A-Za-z-]+")
_BOOK = re.compile(r"\.?(?:day|ledger)-(\d{4}-\d\d-\d\d)(?:-(\d{4}-\d\d-\d\d))?\D.*")

log = logging.getLogger("layby.erasure")


class Erasing(Protocol):
    """What an erasure needs from the logbook, which itself finishes a left-over erasure at its start."""

    folder: Path
    lock: Ranked

    @property
    def store(self) -> Store:
        """The records."""

    @property
    def files(self) -> Files:
        """What lies beside the records."""

    def claim(self, lock: Ranked) -> AbstractContextManager[Holds | None]:
        """Nobody else holds this lock meanwhile."""

    @property
    def erased(self) -> Erased:
        """What was ever erased."""

    def file(self, answered: list[Entry]) -> None:
        """File what was done: all of it or nothing."""

    def strike(self, names: list[str], gone: Gone) -> None:
        """Remove what is gone from some views, and keep it out of every view made from now on."""

    def struck(self, gone: Gone) -> None:
        """What was struck is gone from the records too."""


class Traces(TypedDict):
    """Where there are traces of what is to be erased.

    `records` are numbers, `pages` the names of views, `photos` SHA-256, `days` as YYYY-MM-DD, `marks` the ids that
    identify copies.
    """

    records: list[int]
    pages: list[str]
    photos: list[str]
    days: list[str]
    marks: list[str]


class _Plan(Traces):
    erasure: Erasure
    hashes: list[str]


class ErasureUnfinished(LaybyError):
    """The disk didn't let an erasure finish; it goes on at the next start."""

    code = "erasure_unfinished"


def begin(files: Files, erasure: Erasure, hashes: list[str], traces: Traces) -> None:
    """Write down what is to be erased. From here on it will be erased, whatever happens; `finish` does it.

    Args:
        files: where it is written down [Files]
        erasure: what the record will say [Erasure]
        hashes: what must be remembered, as `remembered` makes it [texts]
        traces: where it is [Traces]
    """
    plan: _Plan = {"erasure": erasure, "hashes": hashes, **traces}
    files.write(PLAN, json.dumps(plan).encode("ascii"))


def remember(logbook: Erasing) -> None:
    """Note the erasure that is written down, so that nothing more of it is taken in.

    Raises:
        DiskFull, OSError: the disk didn't take it; the erasure is still written down.
    """
    plan = _plan(logbook.files)
    if plan is not None:
        _remember(logbook, plan)


def finish_left(logbook: Erasing) -> None:
    """Carry out an erasure that a former process left unfinished; if that fails, everything else works meanwhile."""
    try:
        if logbook.files.size(PLAN) is not None:
            with logbook.claim(ALONE):
                finish(logbook)
    except (LaybyError, OSError) as error:
        log.error("an erasure that was begun cannot be ended yet; the next start tries again: %s", error)


def finish(logbook: Erasing) -> bool:
    """Carry out the erasure that is written down, from wherever it was interrupted.

    Every step may be done twice. The memory comes first, so that nothing erased is ever accepted again; then the views,
    so that nothing leads to a blanked record.

    Args:
        logbook: the open logbook [Erasing]

    Returns:
        whether there was one [bool]

    Raises:
        DiskFull, OSError: the disk didn't take it; the erasure is still written down.
    """
    files = logbook.files
    plan = _plan(files)
    if plan is None:
        return False
    erasure = plan["erasure"]
    gone = Gone(frozenset(plan["records"]), frozenset(erasure["visits"]),
                frozenset([*erasure["customers"], *erasure["vehicles"]]))
    _remember(logbook, plan)
    logbook.strike(plan["pages"], gone)
    logbook.store.blank(plan["records"], [mark.encode("ascii") for mark in plan["marks"]])
    logbook.struck(gone)
    for folder in _OF_VISITS:
        for visit in erasure["visits"]:
            for name in files.names(folder, f"{visit}-"):
                files.remove(name, is_durable=False)
    for photo in plan["photos"]:
        PhotoStore(files).erase(photo)
    _clear_books(logbook.folder, plan["days"])
    with logbook.lock:
        files.clear([mark.encode("ascii") for mark in plan["marks"]])
    # What was removed must stay removed once nobody knows any more that it was to be removed.
    files.settle()
    files.remove(PLAN)
    return True


def _plan(files: Files) -> _Plan | None:
    return read_or_set_aside(files, PLAN, lambda content: _plan_in(json.loads(content)))


def _plan_in(plan: Any) -> _Plan:
    """A plan as it was read, with each part of its type.

    Raises:
        ValueError, KeyError, TypeError, IndexError: it isn't a plan.
    """
    erasure = plan["erasure"]
    lists = {name: _texts(plan[name]) for name in ("pages", "photos", "days", "marks", "hashes")}
    # A plan of an earlier version also has the length of each record.
    numbers = [int(one[0]) if isinstance(one, list) else int(one) for one in plan["records"]]
    record: Erasure = {
        "cursor": int(erasure["cursor"]), "at": int(erasure["at"]), "entries": int(erasure["entries"]),
        "photos": int(erasure["photos"]), "visits": _texts(erasure["visits"]), "devices": _texts(erasure["devices"]),
        "customers": _texts(erasure["customers"]), "vehicles": _texts(erasure["vehicles"]),
    }
    # Files are removed by these names.
    if not all(_ID.fullmatch(visit) for visit in record["visits"]) or not all(map(is_digest, lists["photos"])):
        raise ValueError("names of no visit or photo")
    return cast(_Plan, {"erasure": record, "records": numbers, **lists})


def _texts(values: Json) -> list[str]:
    if not isinstance(values, list) or not all(isinstance(one, str) for one in values):
        raise TypeError("no list of texts")
    return cast(list[str], values)


def _remember(logbook: Erasing, plan: _Plan) -> None:
    """Note the erasure, once. The note is written twice, because nothing else knows what must be kept out."""
    if any(one["cursor"] == plan["erasure"]["cursor"] for one in logbook.erased.erasures):
        return
    hashes: list[Json] = [*plan["hashes"]]
    # An erasure consists entirely of JSON.
    body: JsonObject = {"erasures": [cast(JsonObject, plan["erasure"])], "hashes": hashes}
    at_ms = plan["erasure"]["at"]
    logbook.file([entry_of("erasure", None, body, at_ms), entry_of("erasure", None, body, at_ms)])


def _clear_books(folder: Path, days: list[str]) -> None:
    """Remove the books that cover a day of an erased visit; they are printed and can be made again without it."""
    for path in (folder / "books").glob("*"):
        span = _BOOK.fullmatch(path.name)
        if span and any(span[1] <= day <= (span[2] or span[1]) for day in days):
            calls.remove(path)

