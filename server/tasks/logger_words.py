"""A logger's file in words: what its columns can be, what it comes to, what was left out of it and why.

Nothing here reads a file or files an entry.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from sync.kernel.books import Rulebook
from sync.language.reader import words_of
from sync.language.words import Words
from sync.loggers.book import Entries, Fault, Group, LoggersBook, Span
from sync.loggers.entries import codes_of
from sync.loggers.groups import groups_of

MEGABYTE = 1_000_000


def choices_of(book: LoggersBook, rulebook: Rulebook) -> list[tuple[str, str]]:
    """What a column can be, (code, words) each; "" is not used.

    Args:
        book: the book of loggers [LoggersBook]
        rulebook: the rulebook [Rulebook]
    """
    words = words_of(rulebook)
    choices = [("", words.say("loggers.unused"))]
    for code in codes_of(book):
        name, _, how = code.partition(":")
        channel = book["channels"].get(name)
        if channel is None:
            choices.append((code, words.say(f"loggers.{name}.{how}")))
            continue
        what, quantity = words.say(f"fields.tests.{channel['field']}"), channel["quantity"]
        unit = words.unit(quantity, how) if quantity in rulebook["units"] else words.say(f"fields.suffix.{how}")
        choices.append((code, words.say("loggers.in_unit", what=what, unit=unit)))
    return choices


def fault_words(fault: Fault, words: Words, book: LoggersBook) -> str:
    """What is wrong, where, and what to do [text]."""
    most = book["most"]
    column = fault["column"] or words.say("loggers.nameless")
    found, channel = fault["found"], book["channels"].get(fault["found"])
    if fault["code"] == "twice":
        found = words.say(f"fields.tests.{channel['field']}" if channel else f"loggers.what.{found}")
    return words.say(f"loggers.fault.{fault['code']}", line=fault["line"], column=column, found=found,
                     letters=most["line"], columns=most["columns"], size=most["bytes"] // MEGABYTE)


def sums_of(entries: Entries, span: Span, words: Words) -> list[str]:
    """What a file comes to, and which of its rows are not of the test's time [texts]."""
    first, last = (clock_at(span["at"], span[end]) for end in ("from_s", "to_s"))
    points = entries["points"]
    if not points:
        sums = [words.say("loggers.none", first=first, last=last)]
    else:
        times = _times(span["at"], points[0]["s"], points[-1]["s"], words)
        sums = [words.say("loggers.sum", count=len(points), times=times)]
    for name, time in (("before", first), ("after", last)):
        count = entries["before"] if name == "before" else entries["after"]
        if count:
            sums.append(words.say(f"loggers.{name}", count=count, time=time))
    if entries["thinned"]:
        sums.append(words.say("loggers.thinned", count=entries["thinned"]))
    return sums


def group_words(at: str, seconds: list[float], rulebook: Rulebook) -> list[tuple[Group, str]]:
    """The entries of a test's log by where they came from, in words [(Group, text) each]."""
    words = words_of(rulebook)
    rows: list[tuple[Group, str]] = []
    for group in groups_of(seconds):
        code = "loggers.group" if group["number"] else "loggers.typed"
        times = _times(at, group["first"], group["last"], words)
        rows.append((group, words.say(code, count=group["count"], times=times)))
    return rows


def _times(at: str, first: float, last: float, words: Words) -> str:
    """When something was, or from when to when [text]."""
    code = "loggers.at_one" if first == last else "loggers.from_to"
    return words.say(code, first=clock_at(at, first), last=clock_at(at, last))


def clock_at(at: str, seconds: float) -> str:
    """The clock so many seconds after a test's start [text]."""
    try:
        return f"{datetime.fromisoformat(at) + timedelta(seconds=int(seconds // 1)):%H:%M:%S}"
    except ValueError:
        return f"{seconds:.0f}"
