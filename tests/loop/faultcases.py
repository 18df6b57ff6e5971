"""Single-test visits of cars with one known cause, and their healthy twins; no ranking and no signs."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from math import sqrt
from random import Random
from typing import Any

from tests.loop.car import NO_FAULT, Car, Faults, Settings, Weather, draw_car, draw_weather
from tests.loop.fluids import fluid
from tests.loop.instruments import Instruments, Reader, conditions, draw_instruments, lines, pressures, strain
from tests.loop.plant import State, solve
from tests.loop.visits import COLDEST_C, TRIES, disturbed, draw_settings, shell

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
REST_AIR_SHOWS_KPA = 70.0
READING_SETS = ("gauges", "lines", "all")


@dataclass(frozen=True)
class Sick:
    """A car with one cause, as it is and as its healthy twin would be."""

    car: Car
    weather: Weather
    faults: Faults
    settings: tuple[Settings, Settings]
    states: tuple[State, State]
    severity: float


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
        "restriction": Faults(restriction=0.45 + 0.38 * s),
        "valve_open": Faults(valve_open=0.25 + 0.7 * s),
        "evaporator_airflow": Faults(evaporator_air=0.15 + 0.55 * s),
        "warm_blend": Faults(blend=0.03 + 0.30 * s),
    }
    if cause == "icing":
        ice = 0.0 if rng.random() < 0.35 else 0.2 + 0.6 * s
        return Faults(set_point_k=-(3.0 + 8.0 * s), ice=ice), settings
    return table[cause], settings


def _signs(scene: Sick, twin: bool = False) -> dict[str, tuple[bool, float, float]]:
    """Each thing to see or hear: whether it is there, the chance to notice it, the chance to imagine it."""
    state, fan = scene.states[twin], scene.settings[twin].fan
    faults = NO_FAULT if twin else scene.faults
    valve = scene.car.metering.kind == "expansion_valve"
    return {
        "weak_air": (state.air_share < 0.72, 0.9, 0.03),
        "uneven_vents": (abs(state.vent_left_c - state.vent_right_c) > 4.0, 0.9, 0.01),
        "fan_dead": (fan == "off", 0.95, 0.0),
        "face_dirty": (faults.dirt > 0.2, 0.65, 0.07),
        "frost_suction": (state.t_evap < -5.0 and state.superheat_k < 8.0, 0.5, 0.01),
        "frost_valve": (faults.restriction > 0.45, 0.4, 0.01),
        "frost_drier": (faults.restriction > 0.45, 0.3, 0.0),
        "short_cycling": (state.running == "cycling" and state.on_s + state.off_s < 14.0, 0.9, 0.02),
        "icing_then_warm": (faults.ice > 0.25, 0.8, 0.0),
        "compressor_noise": (faults.weak > 0.3, 0.35, 0.03),
        "oil_seen": (faults.charge < 0.85, 0.4, 0.05),
        "sight_bubbles": (state.quality > 0.01 and valve, 0.3, 0.01),
    }


def observed(rng: Random, scene: Sick) -> list[str]:
    """What a careful person sees and hears; some of it is missed, some imagined."""
    signs = _signs(scene)
    return [
        code for code, (there, noticed, imagined) in signs.items() if rng.random() < (noticed if there else imagined)
    ]


def _told(fault: bool) -> str:
    return "fault" if fault else "ok"


def checked(rng: Random, scene: Sick, cause: str, readings: str, seen: list[str]) -> list[Json]:
    """What was looked at on purpose: the air at the vents, and with all else the places where the cause may sit.

    Dirt sits in the gap or bends the fins of some cars and lies deeper in others; weak air is the filter's doing in
    one car of two. Shares are common practice, no source.
    """
    found = {"air_strong": "weak_air" in seen}
    if readings == "all":
        filter_share = {"evaporator_airflow": 0.5, "icing": 0.15}.get(cause, 0.08)
        found["cabin_filter"] = rng.random() < filter_share
        found["gap_clean"] = rng.random() < (0.45 if scene.faults.dirt > 0.2 else 0.07)
        found["fins_straight"] = rng.random() < (0.3 if scene.faults.dirt > 0.2 else 0.08)
        found["belt"] = rng.random() < (0.15 if cause == "weak_compressor" else 0.03)
    return [{"id": code, "code": code, "state": _told(fault)} for code, fault in found.items()]


def _real(code: str, scene: Sick) -> bool:
    """Whether a sight is there, and is not there on the healthy twin."""
    return _signs(scene)[code][0] and not _signs(scene, twin=True)[code][0]


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


def _limit(name: str, other: float, tools: Instruments) -> float:
    """How far a true reading must move to be seen: two standard uncertainties, or what a person would notice."""
    warm = max(2.0 * tools.thermometer_c / sqrt(3.0), 1.0)
    if name.endswith("_kpa_g"):
        return 2.0 * tools.u_kpa("low" if name.startswith("low") else "high")
    if name.endswith("_c"):
        return warm if name.startswith(("vent", "return")) else 1.5 * warm
    return 0.4 * other + 3.0 if name in ("on_s", "off_s") else 12.0


def shows(sick: Json, twin: Json, tools: Instruments) -> bool:
    """Whether any true reading moves visibly from the healthy twin's."""
    for name, value in sick.items():
        other = twin.get(name)
        if name == "running" and value != other:
            return True
        if isinstance(value, str) or other is None:
            continue
        if abs(value - other) > _limit(name, other, tools):
            return True
    return False


def _sick(rng: Random, cause: str, severity: float) -> Sick | None:
    """Draw a car with the cause; None when it would trip, freeze solid or not settle."""
    car, weather = draw_car(rng), draw_weather(rng)
    sound = replace(disturbed(rng, draw_settings(rng, car)), fan="high")
    faults, settings = faulty(rng, cause, severity, sound)
    state, twin = solve(car, weather, settings, faults), solve(car, weather, sound)
    if state.tripped or twin.tripped or state.t_evap < COLDEST_C or not (state.settled and twin.settled):
        return None
    return Sick(car, weather, faults, (settings, sound), (state, twin), severity)


def _drawn(rng: Random, cause: str, severity: float | None) -> Sick:
    for _ in range(TRIES):
        scene = _sick(rng, cause, rng.random() if severity is None else severity)
        if scene is not None:
            return scene
    raise ValueError(f"no scene for {cause}")


def _truth(scene: Sick, cause: str, tools: Instruments, told: set[str], readings: str) -> Json:
    perfect = Reader(tools, Random(0), scene.weather, perfect=True)
    views = [
        _single(perfect, state, settings, scene.car, readings)["readings"]
        for state, settings in zip(scene.states, scene.settings, strict=True)
    ]
    rest_air = scene.faults.air_kpa * scene.car.charge.gas_share_at_rest if readings == "all" else 0.0
    moved = shows(views[0], views[1], tools) or bool(told) or rest_air > REST_AIR_SHOWS_KPA
    return {
        "cause": cause,
        "severity": scene.severity,
        "faults": asdict(scene.faults),
        "shows": cause == "healthy" or moved,
        "kind": scene.car.compressor.kind,
        "metering": scene.car.metering.kind,
        "regulated": scene.states[0].regulated,
        "true": views[0],
        "healthy": views[1],
        "state": asdict(scene.states[0]),
        "twin": asdict(scene.states[1]),
    }


def case(seed: int, cause: str, severity: float | None = None, readings: str = "gauges") -> tuple[Json, Json]:
    """A visit with one single test of a car with one known cause, and its truth.

    severity runs from 0 to 1, None draws it; readings is "gauges" (two gauges and vent), "lines" (with line
    temperatures and weak air) or "all" (with a rest reading and observations). Deterministic by its arguments; the
    three sets show the same car. Raises ValueError for an unknown cause or set.
    """
    if cause not in CAUSES or readings not in READING_SETS:
        raise ValueError(f"{cause} {readings}")
    rng = Random(f"case {seed} {cause} {severity}")
    scene = _drawn(rng, cause, severity)
    tools = draw_instruments(rng)
    visit = shell(rng, scene.car, scene.weather, tools)
    seen = observed(rng, scene)
    if readings != "all":
        seen = [code for code in seen if code == "weak_air" and readings == "lines"]
    reader = Reader(tools, rng, scene.weather)
    if readings != "gauges":
        # A source of chance of its own: the three sets show the same car, read with the same errors.
        visit["checks"] = checked(Random(f"checks {seed} {cause} {severity}"), scene, cause, readings, seen)
    if readings == "all":
        visit["rests"] = [_rest(rng, reader, scene.car, scene.faults, scene.weather)]
    test: Json = {"id": "single", "role": "single", "at": "2025-07-14T09:20:00+02:00", "observed": seen}
    test |= _single(reader, scene.states[0], scene.settings[0], scene.car, readings)
    visit["tests"] = [test]
    return visit, _truth(scene, cause, tools, {code for code in seen if _real(code, scene)}, readings)
