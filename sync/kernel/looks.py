"""What was seen and what was looked for in vain, and what that says about each cause.

How often a sight goes with a cause, and which sights show the same thing, is rulebook data. No reading is judged.
"""

from __future__ import annotations

from sync.kernel.causes_book import CausesBook
from sync.kernel.ranking import Look
from sync.kernel.visit import Test, Visit

# How much more likely each cause becomes, by cause.
Factors = dict[str, float]


def mended(visit: Visit, test: Test, book: CausesBook) -> list[str]:
    """The looks that the visit's work had mended before a later test.

    Args:
        visit: the visit, for its work [JSON object]
        test: the test [JSON object]
        book: the rulebook's `causes` book [JSON object]

    Returns:
        looks [codes]

    Source: the rulebook's `causes` book, `looks_from` (common practice, no source).
    """
    looks: list[str] = []
    if test.get("role") == "after":
        for work in visit.get("work") or []:
            looks.extend(book["looks_from"]["mends"].get(work["code"], []))
    return looks


def _low_load(test: Test, book: CausesBook) -> bool:
    """Whether weather and blower demand so little that a switched compressor should cut out."""
    conditions, low = test.get("conditions") or {}, book["looks_from"]["low_load"]
    ambient = conditions.get("ambient_c")
    return ambient is not None and float(ambient) <= low["ambient_c"] and conditions.get("blower") in low["blower"]


def _findings(visit: Visit, test: Test, book: CausesBook) -> dict[str, bool]:
    """What was checked or measured outright: {look: seen}."""
    seen: dict[str, bool] = {}
    done = mended(visit, test, book)
    for check in visit.get("checks") or []:
        look = book["looks_from"]["checks"].get(check["code"])
        if look is not None and look not in done and check.get("state") in ("ok", "fault"):
            seen[look] = check["state"] == "fault"
    fan = (test.get("conditions") or {}).get("fan")
    rows = book["looks_from"]["fan"]
    if fan is not None and fan in rows:
        for name in rows[fan]:
            seen[name] = rows[fan][name]
    readings = test.get("readings") or {}
    left, right = readings.get("vent_left_c"), readings.get("vent_right_c")
    if left is not None and right is not None:
        seen["uneven_vents"] = abs(float(left) - float(right)) > book["looks_from"]["vents_apart_k"]
    kind, running = (visit.get("vehicle") or {}).get("compressor"), readings.get("running")
    rows = book["looks_from"]["running"]
    if _low_load(test, book) and kind is not None and kind in rows and running is not None and running in rows[kind]:
        seen["never_off"] = rows[kind][running]
    for move in visit.get("refrigerant_moves") or []:
        if move["kind"] == "identified" and move.get("air_pct") is not None:
            seen["air_found"] = move["air_pct"] > book["looks_from"]["air_pct"]
    return seen


def _looked_round(visit: Visit, test: Test, book: CausesBook) -> bool:
    """Whether somebody walked round the car: something is on record that can't be felt from the seat."""
    felt = book["unseen"]["felt"]
    for look in test.get("observed") or []:
        if look not in felt:
            return True
    for check in visit.get("checks") or []:
        if check.get("state") in ("ok", "fault") and book["looks_from"]["checks"].get(check["code"]) not in felt:
            return True
    fan = (test.get("conditions") or {}).get("fan")
    return fan is not None and fan != "not_seen"


def looks_of(visit: Visit, test: Test, book: CausesBook) -> dict[str, Look]:
    """What was seen and what wasn't, with how much the latter counts.

    Args:
        visit: the visit, for its checks and the identifier [JSON object]
        test: the test, for what was observed [JSON object]
        book: the rulebook's `causes` book [JSON object]

    Returns:
        {look: {seen, weight}}; a sight that nobody looked for is left out [truth, share]

    Source: common practice, no source.
    """
    findings = _findings(visit, test, book)
    observed = test.get("observed") or []
    looked = _looked_round(visit, test, book)
    looks: dict[str, Look] = {}
    for look in book["looks"]:
        if look in observed:
            looks[look] = {"seen": True, "weight": 1.0}
        elif look in findings:
            looks[look] = {"seen": findings[look], "weight": book["unseen"]["noted"]}
        elif looked and look in book["unseen"]["sights"]:
            looks[look] = {"seen": False, "weight": book["unseen"]["looked"]}
    return looks


def factors_of(told: dict[str, Factors], book: CausesBook) -> Factors:
    """What all sights make of each cause: those of the same thing count once, with their strongest, within a limit.

    Args:
        told: what each sight says, as `look_factors` gives it [by look]
        book: the rulebook's `causes` book [JSON object]

    Returns:
        {cause: factor}; 1 if nothing was looked for [1]

    Source: the rulebook's `causes` book (common practice, no source).
    """
    factors: Factors = {}
    for cause in book["order"]:
        factors[cause] = 1.0
    for group in book["groups"]:
        strongest = strongest_of(group, told, factors)
        for cause in strongest:
            factors[cause] = factors[cause] * strongest[cause]
    return factors


def strongest_of(group: list[str], told: dict[str, Factors], causes: dict[str, float]) -> Factors:
    """What the most telling sight in a group makes of the causes that go with it.

    Args:
        group: sights of the same thing [codes]
        told: what each sight says [by look]
        causes: the causes to tell apart; the values are ignored [by cause]

    Returns:
        {cause: factor}; a cause that isn't in it has 1; others may be in it [1]

    Source: the rulebook's `causes` book.
    """
    strongest: Factors = {}
    most = 1.0
    for name in group:
        if name not in told:
            continue
        factors = told[name]
        for cause in factors:
            size = factors[cause] if factors[cause] > 1.0 else 1.0 / factors[cause]
            if size > most and cause in causes:
                strongest, most = factors, size
    return strongest


def look_factors(name: str, look: Look, book: CausesBook) -> Factors:
    """What one sight makes of the causes that go with it, compared with unrelated ones.

    Args:
        name: the sight [code]
        look: whether it was there [JSON object]
        book: the rulebook's `causes` book [JSON object]

    Returns:
        {cause: how much more likely}, within the limit either way; a cause that isn't in it has 1 [1]

    Source: the rulebook's `causes` book.
    """
    row, most = book["looks"][name], book["unseen"]["most"]
    seen, weight, other = look["seen"], look["weight"], row["else"]
    factors: Factors = {}
    # A row names the few causes that go with its sight; all others are as likely with it as without.
    for cause in row:
        if cause == "else":
            continue
        share = row[cause] / other if seen else (1.0 - weight * row[cause]) / (1.0 - weight * other)
        if share > most:
            share = most
        factors[cause] = share if share * most > 1.0 else 1.0 / most
    return factors
