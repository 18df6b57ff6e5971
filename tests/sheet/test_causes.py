"""The block of causes: what is held open and never ranked, the evidence for each, and the next check.

The judgement here is written by hand in the shape of an assessment; figures are invented.
"""

from __future__ import annotations

from typing import Any

import pytest

from sync.sheet.jobsheet import jobsheet
from tests.support.judgements import ranking, row
from tests.support.sheet_visits import ALL, PAIR, blocks_of, judged

Rulebook = dict[str, Any]
THREE = ("non_condensables", "condenser_airflow", "overcharge")
FIVE = ("overcharge", "condenser_airflow", "weak_compressor", "valve_open", "icing")


def causes_of(rulebook: Rulebook, said: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """The sheet's block of causes for a first test judged like this."""
    assessment = judged(PAIR, rulebook)
    for test in assessment["tests"]:
        test.update({"expected": {}, "evidence": [], "range": []})
    assessment["tests"][0].update(said | changes)
    return blocks_of(jobsheet(PAIR, assessment, rulebook))["causes"]


def test_without_causes_nothing_is_printed(rulebook: Rulebook) -> None:
    """Out of scope, or no bands: no heading, no guess."""
    assessment = judged(PAIR, rulebook)
    for test in assessment["tests"]:
        test.update(expected={}, causes=[], undecided=[], evidence=[], range=[], next_check=None)
    assert "causes" not in blocks_of(jobsheet(PAIR, assessment, rulebook))


def test_three_causes_are_lettered_in_the_order_of_the_trade(rulebook: Rulebook) -> None:
    """A set, not a ranking: the best fit doesn't come first."""
    block = causes_of(rulebook, ranking(*THREE))
    assert [(cause["letter"], cause["name"]) for cause in block["held"]] == [
        ("A", "too little air through the condenser"), ("B", "too much refrigerant"),
        ("C", "air or another gas in the refrigerant"),
    ]
    assert block["said"] == "Three faults fit these readings."
    assert block["families"] == []


def test_the_evidence_is_a_row_for_each_thing_and_a_mark_for_each_cause(rulebook: Rulebook) -> None:
    """In the customer's units: 36 K and 25 K are 64.8 and 45 degrees Fahrenheit (a difference times 1.8)."""
    said = ranking(*THREE)
    said["evidence"][0]["on"]["condenser_airflow"] = "silent"
    grid = causes_of(rulebook, said)["grid"]
    assert grid["letters"] == ["A", "B", "C"]
    first, second = grid["lines"]
    assert first["label"].replace("\u00a0", " ") == (
        "Condensing temperature 64.8 °F over ambient (typical here: about 45.0 °F)")
    assert [mark["kind"] for mark in first["marks"]] == ["silent", "fits", "fits"]
    assert [mark["text"] for mark in second["marks"]] == [
        "A: speaks against", "B: doesn’t tell", "C: doesn’t tell"]


def test_what_tells_no_cause_from_another_has_no_row(rulebook: Rulebook) -> None:
    """It is below the table, by what it says about all of them."""
    said = ranking(*THREE)
    said["evidence"].append(row("no_fan_dead", dict.fromkeys(THREE, "silent")))
    said["evidence"].append(row("low_saturation_c_usual", dict.fromkeys(THREE, "silent"), value=4.0))
    block = causes_of(rulebook, said)
    assert [line["label"] for line in block["grid"]["lines"]] == ["Condenser face clean"]
    assert block["notes"][0].replace("\u00a0", " ") == (
        "Fits all of them: condensing temperature 64.8 °F over ambient (typical here: about 45.0 °F)."
        " Doesn’t tell them apart: condenser fan turns; evaporating temperature 39.2 °F, as usual.")


def test_of_a_test_where_nothing_was_read_nothing_is_said(rulebook: Rulebook) -> None:
    """A test just opened: the causes are those of any car, and none of them is a finding."""
    assessment = judged(PAIR, rulebook)
    for test in assessment["tests"]:
        test.update(ranking(*FIVE, evidence=[]), expected={})
    assert "causes" not in blocks_of(jobsheet(PAIR, assessment, rulebook))


def test_the_next_check_says_what_each_cause_would_show(rulebook: Rulebook) -> None:
    """With its minutes, in the order of the letters."""
    check = causes_of(rulebook, ranking(*THREE))["check"]
    assert check["label"] == "Next, 2\u00a0min: clamp the liquid line."
    assert check["about"] == "Subcooling would be:"
    assert check["shows"] == ["usual", "high", "high"]


@pytest.mark.parametrize(("code", "about", "word"), [
    ("fan_dead", "Condenser fan does not turn?", "yes"),
    ("no_fan_dead", "Condenser fan does not turn?", "no"),
    ("superheat_k_low", "Superheat would be:", "low"),
])
def test_a_sight_is_seen_or_not(code: str, about: str, word: str, rulebook: Rulebook) -> None:
    """What a visual check would show is yes or no; a quantity is high, low or usual."""
    said = ranking("condenser_airflow", "overcharge")
    codes = (code, "superheat_k_usual")
    shows = [{"id": name, "code": one} for name, one in zip(said["undecided"], codes, strict=True)]
    said["next_check"].update(what="see_fan", shows=shows)
    check = causes_of(rulebook, said)["check"]
    assert (check["about"], check["shows"]) == (about, [word, "usual"])


def test_a_check_that_would_turn_out_alike_says_how_many_causes_it_leaves(rulebook: Rulebook) -> None:
    """The same word three times in a row says nothing."""
    said = ranking(*THREE)
    said["next_check"].update(gain=0.8, shows=[{"id": name, "code": "no_weak_air"} for name in THREE])
    check = causes_of(rulebook, said)["check"]
    assert (check["about"], check["shows"]) == ("Would leave about two.", [])


def test_more_than_three_stand_by_family_without_letters_or_grid(rulebook: Rulebook) -> None:
    """And the check says about how many it would leave: five minus three."""
    block = causes_of(rulebook, ranking(*FIVE))
    assert (block["held"], block["grid"]) == ([], None)
    assert [(family["title"], family["causes"]) for family in block["families"]] == [
        ("Heat isn’t given off well", "too little air through the condenser, too much refrigerant"),
        ("Too little refrigerant moves", "weak compressor"),
        ("Too much refrigerant gets through", "expansion valve stuck open"),
        ("Air side", "evaporator freezes up"),
    ]
    assert block["said"] == "Five faults fit these readings."
    assert (block["check"]["about"], block["check"]["shows"]) == ("Would leave about two.", [])


@pytest.mark.parametrize(("held", "alone", "said"), [
    (("healthy",), True, "This car cools like healthy cars do."),
    (("weak_compressor",), True, "Weak compressor."),
    (("healthy", "undercharge"), False,
     "Nothing stands out, but these readings don’t rule out too little refrigerant."),
    (("healthy", "weak_compressor", "undercharge"), False,
     "Nothing stands out, but these readings don’t rule out too little refrigerant or weak compressor."),
    (("healthy", *FIVE), False, "Nothing stands out, but these readings don’t rule out five faults."),
    (("undercharge", "healthy"), False,
     "One fault fits these readings: too little refrigerant. These readings don’t rule out a healthy system."),
    ((*FIVE, "healthy"), False,
     "Five faults fit these readings. These readings don’t rule out a healthy system."),
])
def test_the_finding_in_a_sentence(held: tuple[str, ...], alone: bool, said: str, rulebook: Rulebook) -> None:
    """A cause that stands alone is named; an alarm that a healthy system would raise too says so."""
    assert causes_of(rulebook, ranking(*held, alone=alone))["said"] == said


def test_one_cause_alone_has_its_evidence_in_a_line_and_no_letter(rulebook: Rulebook) -> None:
    """It was named above; the customer reads what it means, and what speaks against it."""
    said = ranking("weak_compressor", alone=True)
    said["evidence"][1]["on"] = {"weak_compressor": "against"}
    block = causes_of(rulebook, said)
    assert (block["held"], block["grid"], block["check"]) == ([], None, None)
    assert block["notes"][0].replace("\u00a0", " ") == (
        "The compressor may be worn and no longer pump enough refrigerant. Seen or measured: condensing temperature"
        " 64.8 °F over ambient (typical here: about 45.0 °F). However: condenser face clean.")


def test_no_weight_is_printed(rulebook: Rulebook) -> None:
    """No percentage and no "best": what is held open is a set."""
    for held in (THREE, FIVE, ("healthy", *FIVE)):
        text = str(causes_of(rulebook, ranking(*held)))
        assert "%" not in text
        assert "best" not in text


def test_the_heading_says_that_the_causes_are_from_before_the_work(rulebook: Rulebook) -> None:
    """A customer must not read a fault that was repaired as one that is still there."""
    assert causes_of(rulebook, ranking(*THREE))["title"].startswith("Before the work")
    assert causes_of(rulebook, ranking(*THREE), role="single")["title"] == "What could be wrong"


def test_a_healthy_finding_says_that_a_small_loss_cannot_be_seen(rulebook: Rulebook) -> None:
    """A receiver hides it; only weighing reveals it (common practice, no source)."""
    block = causes_of(rulebook, ranking("healthy", alone=True))
    assert any("Weighing" in note for note in block["notes"])
    assert (block["held"], block["grid"]) == ([], None)


@pytest.mark.parametrize("visit", ALL.values(), ids=ALL)
def test_every_sheet_says_who_may_open_the_circuit(visit: dict[str, Any], rulebook: Rulebook) -> None:
    """The causes needn't repeat it: it is among the cautions of every visit."""
    blocks = blocks_of(jobsheet(visit, judged(visit, rulebook), rulebook))
    assert any("certified people" in text for text in blocks["cautions"]["texts"])
