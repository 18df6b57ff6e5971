"""All causes ranked by how well each explains one test, with what speaks for and against it.

Patterns, priors and sights are rulebook data. Fits compare causes, they are no chances.
"""

from __future__ import annotations

from math import sqrt

from sync.kernel.books import Rulebook
from sync.kernel.causes_book import CausesBook, ToldApart
from sync.kernel.evidence import evidence_of, factor, often_of, shift_of
from sync.kernel.judgement import Cause, Ranking
from sync.kernel.next_check import next_check_of
from sync.kernel.ranking import Explanation, Facts, Fit, TestEvidence, View, Way
from sync.kernel.visit import Test, Visit


def deviations_of(evidence: TestEvidence, view: View) -> list[tuple[str, float, float]]:
    """Each measured quantity's distance from a healthy car's middle, with its standard uncertainty.

    Args:
        evidence: what speaks for or against [JSON object]
        view: the middles it is held against [JSON object]

    Returns:
        (name, deviation, standard uncertainty), in the order of the book [unit of each quantity]

    Source: JCGM 100:2008, equation 10.
    """
    deviations = []
    middles, measured = view["middles"], evidence["measured"]
    for name in measured:
        if name in middles:
            middle, spread = middles[name]
            u = measured[name]["u"]
            deviations.append((name, measured[name]["value"] - middle, sqrt(u * u + spread * spread)))
    return deviations


def _sights(cause: str, evidence: TestEvidence, book: CausesBook) -> float:
    """What the sights make of a cause: a product of how often each is noticed, or is not, with it."""
    product = 1.0
    for name in evidence["looks"]:
        often = often_of(book["looks"][name], cause)
        look = evidence["looks"][name]
        product = product * (often if look["seen"] else 1.0 - look["weight"] * often)
    return product


def explained(evidence: TestEvidence, book: CausesBook) -> dict[str, Explanation]:
    """How well every cause explains the evidence, at its best pattern and view.

    Args:
        evidence: what speaks for or against [JSON object]
        book: the rulebook's `causes` book [JSON object]

    Returns:
        {cause: {score, view, pattern, ways: [{view, pattern, score}]}} with scores that compare [1]

    Source: the rulebook's `causes` book.
    """
    columns = book["columns"]
    distances = []
    for view in evidence["views"]:
        in_columns = []
        for name, deviation, spread in deviations_of(evidence, view):
            in_columns.append((columns[name], deviation, spread))
        distances.append(in_columns)
    scores: dict[str, Explanation] = {}
    for cause in book["order"]:
        sights = _sights(cause, evidence, book)
        ways: list[Way] = []
        for i in range(len(distances)):
            view = evidence["views"][i]
            before = book["prior"][view["regime"]][cause] * sights * view["weight"]
            for pattern in book["patterns"][view["regime"]][cause]:
                score = before
                for column, deviation, spread in distances[i]:
                    score = score * factor((deviation - pattern[column]) / spread)
                ways.append({"view": view, "pattern": pattern, "score": score})
        best = _best(ways)
        scores[cause] = {"score": best["score"], "view": best["view"], "pattern": best["pattern"], "ways": ways}
    return scores


def _best(ways: list[Way]) -> Way:
    best = ways[0]
    for way in ways:
        if way["score"] > best["score"]:
            best = way
    return best


def ranked(scores: dict[str, Explanation], book: CausesBook) -> list[Fit]:
    """Causes with their fits, best first; equals keep the order of the book.

    Args:
        scores: what each cause explains [by cause]
        book: the rulebook's `causes` book [JSON object]

    Returns:
        (cause, fit), fits summing to 1; empty where nothing explains anything [share]

    Source: none; a normalised product.
    """
    total = 0.0
    for cause in book["order"]:
        total = total + scores[cause]["score"]
    if not total > 0.0:
        return []
    left = list(book["order"])
    order: list[Fit] = []
    while len(left) > 0:
        best = left[0]
        for cause in left:
            if scores[cause]["score"] > scores[best]["score"]:
                best = cause
        left.remove(best)
        order.append((best, scores[best]["score"] / total))
    return order


def undecided_of(order: list[Fit], book: CausesBook) -> list[str]:
    """The causes that cannot be told apart yet: those near the leading one, where there is more than one.

    Args:
        order: causes with their fits, best first [pairs]
        book: the rulebook's `causes` book [JSON object]

    Returns:
        ids, best first [codes]

    Source: common practice, no source.
    """
    near = []
    for cause, fit in order:
        if fit >= book["told_apart"]["near"] * order[0][1]:
            near.append(cause)
    return near if len(near) > 1 else []


def _side(z: float, limit: float) -> str:
    if z > limit:
        return "high"
    return "low" if z < -limit else "usual"


def _speaks(cause: str, z: float, pattern_z: float, limits: ToldApart) -> str | None:
    """Whether a reading speaks for a cause or against it: the healthy car by itself, the others beside it."""
    if cause == "healthy":
        if abs(z) <= limits["usual_z"]:
            return "for"
        return "against" if abs(z) >= limits["unusual_z"] else None
    here, sound = factor(pattern_z), factor(z)
    if here >= limits["reading_times"] * sound:
        return "for"
    return "against" if sound >= limits["reading_times"] * here else None


def _from_readings(cause: Cause, scores: dict[str, Explanation], evidence: TestEvidence, book: CausesBook) -> None:
    """Readings that fit this cause better, or worse, than a healthy car; what one has said another does not repeat."""
    limits, pattern = book["told_apart"], scores[cause["id"]]["pattern"]
    # Held against one middle for all causes, or a reading could lie above what is usual for one and below for another.
    view = scores["healthy"]["view"]
    names: dict[str, list[str]] = {"for": [], "against": []}
    for name, deviation, spread in deviations_of(evidence, view):
        z = deviation / spread
        side = _speaks(cause["id"], z, (deviation - shift_of(pattern, name, book)) / spread, limits)
        if side is None:
            continue
        repeated = any(other in names[side] for other in book["repeats"].get(name, []))
        names[side].append(name)
        if repeated:
            continue
        measured = evidence["measured"][name]
        values = {"value": measured["value"], "u": measured["u"], "usual": view["middles"][name][0]}
        code = name + "_" + _side(z, limits["usual_z"])
        (cause["for"] if side == "for" else cause["against"]).append({"code": code, "values": values})


def _from_looks(cause: Cause, evidence: TestEvidence, book: CausesBook) -> None:
    """Sights that are noticed more often, or less often, with this cause than with most."""
    times = book["told_apart"]["times"]
    for name in evidence["looks"]:
        row, look = book["looks"][name], evidence["looks"][name]
        often = often_of(row, cause["id"])
        if look["seen"]:
            if often >= times * row["else"]:
                cause["for"].append({"code": name, "values": {}})
            elif cause["id"] == "healthy":
                cause["against"].append({"code": name, "values": {}})
        elif 1.0 - look["weight"] * row["else"] >= book["told_apart"]["missed"] * (1.0 - look["weight"] * often):
            cause["against"].append({"code": "no_" + name, "values": {}})


def causes_of(visit: Visit, test: Test, facts: Facts, rulebook: Rulebook) -> Ranking:
    """The causes of what one test shows.

    Args:
        visit: the visit [JSON object]
        test: the test [JSON object]
        facts: its `inputs`, what is `judged` of it so far, and the visit's `rest` reading as judged or None [by name]
        rulebook: the rulebook [books by name]

    Returns:
        {causes: [{id, fit, for, against}], undecided: [id], next_check: {what, separates, gain} or None}; empty out of
        scope, without bands or without evidence [share]

    Source: the rulebook's `causes` book.
    """
    book = rulebook["causes"]
    evidence = evidence_of(visit, test, facts, rulebook)
    if evidence is None:
        return {"causes": [], "undecided": [], "next_check": None}
    scores = explained(evidence, book)
    order = ranked(scores, book)
    if len(order) == 0:
        return {"causes": [], "undecided": [], "next_check": None}
    causes: list[Cause] = []
    for name, fit in order:
        cause: Cause = {"id": name, "fit": fit, "for": [], "against": []}
        _from_readings(cause, scores, evidence, book)
        _from_looks(cause, evidence, book)
        causes.append(cause)
    undecided = undecided_of(order, book)
    return {
        "causes": causes,
        "undecided": undecided,
        "next_check": next_check_of(evidence, scores, order, undecided, book),
    }
