"""A healthy car's middle for every column of the `distribution` book, and how far cars lie around it.

Middles and covariances are rulebook data. No yardstick of a single car is used here.
"""

from __future__ import annotations

from typing import TypedDict

from sync.kernel.distribution_book import DistributionBook, MiddleRow
from sync.kernel.normal import Matrix, Vector, symmetric
from sync.kernel.ranking import Settings


class Middle(TypedDict):
    """What healthy cars show in a test's surroundings under one regime.

    `values` are the middles of the columns, `unknown` the covariance due to surroundings that weren't recorded, `fleet`
    that of whole cars around the middle, `weather` the variance of one car from day to day [unit of each column].
    `rows` are the book's, for other surroundings.
    """

    rows: list[MiddleRow]
    values: Vector
    unknown: Matrix
    fleet: Matrix
    weather: Vector


def row_value(row: MiddleRow, settings: Settings) -> float:
    """A column's middle in a test's surroundings [unit of the column]."""
    middle, per, by = row["centre"], row["per"], row["by"]
    numbers, codes = settings["numbers"], settings["codes"]
    for name in per:
        middle = middle + per[name] * numbers[name]
    for name in by:
        code = codes[name]
        if code is not None and code in by[name]:
            middle = middle + by[name][code]
    return middle


def unknown_at(rows: list[MiddleRow], settings: Settings) -> Matrix:
    """The covariance of the middles due to what wasn't recorded: one surprise moves them all [unit of each column]."""
    matrix: Matrix = [[0.0 for other in rows] for row in rows]
    for name in settings["u"]:
        u = settings["u"][name]
        if u > 0.0:
            slopes = [row["per"].get(name, 0.0) * u for row in rows]
            for i in range(len(rows)):
                row = matrix[i]
                for j in range(len(rows)):
                    row[j] = row[j] + slopes[i] * slopes[j]
    return matrix


def middle_of(regime: str, settings: Settings, widen: float, book: DistributionBook) -> Middle:
    """A healthy car's middle in a test's surroundings.

    Args:
        regime: how the compressor is regulated [code]
        settings: what the middles depend on [JSON object]
        widen: a factor on how far cars differ, 1 within the yardsticks' validity [1]
        book: the rulebook's `distribution` book [JSON object]

    Returns:
        middles and covariances by the book's columns [unit of each column]

    Source: the rulebook's `distribution` book.
    """
    of_regime, square = book["middles"][regime], widen * widen
    rows = [of_regime[column] for column in book["columns"]]
    return {
        "rows": rows,
        "values": [row_value(row, settings) for row in rows],
        "unknown": unknown_at(rows, settings),
        "fleet": symmetric([[square * one for one in row] for row in book["fleet"][regime]]),
        "weather": [square * one * one for one in book["weather"]],
    }
