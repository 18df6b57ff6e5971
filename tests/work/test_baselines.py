"""Baselines: a test marked healthy becomes the yardstick of the vehicle's next visits, while the rules allow it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from sync.kernel.assessment import assess
from sync.records.logbook import Logbook
from sync.wire.schemas import check_visit
from sync.work.baselines import baseline_of
from sync.work.intake import receive
from tests.support.ops import JUNE_12, Phone, body_of

Books = dict[str, Any]
READINGS = {"low_kpa_g": 186.0, "high_kpa_g": 1250.0, "vent_c": 5.6, "running": "steady"}
CONDITIONS = {"ambient_c": 28.0, "humidity_pct": 45.0, "blower": "low", "air": "recirculated", "rpm": 1500.0}


@pytest.fixture
def logbook(folder: Path, rulebook: Books) -> Iterator[Logbook]:
    """An empty logbook, open."""
    with Logbook(folder, rulebook, floor_bytes=0) as opened:
        yield opened


def file(logbook: Logbook, *ops: Any) -> None:
    """File operations that must all be accepted."""
    assert {result["status"] for result in receive(logbook, body_of(*ops), JUNE_12)["results"]} == {"accepted"}


def visit_with_test(
    phone: Phone, at: str, readings: dict[str, Any] = READINGS, conditions: dict[str, Any] = CONDITIONS
) -> tuple[str, list[dict[str, Any]]]:
    """A visit of vehicle v1 with one test, and its operations."""
    visit = phone.new_id()
    vehicle = {"id": "v1", "refrigerant": "R134a"}
    base: dict[str, str | None] = {"/vehicle/id": None, "/vehicle/refrigerant": None}
    ops = [phone.opening(visit, at), phone.op(visit, "visit.set", {"vehicle": vehicle, "place": {"altitude_m": 0}},
                                              {**base, "/place/altitude_m": None})]
    test = {"id": "a1", "role": "after", "at": at, "readings": readings, "conditions": conditions}
    return visit, [*ops, phone.op(visit, "test.add", test)]


def test_a_marked_test_becomes_the_yardstick_of_the_next_visit(logbook: Logbook, rulebook: Books) -> None:
    """Its derived values with their uncertainties, in a shape that a visit may carry, and the judgement uses it."""
    phone = Phone()
    visit, ops = visit_with_test(phone, "2026-06-12T09:05:00-07:00")
    file(logbook, *ops)
    assert baseline_of(logbook, "v1") is None
    file(logbook, phone.beside("baseline.mark", vehicle="v1", visit=visit, test="a1", healthy=True))
    baseline = baseline_of(logbook, "v1")
    assert baseline is not None
    [entry] = baseline["entries"]
    named = {key: value for key, value in entry.items() if key != "values"}
    assert named == {"at": "2026-06-12T09:05:00-07:00", "visit": visit, "test": "a1", "refrigerant": "R134a",
                     "blower": "low", "air": "recirculated", "rpm": 1500.0}
    [judged] = assess(logbook.visit(visit), rulebook)["tests"]
    split = judged["derived"]["condenser_split_k"]
    assert entry["values"]["condenser_split_k"] == {"value": split["value"], "u": split["u"]}
    assert entry["values"]["vent_c"]["value"] == 5.6
    later, ops = visit_with_test(Phone(ms=JUNE_12 + 90_000_000), "2026-07-12T09:05:00-07:00")
    file(logbook, *ops)
    seen = logbook.visit(later)
    seen["vehicle"]["baseline"] = baseline
    assert check_visit(seen, rulebook) == []
    [judged] = assess(seen, rulebook)["tests"]
    assert judged["expected"]["condenser_split_k"]["by"] == "history"


def marked(logbook: Logbook, readings: dict[str, Any], conditions: dict[str, Any]) -> dict[str, Any]:
    """The entry of a test marked healthy, with these readings and conditions."""
    phone = Phone()
    visit, ops = visit_with_test(phone, "2026-06-12T09:05:00-07:00", readings, conditions)
    file(logbook, *ops, phone.beside("baseline.mark", vehicle="v1", visit=visit, test="a1", healthy=True))
    baseline = baseline_of(logbook, "v1")
    assert baseline is not None
    [entry] = baseline["entries"]
    found: dict[str, Any] = dict(entry)
    return found


def test_the_weather_and_the_settings_are_taken_along(logbook: Logbook) -> None:
    """The surroundings of the test: a later one is compared with it on a day of other weather.

    Outside air of 28 °C and 45 % at sea level holds 10.6 g/kg (psychrolib 2.5, GetHumRatioFromRelHum).
    """
    readings = {**READINGS, "return_air_c": 24.0, "suction_line_c": 9.0, "suction_at": "compressor"}
    entry = marked(logbook, readings, {**CONDITIONS, "windows": "closed"})
    assert {name: entry[name] for name in ("windows", "rpm", "suction_at")} == {
        "windows": "closed", "rpm": 1500.0, "suction_at": "compressor"}
    values = {name: figure["value"] for name, figure in entry["values"].items()}
    assert (values["ambient_c"], values["entering_c"]) == (28.0, 24.0)
    assert values["humidity_ratio"] == pytest.approx(0.0106, abs=0.0002)
    assert all(figure["u"] > 0.0 for figure in entry["values"].values())
    assert "superheat_k" in values


def test_what_was_not_recorded_is_not_taken_along(logbook: Logbook) -> None:
    """No guess enters a baseline: neither settings nor weather."""
    entry = marked(logbook, READINGS, {"blower": "low", "air": "recirculated"})
    assert not {"windows", "rpm", "suction_at"} & set(entry)
    assert not {"ambient_c", "entering_c", "humidity_ratio", "condenser_split_k"} & set(entry["values"])


def test_a_hotter_day_is_taken_into_account(logbook: Logbook, rulebook: Books) -> None:
    """On a day 6 K hotter the car's own test moves with the fleet's middle: a larger split."""
    phone = Phone()
    visit, ops = visit_with_test(phone, "2026-06-12T09:05:00-07:00")
    file(logbook, *ops, phone.beside("baseline.mark", vehicle="v1", visit=visit, test="a1", healthy=True))
    own = []
    for warmer in (0.0, 6.0):
        later = logbook.visit(visit)
        later["vehicle"]["baseline"] = baseline_of(logbook, "v1")
        later["tests"][0]["conditions"]["ambient_c"] += warmer
        later["tests"][0]["at"] = "2026-07-12T09:05:00-07:00"
        assert check_visit(later, rulebook) == []
        [judged] = assess(later, rulebook)["tests"]
        own.append(judged["expected"]["condenser_split_k"])
    filed = assess(logbook.visit(visit), rulebook)["tests"][0]["derived"]["condenser_split_k"]["value"]
    assert own[0]["history"]["value"] == pytest.approx(filed, abs=1e-9)
    moved = [sum(one["fleet"].values()) / 2.0 for one in own]
    assert own[1]["history"]["value"] - own[0]["history"]["value"] == pytest.approx(moved[1] - moved[0], abs=1e-9)
    assert moved[1] > moved[0] + 0.5


def test_a_mark_can_be_taken_back(logbook: Logbook) -> None:
    """The latest mark on a test counts; a struck test and a void visit give no yardstick."""
    phone = Phone()
    visit, ops = visit_with_test(phone, "2026-06-12T09:05:00-07:00")
    file(logbook, *ops)
    mark = {"vehicle": "v1", "visit": visit, "test": "a1"}
    for healthy, count in ((True, 1), (False, 0), (True, 1)):
        file(logbook, phone.beside("baseline.mark", **mark, healthy=healthy))
        assert len((baseline_of(logbook, "v1") or {})["entries"]) == count
    file(logbook, phone.op(visit, "item.strike", {"list": "tests", "id": "a1"}))
    assert baseline_of(logbook, "v1") == {"entries": []}


@pytest.mark.parametrize(
    ("worked", "count", "said"),
    [
        ("2026-06-12T08:00:00-07:00", 1, None),
        ("2026-06-12T10:00:00-07:00", 0, "2026-06-12T10:00:00-07:00"),
        ("2026-06-01T10:00:00-07:00", 1, "2026-06-01T10:00:00-07:00"),
        ("2026-08-01T10:00:00-07:00", 0, "2026-08-01T10:00:00-07:00"),
    ],
)
def test_refrigerant_work_ends_what_was_tested_before_it(
    logbook: Logbook, worked: str, count: int, said: str | None
) -> None:
    """Work earlier on the same day leaves the test valid; work after it, on the same day or later, doesn't."""
    phone = Phone()
    visit, ops = visit_with_test(phone, "2026-06-12T09:05:00-07:00")
    charged = phone.op(visit, "move.add", {"id": "m1", "kind": "charged", "grams": 100, "at": worked})
    cleaned = phone.op(visit, "work.add", {"id": "w1", "code": "condenser_cleaned", "at": "2026-12-01T10:00:00-07:00"})
    file(logbook, *ops, charged, cleaned)
    file(logbook, phone.beside("baseline.mark", vehicle="v1", visit=visit, test="a1", healthy=True))
    found = baseline_of(logbook, "v1") or {}
    assert (len(found["entries"]), found.get("refrigerant_work_at")) == (count, said)
