"""The yardstick strip and the marks of the evidence: places to scale, distinct without colour, wedges at the ends.

People look at the pixels; proportions are calculated here from the input numbers.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from typing import Any

import pytest

from reports import chart, yardstick

SVG = "{http://www.w3.org/2000/svg}"


def strip(**changes: Any) -> dict[str, Any]:
    """All three yardsticks on a scale from 0 to 100, before at 70 and after at 45."""
    return {
        "kind": "yardstick", "axis": "High side over ambient, °F", "figures": "70 to 45", "side": "high",
        "low": 0.0, "high": 100.0, "fleet": {"low": 25.0, "high": 80.0, "labels": ["25", "80"]},
        "chart": {"low": 40.0, "high": 50.0, "labels": ["40", "50"]}, "own": 44.0,
        "pins": [{"value": 70.0, "ring": True}, {"value": 45.0, "ring": False}], "dashed": False, "sentence": "",
        "alt": "High side over ambient 70 to 45 °F: within the maker's chart (40 to 50).", **changes,
    }


def drawn(**changes: Any) -> ET.Element:
    """The parsed picture."""
    return ET.fromstring(chart.draw(strip(**changes)))  # type: ignore[arg-type]


def heads(picture: ET.Element) -> list[tuple[float, str]]:
    """Where the pins' heads are, and what fills them."""
    return [(float(head.get("cx", "")), head.get("fill", "")) for head in picture.iter(f"{SVG}circle")]


def test_the_title_is_the_finding() -> None:
    """What a person who can't see it hears."""
    assert drawn().find(f"{SVG}title").text == strip()["alt"]  # type: ignore[union-attr]


def test_pins_chart_and_end_ticks_lie_on_one_scale() -> None:
    """25 apart are the pins, 10 wide the chart, 55 apart the end ticks."""
    picture = drawn()
    (before, _), (after, _) = heads(picture)
    per_unit = (before - after) / 25.0
    box = next(picture.iter(f"{SVG}rect"))
    assert float(box.get("width", "")) / per_unit == pytest.approx(10.0, abs=0.02)
    axis, *ticks = picture.iter(f"{SVG}line")
    low, high = (float(tick.get("x1", "")) for tick in ticks)
    assert (high - low) / per_unit == pytest.approx(55.0, abs=0.02)
    assert (float(axis.get("x2", "")) - float(axis.get("x1", ""))) / per_unit == pytest.approx(100.0, abs=0.02)


def test_before_and_after_differ_without_colour() -> None:
    """A ring and a dot with an arrow from one to the other."""
    assert [fill for _, fill in heads(drawn())] == ["#FFFFFF", yardstick.SIDES["high"]]
    tips = [path for path in drawn().iter(f"{SVG}path") if re.search(r"H[0-9.]+m", path.get("d", ""))]
    assert len(tips) == 1
    close = [{"value": 46.0, "ring": True}, {"value": 45.0, "ring": False}]
    assert not [path for path in drawn(pins=close).iter(f"{SVG}path") if re.search(r"H[0-9.]+m", path.get("d", ""))]


@pytest.mark.parametrize(("value", "wedges"), [(-900.0, 1), (-0.1, 1), (0.0, 0), (100.0, 0), (100.1, 1), (4000.0, 1)])
def test_beyond_the_scale_a_pin_stops_at_the_end_with_a_wedge(value: float, wedges: int) -> None:
    """Every reading, even an odd one, lies inside the drawing."""
    picture = drawn(pins=[{"value": value, "ring": False}])
    assert yardstick.LEFT <= heads(picture)[0][0] <= yardstick.RIGHT
    courses = [path.get("d", "") for path in picture.iter(f"{SVG}path")]
    assert len([course for course in courses if re.search(r"l-?4 4l-?4 4$", course)]) == wedges


def test_a_yardstick_that_is_not_known_is_not_drawn() -> None:
    """The axis and the pins remain."""
    picture = drawn(fleet=None, chart=None, own=None)
    assert len(list(picture.iter(f"{SVG}line"))) == 1
    assert list(picture.iter(f"{SVG}rect")) == []
    assert len(heads(picture)) == 2


def test_end_ticks_are_dashed_outside_the_published_range_and_missing_beyond_the_scale() -> None:
    """A range that goes on has no end to mark."""
    ticks = list(drawn(dashed=True).iter(f"{SVG}line"))[1:]
    assert [tick.get("stroke-dasharray") for tick in ticks] == ["2 2", "2 2"]
    assert [tick.get("stroke-dasharray") for tick in list(drawn().iter(f"{SVG}line"))[1:]] == [None, None]
    beyond = drawn(fleet={"low": -5.0, "high": 80.0, "labels": ["-5", "80"]})
    assert len(list(beyond.iter(f"{SVG}line"))) == 2


def test_the_band_stays_within_its_ends() -> None:
    """No stroke of the hatch crosses its edge."""
    picture = drawn(chart=None, own=None)
    hatch = next(path.get("d", "") for path in picture.iter(f"{SVG}path") if path.get("stroke") == yardstick.HATCH)
    xs = [float(x) for x in re.findall(r"[ML]([0-9.]+) ", hatch)]
    _, low, high = (float(line.get("x1", "")) for line in picture.iter(f"{SVG}line"))
    assert min(xs) >= low - 0.01
    assert max(xs) <= high + 0.01


def test_labels_are_text_and_never_markup() -> None:
    """Text from a book or a person can't open an element."""
    assert drawn(axis="<b>&", alt="<i>&").find(f"{SVG}text").text == "<b>&"  # type: ignore[union-attr]


def test_the_legend_has_each_mark_with_its_meaning() -> None:
    """In the order given."""
    marks: list[Any] = [{"kind": "against", "text": "speaks against"}, {"kind": "fits", "text": "fits"}]
    picture = ET.fromstring(yardstick.legend(marks))
    assert [text.text for text in picture.iter(f"{SVG}text")] == ["speaks against", "fits"]
    assert [group[0].tag for group in picture.iter(f"{SVG}g")] == [f"{SVG}path", f"{SVG}rect"]


@pytest.mark.parametrize(("kind", "shape"), [("fits", "rect"), ("against", "path"), ("silent", "circle")])
def test_a_mark_is_a_shape_of_its_own_and_says_itself(kind: str, shape: str) -> None:
    """Square, cross and dot."""
    title, mark = ET.fromstring(yardstick.mark(kind, "says < it"))
    assert (title.text, mark.tag) == ("says < it", f"{SVG}{shape}")
