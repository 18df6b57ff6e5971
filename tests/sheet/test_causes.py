"""The block of causes: nothing without causes; the two that fit best, both sides of the evidence, and the next check.

The judgement here is written by hand in the shape that an assessment has; figures are invented.
"""

from __future__ import annotations

from typing import Any

import pytest

from sync.sheet.jobsheet import jobsheet
from tests.support.sheet_visits import ALL, PAIR, judged

Rulebook = dict[str, Any]
HIGH = {"code": "condenser_split_k_high", "values": {"value": 21.5, "u": 1.5, "usual": 9.0}}
USUAL = {"code": "subcooling_k_usual", "values": {"value": 6.0, "u": 2.0, "usual": 6.5}}
CAUSES = [
    {"id": "condenser_airflow", "fit": 0.55, "for": [HIGH], "against": []},
    {"id": "overcharge", "fit": 0.31, "for": [HIGH], "against": [USUAL]},
    {"id": "non_condensables", "fit": 0.14, "for": [], "against": []},
]


def sheet_with(rulebook: Rulebook, **changes: Any) -> dict[str, Any]:
    """The sheet's blocks by name, the first test judged so."""
    assessment = judged(PAIR, rulebook)
    said = {"causes": CAUSES, "undecided": ["condenser_airflow", "overcharge"]}
    said["next_check"] = {"what": "take_liquid_line", "separates": ["condenser_airflow", "overcharge"], "gain": 0.4}
    assessment["tests"][0].update(said | changes)
    return {block["name"]: block for block in jobsheet(PAIR, assessment, rulebook)["blocks"]}


def test_without_causes_nothing_is_printed(rulebook: Rulebook) -> None:
    """Out of scope, or no bands: no heading, no guess."""
    assessment = judged(PAIR, rulebook)
    for test in assessment["tests"]:
        test.update(causes=[], undecided=[], next_check=None)
    assert "causes" not in {block["name"] for block in jobsheet(PAIR, assessment, rulebook)["blocks"]}


def test_the_two_leading_causes_have_both_sides_of_their_evidence(rulebook: Rulebook) -> None:
    """In the customer's units, and no fit dressed up as a percentage."""
    first, second = sheet_with(rulebook)["causes"]["causes"]
    assert first["lead"] == "Fits best: too little air through the condenser."
    assert first["evidence"].replace("\u00a0", " ") == (
        "For it: condensing 38.7 F° over the outside air, usual here about 16.2 F°.")
    assert second["lead"] == "Fits nearly as well: too much refrigerant."
    assert second["evidence"].replace("\u00a0", " ") == "For it: the same. Against it: subcooling as usual, 10.8 F°."
    assert "%" not in first["text"] + second["text"]


def test_what_is_open_and_what_would_settle_it(rulebook: Rulebook) -> None:
    """The tie of the two named, with the check that would tell most; the names do not come twice."""
    said = sheet_with(rulebook)["causes"]["open"]
    assert said == "These cannot be told apart by the readings taken. To tell more surely: clamp the liquid line."


def test_a_third_that_cannot_be_told_apart_is_named(rulebook: Rulebook) -> None:
    """Two are set out with their evidence, the third by its name alone."""
    undecided = ["condenser_airflow", "overcharge", "weak_compressor"]
    said = sheet_with(rulebook, undecided=undecided)["causes"]["open"]
    assert "Cannot be told apart yet:" in said
    assert "a compressor that moves too little" in said


def test_an_alarm_that_a_sound_system_would_raise_as_well_says_so_first(rulebook: Rulebook) -> None:
    """Where nothing wrong cannot be told apart from the causes named, that stands before them."""
    undecided = ["condenser_airflow", "overcharge", "healthy"]
    assert "not ruled out" in sheet_with(rulebook, undecided=undecided)["causes"]["first"]
    assert sheet_with(rulebook)["causes"]["first"] == ""


def test_the_heading_says_that_the_causes_are_from_before_the_work(rulebook: Rulebook) -> None:
    """A customer must not read a trouble that was put right as one that is still there."""
    assert sheet_with(rulebook)["causes"]["title"].endswith("as found before the work")
    assert sheet_with(rulebook, role="single")["causes"]["title"] == "Causes and their evidence"


@pytest.mark.parametrize("visit", ALL.values(), ids=ALL)
def test_every_sheet_says_who_may_open_the_circuit(visit: dict[str, Any], rulebook: Rulebook) -> None:
    """The causes need not repeat it: it stands among the cautions of every visit."""
    blocks = {block["name"]: block for block in jobsheet(visit, judged(visit, rulebook), rulebook)["blocks"]}
    assert any("certified people" in text for text in blocks["cautions"]["texts"])


def test_a_cause_that_fits_far_less_is_not_printed(rulebook: Rulebook) -> None:
    """One clear cause stands alone."""
    causes = [{**CAUSES[0], "fit": 0.95}, {**CAUSES[1], "fit": 0.05}]
    block = sheet_with(rulebook, causes=causes, undecided=[], next_check=None)["causes"]
    assert len(block["causes"]) == 1


def test_a_healthy_finding_says_that_a_small_loss_cannot_be_seen(rulebook: Rulebook) -> None:
    """A receiver hides it; only weighing tells (common practice, no source)."""
    causes = [{"id": "healthy", "fit": 0.9, "for": [USUAL], "against": []}, {**CAUSES[0], "fit": 0.1}]
    block = sheet_with(rulebook, causes=causes, undecided=[], next_check=None)["causes"]
    assert "weighing" in block["open"]


def test_where_a_sound_system_fits_best_among_many_no_alarm_is_raised(rulebook: Rulebook) -> None:
    """Several causes stay open and being sound is the likeliest: that is what the customer reads."""
    ids = ["healthy", "overcharge", "non_condensables", "valve_open"]
    causes = [{"id": cause, "fit": 0.25, "for": [], "against": []} for cause in ids]
    block = sheet_with(rulebook, causes=causes, undecided=ids, next_check=None)["causes"]
    assert block["open"] == "No fault stands out: a sound system may read like this."


def test_where_many_causes_are_open_none_is_named(rulebook: Rulebook) -> None:
    """Four that cannot be told apart are no finding; the check that would tell most stays."""
    ids = ["condenser_airflow", "overcharge", "non_condensables", "healthy"]
    causes = [{"id": cause, "fit": 0.25, "for": [], "against": []} for cause in ids]
    block = sheet_with(rulebook, causes=causes, undecided=ids)["causes"]
    open_ones = "These readings leave several causes open; none stands out."
    assert (block["causes"], block["first"]) == ([], "")
    assert block["open"] == f"{open_ones} To tell more surely: clamp the liquid line."
