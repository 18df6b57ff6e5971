"""What is known to go wrong and isn't fixed yet: by route and status, by file and command, each with its reason.

An entry goes when its fault does; the tests accept what is listed here and nothing else.
"""

from __future__ import annotations

import re
from collections import Counter

# A route as in the application's map, a status, and why that answer still comes.
PENDING: list[tuple[str, int, str]] = []


def reason_for(route: str, status: int) -> str | None:
    """Why an answer is accepted; None if it isn't [text or None]."""
    for pattern, number, reason in PENDING:
        if number == status and re.fullmatch(pattern, route):
            return reason
    return None


def traces_to_explain(met: Counter[str]) -> int:
    """How many traces in the service's log the pending entries explain [count]."""
    return sum(met.values())


# What isn't sent at all until it is fixed, and why.
LEFT_OUT: list[tuple[str, str]] = [
    ("POST /bundles: megabytes of short lines that are none", "each costs memory and a sentence in the answer"),
    ("a body that comes slower than the gate waits", "slow senders have tests of their own"),
]

# The outcome of a command on a damaged folder: its kind, the outcome, what was said; and why.
PENDING_DOINGS: list[tuple[str, str, str, str]] = []

# Seeds of `folders.damage` that show these, for `python -m tests.hostile.case SEED`: damage, action, outcome.
CASES: list[tuple[int, str, str, str]] = []


def reason_of_doing(kind: str, came: str, said: str) -> str | None:
    """Why the outcome of a command is accepted; None if it isn't [text or None]."""
    for pattern, how, words, reason in PENDING_DOINGS:
        if how == came and re.fullmatch(pattern, kind) and re.search(words, said):
            return reason
    return None
