"""How far each reading of a test lies from what a cause predicts, given the other readings.

Nothing is weighed or ranked here.
"""

from __future__ import annotations

from sync.kernel.causes_book import CausesBook
from sync.kernel.inputs import root_sum
from sync.kernel.normal import unwhitened
from sync.kernel.ranking import Explanation, Stand


def sharpness_of(stand: Stand) -> list[float]:
    """How sharply each reading is foretold by the others: one over its standard deviation given them.

    Args:
        stand: the readings held against one way of regulating [object]

    Returns:
        for each reading [1 / unit of the quantity]

    Source: conditional normal distributions; the diagonal of the inverse covariance.
    """
    root, size = stand.root, len(stand.root)
    sharp: list[float] = []
    for i in range(size):
        # The root's inverse by its columns; what lies above the diagonal is 0.
        column: list[float] = []
        for j in range(i, size):
            row, total = root[j], 1.0 if j == i else 0.0
            for k in range(i, j):
                total = total - row[k] * column[k - i]
            column.append(total / row[j])
        sharp.append(root_sum(column))
    return sharp


def distances_of(sharp: list[float], explanation: Explanation, book: CausesBook) -> list[float]:
    """How far each reading lies from what a cause predicts given the others, in standard deviations.

    Where a cause has several shifts in reach, the nearest counts: what one of them predicts is not against the cause.

    Args:
        sharp: how sharply each reading is foretold by the others [list]
        explanation: how the cause explains the readings [object]
        book: the rulebook's `causes` book [JSON object]

    Returns:
        for each reading [1]

    Source: the rulebook's `causes` book, `told_apart`.
    """
    stand, size, best = explanation["best"]["stand"], len(sharp), explanation["best"]["score"]
    nearest: list[float] = []
    for way in explanation["ways"]:
        if way["stand"].regime != stand.regime or way["score"] * book["told_apart"]["behind"] < best:
            continue
        pulls = unwhitened(stand.root, way["apart"])
        zs = [pulls[i] / sharp[i] for i in range(size)]
        if len(nearest) == 0:
            nearest = zs
        else:
            nearest = [zs[i] if abs(zs[i]) < abs(nearest[i]) else nearest[i] for i in range(size)]
    return nearest
