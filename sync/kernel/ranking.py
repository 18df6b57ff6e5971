"""What the ranking of causes works with, as types: evidence, views, ways, and what stands beside a test.

Nothing here ranks; `evidence` and `causes` do.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypedDict

from sync.kernel.inputs import Inputs
from sync.kernel.judgement import JudgedTest, RestJudgement
from sync.kernel.visit import Figure

# A healthy car's middle and how far cars lie around it [unit of the quantity].
Middle = tuple[float, float]
Fit = tuple[str, float]


class Look(TypedDict):
    """Whether a sight was there, and how much it counts that it was not noted."""

    seen: bool
    weight: float


class View(TypedDict):
    """One way to look at a test: a way of regulating with its weight, and the middles it is held against."""

    regime: str
    weight: float
    middles: dict[str, Middle]


class TestEvidence(TypedDict):
    """Everything in one test that speaks for or against a cause."""

    views: list[View]
    measured: dict[str, Figure]
    looks: dict[str, Look]


class Settings(TypedDict):
    """What the middles move with: distances from the book's own settings, codes, and how much wider they get."""

    load: float
    load_u: float
    ambient: float
    rpm: float
    rpm_u: float
    codes: dict[str, str | None]
    widen: float


class Way(TypedDict):
    """How well a cause explains the evidence by one pattern in one view."""

    view: View
    pattern: list[float]
    score: float


class Explanation(TypedDict):
    """How well a cause explains the evidence at its best, and by every way."""

    score: float
    view: View
    pattern: list[float]
    ways: list[Way]


@dataclass(frozen=True)
class Facts:
    """What is known of a test when its causes are asked for."""

    inputs: Inputs
    judged: JudgedTest
    rest: RestJudgement | None
