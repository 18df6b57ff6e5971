"""The technician's drawings: places to scale, legible without colour, labels that cover nothing.

Places are checked against the axes' own rule; people look at the result.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from math import log10
from typing import Any

import pytest

from reports import chart

SVG = "{http://www.w3.org/2000/svg}"

CIRCUIT: dict[str, Any] = {
    "kind": "circuit", "axis": "pressure, bar absolute", "across": "enthalpy, kJ/kg", "decimal": ".",
    "alt": "R-134a: before between 3 and 20 bar; after between 3 and 12 bar.",
    "dome": [[200.0, 2.0], [300.0, 30.0], [390.0, 40.0], [420.0, 30.0], [395.0, 2.0]],
    "cycles": [
        {"label": "before", "dashed": False, "points": [[400.0, 3.0], [435.0, 20.0], [290.0, 20.0], [290.0, 3.0]]},
        {"label": "after", "dashed": True, "points": [[400.0, 3.0], [425.0, 12.0], [260.0, 12.0], [260.0, 3.0]]},
    ],
}


def visits(*places: tuple[float, float], mark: str = "earlier") -> dict[str, Any]:
    """Marks at these places, each with a date's width of label."""
    points = [{"x": x, "y": y, "low": y - 2, "high": y + 2, "label": "12 Sep 2025", "mark": mark} for x, y in places]
    return {"kind": "visits", "axis": "condensing over ambient, K", "across": "air at the condenser, °C",
            "decimal": ".", "alt": "three visits", "points": points}


def drawn(plot: dict[str, Any]) -> ET.Element:
    """The parsed picture."""
    return ET.fromstring(chart.draw(plot))


def paths(picture: ET.Element) -> list[ET.Element]:
    """The paths in one stroke."""
    return [path for path in picture.iter(f"{SVG}path") if path.get("d", "").count("M") == 1]


def courses(picture: ET.Element) -> list[list[tuple[float, float]]]:
    """The places along each path, except the grid's, which has several lines."""
    found = []
    for path in paths(picture):
        numbers = [float(text) for text in re.findall(r"-?\d+\.\d+", path.get("d", ""))]
        found.append(list(zip(numbers[::2], numbers[1::2], strict=True)))
    return found


@pytest.mark.parametrize("plot", [CIRCUIT, visits((20, 15), (25, 18))], ids=["circuit", "visits"])
def test_the_title_is_the_finding(plot: dict[str, Any]) -> None:
    """What a person who can't see it hears."""
    assert drawn(plot).find(f"{SVG}title").text == plot["alt"]  # type: ignore[union-attr]


def test_pressure_is_drawn_by_its_logarithm() -> None:
    """3 to 12 bar is as high as log 4, 3 to 20 bar as log 6.67; both cycles share the lower line."""
    _, before, after = courses(drawn(CIRCUIT))
    low, high, later = before[0][1], before[1][1], after[1][1]
    assert (low - later) / (low - high) == pytest.approx(log10(4.0) / log10(20.0 / 3.0), abs=0.002)
    assert after[0][1] == low


def test_a_cycle_is_closed() -> None:
    """Four corners and back to the first."""
    _, before, _ = courses(drawn(CIRCUIT))
    assert len(before) == 5
    assert before[0] == before[-1]


def test_cycles_differ_without_colour() -> None:
    """The later one is dashed, and each has its name."""
    picture = drawn(CIRCUIT)
    dashes = [path.get("stroke-dasharray") for path in paths(picture)]
    assert dashes[1] is None
    assert dashes[2] is not None
    assert {"before", "after"} <= {text.text for text in picture.iter(f"{SVG}text")}


@pytest.mark.parametrize("places", [
    [(20.0, 15.0), (20.5, 15.2), (21.0, 15.4)], [(20.0, 15.0)] * 3, [(0.0, 0.0), (40.0, 30.0)], [(30.0, 25.0)],
])
def test_no_label_leaves_the_picture_or_covers_another(places: list[tuple[float, float]]) -> None:
    """Even if visits fell on similar days; the width of a letter is a guess on the wide side."""
    picture = drawn(visits(*places))
    width, height = float(picture.get("width", "")), float(picture.get("height", ""))
    boxes = []
    for text in picture.iter(f"{SVG}text"):
        if text.text != "12 Sep 2025":
            continue
        long = 4.7 * len(text.text)
        left = float(text.get("x", "")) - (long if text.get("text-anchor") == "end" else 0)
        boxes.append((left, float(text.get("y", "")) - 7, left + long, float(text.get("y", ""))))
    assert len(boxes) == len(places)
    assert all(box[0] >= 0 and box[2] <= width and box[1] >= 0 and box[3] <= height for box in boxes)
    for number, one in enumerate(boxes):
        for other in boxes[number + 1:]:
            assert one[0] >= other[2] or other[0] >= one[2] or one[1] >= other[3] or other[1] >= one[3]


def test_earlier_visits_are_squares_and_todays_circles() -> None:
    """Distinct in black and white: hollow squares before today, a hollow circle before the work, a full one after."""
    plot = visits((20, 15), (25, 18), (27, 16))
    plot["points"][1]["mark"], plot["points"][2]["mark"] = "before", "after"
    picture = drawn(plot)
    assert len(list(picture.iter(f"{SVG}rect"))) == 1
    fills = [mark.get("fill") for mark in picture.iter(f"{SVG}circle")]
    assert fills[1] != fills[0] == "#FFFFFF"
