"""How a compressor may be regulated, by what is on file and how it was seen to run.

Weights are rulebook data. Nothing is ranked here.
"""

from __future__ import annotations

from sync.kernel.causes_book import CausesBook
from sync.kernel.visit import Test, Visit


def regimes_of(visit: Visit, test: Test, book: CausesBook) -> dict[str, float]:
    """The ways of regulating that a test's readings are compared with, each with its weight.

    A switched compressor is compared with readings at cut-out, or with those of a compressor that stays on.

    Args:
        visit: the visit, for the compressor on file [JSON object]
        test: the test, for how the compressor ran [JSON object]
        book: the rulebook's `causes` book [JSON object]

    Returns:
        {regime: weight}, weights above 0; every possible one if the type, or how it ran, is unknown [share]

    Source: the rulebook's `causes` book, `regimes` (common practice, no source).
    """
    weights = book["regimes"]
    kind = (visit.get("vehicle") or {}).get("compressor")
    running = (test.get("readings") or {}).get("running")
    if kind is not None and kind in weights["compressor"]:
        shares = weights["compressor"][kind]
    elif running is not None and running in weights["running"]:
        shares = weights["running"][running]
    else:
        shares = weights["unknown"]
    stays = weights["stays_on"]
    on = stays[running] if running is not None and running in stays else stays["else"]
    switched = shares["switched"]
    regimes: dict[str, float] = {}
    for regime, weight in (
        ("regulated", 1.0 - switched),
        ("cycling", switched * (1.0 - on)),
        ("stays_on", switched * on),
    ):
        if weight > 0.0:
            regimes[regime] = weight
    return regimes
