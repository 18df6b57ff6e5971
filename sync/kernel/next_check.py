"""The one check that would narrow the causes held open most for the minutes it takes, and what each would show.

Checks, what they take and what they rest on are rulebook data. No cause is weighed here for good.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from sync.kernel.causes_book import CausesBook, CheckRow
from sync.kernel.distribution_book import DistributionBook
from sync.kernel.judgement import NextCheck, Showing
from sync.kernel.looks import group_factors, look_factor, often_of
from sync.kernel.measurement import Measurement
from sync.kernel.normal import Load, Vector, along, covariance_of, whitened
from sync.kernel.ranking import Explanation, Look, Stand, Way
from sync.kernel.weights import likeness


@dataclass(frozen=True)
class Question:
    """What a check is to narrow: what was measured and seen, what each cause explains, and the causes held open.

    `done` are sights that the work has just mended, which need no other look.
    """

    measurement: Measurement
    looks: dict[str, Look]
    explanations: dict[str, Explanation]
    scores: dict[str, float]
    names: list[str]
    done: list[str]
    distribution: DistributionBook


@dataclass(frozen=True)
class _Ahead:
    """What one way of a cause predicts for a reading: its value, its spread, and the way's score."""

    value: float
    spread: float
    score: float


def _effective(scores: list[float]) -> float:
    """How many causes are in effect held open: as many of equal weight would be as even.

    Args:
        scores: of the causes held open now [that compare]

    Returns:
        from 1, where one has all the weight, to the count of scores [1]

    Source: the effective number by Simpson 1949, from memory. The size of a set jumps as a weight crosses its limit,
    and most checks would seem to tell nothing.
    """
    total, squares = 0.0, 0.0
    for score in scores:
        total = total + score
    if not total > 0.0:
        # Readings so far from everything that no weight is left tell nothing apart.
        return float(len(scores))
    for score in scores:
        squares = squares + (score / total) * (score / total)
    return 1.0 / squares


def _across(stand: Stand, load: Load, u: float) -> tuple[Vector, float]:
    """How a reading to come hangs on those there are, whitened, and how far it may lie from what they predict."""
    ties = whitened(stand.root, [covariance_of(load, stand.covariance, one) for one in stand.loads])
    square = covariance_of(load, stand.covariance, load) + u * u
    for tie in ties:
        square = square - tie * tie
    return ties, sqrt(square)


def _predicted(way: Way, load: Load, across: tuple[Vector, float], score: float) -> _Ahead:
    ties, spread = across
    value = along(load, way.stand.middles) + along(load, way.shift)
    for i in range(len(ties)):
        value = value + ties[i] * way.apart[i]
    return _Ahead(value, spread, score)


def _load(check: CheckRow, question: Question) -> Load:
    """What is read for a check, of the columns [places and factors]."""
    columns, reads = question.distribution["columns"], check["reads"]
    return [(columns.index(column), reads[column]) for column in reads]


def _predictions(check: CheckRow, question: Question, names: list[str]) -> dict[str, _Ahead]:
    """What the best way of each cause predicts for a reading."""
    load = _load(check, question)
    across: dict[str, tuple[Vector, float]] = {}
    predictions: dict[str, _Ahead] = {}
    for cause in names:
        explanation = question.explanations[cause]
        way = explanation.best
        if way.stand.regime not in across:
            across[way.stand.regime] = _across(way.stand, load, check["u"])
        # The score holds the sights and how common the cause is; the best way has its share of it.
        share = way.score / explanation.score if explanation.score > 0.0 else 0.0
        predictions[cause] = _predicted(way, load, across[way.stand.regime], question.scores[cause] * share)
    return predictions


def _after(reading: float, predictions: dict[str, _Ahead], question: Question) -> float:
    """How many causes would in effect be held open if a quantity read this."""
    freedom, sharpness = question.distribution["freedom"], question.distribution["sharpness"]
    scores: list[float] = []
    for cause in predictions:
        one = predictions[cause]
        z = (reading - one.value) / one.spread
        scores.append(one.score * likeness(sharpness * z * z, 1, freedom) / one.spread)
    return _effective(scores)


def _by_reading(check: CheckRow, question: Question, weights: dict[str, float]) -> float:
    """How many causes a reading would leave in the mean: each in turn is true, and it reads what that predicts."""
    predictions = _predictions(check, question, question.names)
    left = 0.0
    for truth in predictions:
        left = left + weights[truth] * _after(predictions[truth].value, predictions, question)
    return left


def _group_of(look: str, book: CausesBook) -> list[str]:
    """The sights of the same thing as one [codes]."""
    for group in book["groups"]:
        if look in group:
            return group
    return [look]


def _answered(check: CheckRow, seen: bool, question: Question, book: CausesBook) -> dict[str, float]:
    """By what a sight, there or not, would multiply each cause's weight, within what its group says already."""
    group = _group_of(check["look"], book)
    look: Look = {"seen": seen, "weight": 1.0}
    if not any(name in question.looks for name in group):
        return {cause: look_factor(check["look"], look, cause, book) for cause in question.names}
    looks = dict(question.looks)
    looks[check["look"]] = look
    before = group_factors(group, question.looks, question.names, book)
    after = group_factors(group, looks, question.names, book)
    return {cause: after[cause] / before[cause] for cause in question.names}


def _by_look(check: CheckRow, question: Question, weights: dict[str, float], book: CausesBook) -> float:
    """How many causes a sight would leave in the mean: there or not, as often as each cause shows it."""
    row = book["looks"][check["look"]]
    left = 0.0
    for seen in (True, False):
        change = _answered(check, seen, question, book)
        scores: list[float] = []
        chance = 0.0
        for cause in question.names:
            often = often_of(row, cause)
            scores.append(question.scores[cause] * change[cause])
            chance = chance + weights[cause] * (often if seen else 1.0 - often)
        left = left + chance * _effective(scores)
    return left


def _open(check: CheckRow, question: Question) -> bool:
    """Whether a check has not been made yet."""
    if "quantity" in check:
        return check["quantity"] not in question.measurement.names
    if check["look"] in question.done:
        return False
    look = question.looks.get(check["look"])
    return look is None or (not look["seen"] and look["weight"] < 1.0)


def _weights(question: Question) -> dict[str, float]:
    total = 0.0
    for cause in question.names:
        total = total + question.scores[cause]
    return {cause: question.scores[cause] / total for cause in question.names}


def _showing(check: CheckRow, question: Question, book: CausesBook) -> list[Showing]:
    """What each cause held open would show, against what the healthy car would."""
    shows: list[Showing] = []
    if "quantity" not in check:
        for cause in question.names:
            there = often_of(book["looks"][check["look"]], cause) >= book["told_apart"]["often"]
            shows.append({"id": cause, "code": check["look"] if there else "no_" + check["look"]})
        return shows
    names = question.names if "healthy" in question.names else [*question.names, "healthy"]
    predictions = _predictions(check, question, names)
    middle = predictions["healthy"].value
    # A suction, liquid or discharge line is read, and a superheat or a subcooling is spoken of.
    turned = -1.0 if check["reads"].get(check["quantity"], 1.0) < 0.0 else 1.0
    for cause in question.names:
        best = predictions[cause]
        side, apart = "_usual", turned * (best.value - middle)
        if apart > best.spread:
            side = "_high"
        elif apart < -best.spread:
            side = "_low"
        shows.append({"id": cause, "code": check["quantity"] + side})
    return shows


def gains_of(question: Question, book: CausesBook) -> dict[str, float]:
    """By how many causes each check that is still open would narrow the set, in the mean over its answers.

    Args:
        question: what a check is to narrow [object]
        book: the rulebook's `causes` book [JSON object]

    Returns:
        {check: gain}; below 0 where it would spread the weight [count]

    Source: the expected effective number of causes; none for its use here.
    """
    weights, gains = _weights(question), {}
    now = _effective([question.scores[cause] for cause in question.names])
    for check in book["checks"]:
        if not _open(check, question):
            continue
        if "quantity" in check:
            left = _by_reading(check, question, weights)
        else:
            left = _by_look(check, question, weights, book)
        gains[check["what"]] = now - left
    return gains


def next_check_of(question: Question, book: CausesBook) -> NextCheck | None:
    """The check to offer next: the one that narrows the set most for each minute it takes.

    Args:
        question: what a check is to narrow [object]
        book: the rulebook's `causes` book [JSON object]

    Returns:
        {what, minutes, separates, gain, shows}, None where no open check is worth its while or one cause stands alone
        [code, minutes, codes, count]

    Source: the rulebook's `causes` book, `checks`; minutes are common practice, no source.
    """
    # The heaviest stands first; readings so far from everything that it has no weight are to be taken again.
    if len(question.names) < 2 or not question.scores[question.names[0]] > 0.0:
        return None
    gains = gains_of(question, book)
    best: CheckRow | None = None
    best_rate = 0.0
    for check in book["checks"]:
        what = check["what"]
        if what in gains and gains[what] >= book["told_apart"]["gain"] and gains[what] / check["minutes"] > best_rate:
            best, best_rate = check, gains[what] / check["minutes"]
    if best is None:
        return None
    return {
        "what": best["what"],
        "minutes": best["minutes"],
        "separates": question.names,
        "gain": gains[best["what"]],
        "shows": _showing(best, question, book),
    }
