"""A logger's file at the desk: read against a visit's test, and filed as entries of its log.

How a file is read is `sync/loggers`, the same on the phone. Nothing of a file is kept but the entries made from it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import cast

from sync import rulebook
from sync.errors import LaybyError
from sync.kernel.fold import unwrapped
from sync.kernel.json_tree import Json, JsonObject
from sync.kernel.operation import Op
from sync.kernel.visit import Test, Visit
from sync.loggers.book import Entries, Fault, Span, Table, UnitsOf
from sync.loggers.cells import encoding_of
from sync.loggers.entries import entries_of, known_match, match_faults, span_of, zero_of
from sync.loggers.groups import next_number, number_at
from sync.loggers.table import fault_of, table_of
from sync.records.logbook import Logbook
from sync.work.desk_operations import Batch

HEAD = 512
# As many operations as a note names.
NOTED_MOST = 50


class UnknownTest(LaybyError):
    """A visit has no such test."""

    code = "unknown_test"


class NothingToLog(LaybyError):
    """A file that leaves no entry, or a log without the entries to be struck; nothing was filed."""

    code = "nothing_to_log"


@dataclass(frozen=True)
class LoggerFile:
    """A file and how to read it: `match` says what each column is, None for a guess; `zero` is a clock, "" for the
    test's start.
    """

    text: str
    match: list[str] | None = None
    zero: str = ""


@dataclass
class LoggerReading:
    """What a file comes to for one test; `entries` is None as long as it can't be read."""

    test: str
    table: Table
    match: list[str]
    span: Span
    faults: list[Fault] = field(default_factory=list)
    entries: Entries | None = None


def decoded(content: bytes) -> str:
    """The text of a file, in whichever way it is written [characters]."""
    encoding = encoding_of(list(content[:HEAD]))
    if encoding != "utf-8":
        return content.decode(encoding, "replace")
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError:
        return content.decode("latin-1")


def named_test(visit: Visit, test: str) -> Test:
    """A test of a visit.

    Raises:
        UnknownTest: it has none of that id.
    """
    found = next((one for one in visit.get("tests") or [] if one["id"] == test), None)
    if found is None:
        raise UnknownTest(test=test[:80])
    return found


def read(logbook: Logbook, visit: Visit, test: str, file: LoggerFile) -> LoggerReading:
    """A file read against a test; nothing is filed.

    Args:
        logbook: where the visit is filed [Logbook]
        visit: the visit [Visit]
        test: the test's id [text]
        file: the file [LoggerFile]

    Returns:
        its columns, what each is taken for, and the entries or everything that is wrong [LoggerReading]

    Raises:
        UnknownTest: the visit has no such test.
    """
    book, at = rulebook.loggers(), str(named_test(visit, test)["at"])
    others = [str(one["at"]) for one in (*(visit.get("tests") or []), *(visit.get("work") or [])) if one.get("at")]
    first, last = span_of(at, others, book)
    number = next_number(_seconds(logbook.ops(str(visit["id"])), test, logbook))
    span: Span = {"at": at, "from_s": first, "to_s": last, "zero_s": zero_of(file.zero, at, book), "number": number}
    if len(file.text.encode()) > book["most"]["bytes"]:
        return LoggerReading(test, table_of("", at, book), [], span, [fault_of("huge")])
    table = table_of(file.text, at, book)
    match = known_match(file.match or [column["guess"] for column in table["columns"]], table, book)
    reading = LoggerReading(test, table, match, span, table["faults"])
    if table["faults"]:
        return reading
    reading.faults = match_faults(match, table, book)
    if not reading.faults:
        reading.entries = entries_of(table, match, span, (book, _units(logbook)))
    return reading


def file_entries(logbook: Logbook, visit_id: str, reading: LoggerReading, why: str, when: tuple[int, int]) -> int:
    """File the entries of a file, with a note of where they come from, in one piece.

    Args:
        logbook: where they are filed [Logbook]
        visit_id: the visit [UUIDv7]
        reading: what was read for one of its tests [LoggerReading]
        why: where they come from [text]
        when: now and the local offset [ms since 1970, minutes]

    Returns:
        how many entries the log has from the file [count]

    Raises:
        NothingToLog: there is none. NotFiled: the logbook refused them.
    """
    if reading.entries is None or not reading.entries["points"]:
        raise NothingToLog
    points = reading.entries["points"]
    body: JsonObject = {"test": reading.test, "points": list[Json](cast(list[JsonObject], points))}
    _file(logbook, visit_id, [("trace.add", body)], why, when)
    return len(points)


def strike_entries(logbook: Logbook, visit_id: str, which: tuple[str, int], why: str, when: tuple[int, int]) -> int:
    """Strike the entries that came from one file, or those that were typed, with a note of why, in one piece.

    Args:
        logbook: where they are filed [Logbook]
        visit_id: the visit [UUIDv7]
        which: the test, and the number of the file, 0 for what was typed [text, count]
        why: what was done [text]
        when: now and the local offset [ms since 1970, minutes]

    Returns:
        how many entries are struck [count]

    Raises:
        UnknownTest: the visit has no such test. NothingToLog: it has no such entry. NotFiled: the logbook refused it.
    """
    test, number = which
    trace = named_test(logbook.visit(visit_id), test).get("trace") or []
    seconds = [point["s"] for point in trace if number_at(point["s"]) == number]
    if not seconds:
        raise NothingToLog
    _file(logbook, visit_id, [("trace.strike", {"test": test, "s": one}) for one in seconds], why, when)
    return len(seconds)


def _file(
    logbook: Logbook, visit_id: str, contents: list[tuple[str, JsonObject]], why: str, when: tuple[int, int]
) -> None:
    with logbook.writing():
        batch = Batch(logbook, visit_id, when)
        for kind, body in contents:
            batch.add(kind, body)
        batch.explain(why, NOTED_MOST)
        batch.file()


def _seconds(ops: list[Op], test: str, logbook: Logbook) -> list[float]:
    """The seconds of all entries that a test's log ever had."""
    seconds: list[float] = []
    for op in (unwrapped(one, logbook.kinds) for one in ops):
        body = op["body"]
        if op["kind"] in ("trace.add", "trace.strike") and body.get("test") == test:
            rows = cast(list[JsonObject], body.get("points") or [body])
            seconds += [float(cast(float, row["s"])) for row in rows]
    return seconds


def _units(logbook: Logbook) -> dict[str, UnitsOf]:
    return {name: cast(UnitsOf, row) for name, row in logbook.rulebook["units"].items() if isinstance(row, dict)}
