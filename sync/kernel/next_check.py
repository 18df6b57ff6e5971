"""The one check that would narrow the causes held open most for its minutes, and what each cause would show.

Checks, their minutes and what they rest on are rulebook data. No final weight of a cause is set here.
"""

from __future__ import annotations

from math import sqrt
from typing import TypedDict

from sync.kernel.causes_book import CausesBook, CheckRow
from sync.kernel.distribution_book import DistributionBook
from sync.kernel.judgement import NextCheck, Showing, Unknown
from sync.kernel.looks import Factors, look_factors, strongest_of
from sync.kernel.measurement import Measurement
from sync.kernel.normal import Load, Vector, along, covariance_of, whitened
from sync.kernel.ranking import Explanation, Look, Stand
from sync.kernel.weights import likeness


class Question(TypedDict):
    """What a check should narrow: what was measured, seen and concluded, and the causes held open with their ways.

    `scores` are those of `names` only, in their order; `done` are sights that the work has just mended, which need no
    second look; `unknown` are the test's quantities that are unavailable.
    """

    measurement: Measurement
    looks: dict[str, Look]
    told: dict[str, Factors]
    explanations: dict[str, Explanation]
    names: list[str]
    scores: dict[str, float]
    done: list[str]
    unknown: list[Unknown]
    distribution: DistributionBook


# What a way of a cause predicts for a reading: its value and its spread.
Ahead = tuple[float, float]
# Far above what rounding does to a count of causes, far below any difference that matters between two checks.
ROUNDING = 1e-9


def _effective(scores: Vector, total: float) -> float:
    """How many causes are effectively held open: the number of equal weights that would be as even.

    Args:
        scores: of the causes held open now [comparable]
        total: their sum in this order [1]

    Returns:
        from 1, if one has all the weight, to the number of scores [1]

    Source: the effective number by Simpson 1949, from memory. The size of a set jumps when a weight crosses its limit,
    so most checks would seem to tell nothing.
    """
    squares = 0.0
    if not total > 0.0:
        # Readings so far from everything that no weight is left can't tell anything apart.
        return float(len(scores))
    for score in scores:
        share = score / total
        squares = squares + share * share
    return 1.0 / squares


def _across(stand: Stand, load: Load, u: float) -> tuple[float, Vector, float]:
    """What all causes have in common about a future reading.

    The healthy car's middle, how the reading depends on the existing ones, whitened, and its spread given them.
    """
    ties = whitened(stand.root, [covariance_of(load, stand.covariance, one) for one in stand.loads])
    square = covariance_of(load, stand.covariance, load) + u * u
    for tie in ties:
        square = square - tie * tie
    return along(load, stand.middles), ties, sqrt(square)


def _load(check: CheckRow, question: Question) -> Load:
    """What is read for a check, in terms of the columns [places and factors]."""
    columns, reads = question["distribution"]["columns"], check["reads"]
    return [(columns.index(column), reads[column]) for column in reads]


def _predictions(check: CheckRow, question: Question, names: list[str]) -> list[Ahead]:
    """What the best way of each cause predicts for a reading."""
    load = _load(check, question)
    across: dict[str, tuple[float, Vector, float]] = {}
    predictions: list[Ahead] = []
    for cause in names:
        way = question["explanations"][cause]["best"]
        stand, apart = way["stand"], way["apart"]
        if stand.regime not in across:
            across[stand.regime] = _across(stand, load, check["u"])
        middle, ties, spread = across[stand.regime]
        value = middle + along(load, way["shift"])
        for i in range(len(ties)):
            value = value + ties[i] * apart[i]
        predictions.append((value, spread))
    return predictions


def _after(truth: int, ahead: list[Ahead], best: Vector, rows: list[Vector], book: DistributionBook) -> float:
    """How many causes would effectively be held open if a quantity read what one of them predicts.

    `rows` say how near that is to what each cause predicts, one row for each truth so far; this one is added.
    """
    row: Vector = []
    scores: Vector = []
    total = 0.0
    reading, own_spread = ahead[truth]
    sharpness, freedom = book["sharpness"], book["freedom"]
    for i in range(len(ahead)):
        value, spread = ahead[i]
        if i < truth and spread == own_spread:
            # The same distance the other way round, which is already known.
            likely = rows[i][truth]
        else:
            z = (reading - value) / spread
            likely = likeness(sharpness * z * z, 1, freedom)
        row.append(likely)
        score = best[i] * likely / spread
        scores.append(score)
        total = total + score
    rows.append(row)
    return _effective(scores, total)


def _by_reading(ahead: list[Ahead], weights: Vector, best: Vector, most: float, book: DistributionBook) -> float:
    """How many causes a reading would leave on average: each in turn is true, and the reading is what it predicts.

    `weights` are those of the causes now, `best` the scores of their best ways, in the order of `ahead`. It stops once
    more than `most` are certain to be left: each truth still to come leaves at least one.
    """
    rows: list[Vector] = []
    left, to_come = 0.0, 1.0
    for truth in range(len(ahead)):
        left = left + weights[truth] * _after(truth, ahead, best, rows, book)
        to_come = to_come - weights[truth]
        if left + to_come > most:
            return left + to_come
    return left


def _by_look(look: str, question: Question, weights: Vector, book: CausesBook) -> float:
    """How many causes a sight would leave on average: there or not, as often as each cause shows it.

    It counts within what its group already says.
    """
    row, names, group = book["looks"][look], question["names"], [look]
    for one in book["groups"]:
        if look in one:
            group = one
    told, known = dict(question["told"]), strongest_of(group, question["told"], question["scores"])
    left = 0.0
    for seen in (True, False):
        told[look] = look_factors(look, {"seen": seen, "weight": 1.0}, book)
        change = strongest_of(group, told, question["scores"])
        scores: Vector = []
        total, chance = 0.0, 0.0
        for i in range(len(names)):
            cause = names[i]
            often = row.get(cause, row["else"])
            score = question["scores"][cause] * (change.get(cause, 1.0) / known.get(cause, 1.0))
            scores.append(score)
            total = total + score
            chance = chance + weights[i] * (often if seen else 1.0 - often)
        left = left + chance * _effective(scores, total)
    return left


def _useful(check: CheckRow, unknown: list[Unknown]) -> bool:
    """Whether a reading is what its quantity lacks; one that was taken isn't, even if the quantity lacks another."""
    for row in unknown:
        if row["what"] == check.get("needs"):
            return False
        lacking = "reading" in check and row["what"] == check["quantity"] and len(row["needs"]) > 0
        if lacking and "readings." + check["reading"] not in row["needs"]:
            return False
    return True


def _open(check: CheckRow, question: Question, book: CausesBook) -> bool:
    """Whether a check hasn't been made yet and may tell something: a sight, about a cause held open."""
    if "quantity" in check:
        return check["quantity"] not in question["measurement"].names and _useful(check, question["unknown"])
    look = question["looks"].get(check["look"])
    if check["look"] in question["done"] or (look is not None and (look["seen"] or look["weight"] >= 1.0)):
        return False
    return any(cause in question["scores"] for cause in book["looks"][check["look"]])


def _best_ways(question: Question) -> Vector:
    """The scores of the causes held open, each by its best way alone."""
    best: Vector = []
    for cause in question["names"]:
        explanation = question["explanations"][cause]
        # The score includes the sights and how common the cause is; the best way has its share of it.
        share = explanation["best"]["score"] / explanation["score"] if explanation["score"] > 0.0 else 0.0
        best.append(question["scores"][cause] * share)
    return best


def _showing(check: CheckRow, ahead: list[Ahead], question: Question, book: CausesBook) -> list[Showing]:
    """What each cause held open would show, compared with the healthy car."""
    shows: list[Showing] = []
    if "quantity" not in check:
        row = book["looks"][check["look"]]
        for cause in question["names"]:
            there = row.get(cause, row["else"]) >= book["told_apart"]["often"]
            shows.append({"id": cause, "code": check["look"] if there else "no_" + check["look"]})
        return shows
    middle = _predictions(check, question, ["healthy"])[0][0]
    # A suction, liquid or discharge line is read, but people speak of superheat or subcooling.
    turned = -1.0 if check["reads"].get(check["quantity"], 1.0) < 0.0 else 1.0
    for i in range(len(question["names"])):
        value, spread = ahead[i]
        side, apart = "_usual", turned * (value - middle)
        if apart > spread:
            side = "_high"
        elif apart < -spread:
            side = "_low"
        shows.append({"id": question["names"][i], "code": check["quantity"] + side})
    return shows


def _best_of(question: Question, book: CausesBook) -> tuple[CheckRow | None, float, list[Ahead]]:
    """The open check with the largest gain per minute, the first of equals; None if none gains enough.

    The gain is by how many causes a check narrows the set, on average over its answers [count]. With it comes what each
    cause predicts for the reading.

    Source: the expected effective number of causes; none for its use here.
    """
    scores, best_ways, enough = list(question["scores"].values()), _best_ways(question), book["told_apart"]["gain"]
    total = 0.0
    for score in scores:
        total = total + score
    now, weights = _effective(scores, total), [score / total for score in scores]
    best: CheckRow | None = None
    best_gain, rate = 0.0, 0.0
    ahead: list[Ahead] = []
    best_ahead = ahead
    for check in book["checks"]:
        least = rate * check["minutes"]
        most = now - (least if least > enough else enough) + ROUNDING
        # Every answer leaves at least one cause, so many checks can't win, whatever they show.
        if most < 1.0 or not _open(check, question, book):
            continue
        if "quantity" in check:
            ahead = _predictions(check, question, question["names"])
            gain = now - _by_reading(ahead, weights, best_ways, most, question["distribution"])
        else:
            gain = now - _by_look(check["look"], question, weights, book)
        if gain >= enough and gain / check["minutes"] > rate:
            best, best_gain, rate, best_ahead = check, gain, gain / check["minutes"], ahead
    return best, best_gain, best_ahead


def next_check_of(question: Question, book: CausesBook) -> NextCheck | None:
    """The check to offer next: the one that narrows the set most for each minute it takes.

    Args:
        question: what a check should narrow [object]
        book: the rulebook's `causes` book [JSON object]

    Returns:
        {what, minutes, separates, gain, shows}; None if no open check is worth its time or one cause stands alone
        [code, minutes, codes, count]

    Source: the rulebook's `causes` book, `checks`; minutes are common practice, no source.
    """
    # The heaviest comes first. If the readings are so far from everything that it has no weight, they should be taken
    # again.
    if len(question["names"]) < 2 or not question["scores"][question["names"][0]] > 0.0:
        return None
    best, gain, ahead = _best_of(question, book)
    if best is None:
        return None
    return {
        "what": best["what"],
        "minutes": best["minutes"],
        "separates": question["names"],
        "gain": gain,
        "shows": _showing(best, ahead, question, book),
    }
