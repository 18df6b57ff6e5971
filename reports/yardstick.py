"""The yardstick strip and the marks of the evidence grid: plain numbers and labels in, one SVG picture out.

It knows neither readings nor rules; position and shape tell things apart, so it works in black and white.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape

from reports.plot_data import Ends, Pin, YardstickPlot
from reports.sheet_data import EvidenceMark
from reports.svg import INK, LEFT, RIGHT, SECOND, SIDES, framed, straight, written

PAPER, HATCH = "#FFFFFF", "#9A9EA3"
AXIS = 31.0
BAND, TICK, HEAD = 7.0, 9.0, 14.0  # half the band, half an end tick, how far a pin's head is above the axis
STEP = 86.0  # from one mark of the legend to the next
ROOM = 16.0  # two pins closer than this have no arrow between them
MARKS = {
    "fits": f'<rect x="1" y="1" width="6" height="6" fill="{INK}"/>',
    "against": f'<path d="M1 1L7 7M7 1L1 7" stroke="{INK}" stroke-width="1.6"/>',
    "silent": f'<circle cx="4" cy="4" r="1.2" fill="{INK}"/>',
}

Place = Callable[[float], float]


def draw(plot: YardstickPlot) -> str:
    """The strip of one quantity.

    Args:
        plot: its scale, its yardsticks and its readings [YardstickPlot]

    Returns:
        an `svg` element whose title is the finding [SVG]
    """
    low, high, ink = plot["low"], plot["high"], SIDES[plot["side"]]

    def place(value: float) -> float:
        return LEFT + (min(max(value, low), high) - low) / (high - low) * (RIGHT - LEFT)

    parts = [written(LEFT, 9.0, plot["axis"], "start", ink), written(RIGHT, 9.0, plot["figures"], "end")]
    parts.append(straight((LEFT, AXIS), (RIGHT, AXIS), SECOND))
    if plot["fleet"]:
        parts += _fleet(plot["fleet"], place, plot)
    if plot["chart"]:
        left, right = place(plot["chart"]["low"]), place(plot["chart"]["high"])
        parts.append(f'<rect x="{left:.2f}" y="{AXIS - 4:.2f}" width="{right - left:.2f}" height="8" fill="{PAPER}"'
                     f' stroke="{INK}" stroke-width="1.6"/>')
    if plot["own"] is not None:
        parts.append(f'<path d="M{place(plot["own"]):.2f} {AXIS}v9l-5 5 5 5 5 -5 -5 -5" fill="{PAPER}" stroke="{INK}"'
                     ' stroke-width="1.4"/>')
    parts += [_pin(pin, place, ink, plot) for pin in plot["pins"]]
    if len(plot["pins"]) > 1:
        parts.append(_arrow(place(plot["pins"][0]["value"]), place(plot["pins"][-1]["value"]), ink))
    return framed(AXIS + 23.0, plot["alt"], parts)


def _fleet(ends: Ends, place: Place, plot: YardstickPlot) -> list[str]:
    """The band, hatched so that a copy keeps it distinct from the paper; no tick where it runs beyond the scale."""
    left, right = place(ends["low"]), place(ends["high"])
    parts, hatch, x = [], "", left - 2 * BAND
    while x < right:
        a, b = max(x, left), min(x + 2 * BAND, right)
        if b > a:
            hatch += f"M{a:.2f} {AXIS + BAND - (a - x):.2f}L{b:.2f} {AXIS + BAND - (b - x):.2f}"
        x += 4.0
    parts.append(f'<path d="{hatch}" stroke="{HATCH}" stroke-width="0.6" fill="none"/>')
    dash = 'stroke-dasharray="2 2"' if plot["dashed"] else ""
    for value, text in zip((ends["low"], ends["high"]), ends["labels"], strict=True):
        x = place(value)
        if plot["low"] < value < plot["high"]:
            parts.append(straight((x, AXIS - TICK), (x, AXIS + TICK), SECOND, dash))
        parts.append(written(x, AXIS + 20.0, text, "middle", SECOND))
    return parts


def _pin(pin: Pin, place: Place, ink: str, plot: YardstickPlot) -> str:
    """A reading from above: a ring for the earlier one, otherwise a dot; a wedge if it lies beyond the scale."""
    x, top = place(pin["value"]), AXIS - HEAD
    side = 1 if pin["value"] > plot["high"] else -1 if pin["value"] < plot["low"] else 0
    wedge = (f'<path d="M{x + side * 6:.2f} {AXIS - 4}l{side * 4} 4l{-side * 4} 4" fill="none" stroke="{ink}"'
             ' stroke-width="1.8"/>') if side else ""
    head = f'fill="{PAPER}" stroke="{ink}" stroke-width="2"' if pin["ring"] else f'fill="{ink}"'
    stem = f"M{x:.2f} {top + 4}V{AXIS + BAND}"
    return (f'<path d="{stem}" stroke="{PAPER}" stroke-width="6"/><path d="{stem}" stroke="{ink}" stroke-width="3"/>'
            f'{wedge}<circle cx="{x:.2f}" cy="{top}" r="{4 if pin["ring"] else 5}" {head}/>')


def _arrow(start: float, end: float, ink: str) -> str:
    """From the earlier reading to the later one, between their heads."""
    if abs(end - start) < ROOM:
        return ""
    way, y = (1 if end > start else -1), AXIS - HEAD
    tip = end - way * 7
    return (f'<path d="M{start + way * 6:.2f} {y}H{tip:.2f}m{-way * 4} -3.5l{way * 4} 3.5l{-way * 4} 3.5" fill="none"'
            f' stroke="{ink}" stroke-width="1.3"/>')


def legend(marks: Sequence[EvidenceMark]) -> str:
    """The marks in a row, each with its meaning.

    Args:
        marks: those of the grid [list]

    Returns:
        an `svg` element [SVG]
    """
    parts = [f'<g transform="translate({place * STEP:g} 2)">{MARKS[one["kind"]]}</g>'
             + written(place * STEP + 12, 9.0, one["text"], "start", SECOND) for place, one in enumerate(marks)]
    return framed(12.0, ", ".join(one["text"] for one in marks), parts)


def mark(kind: str, text: str) -> str:
    """What something says about a cause: a square fits, a cross speaks against, a dot says nothing.

    Args:
        kind: fits, against or silent [code]
        text: the same in words [text]

    Returns:
        an `svg` element whose title is the text [SVG]

    Raises:
        KeyError: an unknown kind.
    """
    return (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 8 8" width="8" height="8">'
            f"<title>{escape(text)}</title>{MARKS[kind]}</svg>")
