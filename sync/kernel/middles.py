"""A healthy car's middle for every column of the `distribution` book, and how far cars lie around it.

Middles and covariances are rulebook data. No yardstick of a single car is used here.
"""

from __future__ import annotations

from dataclasses import dataclass

from sync.kernel.distribution_book import DistributionBook, MiddleRow
from sync.kernel.normal import Matrix, Vector, symmetric
from sync.kernel.ranking import Settings


@dataclass(frozen=True)
class Middle:
    """What healthy cars show in a test's surroundings under one regime.

    `values` are the middles of the columns, `unknown` the covariance that comes of surroundings not recorded, `fleet`
    that of whole cars around the middle, `weather` the variance of one car from day to day [unit of each column].
    """

    values: Vector
    unknown: Matrix
    fleet: Matrix
    weather: Vector


def _row_value(row: MiddleRow, settings: Settings) -> float:
    middle = row["centre"]
    for name in row["per"]:
        middle = middle + row["per"][name] * settings["numbers"][name]
    for name in row["by"]:
        code = settings["codes"][name]
        if code is not None and code in row["by"][name]:
            middle = middle + row["by"][name][code]
    return middle


def _unknown(rows: list[MiddleRow], settings: Settings) -> Matrix:
    """The covariance of the middles by what was not recorded: one surprise moves all of them."""
    matrix: Matrix = [[0.0 for other in rows] for row in rows]
    for name in settings["u"]:
        u = settings["u"][name]
        if u > 0.0:
            slopes = [row["per"].get(name, 0.0) * u for row in rows]
            for i in range(len(rows)):
                for j in range(len(rows)):
                    matrix[i][j] = matrix[i][j] + slopes[i] * slopes[j]
    return matrix


def middle_of(regime: str, settings: Settings, widen: float, book: DistributionBook) -> Middle:
    """A healthy car's middle in a test's surroundings.

    Args:
        regime: how the compressor is regulated [code]
        settings: what the middles move with [JSON object]
        widen: a factor on how far cars lie apart, 1 within the yardsticks' validity [1]
        book: the rulebook's `distribution` book [JSON object]

    Returns:
        middles and covariances by the book's columns [unit of each column]

    Source: the rulebook's `distribution` book.
    """
    of_regime = book["middles"][regime]
    rows = [of_regime[column] for column in book["columns"]]
    square = widen * widen
    fleet = [[square * one for one in row] for row in symmetric(book["fleet"][regime])]
    return Middle(
        [_row_value(row, settings) for row in rows],
        _unknown(rows, settings),
        fleet,
        [square * one * one for one in book["weather"]],
    )
