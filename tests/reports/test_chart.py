"""The drawings: valid SVG that states its finding, places to scale, legible without colour.

Axis steps are checked against their own rule; people look at the pixels.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from typing import Any

import pytest

from reports import chart

SVG = "{http://www.w3.org/2000/svg}"


CHANGE = {
    "kind": "change", "axis": "change of the high side", "unit": "psi", "side": "high", "decimal": ".",
    "alt": "work −55 psi",
    "bars": [{"label": "as measured −47", "value": -47.0, "strong": False, "low": None, "high": None},
             {"label": "the weather +8", "value": 8.0, "strong": False, "low": None, "high": None},
             {"label": "the work −55", "value": -55.0, "strong": True, "low": -69.0, "high": -41.0}],
}


def drawn(plot: dict[str, Any]) -> ET.Element:
    """The parsed picture."""
    return ET.fromstring(chart.draw(plot))


def test_the_title_of_a_picture_is_its_finding() -> None:
    """What a person who can't see it hears."""
    assert drawn(CHANGE).find(f"{SVG}title").text == CHANGE["alt"]  # type: ignore[union-attr]


def test_a_change_has_its_bars_from_zero_and_its_interval() -> None:
    """A rise to the right of zero, a fall to the left, to scale."""
    picture = drawn(CHANGE)
    raw, weather, work = list(picture.iter(f"{SVG}rect"))
    right_of = [float(bar.get("x", "")) + float(bar.get("width", "")) for bar in (raw, work)]
    assert right_of[0] == pytest.approx(right_of[1], abs=0.02)
    assert float(weather.get("x", "")) == pytest.approx(right_of[0], abs=0.02)
    assert float(raw.get("width", "")) / float(work.get("width", "")) == pytest.approx(47 / 55, abs=0.01)


@pytest.mark.parametrize(("low", "high", "places"), [
    (0.0, 32.0, [0, 10, 20, 30, 40]),
    (-69.0, 8.0, [-80, -60, -40, -20, 0, 20]),
    (0.0, 1.0, [0.0, 0.5, 1.0]),
    (19.5, 20.5, [19.5, 20.0, 20.5]),
])
def test_axis_steps_are_round_and_cover(low: float, high: float, places: list[float]) -> None:
    """Steps of 1, 2 or 5 times a power of ten, the first at or below, the last at or above."""
    assert chart.ticks(low, high) == pytest.approx(places)


TRACE = {
    "kind": "trace", "axis": "vent", "unit": "°C", "across": "min", "alt": "the vent fell", "decimal": ".",
    "lines": [{"label": "before", "points": [[0.0, 20.0], [5.0, 6.0], [10.0, 5.0]], "dashed": True},
              {"label": "after", "points": [[0.0, 20.0], [5.0, 5.5], [10.0, 5.0]], "dashed": False}],
}


def test_lines_over_time_differ_by_stroke_and_name() -> None:
    """One solid, one dashed, each named; a flat trace is drawn too."""
    picture = drawn(TRACE)
    courses = [path for path in picture.iter(f"{SVG}path") if path.get("d", "").count("M") == 1]
    assert [course.get("stroke-dasharray") for course in courses] == ["4 2.5", None]
    texts = [text.text for text in picture.iter(f"{SVG}text")]
    assert {"before", "after"} <= set(texts)
    flat = {**TRACE, "lines": [{"label": "x", "points": [[0.0, 5.0], [1.0, 5.0], [2.0, 5.0]], "dashed": False}]}
    assert drawn(flat).find(f"{SVG}title") is not None


def test_labels_are_text_and_never_markup() -> None:
    """A hostile label stays a label."""
    picture = drawn({**CHANGE, "axis": "<image href='file:///etc/passwd'/>", "alt": "</title><script>"})
    assert not list(picture.iter(f"{SVG}image"))
    assert not list(picture.iter(f"{SVG}script"))


def test_a_signature_is_drawn_stroke_by_stroke() -> None:
    """Each stroke is a line of its own, and so is a dot; the title says whose it is."""
    picture = ET.fromstring(chart.signature([[[0.0, 0.0], [10.0, 5.0]], [[20.0, 5.0]]], "Signature of Noor"))
    path = next(picture.iter(f"{SVG}path")).get("d", "")
    assert path.count("M") == 2
    assert picture.find(f"{SVG}title").text == "Signature of Noor"  # type: ignore[union-attr]
