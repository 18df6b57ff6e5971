"""The rows of a logger's file as entries of a test's log: which lie in the test's time, and what cannot be read.

What a column holds was said by a person. Nothing is filled in: a cell without a number gives no reading.
"""

from __future__ import annotations

from math import floor

from sync.loggers.book import Entries, Fault, LoggersBook, Span, Table, UnitsOf
from sync.loggers.cells import cells_of, number_of
from sync.loggers.groups import THOUSAND
from sync.loggers.table import fault_of
from sync.loggers.thinning import thinned
from sync.loggers.times import DAY_FORMS, DAY_S, NO_TIME, clock_of, days_of, stamp_of, start_of

COUNTED = ("seconds", "minutes", "count")

Point = dict[str, float]
Row = tuple[int, list[str], float]


def span_of(at: str, others: list[str], book: LoggersBook) -> tuple[float, float]:
    """From when to when a test reaches: to whatever else begins before or after it, within the book's limits.

    Args:
        at: when it began [RFC 3339]
        others: when other tests and work began [RFC 3339 each]
        book: the book of loggers [LoggersBook]

    Returns:
        both ends, from the test's start [s]
    """
    start, ahead = start_of(at, book)
    first, last = -book["around"]["before_s"], book["around"]["after_s"]
    for other in others:
        found = stamp_of(other, "iso", ahead, book)
        if found == NO_TIME:
            continue
        if first < found - start < 0:
            first = found - start
        if 0 < found - start < last:
            last = found - start
    return first, last


def zero_of(text: str, at: str, book: LoggersBook) -> float:
    """Where a file that counts from its own start begins, from a clock of the test's day [s from the test's start].

    Args:
        text: the clock; whatever is none stands for the test's start [characters]
        at: when the test began [RFC 3339]
        book: the book of loggers [LoggersBook]
    """
    clock, start = clock_of(text, book), start_of(at, book)[0]
    if clock == NO_TIME or start == NO_TIME:
        return 0.0
    return clock - (start - floor(start / DAY_S) * DAY_S)


def codes_of(book: LoggersBook) -> list[str]:
    """What a column can be, in the order in which it is offered: times, days, then readings by unit [codes]."""
    codes = [*["time:" + form for form in ("clock", *DAY_FORMS, *COUNTED)], *["day:" + form for form in DAY_FORMS]]
    for channel in book["channels"]:
        for unit in book["units"][book["channels"][channel]["quantity"]]:
            codes.append(channel + ":" + unit)
    return codes


def known_match(match: list[str], table: Table, book: LoggersBook) -> list[str]:
    """A match with one code for each column; what no column can be is "" [codes]."""
    codes = codes_of(book)
    return [match[i] if i < len(match) and match[i] in codes else "" for i in range(len(table["columns"]))]


def match_faults(match: list[str], table: Table, book: LoggersBook) -> list[Fault]:
    """What is wrong with what a person said of the columns, all at once.

    Args:
        match: for each column "" or what it is and how it is written, such as "vent_c:f" or "time:clock" [codes]
        table: the columns [Table]
        book: the book of loggers [LoggersBook]
    """
    faults: list[Fault] = []
    taken: dict[str, bool] = {}
    readings = 0
    dated = any(one.startswith("time:") and one.split(":")[1] in DAY_FORMS for one in match)
    for i in range(len(match)):
        what = match[i].split(":")[0]
        if what == "" or i >= len(table["columns"]):
            continue
        if taken.get(what, False):
            faults.append(fault_of("twice", 0, table["columns"][i]["name"], what))
        if what == "day" and dated:
            faults.append(fault_of("two_days", 0, table["columns"][i]["name"]))
        taken[what] = True
        if what in book["channels"]:
            readings = readings + 1
    if not taken.get("time", False):
        faults.append(fault_of("no_time_column"))
    if readings == 0:
        faults.append(fault_of("no_reading"))
    return faults


class _Faults:
    """The first faults, and how many there are beside them."""

    def __init__(self, most: int) -> None:
        self.most = most
        self.listed: list[Fault] = []
        self.more = 0

    def add(self, fault: Fault) -> None:
        if len(self.listed) < self.most:
            self.listed.append(fault)
        else:
            self.more = self.more + 1


def entries_of(table: Table, match: list[str], span: Span, books: tuple[LoggersBook, dict[str, UnitsOf]]) -> Entries:
    """The rows as entries of the test's log.

    Args:
        table: the columns, without faults [Table]
        match: what each column is, without faults [codes]
        span: the test's time [Span]
        books: the book of loggers, and the units of the rulebook [LoggersBook, units by quantity]

    Returns:
        the points in rising time, at most as many as the book says, and what was left out [Entries]
    """
    book = books[0]
    most = book["most"]["faults"]
    torn, faults = _Faults(most), _Faults(most)
    rows = _timed(table, match, span, book, torn)
    points: list[Point] = []
    before, after = 0, 0
    for line, cells, seconds in rows:
        if seconds < span["from_s"]:
            before = before + 1
        elif seconds > span["to_s"]:
            after = after + 1
        else:
            point = _point_of((line, cells, seconds), table, match, books, faults)
            if len(point) > 0:
                point["s"] = floor(seconds + 0.5) + span["number"] / THOUSAND
                points.append(point)
    kept, listed = thinned(points, book), _by_line(torn.listed, faults.listed)
    more = torn.more + faults.more + len(listed) - len(listed[0:most])
    return {"points": kept, "rows": len(rows), "before": before, "after": after, "thinned": len(points) - len(kept),
            "faults": listed[0:most], "more": more}


def _by_line(left: list[Fault], right: list[Fault]) -> list[Fault]:
    """Two lists of faults, each in the order of its lines, as one."""
    listed: list[Fault] = []
    i = 0
    for fault in right:
        while i < len(left) and left[i]["line"] <= fault["line"]:
            listed.append(left[i])
            i = i + 1
        listed.append(fault)
    return [*listed, *left[i : len(left)]]


def _timed(table: Table, match: list[str], span: Span, book: LoggersBook, faults: _Faults) -> list[Row]:
    """The rows with their seconds from the test's start; those without a time, or back in time, are named."""
    rows: list[Row] = []
    place, form = _place_of("time", match)
    day, order = _place_of("day", match)
    start, ahead = start_of(span["at"], book)
    name, wraps = table["columns"][place]["name"], 0.0
    for i in range(table["first"], len(table["lines"])):
        cells = _cells(table, i, book, faults)
        if len(cells) == 0:
            continue
        seconds = _seconds(cells, (place, form, table["point"]), (day, order), ahead, book)
        if seconds == NO_TIME:
            faults.add(fault_of("no_time", i + 1, name, cells[place]))
            continue
        last = rows[-1][2] if len(rows) > 0 else NO_TIME
        if form == "clock" and day < 0 and seconds + wraps * DAY_S < last - DAY_S / 2.0:
            wraps = wraps + 1.0
        seconds = seconds + wraps * DAY_S
        if seconds < last:
            faults.add(fault_of("back", i + 1, name, cells[place]))
        else:
            rows.append((i + 1, cells, seconds))
    return _anchored(rows, (form, day >= 0), start, span, faults)


def _cells(table: Table, index: int, book: LoggersBook, faults: _Faults) -> list[str]:
    """The cells of a line; none where it is blank or not a row, which is named."""
    line = table["lines"][index]
    if len(line) > book["most"]["line"]:
        faults.add(fault_of("long_line", index + 1))
        return []
    cells = cells_of(line, table["mark"])
    if all(cell == "" for cell in cells):
        return []
    if len(cells) != len(table["columns"]):
        faults.add(fault_of("other_columns", index + 1, "", line))
        return []
    return cells


def _place_of(what: str, match: list[str]) -> tuple[int, str]:
    """The column that holds something, and how; -1 where none does."""
    for i in range(len(match)):
        if match[i].startswith(what + ":"):
            return i, match[i].split(":")[1]
    return -1, ""


def _seconds(
    cells: list[str], time: tuple[int, str, str], days: tuple[int, str], ahead: float, book: LoggersBook
) -> float:
    """The time of a row: counted from the file's start, or local time since 1970, or of a day."""
    place, form, point = time
    cell = cells[place]
    if form == "seconds" or form == "minutes":
        number = number_of(cell, point)
        if number is None or not 0 <= number < 1e9:
            return NO_TIME
        return number * (60.0 if form == "minutes" else 1.0)
    if form in DAY_FORMS:
        return stamp_of(cell, form, ahead, book)
    seconds = clock_of(cell, book)
    day, order = days
    if form == "count" or day < 0 or seconds == NO_TIME:
        return seconds
    found = days_of(cells[day], order)
    return NO_TIME if found == NO_TIME else found * DAY_S + seconds


def _anchored(
    rows: list[Row], form: tuple[str, bool], start: float, span: Span, faults: _Faults
) -> list[Row]:
    """The rows counted from the test's start; a bare clock belongs to the day on which it comes nearest to the test."""
    shift = span["zero_s"] if form[0] in COUNTED else -start
    if form[0] == "clock" and not form[1] and len(rows) > 0:
        if rows[-1][2] - rows[0][2] > DAY_S:
            faults.add(fault_of("no_day"))
            return []
        shift = _nearest(rows[0][2], rows[-1][2], start)
    return [(line, cells, seconds + shift) for line, cells, seconds in rows]


def _nearest(first: float, last: float, start: float) -> float:
    """By how much to move clocks of some day so that they come nearest to the test."""
    midnight = floor(start / DAY_S) * DAY_S
    best, least = 0.0, 1e15
    for days in (0.0, -1.0, 1.0):
        shift = midnight + days * DAY_S - start
        apart = first + shift if first + shift > 0 else 0.0
        if last + shift < 0:
            apart = -(last + shift)
        if apart < least:
            best, least = shift, apart
    return best


def _point_of(
    row: Row, table: Table, match: list[str], books: tuple[LoggersBook, dict[str, UnitsOf]], faults: _Faults
) -> Point:
    """The readings of a row in canonical units; what is no number, or no sensor's, is named and left out."""
    line, cells, _ = row
    book, units = books
    point: Point = {}
    for i in range(len(match)):
        what = match[i].split(":")[0]
        if what not in book["channels"] or cells[i] == "":
            continue
        channel = book["channels"][what]
        number = number_of(cells[i], table["point"])
        if number is None:
            faults.add(fault_of("no_number", line, table["columns"][i]["name"], cells[i]))
            continue
        if channel["quantity"] in units:
            unit = units[channel["quantity"]]["units"][match[i].split(":")[1]]
            number = number * float(unit["scale"]) + float(unit["offset"])
        if not channel["low"] <= number <= channel["high"]:
            faults.add(fault_of("beyond", line, table["columns"][i]["name"], cells[i]))
            continue
        point[what] = _rounded(number, channel["decimals"])
    return point


def _rounded(number: float, decimals: int) -> float:
    scale = 1.0
    for _ in range(decimals):
        scale = scale * 10.0
    return floor(number * scale + 0.5) / scale
