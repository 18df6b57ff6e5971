"""The job sheet's data: the customer's words and units, nothing invented, one digest for its content.

Units by NIST SP 811 (2008), appendix B; money added up by hand; the readings are invented.
"""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest

from sync.language.words import Words
from sync.sheet.jobsheet import jobsheet, marked, revision
from sync.sheet.letter import letter
from sync.wire.schemas import check_visit
from tests.support.sheet_visits import ALL, COMPARISON, DECLINED, MOVED, PAIR, PSI, SINGLE, blocks_of, judged

Rulebook = dict[str, Any]


def sheet_of(visit: dict[str, Any], rulebook: Rulebook, comparison: dict[str, Any] | None = None) -> dict[str, Any]:
    """The data of a visit's sheet."""
    return jobsheet(visit, judged(visit, rulebook, comparison), rulebook)


def block(data: dict[str, Any], name: str) -> dict[str, Any]:
    """The block with that name."""
    found: dict[str, Any] = blocks_of(data)[name]
    return found


def cells_of(data: dict[str, Any]) -> dict[str, list[dict[str, Any]]]:
    """The cells of the table of readings by row; its unit stays with its label."""
    return {row["label"].replace("\u00a0", " "): row["cells"] for row in block(data, "readings")["rows"]}


def rows(data: dict[str, Any]) -> dict[str, list[str]]:
    """The main table: label to its figures."""
    return {label: [cell["text"] for cell in cells] for label, cells in cells_of(data).items()}


def texts(data: dict[str, Any], name: str) -> list[str]:
    """The paragraphs of a block, with no-break spaces made plain."""
    return [item["text"].replace("\u00a0", " ") for item in block(data, name)["paragraphs"]]


def figures(data: dict[str, Any]) -> dict[str, tuple[str, str]]:
    """The large numbers as a person reads them, and the line of each."""
    return {one["name"]: (" ".join(part for part in (one["before"], one["to"], one["value"], one["unit"]) if part),
                          one["line"].replace("\u00a0", " ")) for one in data["figures"]}


@pytest.mark.parametrize("visit", ALL.values(), ids=list(ALL))
def test_the_visits_of_these_tests_have_no_fault_of_shape(visit: dict[str, Any], rulebook: Rulebook) -> None:
    """The sheets' sources could have been filed."""
    assert check_visit(visit, rulebook) == []


@pytest.mark.parametrize("visit", ALL.values(), ids=list(ALL))
def test_a_sheet_is_plain_data(visit: dict[str, Any], rulebook: Rulebook) -> None:
    """It survives JSON unchanged, which is how it reaches the press."""
    data = sheet_of(visit, rulebook)
    assert json.loads(json.dumps(data)) == data


def test_figures_stand_in_the_customers_units(rulebook: Rulebook) -> None:
    """psi and °F for a customer who asked for them, though the technician read kPa and °C."""
    found = rows(sheet_of(PAIR, rulebook))
    assert found["High side, psi"] == ["214", "167"]
    assert found["Low side, psi"] == ["26", "25"]
    # 27.5 °C and 29 °C by the definition of the Fahrenheit degree (NIST SP 811, appendix B.9)
    assert found["Ambient at the condenser, °F"] == ["81.5", "84.2"]


def test_without_a_customers_wish_the_technicians_units_hold(rulebook: Rulebook) -> None:
    """The technician's kPa and °C if the customer named none, and SI if nobody did."""
    assert rows(sheet_of(SINGLE, rulebook))["High side, kPa"] == ["1,120"]
    nobody = {key: value for key, value in PAIR.items() if key != "units"}
    assert rows(sheet_of(nobody, rulebook))["High side, kPa"] == ["1,475", "1,151"]


def test_decimals_follow_what_was_typed(rulebook: Rulebook) -> None:
    """A technician who read half a psi sees it again; otherwise the unit's usual decimals are used."""
    visit = copy.deepcopy(PAIR)
    visit["tests"][0]["readings"]["low_kpa_g"] = 26.5 * PSI
    visit["typed"] = {"a1.low_kpa_g": {"text": "26,5", "unit": "psi"}}
    assert rows(sheet_of(visit, rulebook))["Low side, psi"] == ["26.5", "25"]


def test_derived_values_carry_their_uncertainty(rulebook: Rulebook) -> None:
    """Condensing over ambient with its ±; plain readings have none."""
    cells = cells_of(sheet_of(PAIR, rulebook))
    derived = next(cells[label] for label in cells if label.startswith("Condensing over ambient"))
    assert all(cell["spread"].startswith("±\u00a0") for cell in derived)
    assert all(cell["spread"] == "" for cell in cells["High side, psi"])


def test_an_absent_reading_is_not_taken_or_left_out(rulebook: Rulebook) -> None:
    """The vent stays as not taken; nothing is said about a discharge line that nobody clamped."""
    found = rows(sheet_of(SINGLE, rulebook))
    assert found["Vent, centre, °C"] == ["not taken"]
    assert not any(label.startswith("Discharge line") for label in found)
    visit = copy.deepcopy(PAIR)
    del visit["tests"][1]["readings"]["vent_c"]
    assert rows(sheet_of(visit, rulebook))["Vent, centre, °F"] == ["41.0", "not taken"]


def test_settings_are_said_once_when_equal_and_as_rows_when_not(rulebook: Rulebook) -> None:
    """A blower at another stage is a line of the table, above the readings."""
    visit = copy.deepcopy(PAIR)
    visit["tests"][1]["conditions"]["blower"] = "high"
    data = sheet_of(visit, rulebook)
    assert block(data, "readings")["settings"] == (
        "In both tests: recirculated air, 2,000\u00a0rpm, fan high, windows closed.")
    assert block(data, "readings")["rows"][0]["label"] == "Blower"
    assert rows(data)["Blower"] == ["low", "high"]


def test_without_a_comparison_nothing_is_claimed(rulebook: Rulebook) -> None:
    """Both tests side by side, with a note that the weather's share wasn't calculated."""
    data = sheet_of(PAIR, rulebook)
    assert data["result"] == {
        "sentences": ["We measured your air conditioning twice, but the effect of the weather wasn’t calculated."],
        "detail": ["Measured twice, 56 minutes apart, with the same settings."]}
    assert texts(data, "result") == ["The readings stand side by side; the effect of the weather wasn’t calculated."]
    assert figures(data)["high"][1] == "47 psi less."


def test_a_comparison_is_said_with_its_figures(rulebook: Rulebook) -> None:
    """Raw change, the work's share with its interval, the weather's share, and how much warmer it was."""
    data = sheet_of(PAIR, rulebook, COMPARISON)
    # 47 of 214 psi are 22 %, and the work's 55 psi 26 %: the smaller is stated, by the nearest part with a name.
    assert data["result"]["sentences"] == [
        "Your air conditioning’s compressor now works against about a fifth less pressure."]
    assert texts(data, "result") == [
        "Compared in the same weather, the system now works more easily than before.",
        "Measured, the high side fell by 47 psi. The work accounts for −55 psi (95 % interval −69 to −41), the"
        " weather and settings for +8. The second test was 2.7 °F warmer."]
    assert figures(data) == {
        "vent": ("41 to 41 °F", "As cold as before."),
        "high": ("214 to 167 psi", "47 psi less. In equal weather about 55 psi less (41 to 69)."),
        "ambient": ("82 to 84 °F", "2 °F warmer, so the second test was the harder one.")}


@pytest.mark.parametrize(("verdict", "begins"), [
    ("worse", "Your air conditioning works less well than before the work."),
    ("not_shown", "We measured no change in your air conditioning that is clear enough to count."),
    ("not_comparable", "We measured twice, but conditions were too different to compare the two results."),
])
def test_each_verdict_has_its_sentence(verdict: str, begins: str, rulebook: Rulebook) -> None:
    """No verdict is dressed up as another, and one without figures claims nothing."""
    comparison = {**COMPARISON, "verdict": verdict, "reasons": ["face_wet"],
                  "high_side": {"raw_change_kpa": None, "conditions_share_kpa": None, "work_share_kpa": None,
                                "interval_kpa": None, "verdict": verdict}}
    data = sheet_of(PAIR, rulebook, comparison)
    assert data["result"]["sentences"] == [begins]
    assert len(texts(data, "result")) == 1
    assert figures(data)["high"][1] == "47 psi less."


def test_a_change_that_is_neither_better_nor_worse_is_a_change(rulebook: Rulebook) -> None:
    """The high side fell for certain, after refrigerant was moved: "nothing changed" would be untrue."""
    data = sheet_of(PAIR, rulebook, {**COMPARISON, "verdict": "not_shown"})
    assert data["result"]["sentences"] == [
        "The readings of your air conditioning changed, but not clearly for better or worse."]
    assert texts(data, "result")[0] == "The readings changed, but not clearly for better or worse."
    within = {**COMPARISON["high_side"], "interval_kpa": [-80.0, 20.0]}
    data = sheet_of(PAIR, rulebook, {**COMPARISON, "verdict": "not_shown", "high_side": within})
    assert texts(data, "result")[0] == "The two tests show no change larger than their uncertainty."
    assert figures(data)["high"][1] == "47 psi less. In equal weather the difference is too small to be sure of."


def test_superheat_that_is_back_is_the_result(rulebook: Rulebook) -> None:
    """After work on the refrigerant the high side says nothing; the superheat does."""
    data = sheet_of(PAIR, rulebook, {**COMPARISON, "notes": ["superheat_back"]})
    assert data["result"]["sentences"] == ["Enough refrigerant flows through your air conditioning again."]
    said = texts(data, "result")
    assert said[0] == "After the work, enough refrigerant reaches the evaporator again."
    assert said[-1] == "Superheat is back where it should be."


@pytest.mark.parametrize(("work", "named"), [("condenser_cleaned", True), ("recharged", False)])
def test_what_is_not_credited_to_a_cleaning_needs_a_cleaning(work: str, named: bool, rulebook: Rulebook) -> None:
    """If the refrigerant itself was the work, there is nothing to tell it apart from."""
    visit = {**PAIR, "work": [{"id": "w1", "code": work, "at": "2026-07-14T14:20:00+02:00"}]}
    said = texts(sheet_of(visit, rulebook, {**COMPARISON, "credits": ["refrigerant_moved"]}), "result")
    assert ("Not credited to the cleaning: refrigerant was moved." in " ".join(said)) is named


def test_a_visit_without_a_test_has_a_sheet_as_good(rulebook: Rulebook) -> None:
    """Declined: said first, cautions still there, no number, no empty table and no page for the technician."""
    data = sheet_of(DECLINED, rulebook)
    assert data["result"] == {"sentences": ["You decided not to have the work done."],
                              "detail": ["Nothing was measured on this visit."]}
    assert [block["name"] for block in data["blocks"]] == ["cautions"]
    assert (data["figures"], data["technician"], data["audience"]) == ([], None, "")


def test_the_bill_is_exact(rulebook: Rulebook) -> None:
    """45 + 1.5 × 40 = 105; less 5; 20 % of 100 is 20; total 120 (by hand)."""
    bill = block(sheet_of(PAIR, rulebook), "price")
    assert [(total["label"], total["text"]) for total in bill["totals"]] == [
        ("Subtotal", "105.00"), ("Discount", "−5.00"), ("Tax 20\u00a0% on 100.00", "20.00"), ("Total, EUR", "120.00")]
    assert bill["rows"][1] == {"text": "Condenser cleaned", "more": "1.5 × 40.00", "net": "60.00"}
    assert bill["notes"] == ["Paid by card, 14 July 2026."]


def test_what_nobody_signed_is_not_called_signed(rulebook: Rulebook) -> None:
    """Agreed without a signature: the sentence says so."""
    signed = block(sheet_of(PAIR, rulebook), "signature")
    assert signed["lines"] == ["Noor Halloran, 14 July 2026, 15:19.", "Agreed: the work and the price."]
    agreed = block(sheet_of({key: PAIR[key] for key in PAIR if key != "signature"}, rulebook), "signature")
    assert agreed["lines"] == ["Agreed but not signed: the work and the price."]


@pytest.mark.parametrize(("signed", "line"), [
    ({"sum": "120.00", "work": "condenser cleaned"}, "Signed for: condenser cleaned, 120.00."),
    ({"sum": "110", "work": "condenser cleaned"},
     "Signed for: condenser cleaned, 110.00. The bill was changed after that."),
    ({"sum": "120"}, "Signed for 120.00."),
    ({"sum": "99.5"}, "Signed for 99.50. The bill was changed after that."),
    ({"work": "condenser cleaned"}, "Signed for: condenser cleaned."),
    ({"sum": "120", "work": "condenser cleaned", "done": ["condenser_cleaned"]},
     "Signed for: condenser cleaned, 120.00."),
    ({"sum": "120", "work": "gap cleaned", "done": ["gap_cleaned"]},
     "Signed for: gap cleaned, 120.00. The work was changed after that."),
    ({"sum": "110", "done": []}, "Signed for 110.00. The bill and the work were changed after that."),
])
def test_what_was_signed_for_is_printed_where_it_was_kept(
    signed: dict[str, str], line: str, rulebook: Rulebook
) -> None:
    """Work and sum as they were then; a bill with another total now, 120.00, is named as changed."""
    visit = {**PAIR, "signature": {**PAIR["signature"], **signed}}
    assert line in block(sheet_of(visit, rulebook), "signature")["lines"]


def test_a_change_after_the_signature_is_told_in_the_customers_language(rulebook: Rulebook) -> None:
    """Both languages that the sheet has been written in."""
    signed = {**PAIR["signature"], "sum": "110", "work": "hueco limpiado", "done": ["gap_cleaned"]}
    visit = {**PAIR, "signature": signed, "customer": {**PAIR["customer"], "language": "es"}}
    lines = block(sheet_of(visit, rulebook), "signature")["lines"]
    assert "Firmado por: hueco limpiado, 110,00. La cuenta y el trabajo se cambiaron después." in lines


def test_refrigerant_moved_is_told_by_mass(rulebook: Rulebook) -> None:
    """What went out, what was held, what went in; and the circuit is no longer called closed."""
    data = sheet_of(MOVED, rulebook)
    moved = block(data, "refrigerant")
    assert moved["rows"][0][:3] == ["Recovered", "R-134a", "410\u00a0g"]
    assert moved["rows"][1] == ["Evacuated", "", "", "Down to 65\u00a0Pa, rose by 20\u00a0Pa, held 30\u00a0min"]
    assert not any("no refrigerant was moved" in text for text in block(data, "cautions")["texts"])
    assert "recovered 410 g, charged 550 g." in texts(data, "found")
    assert any("no refrigerant was moved" in text for text in block(sheet_of(PAIR, rulebook), "cautions")["texts"])


def test_what_was_moved_is_told_as_carbon_dioxide(rulebook: Rulebook) -> None:
    """410 g out and 550 g in times 1530 (R-134a, 100 years, IPCC AR6): 627.3 and 841.5 kg, never added together."""
    notes = block(sheet_of(MOVED, rulebook), "refrigerant")["notes"]
    assert "As carbon dioxide over 100 years (IPCC AR6): recovered 627.3\u00a0kg, charged 841.5\u00a0kg." in notes
    assert "The vacuum held. That doesn’t prove that the circuit is tight under pressure." in notes


def test_the_rest_reading_is_said_with_what_it_cannot_tell(rulebook: Rulebook) -> None:
    """Both gauges in the customer's unit, and one sentence of finding."""
    rest = block(sheet_of(MOVED, rulebook), "rests")
    assert rest["rows"] == [["18:31", "86", "86", "80.6"]]  # 590 and 594 kPa in psi, 27 °C in °F
    assert len(rest["notes"]) == 1
    assert rest["notes"][0].startswith("At rest, ")


def test_a_followed_test_is_drawn_over_its_minutes(rulebook: Rulebook) -> None:
    """A trace becomes a line with its finding; two points aren't a line."""
    visit = copy.deepcopy(PAIR)
    visit["tests"][0]["trace"] = [{"s": s, "vent_c": 25.0 - s / 60.0} for s in range(0, 601, 60)]
    visit["tests"][1]["trace"] = [{"s": 0, "vent_c": 25.0}, {"s": 60, "vent_c": 5.0}]
    plot = block(sheet_of(visit, rulebook), "readings")["plots"][-1]
    assert plot["kind"] == "trace"
    assert [line["label"] for line in plot["lines"]] == ["before"]
    assert plot["alt"] == "Settling of the vent: before from 77.0 to 59.0\u00a0°F in 10 minutes."  # 25 and 15 °C


def test_cautions_follow_the_vehicle_and_the_work(rulebook: Rulebook) -> None:
    """A hybrid with R-1234yf: burns, high voltage, starts by itself; none of these on a plain car."""
    hybrid = " ".join(block(sheet_of(SINGLE, rulebook), "cautions")["texts"])
    plain = " ".join(block(sheet_of(PAIR, rulebook), "cautions")["texts"])
    for word in ("can burn", "high voltage", "start its engine"):
        assert word in hybrid
        assert word not in plain
    assert "coil cleaner" in plain
    assert "certified people" in plain


def test_every_code_has_its_words(rulebook: Rulebook) -> None:
    """A code added to a vocabulary needs a word before the sheet can print it."""
    words: Any = rulebook["words"]["en"]["sheet"]
    groups = {"checks": "check", "observed": "observed", "work": "work", "move": "move", "consent": "consent",
              "outcome": "outcome", "role": "role", "check_state": "check_state"}
    for book, group in groups.items():
        assert set(rulebook["vocabularies"][book]) <= set(words[group]), book
    for book in ("blower", "air", "rear", "windows", "fan", "mode"):
        assert set(rulebook["vocabularies"][book]) <= set(words["condition_value"]), book
    assert {entry["code"] for entry in rulebook["cautions"]["cautions"]} <= set(words["caution"])


def test_a_finding_is_said_in_the_plots_alternative_text(rulebook: Rulebook) -> None:
    """The change of the high side in its parts, the interval of the work in words."""
    assessment = judged(PAIR, rulebook, COMPARISON)
    change = block(jobsheet(PAIR, assessment, rulebook), "readings")["plots"][-1]
    assert len(change["bars"]) == 2
    assert change["alt"] == (
        "Change of the high side: −47\u00a0psi measured; the weather and settings account for +8, the work for −55"
        " (95\u00a0% interval −69 to −41).")


def test_a_change_of_the_visit_is_another_revision(rulebook: Rulebook) -> None:
    """The digest follows the sheet's content, and nothing else."""
    first = revision(sheet_of(PAIR, rulebook))
    assert first == revision(sheet_of(copy.deepcopy(PAIR), rulebook))
    assert first != revision(sheet_of({**PAIR, "advice": []}, rulebook))
    newer = {**rulebook, "hash": "0" * 64}
    assert first == revision(jobsheet(PAIR, judged(PAIR, newer), newer))


def test_a_revision_names_the_sheet_it_replaces(rulebook: Rulebook) -> None:
    """A customer with an older sheet can tell which one counts; the mark doesn't change the digest."""
    data = sheet_of(PAIR, rulebook)
    second = marked(data, 2, rulebook, {"number": 1, "at": "2026-07-14T20:00:00+02:00"})
    assert second["revision"] == [f"Revision 2, {revision(data)[:12]}.",
                                  "This sheet replaces the one sent on 14 July 2026 (revision 1)."]
    assert revision(second) == revision(data)


def test_the_letter_says_what_the_sheet_says(rulebook: Rulebook) -> None:
    """Result, advice, total and the technician's number."""
    data = sheet_of(PAIR, rulebook)
    written = letter(PAIR, data, rulebook)
    assert written["subject"] == "Alder Coast Mobile Cooling: job sheet, 14 July 2026"
    assert written["file"] == "job-sheet-2026-07-14.pdf"
    for part in ("Hello Noor Halloran,", *data["result"]["sentences"], "Rinse the face each spring.",
                 "120.00\u00a0EUR, paid", "555-0142"):
        assert part in "\n".join(line for lines in written["paragraphs"] for line in lines)


def test_what_could_not_be_told_is_said_once(rulebook: Rulebook) -> None:
    """One test lacks the clamp, the other also the low side: superheat is named once, with both."""
    visit = copy.deepcopy(PAIR)
    del visit["tests"][1]["readings"]["low_kpa_g"]
    (said,) = [text for text in block(sheet_of(visit, rulebook), "small")["texts"] if "superheat" in text]
    assert said.count("superheat (missing:") == 1
    assert "suction line" in said


def test_the_circuit_is_called_closed_only_when_it_was(rulebook: Rulebook) -> None:
    """By the rulebook's own conditions: not after a vacuum or a repair, but after an identification alone."""
    closed = Words(rulebook["words"]).say("sheet.note.closed")
    moves = [{"id": "m1", "kind": "vacuum"}]
    work = [{"id": "w9", "code": "leak_repaired"}]
    identified = [{"id": "m1", "kind": "identified"}]
    assert closed in block(sheet_of(PAIR, rulebook), "cautions")["texts"]
    assert closed in block(sheet_of({**PAIR, "refrigerant_moves": identified}, rulebook), "cautions")["texts"]
    for opened in ({"refrigerant_moves": moves}, {"work": work}):
        assert closed not in block(sheet_of({**PAIR, **opened}, rulebook), "cautions")["texts"]


def test_days_of_calibration_are_printed_where_they_are_known(rulebook: Rulebook) -> None:
    """Beside the instruments, each with its own day; nothing is said if there is none."""
    visit = copy.deepcopy(PAIR)
    days = {"low_gauge": {"calibrated_until": "2027-03-31"}, "hygrometer_calibrated_until": "2026-01-01"}
    visit["instruments"] = days
    said = block(sheet_of(visit, rulebook), "small")["texts"][0]
    assert "Calibrated until: low gauge 31 March 2027, hygrometer 1 January 2026." in said
    assert "Calibrated" not in block(sheet_of(PAIR, rulebook), "small")["texts"][0]


def test_a_setting_that_was_not_noted_is_called_so(rulebook: Rulebook) -> None:
    """Noted in only one test, it isn't a reading that wasn't taken; and before the work there was no rinse to note."""
    visit = copy.deepcopy(PAIR)
    before, after = visit["tests"]
    before["conditions"].pop("rinsed_min_ago", None)
    after["conditions"] |= {"in_sun": True, "rinsed_min_ago": 20}
    before["conditions"].pop("in_sun", None)
    found = rows(sheet_of(visit, rulebook))
    assert found["Sun"][0] == "not recorded"
    assert found["Minutes since the rinse"] == ["–", "20"]
