"""The one check that would tell more, a minute of its cost, about what ails the car than any other.

Checks, what they cost and what they rest on are rulebook data. It ranks no cause.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from sync.kernel.causes_book import CausesBook, CheckRow
from sync.kernel.evidence import factor, often_of, shift_of
from sync.kernel.judgement import NextCheck
from sync.kernel.ranking import Explanation, Fit, TestEvidence, Way

# A value that a way predicts, its spread, and how well the way explains what is there already.
_Prediction = tuple[float, float, float]


@dataclass(frozen=True)
class _Leaders:
    """The leading causes: their fits, what each explains, and the ways worth following."""

    causes: list[str]
    fits: dict[str, float]
    scores: dict[str, Explanation]
    ways: dict[str, list[Way]]


def _leading(order: list[Fit], book: CausesBook) -> list[str]:
    """The causes worth telling apart, best first; the rest hardly move whatever is answered."""
    return [cause for cause, fit in order if fit >= book["told_apart"]["worth"]]


def _in_reach(explanation: Explanation, book: CausesBook) -> list[Way]:
    """The ways of a cause that another reading may still bring to the front."""
    ways = []
    for way in explanation["ways"]:
        if way["score"] * book["told_apart"]["behind"] >= explanation["score"]:
            ways.append(way)
    return ways


def _movement(scores: dict[str, float], fits: dict[str, float]) -> float:
    """How far a ranking moves: half the sum of what every fit changes by."""
    total = 0.0
    for cause in scores:
        total = total + scores[cause]
    if not total > 0.0:
        return 0.0
    moved = 0.0
    for cause in scores:
        moved = moved + abs(scores[cause] / total - fits[cause])
    return moved / 2.0


def _foretold(check: CheckRow, leaders: _Leaders, book: CausesBook) -> dict[str, list[_Prediction]]:
    """What every way of the leading causes predicts for a quantity: {cause: [(value, its spread, score)]}."""
    name, u = check["quantity"], check["u"]
    predictions: dict[str, list[_Prediction]] = {}
    for cause in leaders.causes:
        predictions[cause] = []
        for way in leaders.ways[cause]:
            middle, spread = way["view"]["middles"][name]
            value = middle + shift_of(way["pattern"], name, book)
            predictions[cause].append((value, sqrt(spread * spread + u * u), way["score"]))
    return predictions


def _at(reading: float, ways: list[_Prediction]) -> float:
    """A cause's score if the quantity read this: the best of its ways."""
    best = 0.0
    for value, spread, before in ways:
        score = before * factor((reading - value) / spread)
        if score > best:
            best = score
    return best


def _by_reading(check: CheckRow, leaders: _Leaders, book: CausesBook) -> float:
    """The change a reading brings: each leading cause in turn is true, and the reading is what it predicts."""
    name = check["quantity"]
    for truth in leaders.causes:
        if name not in leaders.scores[truth]["view"]["middles"]:
            return 0.0
    ways = _foretold(check, leaders, book)
    gain = 0.0
    for truth in leaders.causes:
        best = leaders.scores[truth]
        reading = best["view"]["middles"][name][0] + shift_of(best["pattern"], name, book)
        scores: dict[str, float] = {}
        for cause in leaders.causes:
            scores[cause] = _at(reading, ways[cause])
        gain = gain + leaders.fits[truth] * _movement(scores, leaders.fits)
    return gain


def _by_look(check: CheckRow, leaders: _Leaders, book: CausesBook) -> float:
    """The change a sight brings: seen or not seen, as often as each leading cause shows it."""
    row = book["looks"][check["look"]]
    gain = 0.0
    for seen in (True, False):
        scores: dict[str, float] = {}
        chance = 0.0
        for cause in leaders.causes:
            often = often_of(row, cause)
            part = often if seen else 1.0 - often
            scores[cause] = leaders.scores[cause]["score"] * part
            chance = chance + leaders.fits[cause] * part
        gain = gain + chance * _movement(scores, leaders.fits)
    return gain


def _open(check: CheckRow, evidence: TestEvidence) -> bool:
    """Whether a check has not been made yet."""
    if "quantity" in check:
        return check["quantity"] not in evidence["measured"]
    look = evidence["looks"].get(check["look"])
    return look is None or (not look["seen"] and look["weight"] < 1.0)


def gains_of(
    evidence: TestEvidence, scores: dict[str, Explanation], order: list[Fit], book: CausesBook
) -> dict[str, float]:
    """What each check that is still open would change in the ranking, averaged over its answers.

    Args:
        evidence: what speaks for or against [JSON object]
        scores: what each cause explains [by cause]
        order: causes with their fits, best first [pairs]
        book: the rulebook's `causes` book [JSON object]

    Returns:
        {check: gain}: half the sum of the absolute changes of the fits among the leading causes, weighted by their
        present fits [share]

    Source: the total variation distance between two rankings.
    """
    leading = _leading(order, book)
    total = 0.0
    raw: dict[str, float] = {}
    for cause, fit in order:
        raw[cause] = fit
    for cause in leading:
        total = total + raw[cause]
    fits: dict[str, float] = {}
    for cause in leading:
        fits[cause] = raw[cause] / total
    ways: dict[str, list[Way]] = {}
    for cause in leading:
        ways[cause] = _in_reach(scores[cause], book)
    leaders = _Leaders(leading, fits, scores, ways)
    gains: dict[str, float] = {}
    for check in book["checks"]:
        if _open(check, evidence):
            by = _by_reading if "quantity" in check else _by_look
            gains[check["what"]] = by(check, leaders, book)
    return gains


def next_check_of(
    evidence: TestEvidence, scores: dict[str, Explanation], order: list[Fit], undecided: list[str], book: CausesBook
) -> NextCheck | None:
    """The check to offer next: the one that changes the ranking most for each minute it costs.

    Args:
        evidence: what speaks for or against [JSON object]
        scores: what each cause explains [by cause]
        order: causes with their fits, best first [pairs]
        undecided: causes that cannot be told apart yet [codes]
        book: the rulebook's `causes` book [JSON object]

    Returns:
        {what, separates, gain}, None where no open check would change anything worth its while [code, codes, share]

    Source: the rulebook's `causes` book, `checks`; costs are common practice, no source.
    """
    gains = gains_of(evidence, scores, order, book)
    best, best_rate = None, 0.0
    for check in book["checks"]:
        what = check["what"]
        if what in gains and gains[what] / check["minutes"] > best_rate:
            best, best_rate = what, gains[what] / check["minutes"]
    if best is None or gains[best] < book["told_apart"]["gain"]:
        return None
    separates = undecided
    if len(separates) == 0:
        separates = [order[0][0], order[1][0]]
    return {"what": best, "separates": separates, "gain": gains[best]}
