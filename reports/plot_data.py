"""What is drawn, as types: plain numbers in the reader's units, and every label as it is printed.

Nothing here draws. `alt` is the finding in words, `decimal` the mark of tick labels.
"""

from __future__ import annotations

from typing import Literal, TypedDict


class Mark(TypedDict):
    """A value with its interval, and its words; `hollow` is the later one."""

    label: str
    value: float
    low: float
    high: float
    hollow: bool


class PlotBand(TypedDict):
    """What a healthy car would show."""

    low: float
    high: float
    label: str


class PositionsPlot(TypedDict):
    """Where values lie on one axis."""

    kind: Literal["positions"]
    axis: str
    unit: str
    side: str
    points: list[Mark]
    band: PlotBand | None
    alt: str
    decimal: str


class Bar(TypedDict):
    """A part of a change, with its interval where it has one."""

    label: str
    value: float
    strong: bool
    low: float | None
    high: float | None


class ChangePlot(TypedDict):
    """The parts of a change about zero."""

    kind: Literal["change"]
    axis: str
    unit: str
    side: str
    bars: list[Bar]
    alt: str
    decimal: str


class Course(TypedDict):
    """A line through [x, y] places; the later one is dashed."""

    label: str
    points: list[list[float]]
    dashed: bool


class TracePlot(TypedDict):
    """A reading over time."""

    kind: Literal["trace"]
    axis: str
    unit: str
    across: str
    lines: list[Course]
    alt: str
    decimal: str


class CircuitPlot(TypedDict):
    """Cycles over pressure and enthalpy, and the dome of saturation as [enthalpy, pressure] places."""

    kind: Literal["circuit"]
    axis: str
    across: str
    dome: list[list[float]]
    cycles: list[Course]
    alt: str
    decimal: str


class VisitMark(TypedDict):
    """A test by two of its values; `mark` is earlier, before, after, during or single."""

    x: float
    y: float
    low: float
    high: float
    label: str
    mark: str


class VisitsPlot(TypedDict):
    """A value over another, visit by visit."""

    kind: Literal["visits"]
    axis: str
    across: str
    points: list[VisitMark]
    alt: str
    decimal: str


ReadingsPlot = PositionsPlot | ChangePlot | TracePlot
TechnicianPlot = CircuitPlot | VisitsPlot
Plot = ReadingsPlot | TechnicianPlot
