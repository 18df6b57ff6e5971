"""The check that is offered next: the best of all, although most aren't calculated to the end.

The expected result comes from asking for each check alone, where nothing is left out; no trade case is used here.
"""

from __future__ import annotations

from typing import Any, cast

from sync.kernel.assessment import assess
from sync.kernel.books import Rulebook
from sync.kernel.visit import Visit
from tests.support.random_visits import visit as random_visit


def offered(visit: dict[str, Any], rulebook: Any, checks: list[Any]) -> list[Any]:
    """The check offered after each test of a visit, if only these existed."""
    books: Any = {**rulebook, "causes": {**rulebook["causes"], "checks": checks}}
    judgement: Any = assess(cast(Visit, visit), books)
    return [test["next_check"] for test in judgement["tests"]]


def test_of_all_checks_the_one_is_offered_that_narrows_the_set_most_for_its_minutes(rulebook: Rulebook) -> None:
    """Asked alone, no check has a larger gain per minute; of equals, the first in the book is offered."""
    checks: list[Any] = list(rulebook["causes"]["checks"])
    seen = set()
    for seed in range(40):
        visit = random_visit(seed)
        for order in (checks, checks[::-1]):
            alone = [offered(visit, rulebook, [check]) for check in order]
            for place, check in enumerate(offered(visit, rulebook, order)):
                known = [one[place] for one in alone if one[place] is not None]
                best = max(known, key=lambda one: one["gain"] / one["minutes"], default=None)
                assert check == best, (seed, place)
                seen.add(best["what"] if best else None)
    assert len(seen) > 8
