"""The block of causes: nothing without causes; the two that fit best, both sides of the evidence, and the next check.

The judgement here is written by hand in the shape that an assessment has; figures are invented.
"""

from __future__ import annotations

from typing import Any

from sync.jobsheet import jobsheet
from tests.sheet_visits import PAIR, judged

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
    first, second = sheet_with(rulebook)["causes"]["columns"][0]
    assert first["lead"] == "Fits best: too little air through the condenser."
    assert "For it: condensing 38.7 F° over the outside air, usual here about 16.2 F°." in first["text"].replace(
        "\u00a0", " "
    )
    assert second["lead"] == "Next: too much refrigerant."
    assert "Against it: subcooling as usual, 10.8 F°." in second["text"].replace("\u00a0", " ")
    assert "%" not in first["text"] + second["text"]


def test_what_is_open_and_what_would_settle_it(rulebook: Rulebook) -> None:
    """The tie is named, with the check that would tell most, and what opens the circuit is for certified people."""
    said = [paragraph["text"] for paragraph in sheet_with(rulebook)["causes"]["columns"][1]]
    assert said[0] == "Cannot be told apart yet: too little air through the condenser and too much refrigerant."
    assert said[1] == "Would tell most: clamp the liquid line."
    assert "certified people" in said[-1]


def test_a_cause_that_fits_far_less_is_not_printed(rulebook: Rulebook) -> None:
    """One clear cause stands alone."""
    causes = [{**CAUSES[0], "fit": 0.95}, {**CAUSES[1], "fit": 0.05}]
    block = sheet_with(rulebook, causes=causes, undecided=[], next_check=None)["causes"]
    assert len(block["columns"][0]) == 1


def test_a_healthy_finding_says_that_a_small_loss_cannot_be_seen(rulebook: Rulebook) -> None:
    """A receiver hides it; only weighing tells (common practice, no source)."""
    causes = [{"id": "healthy", "fit": 0.9, "for": [USUAL], "against": []}, {**CAUSES[0], "fit": 0.1}]
    block = sheet_with(rulebook, causes=causes, undecided=[], next_check=None)["causes"]
    assert any("weighing" in paragraph["text"] for paragraph in block["columns"][1])


def test_where_many_causes_are_open_none_is_named(rulebook: Rulebook) -> None:
    """Four that cannot be told apart are no finding; the check that would tell most stays."""
    ids = ["condenser_airflow", "overcharge", "non_condensables", "healthy"]
    causes = [{"id": cause, "fit": 0.25, "for": [], "against": []} for cause in ids]
    block = sheet_with(rulebook, causes=causes, undecided=ids)["causes"]
    said = [paragraph["text"] for column in block["columns"] for paragraph in column]
    open_ones = "These readings leave several causes open; none stands out."
    assert said == [open_ones, "Would tell most: clamp the liquid line."]
