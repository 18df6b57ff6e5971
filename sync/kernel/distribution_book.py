"""The rulebook's `distribution` book, as types: what healthy cars show, and how far each cause moves that.

Nothing here ranks; `weights` does.
"""

from __future__ import annotations

from typing import TypedDict


class MiddleRow(TypedDict):
    """A healthy car's middle for one column: at the book's settings, by what it depends on, and by codes."""

    centre: float
    per: dict[str, float]
    by: dict[str, dict[str, float]]


class ObservedRow(TypedDict):
    """A quantity as measured: its part of the columns, what it rests on, and which others make it superfluous."""

    loads: dict[str, float]
    unless: list[str]
    rests_on: list[str]


class DistributionBook(TypedDict):
    """One joint distribution of all columns for each way of regulating.

    `fleet` and `scatter` are lower triangles of covariances by regime: how whole cars lie around the middle, and how
    cars with a cause lie around its nearest shift. `shifts` are by regime and cause; `weather` holds standard
    deviations.
    """

    columns: list[str]
    observed: dict[str, ObservedRow]
    rest_findings: list[str]
    freedom: int
    sharpness: float
    middles: dict[str, dict[str, MiddleRow]]
    fleet: dict[str, list[list[float]]]
    weather: list[float]
    scatter: dict[str, list[list[float]]]
    shifts: dict[str, dict[str, list[list[float]]]]
