"""Seeded random visits that use every part of the schema the rules read: sane, odd and half-empty ones.

No judgement lives here; the same seed gives the same visit for ever on one version of this file.
"""

from __future__ import annotations

import random
from typing import Any

# Mostly those with known bands: only their tests have causes, and ties among them.
REFRIGERANTS = ["R134a"] * 9 + ["R1234yf"] * 6 + ["R12"] * 2 + ["R152a", "R744", "other", "unknown"]


def _maybe(dice: random.Random, share: float, value: Any) -> Any:
    return value if dice.random() < share else None


def _without_none(found: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in found.items() if value is not None}


def _conditions(dice: random.Random, ambient: float) -> dict[str, Any]:
    return _without_none(
        {
            "ambient_c": _maybe(dice, 0.96, round(ambient, 1)),
            "humidity_pct": _maybe(dice, 0.75, dice.choice([0.0, 100.0] + [float(dice.randint(5, 95))] * 18)),
            "rpm": _maybe(dice, 0.8, float(dice.choice([750, 1500, 2000, 2500]))),
            "blower": _maybe(dice, 0.9, dice.choice(["low", "low", "medium", "high"])),
            "air": _maybe(dice, 0.9, dice.choice(["recirculated", "recirculated", "outside"])),
            "rear": _maybe(dice, 0.2, dice.choice(["none", "off", "on"])),
            "windows": _maybe(dice, 0.6, dice.choice(["open", "closed"])),
            "hood_open": _maybe(dice, 0.4, dice.random() < 0.5),
            "in_sun": _maybe(dice, 0.4, dice.random() < 0.5),
            "running_min": _maybe(dice, 0.7, float(dice.choice([5, 10, 12, 15, 20]))),
            "fan": _maybe(dice, 0.7, dice.choice(["high", "high", "high", "low", "off", "cycling", "not_seen"])),
            "face_wet": _maybe(dice, 0.4, dice.random() < 0.05),
            "rinsed_min_ago": _maybe(dice, 0.15, float(dice.choice([5, 20, 25, 40, 60, 60, 90, 90]))),
            "mode": _maybe(dice, 0.4, dice.choice(["cooling"] * 18 + ["heating", "battery", "unknown"])),
        }
    )


def _readings(dice: random.Random, ambient: float, shift: float) -> dict[str, Any]:
    high = dice.uniform(950, 1800) + 28 * (ambient - 27) + shift
    low = dice.uniform(90, 260)
    vent = dice.uniform(4, 16)
    running = dice.choice(["steady"] * 6 + ["cycling"] * 3 + ["not_running"])
    cycling = running == "cycling"
    condensing = 14 + high / 30
    odd = dice.random()
    found = {
        "low_kpa_g": _maybe(dice, 0.85, round(low, 1)),
        "low_max_kpa_g": _maybe(dice, 0.7, round(low + 150, 1)) if cycling else None,
        "high_kpa_g": _maybe(dice, 0.92, round(high, 1)),
        "high_max_kpa_g": _maybe(dice, 0.8, round(high + 180, 1)) if cycling else None,
        "vent_c": _maybe(dice, 0.85, round(vent, 1)),
        "vent_left_c": _maybe(dice, 0.3, round(vent + dice.uniform(-4, 4), 1)),
        "vent_right_c": _maybe(dice, 0.3, round(vent + dice.uniform(-4, 4), 1)),
        "return_air_c": _maybe(dice, 0.7, round(dice.uniform(18, 32), 1)),
        "return_air_humidity_pct": _maybe(dice, 0.6, float(dice.randint(25, 75))),
        "suction_line_c": _maybe(dice, 0.6, round(dice.uniform(2, 20), 1)),
        "suction_at": _maybe(dice, 0.5, dice.choice(["evaporator", "compressor", "unknown"])),
        "liquid_line_c": _maybe(dice, 0.6, round(ambient + dice.uniform(1, 9), 1)),
        "liquid_at": _maybe(dice, 0.3, dice.choice(["condenser", "valve", "unknown"])),
        "high_port": _maybe(dice, 0.4, dice.choice(["discharge", "liquid", "unknown"])),
        "discharge_line_c": _maybe(dice, 0.5, round(condensing + dice.uniform(0, 45), 1)),
        "command_pct": _maybe(dice, 0.4, float(dice.randint(0, 100))),
        "running": _maybe(dice, 0.9, running),
        "on_s": _maybe(dice, 0.5, float(dice.randint(5, 60))),
        "off_s": _maybe(dice, 0.5, float(dice.randint(0, 60))),
    }
    if odd < 0.06:
        found["vent_c"] = 400.0
    elif odd < 0.12:
        found["low_kpa_g"], found["high_kpa_g"] = found["high_kpa_g"], found["low_kpa_g"]
    elif odd < 0.18:
        found["low_kpa_g"] = dice.choice([-150.0, 0.0, -99.0, 5000.0])
    elif odd < 0.24:
        found["high_kpa_g"] = dice.choice([4100.0, 180.0, 25.0, 9000.0])
    return _without_none(found)


def _trace(dice: random.Random) -> list[dict[str, Any]]:
    settling = dice.choice([3.0, 5.0, 8.0, 200.0])
    points = []
    for step in range(dice.choice([1, 8, 20, 30, 30])):
        s = float(step * 30)
        left = 1.0 / (1.0 + s / settling)
        points.append(
            _without_none(
                {
                    "s": s,
                    "vent_c": _maybe(dice, 0.95, round(5 + 15 * left + dice.uniform(-0.1, 0.1), 2)),
                    "high_kpa_g": _maybe(dice, 0.9, round(1100 + 400 * left + dice.uniform(-4, 4), 1)),
                    "low_kpa_g": _maybe(dice, 0.5, round(180 + 60 * left, 1)),
                    "return_air_c": _maybe(dice, 0.9, round(22 + 9 * left, 2)),
                }
            )
        )
    return points


OBSERVED = ["weak_air", "uneven_vents", "frost_suction", "face_dirty", "fan_dead", "needle_flutter", "short_cycling",
            "icing_then_warm", "sight_bubbles", "oil_seen", "fan_low_only"]  # fmt: skip


def _test(dice: random.Random, role: str, number: int, ambient: float, shift: float) -> dict[str, Any]:
    return _without_none(
        {
            "id": f"t{number}",
            "role": role,
            "at": f"2026-07-14T{9 + number:02d}:00:00+02:00",
            "observed": _maybe(dice, 0.4, dice.sample(OBSERVED, dice.randint(1, 2))),
            "conditions": _conditions(dice, ambient),
            "readings": _readings(dice, ambient, shift),
            "trace": _maybe(dice, 0.36, _trace(dice)),
        }
    )


def _tests(dice: random.Random) -> list[dict[str, Any]]:
    ambient = dice.uniform(18, 40)
    if dice.random() < 0.1:
        return [_test(dice, dice.choice(["single", "before", "during"]), 0, ambient, 0.0)]
    before = _test(dice, "before", 0, ambient, 0.0)
    after = _test(dice, "after", 1, ambient + dice.uniform(-5, 5), dice.uniform(-350, 100))
    # Most technicians keep the settings; otherwise hardly any random pair would be comparable.
    if dice.random() < 0.85:
        for key in ("blower", "air", "rear", "fan", "rpm", "mode", "running_min", "rinsed_min_ago", "face_wet"):
            after["conditions"].pop(key, None)
            if key in before["conditions"]:
                after["conditions"][key] = before["conditions"][key]
        if "running" in before["readings"]:
            after["readings"]["running"] = before["readings"]["running"]
    return [before, after]


def _instruments(dice: random.Random) -> dict[str, Any]:
    return {
        "low_gauge": {
            "span_kpa": 1100.0,
            "class_pct": dice.choice([1.0, 1.6, 2.5]),
            "zero_kpa": dice.choice([0.0, 4.0]),
        },
        "high_gauge": {"span_kpa": 3500.0, "class_pct": dice.choice([1.0, 1.6, 2.5])},
        "thermometer_c": dice.choice([0.5, 1.0, 2.5]),
        "hygrometer_pct": 5.0,
        "common_share": dice.choice([0.3, 0.6, 0.9]),
    }


def _moves(dice: random.Random) -> list[dict[str, Any]]:
    at = "2026-07-14T09:40:00+02:00"
    grams = float(dice.randint(20, 400))
    charged = {
        "id": "m1",
        "kind": dice.choice(["charged", "recovered"]),
        "at": at,
        "refrigerant": "R134a",
        "grams": grams,
    }
    held = {"id": "m2", "kind": "vacuum", "at": at, "pressure_pa": dice.choice([60.0, 400.0, 2500.0]), "held_min": 15.0}
    if dice.random() < 0.8:
        held["rise_pa"] = dice.choice([5.0, 120.0, 900.0])
    return [charged, held]


def _work(dice: random.Random) -> list[dict[str, Any]]:
    code = dice.choice(["condenser_cleaned", "condenser_cleaned", "fan_repaired", "recharged", "cabin_filter_changed"])
    item: dict[str, Any] = {"id": "w1", "code": code, "at": "2026-07-14T09:30:00+02:00"}
    if code == "condenser_cleaned" and dice.random() < 0.8:
        item["cleaner"] = {"parts_cleaner": 1.0, "parts_water": float(dice.randint(1, 6)), "made_ml": 1000.0}
        item["cleaner"].update(dwell_min=float(dice.randint(3, 20)), passes=dice.randint(1, 3))
    return [item]


def _checks(dice: random.Random) -> list[dict[str, Any]]:
    codes = dice.sample(["face_clean", "fan_runs", "cabin_filter", "gap_clean", "oil_stain", "air_strong", "belt"], 3)
    states = ["ok", "fault", "not_seen"]
    return [{"id": f"c{number}", "code": code, "state": dice.choice(states)} for number, code in enumerate(codes)]


def _weather(dice: random.Random) -> dict[str, Any]:
    """The surroundings of an earlier test, as far as they were recorded with it."""
    ambient = dice.uniform(15, 40)
    return _without_none(
        {
            "ambient_c": _maybe(dice, 0.8, {"value": ambient, "u": 0.6}),
            "entering_c": _maybe(dice, 0.5, {"value": ambient - dice.uniform(0, 8), "u": 0.6}),
            "humidity_ratio": _maybe(dice, 0.6, {"value": dice.uniform(0.004, 0.018), "u": 0.001}),
        }
    )


def _earlier(dice: random.Random, refrigerant: str, conditions: dict[str, Any]) -> dict[str, Any]:
    """A test marked healthy, mostly with the settings in which the vehicle is tested now."""
    year, month, day = dice.choice([2023, 2024, 2025, 2025, 2026, 2026]), dice.randint(1, 7), dice.randint(1, 13)
    entry: dict[str, Any] = {
        "at": f"{year}-{month:02d}-{day:02d}T10:00:00+02:00",
        "refrigerant": refrigerant if dice.random() < 0.9 else dice.choice(["R134a", "R1234yf"]),
        "blower": conditions.get("blower") if dice.random() < 0.9 else dice.choice(["low", "medium", "high"]),
        "air": conditions.get("air") if dice.random() < 0.9 else dice.choice(["recirculated", "outside"]),
        "rear": _maybe(dice, 0.2, dice.choice(["none", "off", "on"])),
        "windows": _maybe(dice, 0.5, dice.choice(["open", "closed"])),
        "rpm": _maybe(dice, 0.7, float(dice.choice([750, 1500, 2000]))),
        "suction_at": _maybe(dice, 0.5, dice.choice(["evaporator", "compressor", "unknown"])),
        "values": _weather(dice),
    }
    # Now and then a value so far from healthy cars that it must not be taken in.
    shown = {"condenser_split_k": dice.choice([dice.uniform(6, 30)] * 9 + [90.0]), "superheat_k": dice.uniform(3, 12),
             "low_saturation_c": dice.uniform(-6, 8), "vent_c": dice.uniform(3, 16)}  # fmt: skip
    for name, value in shown.items():
        if dice.random() < 0.8:
            entry["values"][name] = {"value": value, "u": dice.uniform(0.5, 2.5)}
    return _without_none(entry)


def _baseline(dice: random.Random, refrigerant: str, conditions: dict[str, Any]) -> dict[str, Any]:
    entries = [_earlier(dice, refrigerant, conditions) for _ in range(dice.randint(1, 3))]
    found: dict[str, Any] = {"entries": entries}
    if dice.random() < 0.2:
        found["refrigerant_work_at"] = "2025-03-01T10:00:00+01:00"
    return found


def _span(dice: random.Random, low: float, high: float) -> list[float]:
    middle, half = dice.uniform(low, high), dice.uniform(5, 15) / 100
    return [round(middle * (1 - half), 1), round(middle * (1 + half), 1)]


def _chart(dice: random.Random) -> dict[str, Any]:
    """A maker's chart of one row or several, unordered, with ranges left out and beyond what a table covers."""
    ambients = [20.0, 25.0, 30.0, 35.0, 40.0]
    dice.shuffle(ambients)
    rows = [
        _without_none(
            {
                "ambient_c": ambient,
                "inlet_c": _maybe(dice, 0.5, ambient - dice.choice([0.0, 0.0, 5.0])),
                "humidity_pct": _maybe(dice, 0.5, float(dice.randint(20, 90))),
                "low_kpa_g": _maybe(dice, 0.9, _span(dice, 120 + 4 * ambient, 180 + 4 * ambient)),
                "high_kpa_g": _maybe(dice, 0.9, [9000.0, 9900.0] if dice.random() < 0.03
                                     else _span(dice, 200 + 35 * ambient, 500 + 35 * ambient)),
                "vent_c": _maybe(dice, 0.8, _span(dice, 4 + 0.2 * ambient, 8 + 0.2 * ambient)),
            }
        )
        for ambient in ambients[: dice.choice([1, 2, 3, 5, 5])]
    ]  # fmt: skip
    found = {
        "source": "a chart",
        "rpm": _maybe(dice, 0.7, float(dice.choice([1500, 1500, 2000]))),
        "blower": _maybe(dice, 0.6, "high"),
        "air": _maybe(dice, 0.6, dice.choice(["recirculated", "outside"])),
        "windows": _maybe(dice, 0.4, dice.choice(["open", "closed"])),
        "rows": rows,
    }
    return _without_none(found)


def visit(seed: int) -> dict[str, Any]:
    """One random visit with a valid shape [JSON object]."""
    dice = random.Random(seed)
    place = {"altitude_m": float(dice.choice([-400, 0, 0, 0, 120, 850, 850, 1850, 3000, 5000, 9000]))}
    if dice.random() < 0.2:
        place["station_pressure_kpa"] = dice.choice([101.9, 84.2, 0.0])
    tests, refrigerant = _tests(dice), dice.choice(REFRIGERANTS)
    vehicle = {
        "refrigerant": _maybe(dice, 0.95, refrigerant),
        "metering": _maybe(dice, 0.7, dice.choice(["expansion_valve", "orifice_tube", "electronic_valve", "unknown"])),
        "compressor": _maybe(
            dice,
            0.8,
            dice.choice(
                ["cycling_clutch", "variable", "variable_internal", "variable_external", "electric", "unknown"]
            ),
        ),
        "internal_exchanger": _maybe(dice, 0.3, dice.random() < 0.5),
        "baseline": _maybe(dice, 0.9, _baseline(dice, refrigerant, tests[0]["conditions"])),
        "chart": _maybe(dice, 0.5, _chart(dice)),
    }
    found = {
        "id": f"018f0000-0000-7000-8000-{seed:012x}",
        "schema": 1,
        "started_at": "2026-07-14T08:55:00+02:00",
        "vehicle": _without_none(vehicle),
        "place": _maybe(dice, 0.93, place),
        "instruments": _maybe(dice, 0.6, _instruments(dice)),
        "tests": tests,
        "work": _maybe(dice, 0.8, _work(dice)),
        "refrigerant_moves": _maybe(dice, 0.3, _moves(dice)),
        "rests": _maybe(
            dice,
            0.5,
            [
                _without_none(
                    {
                        "id": "r1",
                        "at": "2026-07-14T08:58:00+02:00",
                        "low_kpa_g": _maybe(dice, 0.9, round(dice.uniform(350, 700), 1)),
                        "high_kpa_g": _maybe(dice, 0.9, round(dice.uniform(350, 700), 1)),
                        "metal_c": _maybe(dice, 0.9, round(dice.uniform(18, 32), 1)),
                        "air_c": _maybe(dice, 0.9, round(dice.uniform(18, 32), 1)),
                        "hours_off": _maybe(dice, 0.8, float(dice.choice([1, 3, 10]))),
                    }
                )
            ],
        ),
        "checks": _maybe(dice, 0.6, _checks(dice)),
    }
    return _without_none(found)
