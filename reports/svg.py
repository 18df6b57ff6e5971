"""The elements of all drawings of the sheet: lines, short texts, intervals, round places on an axis.

No drawing is composed here, and nothing here knows what a line means.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from math import ceil, floor, log10

from reports import fonts

Place = tuple[float, float]
Line = tuple[Place, Place]

INK, SECOND, FAINT = "#15181C", "#565C64", "#E1DED8"
SIDES = {"high": "#A3211B", "low": "#1B4FA8", "": INK}
SIZE = 9.5  # of all texts
ANCHORS = {"start": 0.0, "middle": 0.5, "end": 1.0}
WIDTH = 270.0
LEFT, RIGHT = 12.0, 258.0


def ticks(low: float, high: float, wanted: int = 4) -> list[float]:
    """Round places on an axis: multiples of 1, 2 or 5 times a power of ten that cover the span.

    Args:
        low: the smallest value to show [axis unit]
        high: the largest value to show, above `low` [axis unit]
        wanted: about how many steps [count]

    Returns:
        the places, first at or below `low`, last at or above `high` [axis unit]
    """
    rough = (high - low) / wanted
    power = 10.0 ** floor(log10(rough))
    step = next(power * times for times in (1.0, 2.0, 5.0, 10.0) if power * times >= rough * 0.999)
    first, last = floor(low / step + 1e-9), ceil(high / step - 1e-9)
    return [place * step for place in range(first, last + 1)]


def numeral(value: float, places: Sequence[float], point: str) -> str:
    """A tick's number, with as many decimals as the step between ticks needs."""
    step = abs(places[1] - places[0]) if len(places) > 1 else 1.0
    decimals = max(0, -floor(log10(step) + 1e-9))
    return f"{abs(value):.{decimals}f}".replace(".", point) if value >= 0 else (
        "−" + f"{abs(value):.{decimals}f}".replace(".", point))


def straight(start: Place, end: Place, ink: str, more: str = "") -> str:
    """A straight thin line."""
    return (f'<line x1="{start[0]:.2f}" y1="{start[1]:.2f}" x2="{end[0]:.2f}" y2="{end[1]:.2f}"'
            f' stroke="{ink}" stroke-width="1.1" {more}/>')


def joined(pairs: Sequence[Line], ink: str) -> str:
    """Several straight thin lines as one shape: every shape costs the printer extra."""
    course = "".join(f"M{a[0]:.2f} {a[1]:.2f}L{b[0]:.2f} {b[1]:.2f}" for a, b in pairs)
    return f'<path d="{course}" stroke="{ink}" stroke-width="1.1" fill="none"/>'


def written(x: float, y: float, text: str, anchor: str = "start", ink: str = INK) -> str:
    """A short text; `anchor` says which of its ends is at x.

    Its left end is calculated here: the printer makes a separate picture of each text with another anchor.
    """
    left = x - fonts.width(text) * SIZE * ANCHORS[anchor]
    return f'<text x="{left:.1f}" y="{y:.1f}" fill="{ink}">{escape(text)}</text>'


def framed(height: float, alt: str, parts: Sequence[str], width: float = WIDTH) -> str:
    """The whole picture, with a title for those who can't see it."""
    return (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" width="{width:g}"'
            f' height="{height:g}" font-family="Sheet Sans" font-size="{SIZE}"><title>{escape(alt)}</title>'
            f'{"".join(parts)}</svg>')


def reach(x1: float, x2: float, y: float, ink: str) -> str:
    """An interval: a line with a small bar at each end."""
    return joined([((x1, y), (x2, y)), *(((x, y - 4), (x, y + 4)) for x in (x1, x2))], ink)
