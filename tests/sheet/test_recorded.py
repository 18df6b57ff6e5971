"""Only what was recorded is evidence: a sight reported as seen, or as absent, was noted, checked or measured.

Seeded random visits; what a person recorded is read from the visit by hand, not by the rules under test.
"""

from __future__ import annotations

from typing import Any

from sync.kernel.assessment import assess
from sync.kernel.books import Rulebook
from tests.support.random_visits import visit as random_visit

VISITS = 600
CHECKS = {"fan_runs": "fan_dead", "face_clean": "face_dirty", "gap_clean": "gap_dirty", "cabin_filter": "filter_dirty",
          "oil_stain": "oil_seen", "air_strong": "weak_air", "belt": "belt_slips"}
FANS = {"off": {"fan_dead"}, "low": {"no_fan_dead", "fan_low_only"}, "high": {"no_fan_dead", "no_fan_low_only"},
        "cycling": {"no_fan_dead"}}


def recorded(visit: dict[str, Any], test: dict[str, Any]) -> set[str]:
    """The sights that a visit holds, as codes of evidence."""
    codes = set(test.get("observed") or [])
    states = {"ok": "no_", "fault": ""}
    codes |= {states[check["state"]] + CHECKS[check["code"]] for check in visit.get("checks") or []
              if check["state"] in states and check["code"] in CHECKS}
    codes |= FANS.get((test.get("conditions") or {}).get("fan", ""), set())
    readings = test.get("readings") or {}
    if "vent_left_c" in readings and "vent_right_c" in readings:
        codes |= {"uneven_vents", "no_uneven_vents"}
    if (visit.get("vehicle") or {}).get("compressor") == "cycling_clutch" and "running" in readings:
        codes |= {"never_off", "no_never_off"}
    return codes


def test_no_sight_is_told_that_nobody_recorded(rulebook: Rulebook) -> None:
    """In particular, nothing is called fine only because nobody wrote it down."""
    told: set[str] = set()
    for seed in range(VISITS):
        visit: Any = random_visit(seed)
        for test, judged in zip(visit["tests"], assess(visit, rulebook)["tests"], strict=True):
            sights = {row["code"] for row in judged["evidence"]
                      if row["code"].removeprefix("no_") in rulebook["causes"]["looks"]}
            assert sights <= recorded(visit, test), (seed, sights - recorded(visit, test))
            told |= sights
    assert {"weak_air", "face_dirty", "no_weak_air"} <= told
