"""Shapes: every fault at once with its pointer, strict numbers, codes from the rulebook, no judgement of physics."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from typing import Any

import pytest

from sync.physics.diagnosis import diagnose
from sync.wire.schemas import check_op, check_visit
from tests.support.ops import STARTED, Phone, uuid7
from tests.support.random_visits import visit as random_visit

VISIT = uuid7(1, 1)
Books = dict[str, Any]


def found(faults: list[dict[str, Any]]) -> set[tuple[str, str]]:
    """(pointer, code) of each fault; each has a sentence of the rulebook."""
    assert all(set(fault) == {"pointer", "code", "detail", "value"} for fault in faults)
    assert all(fault["detail"].endswith(".") for fault in faults), faults
    return {(fault["pointer"], fault["code"]) for fault in faults}


def visit_with(**fields: Any) -> dict[str, Any]:
    """The smallest visit, and more."""
    return {"id": VISIT, "schema": 1, "started_at": STARTED, **fields}


def set_op(body: dict[str, Any], *pointers: str) -> dict[str, Any]:
    """visit.set with new bases for the pointers."""
    return Phone().op(VISIT, "visit.set", body, dict.fromkeys(pointers))


def test_the_smallest_visit_is_sound(rulebook: Books) -> None:
    """Only id, schema and start are required."""
    assert check_visit(visit_with(), rulebook) == []


def test_what_must_be_there_is_missed(rulebook: Books) -> None:
    """All three at once."""
    expected = {("/id", "missing"), ("/schema", "missing"), ("/started_at", "missing")}
    assert found(check_visit({}, rulebook)) == expected
    assert found(check_visit([], rulebook)) == {("", "not_an_object")}


def test_odd_physics_has_the_right_shape(rulebook: Books) -> None:
    """A vent of 400 °C, a low side above the high side and a frozen desert are kept for the judgement to name."""
    readings = {"vent_c": 400, "low_kpa_g": 2000.5, "high_kpa_g": -90}
    test = {"id": "b1", "role": "before", "at": STARTED, "readings": readings, "conditions": {"ambient_c": -273.0}}
    assert check_visit(visit_with(tests=[test]), rulebook) == []


def test_all_faults_of_a_visit_come_at_once(rulebook: Books) -> None:
    """Ten slips are ten faults, each with its pointer."""
    visit = visit_with(
        started_at="2026-06-12T09:05:00",
        wheels=4,
        outcome="finished",
        vehicle={"year": 12.7, "vin": 5, "evaporators": 3, "internal_exchanger": "yes"},
        tests=[{"id": "b1", "role": "before", "at": STARTED, "readings": {"vent_c": "7"}, "observed": ["magic"]}],
        charges=[{"id": "c1", "unit_price": 65}],
        place=None,
    )
    assert found(check_visit(visit, rulebook)) == {
        ("/started_at", "not_a_time"),
        ("/wheels", "unknown_field"),
        ("/outcome", "unknown_code"),
        ("/vehicle/year", "not_whole"),
        ("/vehicle/vin", "not_a_text"),
        ("/vehicle/evaporators", "unknown_code"),
        ("/vehicle/internal_exchanger", "not_a_truth"),
        ("/tests/0/readings/vent_c", "not_a_number"),
        ("/tests/0/observed/0", "unknown_code"),
        ("/charges/0/unit_price", "not_money"),
    }


def chart(**fields: Any) -> dict[str, Any]:
    """A maker's chart of one row, and the given replacement."""
    return {"rows": [{"ambient_c": 30, "low_kpa_g": [150, 250], "high_kpa_g": [1370.5, 1570]}], **fields}


def test_a_chart_is_taken_whole_with_half_its_fields(rulebook: Books) -> None:
    """Settings and ranges may be missing; one pointer sets it, clears it, and corrects it on the vehicle's card."""
    row = {"ambient_c": -5, "inlet_c": 31.5, "humidity_pct": 60, "vent_c": [7, 7]}
    full = chart(source="Manual, page 12", rpm=1500, blower="high", air="recirculated", windows="open", rows=[row] * 12)
    for one in (full, chart(), {"rows": [{"ambient_c": 30}]}):
        assert check_visit(visit_with(vehicle={"chart": one}), rulebook) == []
        assert check_op(set_op({"vehicle": {"chart": one}}, "/vehicle/chart"), rulebook) == []
        assert check_op(Phone().beside("vehicle.set", {"/chart": None}, id="v1", chart=one), rulebook) == []
    assert check_op(set_op({"vehicle": {"chart": None}}, "/vehicle/chart"), rulebook) == []


def test_all_faults_of_a_chart_come_at_once(rulebook: Books) -> None:
    """Each with its row and field; a range that runs backwards names both its ends; equal ends are a range."""
    rows = [
        {"low_kpa_g": [250, 150], "high_kpa_g": [1370], "vent_c": [7, 7]},
        {"ambient_c": "30", "low_kpa_g": 150, "high_kpa_g": ["1370", 1570], "vent_c": [True, 2], "id": "r1"},
        {"ambient_c": None, "low_kpa_g": [1, 2**60]},
        "30",
    ]
    slips = chart(source=5, rpm="1500", blower="full", air="fresh", windows=False, wheels=4, rows=rows)
    expected = {
        ("source", "not_a_text"), ("rpm", "not_a_number"), ("blower", "unknown_code"), ("air", "unknown_code"),
        ("windows", "unknown_code"), ("wheels", "unknown_field"), ("rows/0/ambient_c", "missing"),
        ("rows/0/low_kpa_g", "range_reversed"), ("rows/0/high_kpa_g", "not_a_range"),
        ("rows/1/ambient_c", "not_a_number"), ("rows/1/low_kpa_g", "not_a_range"),
        ("rows/1/high_kpa_g", "not_a_range"), ("rows/1/vent_c", "not_a_range"), ("rows/1/id", "unknown_field"),
        ("rows/2/ambient_c", "null_not_allowed"), ("rows/2/low_kpa_g", "not_a_range"), ("rows/3", "not_an_object"),
    }
    faults = check_visit(visit_with(vehicle={"chart": slips}), rulebook)
    assert found(faults) == {(f"/vehicle/chart/{place}", code) for place, code in expected}
    [reversed_] = [fault["detail"] for fault in faults if fault["code"] == "range_reversed"]
    assert "250" in reversed_
    assert "150" in reversed_


@pytest.mark.parametrize(
    ("value", "place", "code"),
    [({}, "/rows", "missing"), (chart(rows=[]), "/rows", "too_few"), (chart(rows={}), "/rows", "not_a_list"),
     (chart(rows=[{"ambient_c": 30}] * 13), "/rows", "too_many"), ([], "", "not_an_object")],
)
def test_a_chart_has_one_to_twelve_rows(rulebook: Books, value: Any, place: str, code: str) -> None:
    """Also where it is set in a visit, though most of what is set there may be left out."""
    assert found(check_visit(visit_with(vehicle={"chart": value}), rulebook)) == {(f"/vehicle/chart{place}", code)}
    op = set_op({"vehicle": {"chart": value}}, "/vehicle/chart")
    assert found(check_op(op, rulebook)) == {(f"/body/vehicle/chart{place}", code)}


def test_a_baseline_is_set_whole(rulebook: Books) -> None:
    """One without its tests is none, wherever it stands."""
    op = set_op({"vehicle": {"baseline": {}}}, "/vehicle/baseline")
    assert found(check_op(op, rulebook)) == {("/body/vehicle/baseline/entries", "missing")}


@pytest.mark.parametrize("value", ["12.5", True, [12.5], {"is": 1}])
def test_a_number_is_a_number(rulebook: Books, value: Any) -> None:
    """Text, truth, list and object are none."""
    assert found(check_visit(visit_with(distance_km=value), rulebook)) == {("/distance_km", "not_a_number")}


@pytest.mark.parametrize(
    "text", ["2026-06-12T09:05:00-07:00", "2026-06-12T09:05Z", "2026-06-12T09:05:00.123+05:45", "0001-01-01T00:00:00Z"]
)
def test_times_with_an_offset_are_taken(rulebook: Books, text: str) -> None:
    """ISO 8601 in the extended form with its offset."""
    assert check_visit(visit_with(ended_at=text), rulebook) == []


@pytest.mark.parametrize(
    "text", ["2026-06-12", "2026-06-31T09:05:00Z", "2026-06-12 09:05:00Z", "20260612T090500Z", 5, ""]
)
def test_other_times_are_not_taken(rulebook: Books, text: Any) -> None:
    """No offset, no such day, another form."""
    assert found(check_visit(visit_with(ended_at=text), rulebook)) == {("/ended_at", "not_a_time")}


def test_every_code_of_the_vocabularies_is_taken(rulebook: Books) -> None:
    """The lists of checks, seen things, work and moves, as the rulebook has them."""
    words = rulebook["vocabularies"]
    visit = visit_with(
        checks=[{"id": f"k{i}", "code": code, "state": "ok"} for i, code in enumerate(words["checks"])],
        work=[{"id": f"w{i}", "code": code} for i, code in enumerate(words["work"])],
        refrigerant_moves=[{"id": f"m{i}", "kind": kind} for i, kind in enumerate(words["move"])],
        cautions=[{"id": "a", "code": entry["code"]} for entry in rulebook["cautions"]["cautions"]],
        tests=[{"id": "b1", "role": role, "at": STARTED, "observed": words["observed"]} for role in words["role"]],
    )
    assert check_visit(visit, rulebook) == []


def test_an_opening_needs_its_start(rulebook: Books) -> None:
    """visit.open without started_at, and with an emptied one."""
    phone = Phone()
    assert found(check_op(phone.op(VISIT, "visit.open", {}), rulebook)) == {("/body/started_at", "missing")}
    emptied = phone.op(VISIT, "visit.open", {"started_at": None}, {"/started_at": None})
    assert found(check_op(emptied, rulebook)) == {("/body/started_at", "null_not_allowed")}
    assert check_op(phone.opening(VISIT), rulebook) == []


def test_a_setting_may_clear_and_needs_no_start(rulebook: Books) -> None:
    """null empties a field."""
    assert check_op(set_op({"vehicle": {"plate": None}}, "/vehicle/plate"), rulebook) == []


def test_a_setting_sets_no_list(rulebook: Books) -> None:
    """Lists are added to and struck from, never set."""
    assert found(check_op(set_op({"tests": []}, "/tests"), rulebook)) == {("/body/tests", "unknown_field")}


def test_a_base_names_exactly_what_is_set(rulebook: Books) -> None:
    """Left out and too much are both told, with the pointer escaped as RFC 6901 wants it."""
    op = set_op({"vehicle": {"plate": "A"}}, "/vehicle/vin")
    expected = {("/base/~1vehicle~1plate", "base_missing"), ("/base/~1vehicle~1vin", "base_not_set")}
    assert found(check_op(op, rulebook)) == expected


def test_an_addition_has_no_base(rulebook: Books) -> None:
    """test.add builds on nothing; what was typed goes with it."""
    phone = Phone()
    op = phone.test(VISIT, vent_c=4)
    op["body"]["typed"] = {"vent_c": {"text": "39,2", "unit": "f"}}
    assert check_op(op, rulebook) == []
    op["base"] = {"/tests/b1/role": None}
    assert found(check_op(op, rulebook)) == {("/base/~1tests~1b1~1role", "base_not_set")}


def test_a_reading_is_set_by_the_test_it_belongs_to(rulebook: Books) -> None:
    """reading.set needs the id only, and names what it builds on."""
    body = {"id": "b1", "readings": {"vent_c": None}, "typed": {"vent_c": {"text": "4"}}}
    base = {"/tests/b1/readings/vent_c": uuid7(5, 5), "/typed/b1.vent_c": None}
    assert check_op(Phone().op(VISIT, "reading.set", body, base), rulebook) == []
    missing = check_op(Phone().op(VISIT, "reading.set", {"readings": {}}), rulebook)
    assert ("/body/id", "missing") in found(missing)


@pytest.mark.parametrize("kind", ["vehicle.set", "customer.set", "baseline.mark", "customer.merge", "visit.set"])
def test_an_operation_says_of_which_visit_it_is_or_of_none(kind: str, rulebook: Books) -> None:
    """Left out, nobody could tell what it is about; beside the visits it is null, and nothing else."""
    bodies = {"vehicle.set": {"id": "v1", "plate": "A"}, "customer.set": {"id": "c1", "name": "A"},
              "baseline.mark": {"vehicle": "v1", "visit": VISIT, "test": "b1", "healthy": True},
              "customer.merge": {"keep": "c1", "drop": "c2"}, "visit.set": {}}
    op = Phone().beside(kind, {"/plate": None} if kind == "vehicle.set" else None, **bodies[kind])
    del op["visit"]
    assert ("/visit", "missing") in found(check_op(op, rulebook))


def test_a_mending_is_checked_as_what_it_stands_for(rulebook: Books) -> None:
    """The inner body's faults have their full pointers; a mending of a mending is none."""
    phone = Phone()
    inner = {"replaces": uuid7(5, 5), "kind": "visit.set", "body": {"vehicle": {"vin": 5}}}
    op = phone.op(VISIT, "op.mend", inner, {"/vehicle/vin": None})
    assert found(check_op(op, rulebook)) == {("/body/body/vehicle/vin", "not_a_text")}
    again = phone.op(VISIT, "op.mend", {**inner, "kind": "op.mend", "body": {}})
    assert found(check_op(again, rulebook)) == {("/body/kind", "unknown_code")}


def test_a_settling_reaches_lists_by_their_ids(rulebook: Books) -> None:
    """conflict.settle sets any leaf, those of tests included, with or without bases."""
    tree = {"tests": {"b1": {"readings": {"low_kpa_g": 210}}}, "vehicle": {"plate": "A"}}
    body = {"of": [uuid7(5, 5), uuid7(6, 6)], "set": tree}
    assert check_op(Phone().op(VISIT, "conflict.settle", body), rulebook) == []
    base = {"/vehicle/plate": uuid7(5, 5)}
    assert check_op(Phone().op(VISIT, "conflict.settle", body, base), rulebook) == []


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("trace.add", {"test": "b1", "points": [{"s": 0, "vent_c": 12.5}, {"s": 5.5}]}),
        ("rest.add", {"id": "r1", "low_kpa_g": 500, "hours_off": 12}),
        ("work.add", {"id": "w1", "code": "condenser_cleaned", "cleaner": {"parts_water": 8, "passes": 2}}),
        ("move.add", {"id": "m1", "kind": "charged", "refrigerant": "R134a", "grams": 500}),
        ("charge.add", {"id": "c1", "text": "Test", "quantity": "1", "unit_price": "-65.00", "tax_pct": "7.25"}),
        ("check.add", {"id": "k1", "code": "belt", "state": "ok"}),
        ("consent.add", {"id": "n1", "code": "work_agreed", "at": STARTED}),
        ("advice.add", {"id": "a1", "text": "Rinse it."}),
        ("photo.add", {"sha256": "0" * 64, "role": "before", "at": STARTED}),
        ("caution.confirm", {"id": "g1", "code": "eyes_hands", "at": STARTED}),
        ("signature.add", {"name": "R. Okello", "at": STARTED, "strokes": [[1, 2, 3.5], [[1, 2]]], "of": "0" * 64}),
        ("verdict.shown", {"rulebook": "0" * 64, "app": "0.1.0", "at": STARTED, "digest": "0" * 64}),
        ("item.strike", {"list": "tests", "id": "b1"}),
        ("visit.void", {"reason": "Wrong car"}),
        ("sheet.approve", {"revision": "0" * 64}),
    ],
)
def test_every_other_kind_has_its_body(rulebook: Books, kind: str, body: dict[str, Any]) -> None:
    """A sound one is taken, and one with a field too many is not."""
    assert check_op(Phone().op(VISIT, kind, body), rulebook) == []
    faulty = check_op(Phone().op(VISIT, kind, {**body, "wheels": 4}), rulebook)
    assert found(faulty) == {("/body/wheels", "unknown_field")}


def test_the_envelope_is_as_strict(rulebook: Books) -> None:
    """Id, device, counts and kind, all at once; a clock that is decades off is no fault."""
    op = Phone(ms=5).opening(VISIT)
    op["at"] = -5
    assert check_op(op, rulebook) == []
    bad = {**op, "id": "x", "device": "XY", "seq": 1.0, "at": "now", "kind": "visit.close", "visit": None, "more": 1}
    assert found(check_op(bad, rulebook)) == {
        ("/id", "not_an_id"),
        ("/device", "not_a_device"),
        ("/seq", "not_whole"),
        ("/at", "not_whole"),
        ("/kind", "unknown_code"),
        ("/visit", "null_not_allowed"),
        ("/more", "unknown_field"),
    }
    assert found(check_op({**op, "seq": -1}, rulebook)) == {("/seq", "not_a_count")}


def test_a_day_of_calibration_is_a_day_of_the_calendar(rulebook: Books) -> None:
    """ISO 8601 days: 29 February in a leap year is one, in another year not; a time and a month are none."""
    def judged(day: Any) -> set[tuple[str, str]]:
        return found(check_visit(visit_with(instruments={"low_gauge": {"calibrated_until": day}}), rulebook))

    assert judged("2028-02-29") == set()
    for slip in ("2027-02-29", "2027-13-01", "2027-03", "20270331", "2027-03-31T00:00:00Z", 2027):
        assert judged(slip) == {("/instruments/low_gauge/calibrated_until", "not_a_day")}


@pytest.mark.parametrize("value", [2**53 + 2.0, -1e20, 1e308, 1e-101, -5e-324])
def test_a_number_that_nothing_measured_is_named(value: float, rulebook: Books) -> None:
    """Larger than any reading, or nearer to nothing: squares and quotients of it would be no numbers any more."""
    [(pointer, code)] = found(check_visit(visit_with(distance_km=value), rulebook))
    assert (pointer, code) == ("/distance_km", "number_too_large" if abs(value) > 1 else "not_finite")


@pytest.mark.parametrize("value", [2.0**53, -(2**53), 1e-100, 0, -0.0, 1e15])
def test_an_odd_number_is_kept(value: float, rulebook: Books) -> None:
    """It is for the judgement to question it."""
    assert check_visit(visit_with(distance_km=value), rulebook) == []


def test_no_sound_visit_crashes_the_judgement(rulebook: Books) -> None:
    """Numbers far from any vehicle, in any places that the shape allows: a judgement of plain numbers comes out."""
    dice, judged = random.Random(7), 0
    extreme = (0, -1.0, 2.0**53, -(2.0**53), 1e-100, -1e-100, 1e5, -273.15, -273.16, 374.0, 1e15)
    for seed in range(200):
        visit = random_visit(seed)
        places = list(numbers(visit))
        for holder, name in dice.sample(places, min(len(places), dice.randint(1, 4))):
            holder[name] = dice.choice(extreme)
        if not check_visit(visit, rulebook):
            assert json.dumps(diagnose(visit, rulebook, "test"), allow_nan=False)
            judged += 1
    assert judged > 100


def numbers(node: Any) -> Iterator[tuple[Any, Any]]:
    """Every place of a number, as what holds it and its name there."""
    for name, value in node.items() if isinstance(node, dict) else enumerate(node):
        if isinstance(value, (dict, list)):
            yield from numbers(value)
        elif isinstance(value, (int, float)) and not isinstance(value, bool):
            yield node, name
