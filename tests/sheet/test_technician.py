"""The part for the technician: the ideal cycle, which says what it leaves out, and the vehicle's earlier visits.

The judgement is the desk's own; units by NIST SP 811 (2008), appendix B. Visits are invented.
"""

from __future__ import annotations

import copy
from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader

from reports.sheet import render
from sync.physics.diagnosis import diagnose
from sync.sheet.jobsheet import jobsheet
from sync.sheet.technician import summary
from tests.reports.test_sheet import roles, text_of
from tests.support.sheet_visits import DECLINED, PAIR, PSI, SINGLE, blocks_of

Rulebook = dict[str, Any]
EARLIER = [{"at": "2024-06-20T10:00:00+02:00", "ambient_c": 22.0, "split": {"value": 13.0, "u": 1.7},
            "high_kpa_g": 900.0},
           {"at": "2025-09-12T10:00:00+02:00", "ambient_c": 28.0, "split": {"value": 22.0, "u": 1.7},
            "high_kpa_g": 1310.0}]


def block_of(visit: dict[str, Any], rulebook: Rulebook, earlier: list[dict[str, Any]]) -> dict[str, Any] | None:
    """The part for the technician, None when the sheet has none."""
    data = jobsheet(visit, diagnose(visit, rulebook, "0"), rulebook, None, {"earlier": earlier})
    return blocks_of(data).get("technician")


def drawing(block: dict[str, Any] | None, kind: str) -> dict[str, Any]:
    """The drawing of that kind."""
    assert block is not None
    return next(plot for plot in block["plots"] if plot["kind"] == kind)


def test_both_cycles_stand_on_the_dome(rulebook: Rulebook) -> None:
    """In the reader's unit and absolute: 214 psi and 167 psi by the gauge, 13.7 psi of air on top."""
    plot = drawing(block_of(PAIR, rulebook, []), "circuit")
    high = [cycle["points"][1][1] for cycle in plot["cycles"]]
    # 94.2 kPa at 610 m by the 1976 standard atmosphere (between 500 m, 95.461, and 1000 m, 89.875 kPa)
    assert high == pytest.approx([214 + 94.2 / PSI, 167 + 94.2 / PSI], abs=0.3)
    assert [cycle["dashed"] for cycle in plot["cycles"]] == [True, False]
    assert plot["alt"].startswith("R-134a in the pressure-enthalpy diagram with its saturation curve: before between ")
    assert min(place[1] for place in plot["dome"]) < plot["cycles"][1]["points"][0][1]


def test_a_vehicle_seen_during_work_alone_is_drawn_beside_its_earlier_visits(rulebook: Rulebook) -> None:
    """A single test of that role is a mark of its own, and the sheet prints."""
    visit = {**SINGLE, "tests": [{**SINGLE["tests"][0], "role": "during"}]}
    data = jobsheet(visit, diagnose(visit, rulebook, "0"), rulebook, None, {"earlier": EARLIER})
    assert [point["mark"] for point in drawing(block_of(visit, rulebook, EARLIER), "visits")["points"]] == [
        "earlier", "earlier", "during"]
    assert len(PdfReader(BytesIO(render(data))).pages) >= 1


def test_it_says_what_the_ideal_cycle_leaves_out(rulebook: Rulebook) -> None:
    """Saturated at both ends, and the figures with their ±."""
    block = block_of(PAIR, rulebook, [])
    assert block is not None
    (note,) = block["notes"]
    assert note.startswith("An ideal cycle, saturated at both ends. It is for comparison and leaves out superheat")
    assert "Cooling per work of this cycle (COP): before " in note
    assert "less after the work." in note


def test_earlier_visits_stand_beside_todays(rulebook: Rulebook) -> None:
    """Each under its date, the split against the air of its day, in the reader's units."""
    plot = drawing(block_of(PAIR, rulebook, EARLIER), "visits")
    assert [point["label"] for point in plot["points"]] == ["20 Jun 2024", "12 Sept 2025", "before", "after"]
    # 22 °C is 71.6 °F; a difference of 13 K is 23.4 Fahrenheit degrees
    assert (plot["points"][0]["x"], plot["points"][0]["y"]) == pytest.approx((71.6, 23.4))
    assert "12 Sept 2025 39.6 at 82.4" in plot["alt"]


def test_without_a_split_the_high_side_is_shown(rulebook: Rulebook) -> None:
    """One quantity for all marks: if one visit lacks the split, all show the high side as read."""
    plot = drawing(block_of(PAIR, rulebook, [{**EARLIER[0], "split": None}, EARLIER[1]]), "visits")
    assert plot["axis"] == "high side, psi"
    assert plot["points"][0]["y"] == pytest.approx(900 / PSI)
    assert plot["points"][2]["y"] == pytest.approx(214)


@pytest.mark.parametrize("visit", [SINGLE, DECLINED], ids=["no low side", "no test"])
def test_nothing_to_draw_leaves_no_part(visit: dict[str, Any], rulebook: Rulebook) -> None:
    """Without both pressures there is no cycle, without an earlier visit no history, and no empty heading either."""
    assert block_of(visit, rulebook, []) is None


def test_a_visit_is_remembered_by_its_last_word(rulebook: Rulebook) -> None:
    """The test after the work, otherwise the only one; a visit without ambient or pressure isn't shown later."""
    told = summary(PAIR, diagnose(PAIR, rulebook, "0"))
    assert told is not None
    assert (told["at"], told["ambient_c"], told["high_kpa_g"]) == (
        "2026-07-14T15:02:00+02:00", 29.0, pytest.approx(167 * PSI))
    assert told["split"]["value"] > 0
    assert summary(DECLINED, diagnose(DECLINED, rulebook, "0")) is None
    bare = copy.deepcopy(PAIR)
    del bare["tests"][1]["conditions"]["ambient_c"]
    assert summary(bare, diagnose(bare, rulebook, "0")) is None


def test_the_drawings_are_read_aloud(rulebook: Rulebook) -> None:
    """Printed under their heading, each as a figure whose words are the finding."""
    data = jobsheet(PAIR, diagnose(PAIR, rulebook, "0"), rulebook, None, {"earlier": EARLIER})
    reader = PdfReader(BytesIO(render(data)))
    assert "For the next technician" in text_of(reader)
    told = [str(node["/Alt"]) for role, node in roles(reader) if role == "/Figure" and "/Alt" in node]
    assert any(words.startswith("R-134a in the pressure-enthalpy diagram") for words in told)
    assert any(words.startswith("This vehicle’s visits") for words in told)
