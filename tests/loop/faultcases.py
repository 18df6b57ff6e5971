"""Single-test visits of cars with one known cause, and their healthy twins; no ranking and no signs."""

from __future__ import annotations

from dataclasses import asdict, replace
from random import Random
from typing import Any

from tests.loop.car import NO_FAULT, Car, Faults, Settings, Weather, draw_car, draw_weather
from tests.loop.fluids import fluid
from tests.loop.instruments import Instruments, Reader, conditions, draw_instruments, lines, pressures, strain
from tests.loop.plant import State, solve
from tests.loop.visits import COLDEST_C, TRIES, _shell, disturbed, draw_settings

Json = dict[str, Any]
CAUSES = (
    "healthy",
    "condenser_airflow",
    "undercharge",
    "overcharge",
    "non_condensables",
    "weak_compressor",
    "restriction",
    "valve_open",
    "evaporator_airflow",
    "warm_blend",
    "icing",
)
READING_SETS = ("gauges", "lines", "all")


def faulty(rng: Random, cause: str, severity: float, settings: Settings) -> tuple[Faults, Settings]:
    """Faults and settings for a cause at a severity from 0 to 1."""
    s = severity
    if cause == "condenser_airflow":
        draw = rng.random()
        if draw < 0.62:
            return Faults(dirt=0.15 + 0.8 * s), settings
        return NO_FAULT, replace(settings, fan="off" if draw > 0.82 else "low")
    table = {
        "healthy": NO_FAULT,
        "undercharge": Faults(charge=0.9 - 0.55 * s),
        "overcharge": Faults(charge=1.1 + 0.5 * s),
        "non_condensables": Faults(air_kpa=40.0 + 400.0 * s),
        "weak_compressor": Faults(weak=0.1 + 0.65 * s),
        "restriction": Faults(restriction=0.38 + 0.40 * s),
        "valve_open": Faults(valve_open=0.25 + 0.7 * s),
        "evaporator_airflow": Faults(evaporator_air=0.15 + 0.55 * s),
        "warm_blend": Faults(blend=0.03 + 0.30 * s),
    }
    if cause == "icing":
        ice = 0.0 if rng.random() < 0.35 else 0.2 + 0.6 * s
        return Faults(set_point_k=-(3.0 + 8.0 * s), ice=ice), settings
    return table[cause], settings


def observed(rng: Random, state: State, faults: Faults, settings: Settings, car: Car) -> list[str]:
    """What a careful person sees and hears; some of it is missed, some imagined."""
    chances = {
        "weak_air": _chance(state.air_share < 0.72, 0.9, 0.03),
        "uneven_vents": _chance(abs(state.vent_left_c - state.vent_right_c) > 4.0, 0.9, 0.01),
        "fan_dead": _chance(settings.fan == "off", 0.95, 0.0),
        "face_dirty": _chance(faults.dirt > 0.2, 0.65, 0.07),
        "frost_suction": _chance(state.t_evap < -5.0 and state.superheat_k < 8.0, 0.5, 0.01),
        "frost_valve": _chance(faults.restriction > 0.45, 0.4, 0.01),
        "frost_drier": _chance(faults.restriction > 0.45, 0.3, 0.0),
        "short_cycling": _chance(state.running == "cycling" and state.on_s + state.off_s < 14.0, 0.9, 0.02),
        "icing_then_warm": _chance(faults.ice > 0.25, 0.8, 0.0),
        "compressor_noise": _chance(faults.weak > 0.3, 0.35, 0.03),
        "oil_seen": _chance(faults.charge < 0.85, 0.4, 0.05),
        "sight_bubbles": _chance(state.quality > 0.01 and car.metering.kind == "expansion_valve", 0.3, 0.01),
    }
    return [name for name, chance in chances.items() if rng.random() < chance]


def _chance(true: bool, when_true: float, otherwise: float) -> float:
    return when_true if true else otherwise


def _rest(rng: Random, reader: Reader, car: Car, faults: Faults, weather: Weather) -> Json:
    """The rest reading: both gauges, metal and air, engine off for hours."""
    metal = weather.ambient_c + rng.uniform(-2.0, 0.5)
    air = faults.air_kpa * car.charge.gas_share_at_rest * (metal + 273.15) / 313.15
    pressure = fluid(car.refrigerant).pressure(metal) + air
    return {
        "id": "rest",
        "at": "2025-07-14T08:50:00+02:00",
        "low_kpa_g": reader.low(pressure),
        "high_kpa_g": reader.high(pressure),
        "metal_c": reader.clamp(metal) if reader.perfect else reader.air(metal),
        "air_c": reader.air(weather.ambient_c),
        "hours_off": float(rng.randint(3, 12)),
    }


def _single(reader: Reader, state: State, settings: Settings, car: Car, readings: str) -> Json:
    """Conditions and readings of a reading set."""
    told = conditions(reader, state, settings, car)
    found: Json = pressures(reader, state) | {"vent_c": reader.air(state.vent_c)}
    if settings.air == "recirculated":
        found["return_air_c"] = reader.air(state.return_c)
    if readings == "gauges":
        told["fan"] = "not_seen"
        return {"conditions": told, "readings": found}
    found |= lines(reader, state, car, "evaporator" if reader.tools.low_span_kpa < 1050.0 else "compressor")
    if readings == "lines":
        told["fan"] = "not_seen"
        return {"conditions": told, "readings": found}
    found |= strain(state, car, reader)
    found |= {"vent_left_c": reader.air(state.vent_left_c), "vent_right_c": reader.air(state.vent_right_c)}
    return {"conditions": told, "readings": found}


def shows(sick: Json, twin: Json, tools: Instruments, observations: tuple[set[str], set[str]]) -> bool:
    """Whether any true reading of the set moves by more than two standard uncertainties from the healthy twin's."""
    limits = {"low": 2.0 * tools.u_kpa("low"), "high": 2.0 * tools.u_kpa("high")}
    warm = max(2.0 * tools.thermometer_c / 3.0**0.5, 1.0)
    for name, value in sick.items():
        other = twin.get(name)
        if isinstance(value, str) or other is None:
            if name == "running" and value != other:
                return True
            continue
        if name.endswith("_kpa_g"):
            limit = limits["low" if name.startswith("low") else "high"]
        elif name.endswith("_c"):
            limit = warm if name.startswith(("vent", "return")) else 1.5 * warm
        elif name in ("on_s", "off_s"):
            limit = 0.4 * other + 3.0
        else:
            limit = 12.0
        if abs(value - other) > limit:
            return True
    return observations[0] != observations[1]


def _sick_scene(rng: Random, cause: str, severity: float) -> tuple[Car, Weather, Settings, Settings, Faults, State, State] | None:
    car, weather = draw_car(rng), draw_weather(rng)
    sound = replace(disturbed(rng, draw_settings(rng, car)), fan="high")
    faults, settings = faulty(rng, cause, severity, sound)
    state = solve(car, weather, settings, faults)
    twin = solve(car, weather, sound)
    if state.tripped or twin.tripped or state.t_evap < COLDEST_C or not (state.settled and twin.settled):
        return None
    return car, weather, settings, sound, faults, state, twin


def case(seed: int, cause: str, severity: float | None = None, readings: str = "gauges") -> tuple[Json, Json]:
    """A visit with one single test of a car with one known cause, and its truth.

    severity runs from 0 to 1, None draws it; readings is "gauges" (two gauges and vent), "lines" (with line
    temperatures and weak air) or "all" (with a rest reading and observations). Deterministic by its arguments but
    readings: the three sets show the same car. Raises ValueError for an unknown cause or set.
    """
    if cause not in CAUSES or readings not in READING_SETS:
        raise ValueError(f"{cause} {readings}")
    rng = Random(f"case {seed} {cause} {severity}")
    scene = None
    for _ in range(TRIES):
        drawn = rng.random() if severity is None else severity
        scene = _sick_scene(rng, cause, drawn)
        if scene is not None:
            break
    if scene is None:
        raise ValueError(f"no scene for {cause} from {seed}")
    car, weather, settings, sound, faults, state, twin = scene
    tools = draw_instruments(rng)
    visit = _shell(rng, car, weather, tools)
    seen = observed(rng, state, faults, settings, car)
    reader = Reader(tools, Random(f"readings {seed} {cause}"), weather)
    rest = _rest(rng, reader, car, faults, weather)
    test: Json = {"id": "single", "role": "single", "at": "2025-07-14T09:20:00+02:00"}
    test |= _single(reader, state, settings, car, readings)
    if readings == "all":
        visit["rests"] = [rest]
        test["observed"] = seen
    elif readings == "lines":
        test["observed"] = [code for code in seen if code == "weak_air"]
    visit["tests"] = [test]
    perfect = Reader(tools, rng, weather, perfect=True)
    true = _single(perfect, state, settings, car, readings)["readings"]
    healthy = _single(perfect, twin, sound, car, readings)["readings"]
    signs = ({code for code in seen if readings == "all" or code == "weak_air"}, set[str]())
    told = signs if readings != "gauges" else (set[str](), set[str]())
    moved = shows(true, healthy, tools, told) or (readings == "all" and faults.air_kpa * 0.4 > 70.0)
    truth = {
        "cause": cause,
        "severity": drawn,
        "faults": asdict(faults),
        "shows": cause == "healthy" or moved,
        "kind": car.compressor.kind,
        "metering": car.metering.kind,
        "regulated": state.regulated,
        "true": true,
        "healthy": healthy,
        "state": asdict(state),
        "twin": asdict(twin),
    }
    return visit, truth
