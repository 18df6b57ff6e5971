"""Times as a logger writes them: clock, day, both, seconds or minutes from its start; all as seconds of local time.

Which of them a column holds is said by a person or guessed elsewhere.
"""

from __future__ import annotations

from math import floor

from sync.loggers.book import LoggersBook
from sync.loggers.cells import letters_of, number_of, trimmed, whole_of

DAY_S = 86400.0
NO_TIME = -1e15
DAY_FORMS = ("iso", "day_first", "month_first")
MONTHS = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334)


def days_of(text: str, form: str) -> float:
    """A day, counted from the first of January 1970.

    Args:
        text: three numbers between hyphens, strokes or points [characters]
        form: their order: "iso" (year first), "day_first" or "month_first" [code]

    Returns:
        the count; NO_TIME where the text is no such day [days]

    Valid for: the years 1970 to 2099, in which every fourth has a leap day.
    """
    parts = text.replace("/", "-").replace(".", "-").split("-")
    if len(parts) != 3:
        return NO_TIME
    order = (0, 1, 2) if form == "iso" else (2, 1, 0) if form == "day_first" else (2, 0, 1)
    year, month, day = (whole_of(parts[order[0]]), whole_of(parts[order[1]]), whole_of(parts[order[2]]))
    if 0 <= year < 100:
        year = year + 2000.0
    if not (1970 <= year < 2100 and 1 <= month <= 12 and 1 <= day <= 31):
        return NO_TIME
    leaps = floor((year - 1969.0) / 4.0)
    is_leap = floor(year / 4.0) * 4.0 == year
    later = 1.0 if is_leap and month > 2 else 0.0
    return (year - 1970.0) * 365.0 + leaps + MONTHS[floor(month) - 1] + later + day - 1.0


def clock_of(text: str, book: LoggersBook) -> float:
    """The seconds of a clock or of a count of hours, minutes and seconds; NO_TIME where the text is neither [s].

    Two numbers are hours and minutes; the seconds may have decimals after either mark.
    """
    plain, half = trimmed(text), ""
    for name in ("am", "pm"):
        for ending in book["halves"][name]:
            if half == "" and plain.endswith(ending):
                plain, half = trimmed(plain.replace(ending, "")), name
    parts = plain.split(":")
    if len(parts) < 2 or len(parts) > 3:
        return NO_TIME
    hours, minutes = whole_of(parts[0]), whole_of(parts[1])
    seconds = number_of(parts[2].replace(",", "."), ".") if len(parts) == 3 else 0.0
    if hours < 0 or not 0 <= minutes < 60 or seconds is None or not 0 <= seconds < 60:
        return NO_TIME
    if half != "":
        if not 1 <= hours <= 12:
            return NO_TIME
        hours = (0.0 if hours == 12 else hours) + (12.0 if half == "pm" else 0.0)
    return hours * 3600.0 + minutes * 60.0 + seconds


def zone_of(text: str) -> float:
    """How far a clock with "Z", +hh:mm or -hhmm is ahead of UTC; NO_TIME where it says nothing [s]."""
    if text.endswith("Z"):
        return 0.0
    for sign in ("+", "-"):
        parts = text.split(sign)
        if len(parts) == 2:
            letters = letters_of(parts[1].replace(":", ""))
            hours, minutes = whole_of("".join(letters[0:2])), whole_of("".join(letters[2:4]))
            if len(letters) == 4 and hours >= 0 and minutes >= 0:
                return (hours * 3600.0 + minutes * 60.0) * (1.0 if sign == "+" else -1.0)
    return NO_TIME


def stamp_of(text: str, form: str, ahead: float, book: LoggersBook) -> float:
    """A day with a clock.

    Args:
        text: the day, a blank or "T", the clock, perhaps with its zone [characters]
        form: the order of the day's numbers [code]
        ahead: how far the place is ahead of UTC, for a clock with a zone [s]
        book: the book of loggers [LoggersBook]

    Returns:
        local time, counted from 1970; NO_TIME where the text is no such time [s]

    Source: RFC 3339, section 5.6, for the form with the year first.
    """
    parts = [part for part in text.replace("T", " ").replace(",", " ").split(" ") if part != ""]
    if form != "iso":
        parts = [part for part in text.replace(",", " ").split(" ") if part != ""]
    if len(parts) < 2:
        return NO_TIME
    days, clock, zone = days_of(parts[0], form), " ".join(parts[1:]), NO_TIME
    if form == "iso":
        zone = zone_of(clock)
        clock = clock.replace("Z", "").split("+")[0].split("-")[0]
    seconds = clock_of(clock, book)
    if days == NO_TIME or seconds == NO_TIME or not seconds < DAY_S:
        return NO_TIME
    return days * DAY_S + seconds + (0.0 if zone == NO_TIME else ahead - zone)


def start_of(at: str, book: LoggersBook) -> tuple[float, float]:
    """An instant with its zone as local time, and how far that is ahead of UTC [s since 1970, s]."""
    clock = at.split("T")[1] if "T" in at else ""
    zone = zone_of(clock)
    ahead = 0.0 if zone == NO_TIME else zone
    return stamp_of(at, "iso", ahead, book), ahead
