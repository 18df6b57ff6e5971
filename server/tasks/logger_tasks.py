"""The tasks of a logger's file: reading it against a test of a visit, adding its entries to the log, striking them.

Nothing here knows HTTP or the terminal, and how a file is read is no business of a task.
"""

from __future__ import annotations

from pathlib import Path

from server.tasks.instant import now
from server.tasks.logger_matches import known, remember
from server.tasks.logger_words import fault_words, sums_of
from server.tasks.messages import LoggerView, TaskArguments
from server.tasks.task import Task
from sync import rulebook
from sync.kernel.visit import Visit
from sync.language.reader import words_of
from sync.language.words import Words
from sync.loggers.book import LoggersBook
from sync.loggers.entries import COUNTED
from sync.records.logbook import Logbook, UnknownVisit
from sync.wire import op_line
from sync.work.logger_files import LoggerFile, LoggerReading, decoded, file_entries, read, strike_entries

NAME_MOST = 120


def _log(logbook: Logbook, arguments: TaskArguments) -> LoggerView:
    """A file read against a test; with `add` its entries are filed, and its columns remembered."""
    book, words = rulebook.loggers(), words_of(logbook.rulebook)
    visit, name, text = _visit(logbook, arguments), *_content(arguments, book)
    zero, match = arguments.get("zero") or "", arguments.get("match")
    reading = read(logbook, visit, arguments["test"], LoggerFile(text, match, zero))
    header = reading.table["header"]
    matched = known(logbook.files, header) if match is None and not reading.table["faults"] else None
    if matched is not None and len(matched) == len(reading.table["columns"]):
        reading = read(logbook, visit, arguments["test"], LoggerFile(text, matched, zero))
    added = 0
    if arguments.get("add") and reading.entries is not None and reading.entries["points"]:
        why = words.say("loggers.why", name=name, count=len(reading.entries["points"]))
        added = file_entries(logbook, arguments["visit"], reading, why, now())
        remember(logbook.files, header, reading.match, book["most"]["matches"])
    return {**_view(reading, words, book), "name": name, "text": text, "zero": zero,
            "remembered": matched is not None, "added": added}


def _view(reading: LoggerReading, words: Words, book: LoggersBook) -> LoggerView:
    entries = reading.entries
    return {
        "name": "", "text": "", "remembered": False, "zero": "", "added": 0,
        "columns": [{"name": column["name"], "firsts": column["firsts"], "match": one}
                    for column, one in zip(reading.table["columns"], reading.match, strict=True)],
        "counted": any(one.startswith("time:") and one.partition(":")[2] in COUNTED for one in reading.match),
        "faults": [fault_words(one, words, book) for one in reading.faults],
        "count": len(entries["points"]) if entries else 0,
        "sums": sums_of(entries, reading.span, words) if entries else [],
        "left_out": [fault_words(one, words, book) for one in entries["faults"]] if entries else [],
        "more": entries["more"] if entries else 0,
    }


def _unlog(logbook: Logbook, arguments: TaskArguments) -> int:
    """How many entries of a log were struck: those of one file, or those that were typed."""
    _visit(logbook, arguments)
    number = int(arguments["number"]) if arguments["number"].isdecimal() else -1
    why = words_of(logbook.rulebook).say("loggers.why_struck")
    return strike_entries(logbook, arguments["visit"], (arguments["test"], number), why, now())


def _content(arguments: TaskArguments, book: LoggersBook) -> tuple[str, str]:
    """The name and the text of a file; no more of it is read than shows that it is too large."""
    if arguments.get("file"):
        path = Path(arguments["file"])
        with path.open("rb") as file:
            return path.name[:NAME_MOST], decoded(file.read(book["most"]["bytes"] + 1)).replace("\0", "\1")
    return (arguments.get("title") or "")[:NAME_MOST], arguments.get("text") or ""


def _visit(logbook: Logbook, arguments: TaskArguments) -> Visit:
    visit_id = arguments["visit"]
    if not op_line.is_id(visit_id):
        raise UnknownVisit(visit=visit_id[:80])
    return logbook.visit(visit_id)


TASKS: dict[str, Task] = {"log": _log, "unlog": _unlog}
