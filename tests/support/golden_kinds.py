"""Kinds of visit whose whole sheets are kept as text: what surrounds each, and how it is judged.

No test lives here; visits are invented, built on those of sheet_visits.
"""

from __future__ import annotations

import copy
from typing import Any

from sync.physics.diagnosis import diagnose
from sync.sheet.jobsheet import jobsheet, marked
from sync.sheet.shown_verdict import verdict_digest
from tests.support.drawn_photos import digest, photo
from tests.support.sheet_visits import DECLINED, MOVED, PAIR, PSI, SINGLE

Rulebook = dict[str, Any]
SHOTS = [photo(1), photo(2), photo(3, 600, 800)]
EARLIER = [
    {"at": "2024-06-20T10:00:00+02:00", "ambient_c": 22.0, "split": {"value": 13.0, "u": 1.7}, "high_kpa_g": 900.0},
    {"at": "2025-09-12T10:00:00+02:00", "ambient_c": 28.0, "split": {"value": 22.0, "u": 1.7}, "high_kpa_g": 1310.0},
]


def _changed(visit: dict[str, Any], **parts: Any) -> dict[str, Any]:
    """A deep copy with some sections extended and others replaced."""
    made = copy.deepcopy(visit)
    for name, part in parts.items():
        made[name] = {**made[name], **part} if isinstance(part, dict) and isinstance(made.get(name), dict) else part
    return made


def _tests(visit: dict[str, Any], before: dict[str, Any], after: dict[str, Any]) -> dict[str, Any]:
    """The visit with parts of its two tests extended."""
    made = copy.deepcopy(visit)
    for test, parts in zip(made["tests"], (before, after), strict=True):
        for name, part in parts.items():
            test[name] = {**test.get(name, {}), **part} if isinstance(part, dict) else part
    return made


CYCLING = _tests(
    _changed(PAIR, vehicle={"compressor": "cycling_clutch", "metering": "orifice_tube"}),
    {"readings": {"low_kpa_g": 150.0, "low_max_kpa_g": 310.0, "high_kpa_g": 1030.0, "high_max_kpa_g": 1480.0,
                  "running": "cycling", "on_s": 14, "off_s": 11}},
    {"readings": {"low_kpa_g": 155.0, "low_max_kpa_g": 300.0, "high_kpa_g": 880.0, "high_max_kpa_g": 1180.0,
                  "running": "cycling", "on_s": 19, "off_s": 12}})
CLASSIC = _changed(MOVED, vehicle={"label_refrigerant": "R12", "year": 1985, "oil": "ester", "charge_spec_g": 907})
UNLIKE = _tests(PAIR, {}, {"conditions": {"blower": "high", "air": "outside"}})
TRACED = _tests(PAIR, {}, {"trace": [{"s": 60.0 * minute, "vent_c": vent} for minute, vent in enumerate(
    (16.5, 12.1, 9.6, 8.3, 7.6, 7.2))]})
PHOTOGRAPHED = _changed(PAIR, photos=[
    {"sha256": digest(shot), "role": role, "at": f"2026-07-14T14:{minute:02d}:00+02:00"}
    for shot, role, minute in zip(SHOTS, ("before", "after", "label"), (10, 50, 5), strict=True)])
VOID = _changed(PAIR, void={"reason": "entered twice"})
METRIC = _changed(SINGLE, customer={"address": "Gorse Hill 1"}, outcome="nothing_found", checks=[
    {"id": "h1", "code": "fan_runs", "state": "ok"}])

# The same work for readers elsewhere: in Spanish on A4, and in the United States on Letter.
METRES = {"technician": {"pressure": "bar", "temperature": "c"}}
ENTERED = {"technician": {"pressure": "psi", "temperature": "f", "mass": "oz", "distance": "mi", "altitude": "ft"}}
SPANISH = {**_changed(PHOTOGRAPHED, customer={"language": "es", "country": "ES"}), "units": METRES}
SPANISH_SINGLE = {**_changed(SINGLE, customer={"language": "es-MX", "country": "MX"}), "units": METRES}
AMERICAN = {**_changed(PHOTOGRAPHED, customer={"language": "en", "country": "US"}), "units": ENTERED}

KINDS: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {
    "cleaned": (PAIR, {}),
    "one_test": (SINGLE, {}),
    "declined": (DECLINED, {}),
    "recharged": (MOVED, {}),
    "cycling": (CYCLING, {}),
    "classic": (CLASSIC, {}),
    "not_comparable": (UNLIKE, {}),
    "followed_by_trace": (TRACED, {"earlier": EARLIER}),
    "photographed": (PHOTOGRAPHED, {"photos": [digest(shot) for shot in SHOTS[:2]]}),
    "nothing_found": (METRIC, {}),
    "void": (VOID, {}),
    "spanish": (SPANISH, {"photos": [digest(shot) for shot in SHOTS[:2]]}),
    "spanish_one_test": (SPANISH_SINGLE, {}),
    "american": (AMERICAN, {"photos": [digest(shot) for shot in SHOTS]}),
    "two_verdicts": (PAIR, {"shown": "before the high side was corrected"}),
}


def data_of(kind: str, rulebook: Rulebook) -> dict[str, Any]:
    """The marked data of a kind's sheet."""
    visit, beside = KINDS[kind]
    if "shown" in beside:
        then = _tests(PAIR, {}, {"readings": {"high_kpa_g": 214 * PSI}})
        assessment = diagnose(then, rulebook, "0.1.0")
        beside = {"shown": {"visit": then, "assessment": assessment}}
        visit = {**visit, "verdict_shown": {"rulebook": rulebook["hash"], "app": "0.1.0", "digest":
                                            verdict_digest(assessment), "at": "2026-07-14T15:15:00+02:00"}}
    return marked(jobsheet(visit, diagnose(visit, rulebook, "0.1.0"), rulebook, None, beside), 1, rulebook)
