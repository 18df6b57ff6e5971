"""What a technician writes down about a car, its place and its state, with the errors of the instruments.

It knows true states and what is on file about a car, never what is wrong with it.
"""

from __future__ import annotations

from random import Random
from typing import Any

from tests.worlds.instruments import Reader
from tests.worlds.loop.fluids import fluid
from tests.worlds.world import CarFacts, Settings, State, Weather

Json = dict[str, Any]
READING_SETS = ("gauges", "lines", "all")


def vehicle_of(rng: Random, facts: CarFacts) -> Json:
    """What is on file about a car, some of it unknown."""
    named: str = "cycling_clutch" if facts.regulation.startswith("cycling") else facts.regulation
    if named.startswith("variable") and rng.random() < 0.3:
        named = "variable"
    vehicle: Json = {
        "refrigerant": facts.refrigerant,
        "compressor": "unknown" if rng.random() < 0.15 else named,
        "metering": "unknown" if rng.random() < 0.2 else facts.metering,
    }
    if rng.random() < 0.5:
        vehicle["internal_exchanger"] = facts.internal_exchanger
    return vehicle


def place_of(rng: Random, weather: Weather) -> Json:
    """The altitude a map would give, or the reading of a barometer."""
    if rng.random() < 0.25:
        return {"station_pressure_kpa": round(weather.pressure_kpa, 1)}
    altitude = (1.0 - (min(weather.pressure_kpa, 101.325) / 101.325) ** (1.0 / 5.25588)) / 2.25577e-5
    return {"altitude_m": float(max(0, round((altitude + rng.uniform(-60.0, 60.0)) / 10.0) * 10))}


def conditions_of(reader: Reader, state: State, settings: Settings, facts: CarFacts) -> Json:
    """The settings of a test, as written down."""
    conditions: Json = {
        "ambient_c": reader.air(state.face_c),
        "humidity_pct": reader.damp(reader.weather.humidity_pct),
        "blower": settings.blower,
        "air": settings.air,
        "rear": "none",
        "windows": settings.windows,
        "hood_open": settings.hood_open,
        "running_min": float(round(settings.running_min)),
        "fan": "not_seen",
        "mode": "cooling",
    }
    if facts.regulation != "electric":
        conditions["rpm"] = float(round(settings.rpm / 10.0) * 10)
    return conditions


def _pressures(reader: Reader, state: State) -> Json:
    low, high = reader.low(state.low_kpa), reader.high(state.high_kpa)
    if state.running == "steady":
        return {"low_kpa_g": low, "high_kpa_g": high, "running": "steady"}
    lift, dip = reader.low(state.low_max_kpa), reader.high(state.high_min_kpa)
    return {
        "low_kpa_g": min(low, lift),
        "low_max_kpa_g": max(low, lift),
        "high_kpa_g": min(high, dip),
        "high_max_kpa_g": max(high, dip),
        "running": "cycling",
    }


def _strain(reader: Reader, state: State, facts: CarFacts) -> Json:
    if state.running == "cycling":
        exact = reader.perfect
        return {"on_s": state.on_s if exact else float(max(1, round(state.on_s))),
                "off_s": state.off_s if exact else float(max(1, round(state.off_s)))}  # fmt: skip
    if facts.regulation in ("variable_external", "electric"):
        command = 100.0 * min(state.share, 1.0)
        if not reader.perfect:
            command = float(round(min(max(command + reader.rng.gauss(0.0, 3.0), 1.0), 100.0)))
        return {"command_pct": command}
    return {}


def readings_of(reader: Reader, state: State, facts: CarFacts, air: str, clamp: str) -> dict[str, Json]:
    """The readings of a state, by the set in which each is first taken."""
    gauges = _pressures(reader, state) | {"vent_c": reader.air(state.vent_c)}
    if air == "recirculated":
        gauges["return_air_c"] = reader.air(state.return_c)
    suction = state.suction_evaporator_c if clamp == "evaporator" else state.suction_compressor_c
    lines = {
        "suction_line_c": reader.clamp(suction),
        "suction_at": clamp,
        "liquid_line_c": reader.clamp(state.liquid_c),
        "liquid_at": "condenser",
        "high_port": facts.high_port,
        "discharge_line_c": reader.clamp(state.discharge_c),
    }
    rest = _strain(reader, state, facts)
    rest |= {"vent_left_c": reader.air(state.vent_left_c), "vent_right_c": reader.air(state.vent_right_c)}
    return {"gauges": gauges, "lines": lines, "all": rest}


def rest_of(rng: Random, reader: Reader, state: State, refrigerant: str) -> Json:
    """Both gauges after hours at rest, with the temperature of the metal."""
    ambient, tables = reader.weather.ambient_c, fluid(refrigerant)
    metal = ambient + rng.uniform(-1.5, 0.5)
    there = state.rest_kpa - tables.pressure(ambient) + tables.pressure(metal)
    return {
        "id": "rest",
        "at": "2025-07-14T08:50:00+02:00",
        "low_kpa_g": reader.low(there),
        "high_kpa_g": reader.high(there),
        "metal_c": reader.air(metal),
        "air_c": reader.air(ambient),
        "hours_off": float(rng.randint(3, 12)),
    }
