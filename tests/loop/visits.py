"""Visits of invented cars with the truth hidden beside them; it knows what was done, never what should be concluded."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from random import Random
from typing import Any

from tests.loop.car import BLOWERS, NO_FAULT, Car, Faults, Settings, Weather, draw_car, draw_weather
from tests.loop.fluids import fluid
from tests.loop.instruments import Instruments, Reader, conditions, draw_instruments, lines, pressures, strain
from tests.loop.plant import State, solve

Json = dict[str, Any]
CHANGES = ("nothing", "cleaned", "fan_repaired", "filter", "leak", "recharge", "wet_face", "dirtied")
WORK = {
    "nothing": "tested_only",
    "cleaned": "condenser_cleaned",
    "fan_repaired": "fan_repaired",
    "filter": "cabin_filter_changed",
    "leak": "tested_only",
    "recharge": "recharged",
    "wet_face": "condenser_cleaned",
    "dirtied": "tested_only",
}
TRIES = 80
COLDEST_C = -24.0


def visit_id(rng: Random) -> str:
    """An id in the form of a version 7 UUID, drawn from rng."""
    digits = f"{rng.getrandbits(128):032x}"
    return f"{digits[:8]}-{digits[8:12]}-7{digits[13:16]}-8{digits[17:20]}-{digits[20:]}"


def draw_settings(rng: Random, car: Car) -> Settings:
    """How a technician might run a test."""
    idle = rng.random() < 0.12
    return Settings(
        rpm=rng.uniform(700.0, 900.0) if idle else rng.uniform(1500.0, 2500.0),
        blower=rng.choices(BLOWERS, (0.5, 0.2, 0.3))[0],
        air="outside" if rng.random() < 0.25 else "recirculated",
        fan="low" if rng.random() < 0.15 else "high",
        hood_open=rng.random() < 0.75,
        running_min=rng.uniform(10.0, 25.0),
        soak_k=rng.uniform(1.0, 14.0),
    )


def disturbed(rng: Random, settings: Settings) -> Settings:
    """The same settings with the small disturbances nobody records."""
    return replace(
        settings,
        rpm=settings.rpm + rng.uniform(-40.0, 40.0),
        face_gust_k=max(-1.2, min(1.2, rng.gauss(0.0, 0.4))),
        fan_gust=max(0.93, min(1.07, rng.gauss(1.0, 0.025))),
        load_gust_kw=rng.uniform(-0.1, 0.1),
    )


def _after_settings(rng: Random, before: Settings, like: bool) -> Settings:
    """Settings of the after test: alike within what a careful person manages, or different in one thing."""
    after = replace(
        before,
        rpm=before.rpm + rng.uniform(-120.0, 120.0),
        running_min=max(8.0, before.running_min + rng.uniform(-3.5, 3.5)),
        soak_k=rng.uniform(0.0, 12.0),
    )
    if like:
        return after
    other = rng.choice(("blower", "air", "rpm", "minutes", "fan", "hood"))
    if other == "blower":
        return replace(after, blower=rng.choice([step for step in BLOWERS if step != before.blower]))
    if other == "air":
        return replace(after, air="outside" if before.air == "recirculated" else "recirculated")
    if other == "rpm":
        return replace(after, rpm=before.rpm + rng.choice((-1.0, 1.0)) * rng.uniform(350.0, 600.0))
    if other == "minutes":
        return replace(after, running_min=before.running_min + rng.uniform(6.0, 15.0))
    if other == "fan":
        return replace(after, fan="low" if before.fan == "high" else "high")
    return replace(after, hood_open=not before.hood_open)


def _standing_faults(rng: Random) -> Faults:
    """What a car may suffer from on a day when nobody mends it."""
    draw = rng.random()
    if draw < 0.40:
        return NO_FAULT
    if draw < 0.75:
        return Faults(dirt=rng.uniform(0.1, 0.8))
    if draw < 0.85:
        return Faults(charge=rng.uniform(0.6, 1.3))
    if draw < 0.92:
        return Faults(air_kpa=rng.uniform(40.0, 250.0))
    return Faults(weak=rng.uniform(0.1, 0.4), dirt=rng.uniform(0.0, 0.4))


def _changes(rng: Random, what: str) -> tuple[Faults, Faults]:
    """Faults before and after the work."""
    standing = _standing_faults(rng)
    if what == "cleaned":
        dirt = rng.uniform(0.2, 0.95)
        other = Faults(charge=rng.uniform(0.8, 1.0)) if rng.random() < 0.2 else NO_FAULT
        return replace(other, dirt=dirt), replace(other, dirt=dirt * rng.uniform(0.0, 0.3))
    if what == "dirtied":
        return Faults(dirt=rng.uniform(0.0, 0.2)), Faults(dirt=rng.uniform(0.3, 0.85))
    if what == "filter":
        return Faults(evaporator_air=rng.uniform(0.2, 0.6)), Faults(evaporator_air=rng.uniform(0.0, 0.08))
    if what == "leak":
        start = rng.uniform(0.85, 1.0)
        dirt = rng.choice((0.0, rng.uniform(0.0, 0.6)))
        return Faults(charge=start, dirt=dirt), Faults(charge=start - rng.uniform(0.15, 0.5), dirt=dirt)
    if what == "recharge":
        dirt = rng.choice((0.0, rng.uniform(0.0, 0.6)))
        return Faults(charge=rng.uniform(0.45, 0.8), dirt=dirt), Faults(charge=rng.uniform(0.97, 1.03), dirt=dirt)
    if what == "wet_face":
        after = standing if rng.random() < 0.5 else replace(standing, dirt=0.3 * standing.dirt)
        return standing, after
    return standing, standing


@dataclass(frozen=True)
class Scene:
    """One car and the two tests on it."""

    car: Car
    weathers: tuple[Weather, Weather]
    settings: tuple[Settings, Settings]
    faults: tuple[Faults, Faults]
    states: tuple[State, State, State]


def _drift(rng: Random, weather: Weather) -> Weather:
    """The weather an hour later: within 5 K of ambient and 8 points of humidity."""
    return replace(
        weather,
        ambient_c=weather.ambient_c + rng.uniform(-5.0, 5.0),
        humidity_pct=max(10.0, min(95.0, weather.humidity_pct + rng.uniform(-8.0, 8.0))),
        pressure_kpa=weather.pressure_kpa + rng.uniform(-0.1, 0.1),
        sun=max(0.0, min(1.0, weather.sun + rng.uniform(-0.4, 0.4))),
    )


def _scene(rng: Random, what: str, like: bool) -> Scene | None:
    """Draw a scene; None when the car would trip on high pressure or not settle."""
    car, weather = draw_car(rng), draw_weather(rng)
    plan = draw_settings(rng, car)
    before_faults, after_faults = _changes(rng, what)
    before = disturbed(rng, plan)
    after = disturbed(rng, _after_settings(rng, plan, like))
    if what == "fan_repaired":
        before = replace(before, fan=rng.choice(("off", "low")), hood_open=True)
        after = replace(after, fan="high", hood_open=True)
    if what == "wet_face":
        after = replace(after, wet_share=rng.uniform(0.15, 0.6))
    later = _drift(rng, weather)
    first = solve(car, weather, before, before_faults)
    if first.tripped or not first.settled:
        return None
    second = solve(car, later, after, after_faults)
    on_before_day = replace(before, fan=after.fan) if what == "fan_repaired" else before
    third = solve(car, weather, on_before_day, after_faults)
    states = (first, second, third)
    if any(state.tripped or not state.settled or state.t_evap < COLDEST_C for state in states):
        return None
    return Scene(car, (weather, later), (before, after), (before_faults, after_faults), states)


def _vehicle(rng: Random, car: Car) -> Json:
    kind = car.compressor.kind
    named = "cycling_clutch" if kind.startswith("cycling") else kind
    if named.startswith("variable") and rng.random() < 0.3:
        named = "variable"
    out: Json = {
        "refrigerant": car.refrigerant,
        "powertrain": rng.choice(("electric", "hybrid")) if kind == "electric" else "combustion",
        "compressor": "unknown" if rng.random() < 0.15 else named,
        "metering": "unknown" if rng.random() < 0.2 else car.metering.kind,
        "evaporators": 1,
        "charge_spec_g": car.charge.grams,
    }
    if rng.random() < 0.5:
        out["internal_exchanger"] = car.metering.exchanger > 0.0
    return out


def _place(rng: Random, weather: Weather) -> Json:
    """The altitude a map would give, or a barometer's reading."""
    if rng.random() < 0.25:
        return {"station_pressure_kpa": round(weather.pressure_kpa, 1)}
    altitude = (1.0 - (min(weather.pressure_kpa, 101.325) / 101.325) ** (1.0 / 5.25588)) / 2.25577e-5
    return {"altitude_m": float(max(0, round((altitude + rng.uniform(-60.0, 60.0)) / 10.0) * 10))}


def _taken(rng: Random) -> set[str]:
    """Which readings this technician takes in both tests."""
    chances = {
        "humidity_pct": 0.88,
        "return_air_c": 0.85,
        "return_air_humidity_pct": 0.45,
        "lines": 0.5,
        "discharge_line_c": 0.4,
        "strain": 0.5,
        "fan": 0.8,
        "running_min": 0.93,
        "sides": 0.4,
    }
    return {name for name, chance in chances.items() if rng.random() < chance}


def _test(reader: Reader, state: State, settings: Settings, car: Car, taken: set[str]) -> Json:
    """Conditions and readings of one test as far as they are taken."""
    told = conditions(reader, state, settings, car)
    for name in ("humidity_pct", "running_min"):
        if name not in taken:
            told.pop(name)
    if "fan" not in taken:
        told["fan"] = "not_seen"
    readings: Json = pressures(reader, state) | {"vent_c": reader.air(state.vent_c)}
    if settings.air == "recirculated" and "return_air_c" in taken:
        readings["return_air_c"] = reader.air(state.return_c)
        if "return_air_humidity_pct" in taken:
            readings["return_air_humidity_pct"] = reader.damp(state.return_rh_pct)
    if "lines" in taken:
        place = "evaporator" if "evaporator" in taken else "compressor"
        found = lines(reader, state, car, place)
        if "discharge_line_c" not in taken:
            found.pop("discharge_line_c")
        readings |= found
    if "strain" in taken:
        readings |= strain(state, car, reader)
    if "sides" in taken:
        readings |= {"vent_left_c": reader.air(state.vent_left_c), "vent_right_c": reader.air(state.vent_right_c)}
    return {"conditions": told, "readings": readings}


def shell(rng: Random, car: Car, weather: Weather, tools: Instruments) -> Json:
    """The parts of a visit around its tests."""
    return {
        "id": visit_id(rng),
        "schema": 1,
        "started_at": "2025-07-14T09:00:00+02:00",
        "vehicle": _vehicle(rng, car),
        "place": _place(rng, weather),
        "instruments": tools.stated(),
    }


def split_k(car: Car, state: State) -> float:
    """True condenser split [K] at the port: saturation at the high port less the air at the face."""
    return fluid(car.refrigerant).temperature(state.high_kpa) - state.face_c


def _pair_truth(scene: Scene, what: str) -> Json:
    before, after, on_before_day = scene.states
    return {
        "what": what,
        "work_share_high_kpa": on_before_day.high_kpa - before.high_kpa,
        "work_share_split_k": split_k(scene.car, on_before_day) - split_k(scene.car, before),
        "work_share_vent_k": on_before_day.vent_c - before.vent_c,
        "raw_change_high_kpa": after.high_kpa - before.high_kpa,
        "unchanged": scene.faults[0] == scene.faults[1] and what != "fan_repaired",
        "kind": scene.car.compressor.kind,
        "metering": scene.car.metering.kind,
        "regulated": [before.regulated, after.regulated],
        "faults": [asdict(scene.faults[0]), asdict(scene.faults[1])],
        "before": asdict(before),
        "after": asdict(after),
        "after_on_before_day": asdict(on_before_day),
    }


def _tests(rng: Random, scene: Scene, tools: Instruments) -> list[Json]:
    """The before and the after test, with the same kinds of readings in both."""
    taken = _taken(rng) | ({"evaporator"} if rng.random() < 0.4 else set())
    tests = []
    for role, i in (("before", 0), ("after", 1)):
        reader = Reader(tools, rng, scene.weathers[i])
        test: Json = {"id": role, "role": role, "at": f"2025-07-14T{9 + i:02d}:20:00+02:00"}
        tests.append(test | _test(reader, scene.states[i], scene.settings[i], scene.car, taken))
    return tests


def pair(seed: int, what: str = "nothing", like_settings: bool = True) -> tuple[Json, Json]:
    """A visit with a before and an after test, and its truth.

    The work share is the after car in the weather and with the settings of the before test, less the before car
    there; both without instruments. Deterministic by its arguments. Raises ValueError for an unknown change.
    """
    if what not in CHANGES:
        raise ValueError(what)
    rng = Random(f"pair {seed} {what} {like_settings}")
    for _ in range(TRIES):
        scene = _scene(rng, what, like_settings)
        if scene is not None:
            break
    else:
        raise ValueError(f"no scene for {what} from {seed}")
    tools = draw_instruments(rng)
    visit = shell(rng, scene.car, scene.weathers[0], tools)
    visit["tests"] = _tests(rng, scene, tools)
    if what == "wet_face":
        visit["tests"][1]["conditions"]["rinsed_min_ago"] = float(rng.randint(1, 12))
    visit["work"] = [{"id": "work", "code": WORK[what], "at": "2025-07-14T09:50:00+02:00"}]
    if what == "recharge":
        grams = round((scene.faults[1].charge - scene.faults[0].charge) * scene.car.charge.grams)
        move = {"id": "move", "kind": "charged", "at": "2025-07-14T09:45:00+02:00", "grams": float(grams)}
        visit["refrigerant_moves"] = [move | {"refrigerant": scene.car.refrigerant}]
    return visit, _pair_truth(scene, what)
