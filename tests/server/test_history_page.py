"""A vehicle's history on its page: the same numbers in the picture and in the table, and healthy tests marked.

Plain requests; the visits are of our own making. Saturation of R-134a: 52.4 °C at 14 bar and 57.9 °C at 16 bar
absolute, as printed in Moran and Shapiro, Fundamentals of Engineering Thermodynamics, table A-11 (from memory).
"""

from __future__ import annotations

import html
import json
import re
from itertools import pairwise
from typing import Any
from xml.etree import ElementTree

import pytest

from tests.support.ops import Phone, body_of
from tests.support.service import Service
from tests.support.visitor import Visitor, wait_for_key

# The standard atmosphere at sea level, ISO 2533 [kPa].
SEA_LEVEL = 101.325
SATURATED = ((1400 - SEA_LEVEL, 52.4), (1600 - SEA_LEVEL, 57.9))
CHART = {"rows": [{"ambient_c": 30, "vent_c": [7, 12]}]}


@pytest.fixture
def visitor(service: Service) -> Visitor:
    """Somebody signed in at the desk."""
    wait_for_key(service)
    return Visitor(service).first()


def file_visit(service: Service, phone: Phone, day: str, *tests: dict[str, Any], **fields: Any) -> str:
    """A visit of the car v1 at sea level, read in kPa and °C, with tests and a cleaned condenser."""
    visit, at = phone.new_id(), f"{day}T09:05:00-07:00"
    vehicle = {"id": "v1", "plate": "ALD 4127", "refrigerant": "R134a", **fields}
    base = {f"/vehicle/{name}": None for name in vehicle} | {"/place/altitude_m": None}
    said = {"vehicle": vehicle, "place": {"altitude_m": 0}}
    ops = [phone.opening(visit, at), phone.op(visit, "visit.set", said, base),
           phone.op(visit, "work.add", {"id": "w1", "code": "condenser_cleaned"})]
    ops += [phone.op(visit, "test.add", {"at": at, **test}) for test in tests]
    results = json.loads(service.post("/sync", body_of(*ops))[2])["results"]
    assert {result["status"] for result in results} == {"accepted"}, results
    return visit


def a_test(name: str, role: str, high: float, vent: float) -> dict[str, Any]:
    """A test in 30 °C."""
    return {"id": name, "role": role, "conditions": {"ambient_c": 30.0, "humidity_pct": 40.0},
            "readings": {"high_kpa_g": high, "low_kpa_g": 250.0, "vent_c": vent}}


def picture(text: str) -> ElementTree.Element:
    """The picture of a page; it is whole XML by itself."""
    return ElementTree.fromstring(re.search(r"<svg viewBox.*?</svg>", text, re.DOTALL)[0])  # type: ignore[index]


def cells(text: str) -> list[list[str]]:
    """The table's rows as they read."""
    rows = text.split('class="rows years"')[1].split("</table>")[0].split('<tr class="visit">')[1:]
    plain = [re.sub(r'<span class="title".*?</span>', "", row) for row in rows]
    return [[" ".join(html.unescape(re.sub(r"<[^>]*>", " ", cell)).split()) for cell in re.split(r"</t[hd]>", row)]
            for row in plain]


def test_the_table_and_the_picture_have_the_same_numbers(service: Service, visitor: Visitor) -> None:
    """Two visits, one with a test before and after: over ambient by the published saturation, newest first."""
    phone = Phone("7e57ac")
    (low, low_c), (high, high_c) = SATURATED
    file_visit(service, phone, "2025-05-09", a_test("b1", "single", low, 8.0), chart=CHART)
    pair = a_test("b2", "before", high, 14.0), a_test("b3", "after", low, 9.0)
    visit = file_visit(service, phone, "2026-06-12", *pair)
    text = visitor.ask("GET", "/desk/vehicle?id=v1")[2]
    rows = cells(text)
    assert len(rows) == 2
    assert [row[0] for row in rows] == ["12 Jun 2026", "9 May 2025"]
    assert rows[0][1] == "30.0 · 30.0"
    splits = [float(part) for part in rows[0][4].split(" · ")]
    assert splits == pytest.approx([high_c - 30, low_c - 30], abs=0.15)
    assert rows[0][5] == "14.0 · 9.0"
    assert "condenser cleaned" in rows[0][6]
    assert "2 visits, from May 2025 to June 2026." in text
    assert f"/desk/visit?id={visit}" in text
    shown = picture(text)
    figures = sorted(node.text or "" for node in shown.iter() if node.get("class") == "figure")
    assert figures == sorted([*(f"{round(value)}" for value in (*splits, float(rows[1][4]))), "14", "9", "8"])
    assert [len([node for node in shown.iter() if node.get("class") == kind]) for kind in ("ring", "dot", "box")] == [
        2, 4, 1]
    assert [node.text for node in shown.iter() if node.get("class") == "month"] == ["May 2025", "June 2026"]


def test_marks_stand_where_their_values_are(service: Service, visitor: Visitor) -> None:
    """On the vent's axis: what the ticks say of the height of a mark is what was read."""
    phone = Phone("7e57ad")
    file_visit(service, phone, "2026-06-12", a_test("b2", "before", 1300, 14.0), a_test("b3", "after", 1200, 9.0))
    panel = [node for node in picture(visitor.ask("GET", "/desk/vehicle?id=v1")[2]) if node.tag == "g"][-1]
    ticks = [(float(node.get("y", 0)) - 5, float((node.text or "").replace("\u2212", "-"))) for node in panel
             if node.get("class") == "tick-of"]
    (y0, value0), (y1, value1) = ticks[0], ticks[-1]
    read = [value0 + (float(node.get("cy", 0)) - y0) / (y1 - y0) * (value1 - value0) for node in panel
            if node.tag == "circle"]
    assert read == pytest.approx([14.0, 9.0], abs=0.1)


def test_a_healthy_test_is_marked_and_unmarked(service: Service, visitor: Visitor) -> None:
    """The key marks the last test; the picture has a diamond, the next visit's yardstick is this car's own."""
    phone = Phone("7e57ae")
    visit = file_visit(service, phone, "2026-06-12", a_test("b1", "single", 1300, 8.0))
    pressed = visitor.press("/desk/do/mark", id="v1", test=f"{visit} b1", healthy="1")
    assert pressed[1]["Location"] == "/desk/vehicle?id=v1&done=marked"
    text = visitor.ask("GET", "/desk/vehicle?id=v1")[2]
    assert "The last test of 12 Jun 2026 is no longer a yardstick" in text
    assert not [node for node in picture(text).iter() if node.get("class") == "dot"]
    changes = json.loads(service.get("/changes?device=7e57ae")[2])["changes"]
    baselines = [change["baseline"] for change in changes if change["kind"] == "baseline"]
    assert [entry["test"] for entry in baselines[-1]["entries"]] == ["b1"]
    assert visitor.press("/desk/do/mark", id="v1", test=f"{visit} b1", healthy="0")[0] == 303
    assert "Mark the last test of 12 Jun 2026 as healthy" in visitor.ask("GET", "/desk/vehicle?id=v1")[2]


def test_only_a_test_of_the_vehicle_is_marked(service: Service, visitor: Visitor) -> None:
    """Another's, or one that no visit has, is refused in a sentence."""
    phone = Phone("7e57af")
    visit = file_visit(service, phone, "2026-06-12", a_test("b1", "single", 1300, 8.0))
    for fields in ({"id": "v2", "test": f"{visit} b1"}, {"id": "v1", "test": f"{visit} b9"}, {"id": "v1", "test": "x"}):
        status, _, text = visitor.press("/desk/do/mark", healthy="1", **fields)
        assert status in (404, 422), fields
        assert 'role="alert"' in text


def test_many_visits_of_one_week_do_not_cover_each_other(service: Service, visitor: Visitor) -> None:
    """Fifteen days in a row: the picture has the newest twelve apart, the table all."""
    phone = Phone("7e57b0")
    for day in range(1, 16):
        file_visit(service, phone, f"2026-06-{day:02}", a_test("b1", "single", 1300, 8.0))
    text = visitor.ask("GET", "/desk/vehicle?id=v1")[2]
    assert len(cells(text)) == 15
    dots = sorted({float(node.get("cx", 0)) for node in picture(text).iter() if node.get("class") == "dot"})
    assert len(dots) == 12
    assert min(right - left for left, right in pairwise(dots)) >= 60
    assert dots[0] >= 60
    assert dots[-1] <= 1000
