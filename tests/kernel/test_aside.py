"""Why causes were set aside: all that are not held open are named, with what was measured or seen against each."""

from __future__ import annotations

from sync.kernel.aside import aside_of
from tests.kernel.test_causes import car, held, judged
from tests.support.random_visits import visit as random_visit


def aside(visit, rulebook, place=0):
    """What was set aside of a test."""
    return aside_of(visit, visit["tests"][place], judged(visit, rulebook, place), rulebook)


def test_each_cause_is_held_open_or_set_aside(rulebook):
    """Never both, and in the order of the trade; what speaks against one stands among the evidence or the sights."""
    looked = 0
    for seed in range(40):
        visit = random_visit(seed)
        for place, test in enumerate(visit.get("tests") or []):
            one = judged(visit, rulebook, place)
            if not one["causes"]:
                continue
            looked += 1
            rows = aside_of(visit, test, one, rulebook)
            order = rulebook["causes"]["order"]
            assert [row["id"] for row in rows] == [cause for cause in order if cause not in held(one)]
            sights = {name for look in rulebook["causes"]["looks"] for name in (look, f"no_{look}")}
            codes = {row["code"] for row in one["evidence"]} | sights
            assert {item["code"] for row in rows for item in row["against"]} <= codes
    assert looked > 20


def test_a_high_subcooling_speaks_against_too_little_refrigerant(rulebook):
    """A condenser full of liquid is not short of it (common practice, no source)."""
    rows = aside(car(rulebook, evaporating=4.0, split=34.0, liquid_line_c=44.0, suction_line_c=10.0), rulebook)
    [row] = [one for one in rows if one["id"] == "undercharge"]
    assert row["against"][0]["code"] in ("subcooling_k_high", "condenser_split_k_high")
    assert row["against"][0]["values"]["value"] > 0.0


def test_a_strong_air_is_named_where_it_speaks(rulebook):
    """A sight that makes a cause much less likely is a reason of its own."""
    visit = car(rulebook, evaporating=5.0, split=38.0)
    visit["checks"] = [{"id": "c", "code": "air_strong", "state": "ok"}]
    rows = {row["id"]: row["against"] for row in aside(visit, rulebook)}
    assert "no_weak_air" in {item["code"] for item in rows["evaporator_airflow"]}
