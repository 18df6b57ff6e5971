"""The drawings: sound SVG that says its finding, places to scale, legible without colour.

Axis steps are checked against their own rule; pixels are looked at by people.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from typing import Any

import pytest

from reports import chart

SVG = "{http://www.w3.org/2000/svg}"


def split_plot(**changes: Any) -> dict[str, Any]:
    """Before and after on one axis with a band."""
    return {
        "kind": "positions", "axis": "condensing over ambient", "unit": "K", "side": "", "decimal": ".",
        "alt": "before 30 K, after 19 K; healthy 5 to 16 K.",
        "points": [{"label": "before 30.0", "value": 30.0, "low": 28.0, "high": 32.0, "hollow": False},
                   {"label": "after 19.0", "value": 19.0, "low": 17.0, "high": 21.0, "hollow": True}],
        "band": {"low": 5.0, "high": 16.0, "label": "healthy"}, **changes,
    }


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


@pytest.mark.parametrize("plot", [split_plot(), split_plot(band=None), CHANGE], ids=["band", "no-band", "change"])
def test_the_title_of_a_picture_is_its_finding(plot: dict[str, Any]) -> None:
    """What a person who cannot see it hears."""
    assert drawn(plot).find(f"{SVG}title").text == plot["alt"]  # type: ignore[union-attr]


def test_values_lie_to_scale() -> None:
    """30 and 19 K and the band's edges stand in proportion on the axis."""
    picture = drawn(split_plot())
    first, second = (float(mark.get("cx", "")) for mark in picture.iter(f"{SVG}circle"))
    band = next(picture.iter(f"{SVG}rect"))
    left, width = float(band.get("x", "")), float(band.get("width", ""))
    per_kelvin = (first - second) / 11.0
    assert width / per_kelvin == pytest.approx(11.0, abs=0.05)
    assert (second - left) / per_kelvin == pytest.approx(14.0, abs=0.05)


def test_before_and_after_differ_without_colour() -> None:
    """One filled, one hollow."""
    fills = [mark.get("fill") for mark in drawn(split_plot()).iter(f"{SVG}circle")]
    assert fills == ["#15181C", "#FFFFFF"]


@pytest.mark.parametrize("value", [-200.0, -0.3, 0.0, 12.0, 4000.0])
def test_no_mark_leaves_the_picture(value: float) -> None:
    """Whatever is read, odd ones too, lies inside the drawing."""
    point = {"label": "before", "value": value, "low": value - 1, "high": value + 1, "hollow": False}
    for mark in drawn(split_plot(points=[point])).iter(f"{SVG}circle"):
        assert chart.LEFT <= float(mark.get("cx", "")) <= chart.RIGHT


def test_a_change_has_its_bars_from_zero_and_its_interval() -> None:
    """A rise to the right of zero, a fall to the left, as long as they are large."""
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
    "lines": [{"label": "before", "points": [[0.0, 20.0], [5.0, 6.0], [10.0, 5.0]], "dashed": False},
              {"label": "after", "points": [[0.0, 20.0], [5.0, 5.5], [10.0, 5.0]], "dashed": True}],
}


def test_lines_over_time_differ_by_stroke_and_name() -> None:
    """One solid, one dashed, each named, and a flat trace is drawn as well."""
    picture = drawn(TRACE)
    assert [line.get("stroke-dasharray") for line in picture.iter(f"{SVG}path")] == [None, "4 2.5"]
    texts = [text.text for text in picture.iter(f"{SVG}text")]
    assert {"before", "after"} <= set(texts)
    flat = {**TRACE, "lines": [{"label": "x", "points": [[0.0, 5.0], [1.0, 5.0], [2.0, 5.0]], "dashed": False}]}
    assert drawn(flat).find(f"{SVG}title") is not None


def test_labels_are_text_and_never_markup() -> None:
    """A hostile label stays a label."""
    picture = drawn(split_plot(axis="<image href='file:///etc/passwd'/>", alt="</title><script>"))
    assert not list(picture.iter(f"{SVG}image"))
    assert not list(picture.iter(f"{SVG}script"))


def test_a_signature_is_drawn_stroke_by_stroke() -> None:
    """Each stroke a line of its own, a dot too, and whose it is as the title."""
    picture = ET.fromstring(chart.signature([[[0.0, 0.0], [10.0, 5.0]], [[20.0, 5.0]]], "Signature of Noor"))
    path = next(picture.iter(f"{SVG}path")).get("d", "")
    assert path.count("M") == 2
    assert picture.find(f"{SVG}title").text == "Signature of Noor"  # type: ignore[union-attr]
