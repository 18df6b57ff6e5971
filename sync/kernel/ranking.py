"""What the ranking of causes works with, as types: looks, settings, stands, ways, and the facts of a test.

Nothing here ranks; `weights` and `causes` do.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypedDict

from sync.kernel.inputs import Inputs
from sync.kernel.judgement import JudgedTest, RestJudgement
from sync.kernel.normal import Load, Matrix, Vector

Fit = tuple[str, float]


class Look(TypedDict):
    """Whether a sight was there, and how much it counts that it wasn't noted."""

    seen: bool
    weight: float


class Settings(TypedDict):
    """What the middles depend on: distances from the book's own settings, the uncertainty of each, and codes."""

    numbers: dict[str, float]
    u: dict[str, float]
    codes: dict[str, str | None]


@dataclass(frozen=True)
class Stand:
    """The readings of a test compared with one way of regulating.

    `weight` is that of the regime over the root's determinant, `middles` are the columns' for this car if it were
    healthy, `covariance` theirs, `loads` what was measured of them, `root` that of the measured values' covariance,
    `residual` how far these lie from the healthy car's, and `readings` how many readings stand behind them.
    """

    regime: str
    weight: float
    middles: Vector
    covariance: Matrix
    loads: list[Load]
    root: Matrix
    residual: Vector
    readings: int


class Way(TypedDict):
    """How well a cause explains the readings by one shift under one regime; `apart` is what remains, whitened.

    A test makes up to a hundred of them, and Python makes a dict several times as fast as a frozen object.
    """

    stand: Stand
    shift: Vector
    apart: Vector
    score: float


class Explanation(TypedDict):
    """How well a cause explains the readings: by all ways together, at its best, and by every way."""

    score: float
    best: Way
    ways: list[Way]


@dataclass(frozen=True)
class Facts:
    """What is known about a test when its causes are asked for."""

    inputs: Inputs
    judged: JudgedTest
    rest: RestJudgement | None
