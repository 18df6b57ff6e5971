"""How the plant's readings move with weather, entering air and speed, and where healthy cars lie; no judgement."""

from __future__ import annotations

from dataclasses import replace
from math import log
from random import Random
from typing import Any

from tests.loop.car import REGULATIONS, Faults, Settings, Weather, draw_car, draw_weather
from tests.loop.fluids import air_enthalpy, fluid, humidity, relative_humidity, saturated_humidity
from tests.loop.plant import State, solve
from tests.loop.visits import draw_settings

Row = dict[str, Any]
DIRTS = (0.0, 0.4)
MOVES = {
    "ambient": "+1 K ambient, same moisture in the air, cabin follows [kPa]",
    "ambient_rh": "+1 K ambient, same relative humidity, cabin follows [kPa]",
    "ambient_only": "+1 K ambient, entering air held [kPa]",
    "humidity": "+10 points outside, cabin follows [kPa]",
    "entering": "+1 K entering air, same moisture [kPa]",
    "entering_rh": "+10 points in the entering air [kPa]",
    "speed": "+300 rev/min [kPa]",
    "split_ambient": "+1 K ambient, entering air held: split [K]",
    "power_return": "power of the split in h(entering)",
    "power_vent": "power of the split in h(entering) - h(vent)",
    "power_boiling": "power of the split in h(entering) - h(saturated at evaporating)",
    "power_heat": "power of the split in the true heat",
}
BANDS: tuple[str, ...] = (
    "evaporating",
    "split",
    "over_evaporating",
    "vent",
    "ratio",
    "liquid_over",
    "discharge_over",
    "superheat",
)
BANDS += ("superheat_compressor", "subcooling", "share")
GROUPS = ("all", *REGULATIONS)


def _split(name: str, state: State, ambient_c: float) -> float:
    return fluid(name).temperature(state.high_kpa) - ambient_c


def _loads(state: State, pressure_kpa: float) -> dict[str, float]:
    """The measures of load that a power may be fitted to."""
    vent = air_enthalpy(state.vent_c, min(state.return_w, saturated_humidity(state.vent_c, pressure_kpa)))
    boiling = air_enthalpy(state.t_evap, saturated_humidity(state.t_evap, pressure_kpa))
    return {
        "power_return": state.load_kj_kg,
        "power_vent": state.load_kj_kg - vent,
        "power_boiling": state.load_kj_kg - boiling,
        "power_heat": state.q_evap_kw,
    }


def _powers(name: str, states: tuple[State, State], weather: Weather) -> Row:
    """Powers between two states that differ in the entering air alone."""
    first, second = states
    splits = [_split(name, state, weather.ambient_c) for state in states]
    if first.regulated != second.regulated or first.running != second.running or splits[0] < 2.0 or splits[1] < 2.0:
        return {}
    loads = _loads(first, weather.pressure_kpa), _loads(second, weather.pressure_kpa)
    out = {}
    for measure, before in loads[0].items():
        after = loads[1][measure]
        if before > 1.0 and after > 1.0 and abs(log(after / before)) > 0.03:
            out[measure] = log(splits[1] / splits[0]) / log(after / before)
    return out


def _moves(car: Any, weather: Weather, settings: Settings, faults: Faults) -> tuple[State, Row]:
    """One car's readings and how its high side answers."""
    base = solve(car, weather, settings, faults)
    cabin = (base.return_c, base.return_w)
    pressure = weather.pressure_kpa
    moisture = humidity(weather.ambient_c, weather.humidity_pct, pressure)
    warm = weather.ambient_c + 2.0
    warmer = replace(weather, ambient_c=warm, humidity_pct=relative_humidity(warm, moisture, pressure))

    def change(other: State) -> float:
        return other.high_kpa - base.high_kpa

    row: Row = {
        "ambient": change(solve(car, warmer, settings, faults)) / 2.0,
        "ambient_rh": change(solve(car, replace(weather, ambient_c=warm), settings, faults)) / 2.0,
        "humidity": change(solve(car, replace(weather, humidity_pct=weather.humidity_pct + 10.0), settings, faults)),
        "speed": change(solve(car, weather, replace(settings, rpm=settings.rpm + 300.0), faults)),
    }
    if settings.air == "recirculated":
        held = solve(car, warmer, settings, faults, cabin)
        row["ambient_only"] = change(held) / 2.0
        name = car.refrigerant
        row["split_ambient"] = (_split(name, held, warm) - _split(name, base, weather.ambient_c)) / 2.0
        row["entering"] = change(solve(car, weather, settings, faults, (cabin[0] + 2.0, cabin[1]))) / 2.0
        damp = humidity(cabin[0], min(base.return_rh_pct + 10.0, 95.0), pressure)
        row["entering_rh"] = change(solve(car, weather, settings, faults, (cabin[0], damp)))
        hot = (cabin[0] + 5.0, humidity(cabin[0] + 5.0, min(base.return_rh_pct + 8.0, 95.0), pressure))
        row |= _powers(name, (base, solve(car, weather, settings, faults, hot)), weather)
    return base, row


def _class_of(settings: Settings, load: float) -> str:
    if settings.blower == "high" or settings.air == "outside" or load > 65.0:
        return "C"
    return "A" if settings.blower == "low" and load <= 50.0 else "B"


def _bands(name: str, state: State, ambient_c: float) -> dict[str, float]:
    """What gauges and thermometers would make of a state."""
    low, high = fluid(name).temperature(state.low_kpa), fluid(name).temperature(state.high_kpa)
    return {
        "evaporating": low,
        "split": high - ambient_c,
        "over_evaporating": state.vent_c - low,
        "vent": state.vent_c,
        "ratio": state.high_kpa / state.low_kpa,
        "liquid_over": state.liquid_condenser_c - ambient_c,
        "discharge_over": state.discharge_c - high,
        "superheat": state.suction_evaporator_c - low,
        "superheat_compressor": state.suction_compressor_c - low,
        "subcooling": high - state.liquid_condenser_c,
        "share": state.share,
    }


def sample(seed: int) -> list[Row]:
    """One random car, clean and with dirt: its answers and its readings."""
    rng = Random(f"spread {seed}")
    car, weather = draw_car(rng), draw_weather(rng)
    settings = replace(draw_settings(rng, car), fan="high")
    rows = []
    for dirt in DIRTS:
        state, moves = _moves(car, weather, settings, Faults(dirt=dirt))
        if state.tripped or not state.settled:
            continue
        row = {"dirt": dirt, "kind": car.compressor.kind, "regulated": state.regulated, "moves": moves}
        row |= {"class": _class_of(settings, state.load_kj_kg), "cycling": state.running == "cycling"}
        rows.append(row | {"bands": _bands(car.refrigerant, state, weather.ambient_c), "metering": car.metering.kind})
    return rows


def _percentiles(values: list[float], ends: tuple[float, float]) -> str:
    if len(values) < 5:
        return "-"
    ordered, last = sorted(values), len(values) - 1
    low, middle, high = (ordered[round(last * share)] for share in (ends[0], 0.5, ends[1]))
    return f"{low:7.2f} {middle:7.2f} {high:7.2f} ({len(values)})"


def tables(rows: list[Row]) -> list[str]:
    """Sensitivities by regulation (10th, 50th, 90th percentile) and healthy bands by class (3rd, 50th, 97th)."""
    lines = []
    for regulated in (True, False):
        for dirt in DIRTS:
            some = [row for row in rows if row["regulated"] == regulated and row["dirt"] == dirt]
            lines += ["", f"{'regulated or cycling' if regulated else 'out of stroke or fixed'}, dirt {dirt}"]
            for move, words in MOVES.items():
                lines.append(f"  {words}")
                for name in GROUPS:
                    chosen = [row["moves"] for row in some if name in ("all", row["kind"])]
                    values = [moves[move] for moves in chosen if move in moves]
                    lines.append(f"    {name:20} {_percentiles(values, (0.1, 0.9))}")
    return lines + _band_lines(rows)


def _band_lines(rows: list[Row]) -> list[str]:
    lines = ["", "healthy cars by class"]
    for band in BANDS:
        for cycling in (False, True):
            for letter in "ABC":
                values = [
                    row["bands"][band]
                    for row in rows
                    if row["dirt"] == 0.0 and row["cycling"] == cycling and row["class"] == letter
                ]
                way = "cycling" if cycling else "steady"
                lines.append(f"  {band:22} {way:8} {letter} {_percentiles(values, (0.03, 0.97))}")
    return lines
