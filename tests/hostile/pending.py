"""What is known to answer wrongly and is not mended yet: by route and status, each with its reason.

An entry goes when its fault does; the tests count what they meet of it and say so.
"""

from __future__ import annotations

import re
from collections import Counter

# A route as it stands in the application's map, a status, and why that answer still comes.
PENDING: list[tuple[str, int, str]] = [
    (r"POST /desk/<name>", 500, "a task that is asked with arguments which it lacks or cannot use answers 500"),
]


def reason_for(route: str, status: int) -> str | None:
    """Why an answer is let pass, None where it is not [text or None]."""
    for pattern, number, reason in PENDING:
        if number == status and re.fullmatch(pattern, route):
            return reason
    return None


def traces_to_explain(met: Counter[str]) -> int:
    """How many traces in the service's log are explained by what is pending [count]."""
    return sum(met.values())


# What came of a command on a damaged folder or of a file carried by hand: its kind, what came, what was said; and why.
PENDING_DOINGS: list[tuple[str, str, str, str]] = []


def reason_of_doing(kind: str, came: str, said: str) -> str | None:
    """Why what came of a command is let pass, None where it is not [text or None]."""
    for pattern, how, words, reason in PENDING_DOINGS:
        if how == came and re.fullmatch(pattern, kind) and re.search(words, said):
            return reason
    return None
