"""Which entries of a log came from which file: its number stands in the thousandths of their seconds.

What is typed has whole seconds. A file that is read again has another number, so what was struck of it stays struck.
"""

from __future__ import annotations

from math import floor

from sync.loggers.book import Group

THOUSAND = 1000.0
NUMBERS_MOST = 999


def number_at(seconds: float) -> int:
    """The number of the file that an entry came from; 0 where it was typed [count]."""
    return floor((seconds - floor(seconds)) * THOUSAND + 0.5)


def next_number(seconds: list[float]) -> int:
    """The number of the next file.

    Args:
        seconds: those of all entries that a log ever had, struck ones included [s]

    Returns:
        one more than any of them has [count]
    """
    highest = 0
    for one in seconds:
        number = number_at(one)
        if number > highest:
            highest = number
    return highest + 1 if highest < NUMBERS_MOST else NUMBERS_MOST


def groups_of(seconds: list[float]) -> list[Group]:
    """The entries by their files, in the order of their first ones.

    Args:
        seconds: those of the log's entries, in rising time [s]
    """
    groups: list[Group] = []
    for one in seconds:
        number = number_at(one)
        known = [group for group in groups if group["number"] == number]
        if len(known) == 0:
            groups.append({"number": number, "count": 1, "first": one, "last": one})
        else:
            known[0]["count"] = known[0]["count"] + 1
            known[0]["last"] = one
    return groups
