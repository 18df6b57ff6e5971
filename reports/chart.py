"""The drawings of the sheet: plain numbers and labels in, one SVG picture out.

It knows neither readings nor rules; every label arrives as text, and only tick marks are chosen here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape

from reports import diagrams, yardstick
from reports.plot_data import Bar, ChangePlot, Course, Plot, TracePlot
from reports.svg import (
    FAINT,
    INK,
    LEFT,
    RIGHT,
    SECOND,
    SIDES,
    Place,
    framed,
    joined,
    numeral,
    reach,
    straight,
    ticks,
    written,
)

BAR = 30.0  # from one bar of a change to the next


def draw(plot: Plot) -> str:
    """The picture of one plot.

    Args:
        plot: where a quantity lies against its yardsticks, the parts of a change around zero, lines over time, pressure
            over enthalpy, or one value over another, visit by visit [Plot]

    Returns:
        an `svg` element whose title is the finding [SVG]

    Raises:
        KeyError: an unknown kind or a missing part of the plot.
    """
    if plot["kind"] == "yardstick":
        return yardstick.draw(plot)
    if plot["kind"] == "change":
        return _change(plot)
    if plot["kind"] == "trace":
        return _trace(plot)
    if plot["kind"] == "circuit":
        return diagrams.circuit(plot)
    if plot["kind"] == "visits":
        return diagrams.visits(plot)
    raise KeyError(plot["kind"])


def _axis(y: float, places: Sequence[float], place: Callable[[float], float], plot: ChangePlot) -> list[str]:
    """The thin axis with its numbers; the unit is printed with the last one."""
    marks = [((place(value), y), (place(value), y + 3)) for value in places]
    parts = [joined([((LEFT, y), (RIGHT, y)), *marks], INK)]
    for value in places:
        x = place(value)
        last = value == places[-1]
        text = numeral(value, places, plot.get("decimal", "."))
        if last:
            parts.append(written(RIGHT, y + 14, f"{text}\u00a0{plot['unit']}", "end", SECOND))
        else:
            parts.append(written(x, y + 14, text, "start" if value == places[0] else "middle", SECOND))
    return parts


def _scale(places: Sequence[float]) -> Callable[[float], float]:
    low, high = places[0], places[-1]
    return lambda value: LEFT + (value - low) / (high - low) * (RIGHT - LEFT)


def _bar(bar: Bar, y: float, place: Callable[[float], float], ink: str) -> list[str]:
    """One part of a change as a bar from zero, filled for the work and outlined for the rest; its interval below."""
    zero, x = place(0.0), place(bar["value"])
    look = f'fill="{ink}"' if bar["strong"] else f'fill="#FFFFFF" stroke="{ink}"'
    parts = [written(LEFT, y - 5.5, bar["label"])]
    parts.append(f'<rect x="{min(zero, x):.2f}" y="{y:.2f}" width="{max(abs(x - zero), 0.6):.2f}" height="8" {look}/>')
    if bar["low"] is not None and bar["high"] is not None:
        parts.append(reach(place(bar["low"]), place(bar["high"]), y + 14, INK))
    return parts


def _change(plot: ChangePlot) -> str:
    """The parts of a change around one zero: the weather's outlined, the work's filled, with its interval."""
    bars, ink = plot["bars"], SIDES[plot["side"]]
    edges = [0.0, *(edge for bar in bars for edge in (bar["value"], bar["low"], bar["high"]) if edge is not None)]
    low, high = min(edges), max(edges)
    margin = (high - low or 1.0) * 0.04
    places = ticks(low - (margin if low < 0 else 0.0), high + (margin if high > 0 else 0.0))
    place = _scale(places)
    bottom = 22.0 + BAR * len(bars)
    parts: list[str] = []
    for number, bar in enumerate(bars):
        # The line of no change stops at each bar's words, which may lie across it.
        top = 14.0 + BAR * number
        parts.append(straight((place(0.0), top), (place(0.0), top + 12), SECOND))
        parts += _bar(bar, top + 2.0, place, ink)
    parts += _axis(bottom, places, place, plot)
    return framed(bottom + 18, plot["alt"], parts)


def _trace(plot: TracePlot) -> str:
    """Lines over time, the earlier one dashed, each named at its end."""
    lines, bottom, top = plot["lines"], 104.0, 12.0
    across = ticks(0.0, max(point[0] for line in lines for point in line["points"]) or 1.0)
    heights = [point[1] for line in lines for point in line["points"]]
    low, high = min(heights), max(heights)
    up = ticks(low, high if high > low else low + 1.0, 3)
    left, right = LEFT + 16, RIGHT - 30

    def place(point: Sequence[float]) -> Place:
        x = left + (point[0] - across[0]) / (across[-1] - across[0]) * (right - left)
        return x, bottom - (point[1] - up[0]) / (up[-1] - up[0]) * (bottom - top)

    parts = [straight((left, bottom), (right, bottom), INK),
             joined([((left, y), (right, y)) for y in (place((0.0, value))[1] for value in up)], FAINT)]
    for value in up:
        y = place((0.0, value))[1] + 3.2
        parts.append(written(left - 4, y, numeral(value, up, plot["decimal"]), "end", SECOND))
    for value in across:
        text = numeral(value, across, plot["decimal"])
        shown = f"{text}\u00a0{plot['across']}" if value == across[-1] else text
        parts.append(written(place((value, up[0]))[0], bottom + 13, shown, "middle", SECOND))
    courses = [[place(point) for point in line["points"]] for line in lines]
    parts += [_course(course, line) for course, line in zip(courses, lines, strict=True)]
    parts += _names(courses, lines, bottom - 2)
    parts.append(written(LEFT, bottom + 28, f"{plot['axis']}, {plot['unit']}", "start", SECOND))
    return framed(bottom + 34, plot["alt"], parts)


def _course(places: Sequence[Place], line: Course) -> str:
    dash = 'stroke-dasharray="4 2.5"' if line["dashed"] else ""
    course = " L".join(f"{x:.2f} {y:.2f}" for x, y in places)
    return f'<path d="M{course}" fill="none" stroke="{INK}" stroke-width="1.3" {dash}/>'


def _names(courses: Sequence[Sequence[Place]], lines: Sequence[Course], lowest: float) -> list[str]:
    """The lines' names to the right of the last end, each at the height of its line; close ones are stacked."""
    x = max(course[-1][0] for course in courses) + 5
    parts, limit = [], lowest
    for course, line in sorted(zip(courses, lines, strict=True), key=lambda one: (one[0][-1][1], one[1]["dashed"]),
                               reverse=True):
        y = min(course[-1][1] + 3.2, limit)
        parts.append(written(x, y, line["label"]))
        limit = y - 9.5
    return parts


def signature(strokes: Sequence[Sequence[Sequence[float]]], alt: str) -> str:
    """A signature as drawn with the finger.

    Args:
        strokes: each stroke as a row of [x, y] places, y downward [phone pixels]
        alt: whose signature it is [words]

    Returns:
        an `svg` element at most 60 mm wide and 18 mm high [SVG]
    """
    xs = [float(place[0]) for stroke in strokes for place in stroke]
    ys = [float(place[1]) for stroke in strokes for place in stroke]
    left, top = min(xs), min(ys)
    scale = min(220.0 / (max(xs) - left or 1.0), 62.0 / (max(ys) - top or 1.0))
    paths = []
    for stroke in strokes:
        places = [f"{(place[0] - left) * scale + 2:.1f} {(place[1] - top) * scale + 2:.1f}" for place in stroke]
        # A dot is one place: a line to itself, drawn by its round end.
        paths.append("M" + " L".join(places if len(places) > 1 else places * 2))
    width, height = (max(xs) - left) * scale + 4, (max(ys) - top) * scale + 4
    return (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.1f} {height:.1f}" width="{width:.1f}"'
            f' height="{height:.1f}"><title>{escape(alt)}</title><path d="{" ".join(paths)}" fill="none"'
            f' stroke="{INK}" stroke-width="1.4" stroke-linecap="round" stroke-linejoin="round"/></svg>')
