"""The log of a test as its part of the visit's page shows it: entries by where they came from, a file being read.

Nothing here reads a file or files an entry.
"""

from __future__ import annotations

from typing import TypedDict

from flask import g

from server.http.sync_routes import logbook
from server.tasks.logger_words import MEGABYTE, choices_of, group_words
from server.tasks.messages import LoggerView
from sync import rulebook
from sync.kernel.visit import Visit
from sync.loggers.book import Group
from sync.work.logger_files import named_test
from sync.work.visit_sections import TEST


class LogForm(TypedDict):
    """The log of a test as it is shown in its part: entries by where they came from, and a file that is being read."""

    test: str
    groups: list[tuple[Group, str]]
    file: LoggerView | None
    choices: list[tuple[str, str]]
    most_mb: int


def log_of(section: str, visit: Visit) -> LogForm | None:
    """The log of the test that is open, with the file that this request reads for it; None where another part is open.

    Args:
        section: the part that is open [text]
        visit: the visit [Visit]
    """
    name, _, test = section.partition(".")
    if name != TEST:
        return None
    file: LoggerView | None = g.get("logger_file")
    found, book = named_test(visit, test), rulebook.loggers()
    seconds = [point["s"] for point in found.get("trace") or []]
    return {"test": test, "groups": group_words(str(found["at"]), seconds, logbook().rulebook), "file": file,
            "choices": choices_of(book, logbook().rulebook) if file else [],
            "most_mb": book["most"]["bytes"] // MEGABYTE}
