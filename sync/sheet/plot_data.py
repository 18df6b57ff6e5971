"""The drawings of a sheet as types: plain numbers in the reader's units, and every label as it is printed.

Nothing here chooses what is drawn or draws it. `alt` is the finding in words, `decimal` the decimal mark of tick
labels.
"""

from __future__ import annotations

from typing import Literal, TypedDict


class Pin(TypedDict):
    """A reading; the earlier of two is a ring."""

    value: float
    ring: bool


class Ends(TypedDict):
    """A yardstick from low to high, with both ends as text."""

    low: float
    high: float
    labels: list[str]


class YardstickPlot(TypedDict):
    """Where readings lie against healthy cars, the maker's chart and an earlier test of the car, from low to high.

    An unknown yardstick is None; `sentence` is printed below, `dashed` says that the range is a wider one.
    """

    kind: Literal["yardstick"]
    axis: str
    figures: str
    side: str
    low: float
    high: float
    fleet: Ends | None
    chart: Ends | None
    own: float | None
    pins: list[Pin]
    dashed: bool
    sentence: str
    alt: str


class Bar(TypedDict):
    """A part of a change, with its interval if it has one."""

    label: str
    value: float
    strong: bool
    low: float | None
    high: float | None


class ChangePlot(TypedDict):
    """The parts of a change around zero."""

    kind: Literal["change"]
    unit: str
    side: str
    bars: list[Bar]
    alt: str
    decimal: str


class Course(TypedDict):
    """A line through [x, y] places; the earlier one is dashed."""

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
    """One value over another, visit by visit."""

    kind: Literal["visits"]
    axis: str
    across: str
    points: list[VisitMark]
    alt: str
    decimal: str


ReadingsPlot = YardstickPlot | ChangePlot | TracePlot
TechnicianPlot = CircuitPlot | VisitsPlot
