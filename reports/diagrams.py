"""The technician's drawings: the circuit over pressure and enthalpy, and a vehicle's visits side by side.

They know neither refrigerant nor readings; every place is a number and every label arrives as text.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import log10

from reports.plot_data import CircuitPlot, Course, VisitMark, VisitsPlot
from reports.svg import FAINT, INK, SECOND, Line, Place, framed, joined, numeral, ticks, written

WIDE = 270.0
LEFT, RIGHT, TOP, BOTTOM = 30.0, 262.0, 16.0, 132.0
SIGN = 4.7  # the approximate width of a letter of the labels
MARKS = {"earlier": (SECOND, "#FFFFFF"), "before": (INK, "#FFFFFF"), "during": (INK, INK), "after": (INK, INK),
         "single": (INK, INK)}

Placing = Callable[[Sequence[float]], Place]
Box = tuple[float, float, float, float]


def circuit(plot: CircuitPlot) -> str:
    """Cycles over pressure (logarithmic) and enthalpy, with the dome of saturation behind them.

    Args:
        plot: the dome from liquid over the critical point to vapour, and the cycles in front of it [CircuitPlot]

    Returns:
        an `svg` element whose title is the finding [SVG]
    """
    everything = [*plot["dome"], *(place for cycle in plot["cycles"] for place in cycle["points"])]
    steps = ticks(min(place[0] for place in everything), max(place[0] for place in everything))
    heights = _decades(min(place[1] for place in everything), max(place[1] for place in everything))

    def place(at: Sequence[float]) -> Place:
        share = (log10(at[1]) - log10(heights[0])) / (log10(heights[-1]) - log10(heights[0]))
        return LEFT + (at[0] - steps[0]) / (steps[-1] - steps[0]) * (RIGHT - LEFT), BOTTOM - share * (BOTTOM - TOP)

    parts = _grid(steps, heights, place, plot)
    parts.append(_path([place(at) for at in plot["dome"]], SECOND, 'stroke-width="0.9"'))
    highest = max(cycle["points"][1][1] for cycle in plot["cycles"])
    for cycle in plot["cycles"]:
        parts += _cycle(cycle, place, cycle["points"][1][1] == highest)
    return framed(BOTTOM + 36, plot["alt"], parts, WIDE)


def visits(plot: VisitsPlot) -> str:
    """One value over another, one mark per test, each with its date; earlier visits in the second ink.

    Args:
        plot: the tests, and the axes [VisitsPlot]

    Returns:
        an `svg` element whose title is the finding [SVG]
    """
    points = plot["points"]
    steps = _room([point["x"] for point in points])
    heights = _room([edge for point in points for edge in (point["low"], point["high"])])

    def place(at: Sequence[float]) -> Place:
        up = (at[1] - heights[0]) / (heights[-1] - heights[0])
        return LEFT + (at[0] - steps[0]) / (steps[-1] - steps[0]) * (RIGHT - LEFT), BOTTOM - up * (BOTTOM - TOP)

    parts, covered = _grid(steps, heights, place, plot), list[Box]()
    for point in points:
        x, y = place((point["x"], point["y"]))
        high, low = place((point["x"], point["high"]))[1], place((point["x"], point["low"]))[1]
        covered += [(x - 5, y - 5, x + 5, y + 5), (x - 4, high, x + 4, low)]
    for point in points:
        parts += _visit(point, place, covered)
    return framed(BOTTOM + 36, plot["alt"], parts, WIDE)


def _decades(low: float, high: float) -> list[float]:
    """Places 1, 2, 5, 10, ... that cover a span on a logarithmic axis."""
    places = [times * 10.0 ** power for power in range(-4, 7) for times in (1.0, 2.0, 5.0)]
    first = max(place for place in places if place <= low)
    last = min(place for place in places if place >= high)
    return [place for place in places if first <= place <= last]


def _room(values: Sequence[float]) -> list[float]:
    """Places on a straight axis with room around the values, even if they are all equal."""
    low, high = min(values), max(values)
    margin = (high - low) * 0.12 or abs(high) * 0.1 or 1.0
    return ticks(low - margin, high + margin)


def _grid(steps: Sequence[float], heights: Sequence[float], place: Placing,
          plot: CircuitPlot | VisitsPlot) -> list[str]:
    texts, across, axis = list[str](), list[Line](), [((LEFT, BOTTOM), (RIGHT, BOTTOM))]
    for value in heights:
        y = place((steps[0], value))[1]
        text = f"{value:g}".replace(".", plot["decimal"]) if plot["kind"] == "circuit" else (
            numeral(value, heights, plot["decimal"]))
        across.append(((LEFT, y), (RIGHT, y)))
        texts.append(written(LEFT - 4, y + 3.2, text, "end", SECOND))
    for value in steps:
        x = place((value, heights[0]))[0]
        axis.append(((x, BOTTOM), (x, BOTTOM + 3)))
        texts.append(written(x, BOTTOM + 14, numeral(value, steps, plot["decimal"]), "middle", SECOND))
    parts = [joined(across, FAINT), joined(axis, INK), *texts]
    return [*parts, written(LEFT - 26, 8, plot["axis"], "start", SECOND),
            written(RIGHT, BOTTOM + 28, plot["across"], "end", SECOND)]


def _path(places: Sequence[Place], ink: str, more: str) -> str:
    course = " L".join(f"{x:.2f} {y:.2f}" for x, y in places)
    return f'<path d="M{course}" fill="none" stroke="{ink}" {more}/>'


def _cycle(cycle: Course, place: Placing, above: bool) -> list[str]:
    """One cycle's four corners joined; its name is on its condensing line, above the higher one and below the other."""
    places = [place(at) for at in cycle["points"]]
    dash = 'stroke-width="1.5" stroke-dasharray="4.5 2.5"' if cycle["dashed"] else 'stroke-width="1.5"'
    x = (places[1][0] + places[2][0]) / 2
    return [_path([*places, places[0]], INK, dash),
            written(x, places[1][1] + (-4 if above else 11), cycle["label"], "middle")]


def _visit(point: VisitMark, place: Placing, covered: list[Box]) -> list[str]:
    ink, fill = MARKS[point["mark"]]
    x, y = place((point["x"], point["y"]))
    low, high = place((point["x"], point["low"]))[1], place((point["x"], point["high"]))[1]
    parts = [_upright(x, low, high, ink)] if low - high > 1 else []
    shape = f'fill="{fill}" stroke="{ink}" stroke-width="1.5"'
    parts.append(f'<rect x="{x - 3.4:.2f}" y="{y - 3.4:.2f}" width="6.8" height="6.8" {shape}/>'
                 if point["mark"] == "earlier" else f'<circle cx="{x:.2f}" cy="{y:.2f}" r="4" {shape}/>')
    where, anchor = _free(x, y, len(point["label"]) * SIGN, covered)
    return [*parts, written(where[0], where[1], point["label"], anchor, ink)]


def _upright(x: float, low: float, high: float, ink: str) -> str:
    """An interval along the vertical axis."""
    return joined([((x, low), (x, high)), *(((x - 3.5, y), (x + 3.5, y)) for y in (low, high))], ink)


def _free(x: float, y: float, width: float, covered: list[Box]) -> tuple[Place, str]:
    """A place where a label covers no other and stays in the picture; from then on the place counts as covered."""
    offered = [((x + 8, y + shift), "start", x + 8) for shift in (3.2, -7, 13, -18, 24)]
    offered += [((x - 8, y + shift), "end", x - 8 - width) for shift in (3.2, -7, 13, -18, 24)]
    for where, anchor, left in offered:
        box = (left, where[1] - 8, left + width, where[1] + 2)
        inside = left >= LEFT and left + width <= WIDE - 2 and box[1] >= TOP - 6 and box[3] <= BOTTOM
        if inside and not any(_overlap(box, other) for other in covered):
            covered.append(box)
            return where, anchor
    return offered[0][0], "start"


def _overlap(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
