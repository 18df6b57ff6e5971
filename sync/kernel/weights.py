"""How much weight each cause has after one test: one joint distribution of all readings, sights, and how common it is.

Shifts, covariances and weights are rulebook data. Nothing is worded here.
"""

from __future__ import annotations

from math import sqrt

from sync.kernel.distribution_book import DistributionBook
from sync.kernel.measurement import Measurement
from sync.kernel.normal import Matrix, Vector, added, along, carried, root_of, symmetric
from sync.kernel.ranking import Explanation, Fit, Stand, Way
from sync.kernel.yardsticks import Yardstick


def likeness(square: float, count: int, freedom: int) -> float:
    """How well several readings agree at a distance: 1 at none, falling slowly far out.

    Args:
        square: the squared distance, in units of the covariance [1]
        count: how many readings [count]
        freedom: degrees of freedom of the distribution; with the readings, at least 2 [count]

    Returns:
        (1 + square / freedom) to the power of -(freedom + count) / 2 [1]

    Source: the density of the multivariate t distribution without its constant, Kotz and Nadarajah 2004, from memory;
    as a model that outliers don't dominate: Lange, Little and Taylor 1989, from memory.
    """
    base = 1.0 / (1.0 + square / freedom)
    product, power = base, freedom + count - 2
    while power > 3:
        product = product * base * base
        power = power - 4
    if power > 1:
        product = product * base
        power = power - 2
    return product if power == 0 else product * sqrt(base)


def _total(yardstick: Yardstick, regime: str, book: DistributionBook) -> Matrix:
    """How far a car with a cause lies around the cause's shift, by column: the car, the cause, the day, the unknown."""
    own, unknown = yardstick.covariance, yardstick.middle["unknown"]
    triangle: Matrix = []
    for scatter in book["scatter"][regime]:
        i = len(triangle)
        row = [own[i][j] + scatter[j] + unknown[i][j] for j in range(i + 1)]
        row[i] = row[i] + yardstick.middle["weather"][i]
        triangle.append(row)
    return symmetric(triangle)


def stand_of(
    regime: tuple[str, float], yardstick: Yardstick, measurement: Measurement, book: DistributionBook
) -> Stand:
    """The readings compared with one way of regulating.

    Args:
        regime: its code and weight [code, share]
        yardstick: this car's, under that regime [object]
        measurement: what was measured [object]
        book: the rulebook's `distribution` book [JSON object]

    Returns:
        the stand [object]

    Source: none; a healthy car's middle, moved by its offset.
    """
    code, weight = regime
    values = yardstick.middle["values"]
    middles = [values[i] + yardstick.offset[i] for i in range(len(values))]
    total = _total(yardstick, code, book)
    root = root_of(added(carried(measurement.loads, total), measurement.covariance))
    residual: Vector = []
    for i in range(len(root)):
        residual.append(measurement.values[i] - along(measurement.loads[i], middles))
        weight = weight / root[i][i]
    return Stand(code, weight, middles, total, measurement.loads, root, residual, measurement.readings)


def _ways(stand: Stand, cause: str, book: DistributionBook) -> list[Way]:
    """How well each shift of a cause explains the readings under one regime; each is whitened in one pass."""
    root, loads, residual = stand.root, stand.loads, stand.residual
    shifts, sharpness, freedom = book["shifts"][stand.regime][cause], book["sharpness"], book["freedom"]
    weight = 1.0 / len(shifts) * stand.weight
    ways: list[Way] = []
    for shift in shifts:
        square = 0.0
        apart: Vector = []
        for i in range(len(root)):
            row, left = root[i], residual[i]
            for place, part in loads[i]:
                left = left - part * shift[place]
            for j in range(i):
                left = left - row[j] * apart[j]
            left = left / row[i]
            apart.append(left)
            square = square + left * left
        likely = likeness(sharpness * square, stand.readings, freedom)
        ways.append({"stand": stand, "shift": shift, "apart": apart, "score": weight * likely})
    return ways


def explained(stands: list[Stand], book: DistributionBook) -> dict[str, Explanation]:
    """How well every cause explains the readings, by all its shifts equally, under all regimes.

    Args:
        stands: the readings compared with each way of regulating [list, at least one]
        book: the rulebook's `distribution` book [JSON object]

    Returns:
        {cause: explanation} with comparable scores [1]

    Source: the rulebook's `distribution` book.
    """
    explanations: dict[str, Explanation] = {}
    for cause in book["shifts"][stands[0].regime]:
        ways: list[Way] = []
        for stand in stands:
            ways.extend(_ways(stand, cause, book))
        best, score = ways[0], 0.0
        for way in ways:
            score = score + way["score"]
            if way["score"] > best["score"]:
                best = way
        explanations[cause] = {"score": score, "best": best, "ways": ways}
    return explanations


def weighed(scores: dict[str, float]) -> list[Fit]:
    """Causes with their weights, heaviest first; equal ones keep the order of the scores.

    Args:
        scores: one comparable score for each cause [by cause]

    Returns:
        (cause, weight); the weights sum to 1 [share]

    Source: Bayes' rule; how common each cause is comes from the rulebook's `causes` book.
    """
    total = 0.0
    for cause in scores:
        total = total + scores[cause]
    names: list[str] = []
    for cause in scores:
        place = len(names)
        while place > 0 and scores[cause] > scores[names[place - 1]]:
            place = place - 1
        names.insert(place, cause)
    # Readings so far from everything that no weight is left can't tell anything apart.
    return [(cause, scores[cause] / total if total > 0.0 else 1.0 / len(scores)) for cause in names]


def held_open(order: list[Fit], share: float) -> list[str]:
    """The smallest set of causes that holds a share of the weight.

    Args:
        order: causes with their weights, heaviest first [pairs]
        share: how much it must hold [share]

    Returns:
        ids, heaviest first; at least one [codes]

    Source: a highest density set, Box and Tiao 1973, from memory.
    """
    names: list[str] = []
    total = 0.0
    for cause, weight in order:
        if not total < share:
            break
        names.append(cause)
        total = total + weight
    return names
