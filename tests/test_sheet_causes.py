"""The block of causes: nothing without causes; the two that fit best, both sides of the evidence, and the next check.

The judgement here is written by hand in the shape that an assessment has; figures are invented.
"""

from __future__ import annotations

from typing import Any

from sync.jobsheet import jobsheet
from tests.sheet_visits import PAIR, judged

Rulebook = dict[str, Any]
CAUSES = [
    {"id": "condenser_airflow", "fit": 0.62, "for": [{"code": "split_high", "values": {"value": 21.5}}],
     "against": []},
    {"id": "overcharge", "fit": 0.31, "for": [{"code": "split_high", "values": {}}],
     "against": [{"code": "subcooling_normal", "values": {}}]},
    {"id": "non_condensables", "fit": 0.07, "for": [], "against": []},
]


def sheet_with(rulebook: Rulebook, **changes: Any) -> dict[str, Any]:
    """The sheet's blocks by name, the first test judged so."""
    assessment = judged(PAIR, rulebook)
    assessment["tests"][0].update({"causes": CAUSES, "undecided": ["condenser_airflow", "overcharge"],
                                   "next_check": {"what": "liquid_line", "separates": ["condenser_airflow",
                                                                                       "overcharge"], "gain": 0.4}},
                                  **changes)
    return {block["name"]: block for block in jobsheet(PAIR, assessment, rulebook)["blocks"]}


def test_without_causes_nothing_is_printed(rulebook: Rulebook) -> None:
    """Out of scope, or no bands: no heading, no guess."""
    assert "causes" not in sheet_with(rulebook, causes=[], undecided=[], next_check=None)


def test_the_two_leading_causes_have_both_sides_of_their_evidence(rulebook: Rulebook) -> None:
    """For and against, the third only where it is among the open ones."""
    first, second = sheet_with(rulebook)["causes"]["columns"][0]
    assert first == {"lead": "Air through the condenser held back, fits 62 %.", "text": "For it: split high."}
    assert second["text"] == "For it: split high. Against it: subcooling normal."


def test_what_is_open_and_what_would_settle_it(rulebook: Rulebook) -> None:
    """Named once, with the next check and what it tells apart."""
    undecided, check = sheet_with(rulebook)["causes"]["columns"][1]
    assert undecided["text"] == "Air through the condenser held back and too much refrigerant."
    assert check["lead"] == "Next check:"
    assert check["text"] == ("Liquid line; it would tell air through the condenser held back and too much refrigerant"
                             " apart.")


def test_a_cause_that_hardly_fits_is_no_leading_one(rulebook: Rulebook) -> None:
    """One clear cause stands alone."""
    causes = [{**CAUSES[0], "fit": 0.98}, {**CAUSES[1], "fit": 0.02}]
    block = sheet_with(rulebook, causes=causes, undecided=[], next_check=None)["causes"]
    assert len(block["columns"]) == len(block["columns"][0]) == 1


def test_words_and_values_come_from_the_rulebook(rulebook: Rulebook) -> None:
    """A technician's word for a cause, and evidence with room for its value."""
    words = {**rulebook["sheet_words"]["languages"]["en"], "evidence": {"split_high": "condensing {value} K over air"}}
    books = {**rulebook, "causes": {"causes": {"condenser_airflow": {"customer": "x", "technician": "condenser face"}}},
             "sheet_words": {**rulebook["sheet_words"], "languages": {"en": words}}}
    first = sheet_with(books)["causes"]["columns"][0][0]
    assert first == {"lead": "Condenser face, fits 62 %.", "text": "For it: condensing 21.5 K over air."}
