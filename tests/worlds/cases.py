"""Single tests of cars with one known cause, drawn alike in every world, as a technician would write them down.

It knows what is wrong with a car, never what should be concluded.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import sqrt
from random import Random
from typing import Any

from tests.worlds.instruments import Instruments, Reader, draw_instruments
from tests.worlds.loop.fluids import fluid, humidity, station_pressure
from tests.worlds.world import BLOWERS, NO_FAULT, CarFacts, Faults, Request, Settings, State, Weather, World

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
REST_AIR_SHOWS_KPA = 70.0
# A car that cools the entering air by less no longer cools.
NO_COOLING_K = 3.0
ROUNDS = 30


@dataclass(frozen=True)
class Draw:
    """One car with one cause on one day, as asked of a world."""

    car: Any
    weather: Weather
    settings: Settings
    sound: Settings
    faults: Faults
    severity: float
    other_day: Weather

    def requests(self) -> list[Request]:
        """The sick car, its healthy twin, and the twin on another day."""
        return [
            Request(self.car, self.weather, self.settings, self.faults),
            Request(self.car, self.weather, self.sound),
            Request(self.car, self.other_day, self.sound),
        ]


@dataclass(frozen=True)
class Case:
    """A visit with one test for each set of readings, a healthy test of the same car, and the truth of it."""

    visits: dict[str, Json]
    own: Json
    truth: Json


def draw_weather(rng: Random) -> Weather:
    """A day of 15 to 43 °C, 20 to 80 %, 0 to 2,000 m, its dew point under 26 °C."""
    altitude = rng.choice((0.0, rng.uniform(0.0, 500.0), rng.uniform(0.0, 2000.0)))
    pressure = station_pressure(altitude) + max(-1.6, min(1.6, rng.gauss(0.0, 0.7)))
    ambient = rng.uniform(15.0, 43.0)
    while True:
        wet = rng.uniform(20.0, 80.0)
        if humidity(ambient, wet, pressure) < 0.0215:
            return Weather(ambient, wet, pressure, rng.choice((0.1, rng.uniform(0.0, 1.0))))


def draw_settings(rng: Random) -> Settings:
    """How a technician might run a test, with the disturbances nobody records."""
    rpm = rng.uniform(650.0, 900.0) if rng.random() < 0.2 else rng.uniform(1000.0, 2500.0)
    windows = "open" if rng.random() < 0.35 else "closed"
    weights = (0.2, 0.2, 0.6) if windows == "open" else (0.4, 0.25, 0.35)
    return Settings(
        rpm=rpm + rng.uniform(-40.0, 40.0),
        blower=rng.choices(BLOWERS, weights)[0],
        air="outside" if windows == "closed" and rng.random() < 0.25 else "recirculated",
        windows=windows,
        hood_open=rng.random() < 0.75,
        running_min=rng.uniform(8.0, 25.0),
        soak_k=rng.uniform(1.0, 14.0),
        face_gust_k=max(-1.2, min(1.2, rng.gauss(0.0, 0.4))),
        fan_gust=max(0.93, min(1.07, rng.gauss(1.0, 0.025))),
        load_gust_kw=rng.uniform(-0.1, 0.1),
    )


def faulty(rng: Random, cause: str, severity: float, sound: Settings) -> tuple[Faults, Settings]:
    """Faults and settings of a cause from hardly any (0) to as bad as it gets (1)."""
    s = severity
    if cause == "condenser_airflow" and rng.random() < 0.35:
        return NO_FAULT, replace(sound, fan="off" if rng.random() < 0.5 else "low")
    if cause == "icing":
        ice = 0.0 if rng.random() < 0.35 else 0.9 * s
        return Faults(set_point_k=-(2.0 + 11.0 * s), ice=ice), sound
    table = {
        "healthy": NO_FAULT,
        "condenser_airflow": Faults(dirt=0.95 * s),
        "undercharge": Faults(charge=1.0 - 0.75 * s),
        "overcharge": Faults(charge=1.0 + 0.75 * s),
        "non_condensables": Faults(air_kpa=600.0 * s),
        "weak_compressor": Faults(weak=0.92 * s),
        "restriction": Faults(restriction=0.97 * s),
        "valve_open": Faults(valve_open=s),
        "evaporator_airflow": Faults(evaporator_air=0.9 * s),
        "warm_blend": Faults(blend=0.7 * s),
    }
    return table[cause], sound


# How often what is there is noticed, and what is not there imagined: common practice, no source.
NOTICED = {
        "weak_air": 0.8, "uneven_vents": 0.8, "fan_dead": 0.9, "fan_low_only": 0.6, "face_dirty": 0.65,
        "frost_suction": 0.5, "frost_valve": 0.4, "frost_drier": 0.3, "short_cycling": 0.8, "icing_then_warm": 0.7,
        "compressor_noise": 0.35, "oil_seen": 0.4, "sight_bubbles": 0.3, "cabin_filter": 0.5, "gap_clean": 0.45,
        "fins_straight": 0.3, "belt": 0.15,
}  # fmt: skip
IMAGINED = {
        "weak_air": 0.03, "uneven_vents": 0.01, "fan_dead": 0.0, "fan_low_only": 0.0, "face_dirty": 0.1,
        "frost_suction": 0.01, "frost_valve": 0.01, "frost_drier": 0.0, "short_cycling": 0.02, "icing_then_warm": 0.01,
        "compressor_noise": 0.03, "oil_seen": 0.05, "sight_bubbles": 0.02, "cabin_filter": 0.08, "gap_clean": 0.07,
        "fins_straight": 0.08, "belt": 0.03,
}  # fmt: skip


class _Chances:
    """What this world's technicians notice of what is there, and imagine of what is not; each world has its own."""

    def __init__(self, name: str) -> None:
        rng = Random(f"chances {name}")
        self.noticed = {code: min(0.95, chance * rng.uniform(0.6, 1.4)) for code, chance in NOTICED.items()}
        self.imagined = {code: chance * rng.uniform(0.5, 2.0) for code, chance in IMAGINED.items()}


def _signs(draw: Draw, state: State, facts: CarFacts) -> dict[str, bool]:
    """What there is to see or hear on a car."""
    faults, short = draw.faults, state.running == "cycling" and state.on_s + state.off_s < 14.0
    return {
        "weak_air": state.air_share < 0.72,
        "uneven_vents": abs(state.vent_left_c - state.vent_right_c) > 4.0,
        "fan_dead": draw.settings.fan == "off",
        "fan_low_only": draw.settings.fan == "low",
        "face_dirty": faults.dirt > 0.2,
        "frost_suction": state.frost > 0.4,
        "frost_valve": faults.restriction > 0.45,
        "frost_drier": faults.restriction > 0.45,
        "short_cycling": short,
        "icing_then_warm": faults.ice > 0.25,
        "compressor_noise": faults.weak > 0.3,
        "oil_seen": faults.charge < 0.85,
        "sight_bubbles": state.bubbles > 0.01 and facts.metering == "expansion_valve",
        "cabin_filter": faults.evaporator_air > 0.2,
        "gap_clean": faults.dirt > 0.2,
        "fins_straight": faults.dirt > 0.2,
        "belt": faults.weak > 0.3,
    }


CHECKS = {"weak_air": "air_strong", "cabin_filter": "cabin_filter", "gap_clean": "gap_clean",
          "fins_straight": "fins_straight", "belt": "belt"}  # fmt: skip


def _sights(rng: Random, chances: _Chances, signs: dict[str, bool]) -> set[str]:
    return {code for code, there in signs.items()
            if rng.random() < (chances.noticed[code] if there else chances.imagined[code])}  # fmt: skip


def vehicle_of(rng: Random, facts: CarFacts) -> Json:
    """What is on file of a car, some of it not known."""
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


def _conditions(reader: Reader, state: State, settings: Settings, facts: CarFacts) -> Json:
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
    """What is read of a state, by the set in which it is first taken."""
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


def _limit(name: str, other: float, tools: Instruments) -> float:
    """How far a true reading must move to be seen: twice its uncertainty, or what a person would notice."""
    warm = max(2.0 * tools.thermometer_c / sqrt(3.0), 1.0)
    if name.endswith("_kpa_g"):
        return 2.0 * tools.u_kpa("low" if name.startswith("low") else "high")
    if name.endswith("_c"):
        return warm if name.startswith(("vent", "return")) else 1.5 * warm
    return 0.4 * other + 3.0 if name in ("on_s", "off_s") else 12.0


def effect_of(sick: Json, twin: Json, tools: Instruments) -> float:
    """How far the reading that moves most lies from the healthy twin's, in what can just be seen; at least one where
    the compressor runs otherwise."""
    effect = 0.0
    for name, value in sick.items():
        other = twin.get(name)
        if name == "running" and value != other:
            effect = max(effect, 1.0)
        elif not isinstance(value, str) and other is not None:
            effect = max(effect, abs(value - other) / _limit(name, other, tools))
    return effect


def _rest(rng: Random, reader: Reader, draw: Draw, state: State, refrigerant: str) -> Json:
    metal = draw.weather.ambient_c + rng.uniform(-1.5, 0.5)
    there = state.rest_kpa - fluid(refrigerant).pressure(draw.weather.ambient_c) + fluid(refrigerant).pressure(metal)
    return {
        "id": "rest",
        "at": "2025-07-14T08:50:00+02:00",
        "low_kpa_g": reader.low(there),
        "high_kpa_g": reader.high(there),
        "metal_c": reader.air(metal),
        "air_c": reader.air(draw.weather.ambient_c),
        "hours_off": float(rng.randint(3, 12)),
    }


def _visit(draw: Draw, parts: Json, test: Json, started: str = "2025-07-14") -> Json:
    shell = {"id": "0198f000-0000-7000-8000-000000000000", "schema": 1, "started_at": started + "T09:00:00+02:00"}
    return {**shell, **parts, "tests": [{"id": "single", "role": "single", "at": started + "T09:20:00+02:00", **test}]}


class Writer:
    """Writes the visits of one draw with the instruments and chances of its world."""

    def __init__(self, world: World, chances: _Chances) -> None:
        self.world, self.chances = world, chances

    def case(self, rng: Random, draw: Draw, cause: str, states: list[State]) -> Case:
        """The three visits and the healthy test of another day."""
        facts, tools = self.world.facts(draw.car), draw_instruments(rng)
        reader = Reader(tools, rng, draw.weather)
        clamp = "evaporator" if rng.random() < 0.4 else "compressor"
        parts: Json = {"vehicle": vehicle_of(rng, facts), "place": place_of(rng, draw.weather)}
        parts["instruments"] = tools.stated()
        conditions = _conditions(reader, states[0], draw.settings, facts)
        readings = readings_of(reader, states[0], facts, draw.settings.air, clamp)
        signs = _signs(draw, states[0], facts)
        sights = _sights(rng, self.chances, signs)
        rest = _rest(rng, reader, draw, states[0], facts.refrigerant)
        visits = {name: _of_set(name, (draw, parts, conditions, readings), sights, rest) for name in READING_SETS}
        own = self._own(rng, draw, states[2], tools, (parts, clamp, facts))
        return Case(visits, own, self._truth(draw, cause, states, tools, (facts, clamp, sights, signs)))

    def _own(
        self, rng: Random, draw: Draw, state: State, tools: Instruments, known: tuple[Json, str, CarFacts]
    ) -> Json:
        """The same car when it was healthy, on another day, read with the same instruments."""
        parts, clamp, facts = known
        reader = Reader(tools, rng, draw.other_day)
        taken = readings_of(reader, state, facts, draw.sound.air, clamp)
        conditions = _conditions(reader, state, draw.sound, facts)
        place = {"station_pressure_kpa": round(draw.other_day.pressure_kpa, 1)}
        test = {"conditions": conditions, "readings": taken["gauges"] | taken["lines"] | taken["all"]}
        return _visit(draw, {**parts, "place": place}, test, "2024-08-02")

    def _truth(
        self, draw: Draw, cause: str, states: list[State], tools: Instruments,
        known: tuple[CarFacts, str, set[str], dict[str, bool]],
    ) -> Json:
        facts, clamp, sights, signs = known
        perfect = Reader(tools, Random(0), draw.weather, perfect=True)
        sick, twin = (readings_of(perfect, state, facts, draw.settings.air, clamp) for state in states[:2])
        twin_signs = _signs(replace(draw, faults=NO_FAULT, settings=draw.sound), states[1], facts)
        effects: dict[str, float] = {}
        effect = 0.0
        for name in READING_SETS:
            effect = max(effect, effect_of(sick[name], twin[name], tools))
            if name == "all":
                effect = max(effect, (states[0].rest_kpa - states[1].rest_kpa) / REST_AIR_SHOWS_KPA)
                if any(code in sights and signs[code] and not twin_signs[code] for code in signs):
                    effect = max(effect, 1.0)
            effects[name] = effect
        return {
            "cause": cause,
            "severity": draw.severity,
            "effects": effects,
            "shows": {name: cause == "healthy" or effects[name] >= 1.0 for name in READING_SETS},
            "kind": facts.regulation,
            "metering": facts.metering,
            "running": states[0].running,
            "sick": sick,
            "twin": twin,
            "twin_running": states[1].running,
            "conditions": _conditions(perfect, states[0], draw.settings, facts),
        }


def _of_set(name: str, scene: tuple[Draw, Json, Json, dict[str, Json]], sights: set[str], rest: Json) -> Json:
    draw, parts, conditions, readings = scene
    taken, parts, conditions = dict(readings["gauges"]), dict(parts), dict(conditions)
    checks = {"weak_air"} if name != "gauges" else set()
    if name != "gauges":
        taken |= readings["lines"]
    if name == "all":
        taken |= readings["all"]
        checks = set(CHECKS)
        parts["rests"] = [rest]
        conditions["fan"] = draw.settings.fan
    parts["checks"] = [{"id": CHECKS[code], "code": CHECKS[code], "state": "fault" if code in sights else "ok"}
                       for code in CHECKS if code in checks]  # fmt: skip
    looks = sights if name == "all" else sights & {"weak_air"} if name == "lines" else set()
    observed = sorted(code for code in looks if code not in CHECKS or code == "weak_air")
    return _visit(draw, parts, {"observed": observed, "conditions": conditions, "readings": taken})


def _dead(draw: Draw, state: State) -> bool:
    entering = draw.weather.ambient_c if draw.settings.air == "outside" else state.return_c
    return entering - state.vent_c < NO_COOLING_K


def _drawn(world: World, rng: Random, cause: str) -> Draw:
    weather = draw_weather(rng)
    other = draw_weather(rng)
    sound, severity = draw_settings(rng), rng.random()
    faults, settings = faulty(rng, cause, severity, sound)
    return Draw(world.draw_car(rng), weather, settings, sound, faults, severity, other)


def cases(world: World, seed: int, count: int, pick: Callable[[int], str] | None = None) -> list[Case]:
    """`count` cases of a world, causes in turn, healthy twice as often as each other cause.

    A case is drawn again until both days are tests, some reading moves by twice its uncertainty or a sign shows, and
    the car still cools. Deterministic by world, seed and count. Cases that cannot be drawn are left out.
    """
    order = (*CAUSES, "healthy", *CAUSES[1:], "healthy", "healthy", "healthy")
    rngs = [Random(f"case {world.name} {seed} {i}") for i in range(count)]
    names = [pick(i) if pick else order[i % len(order)] for i in range(count)]
    writer, done = Writer(world, _Chances(world.name)), dict[int, Case]()
    for _ in range(ROUNDS):
        left = [i for i in range(count) if i not in done]
        if not left:
            break
        # Few cases left are tried several times at once: some worlds take as long for one test as for a hundred.
        turns = [i for i in left for _ in range(max(1, min(6, count // (4 * len(left)))))]
        draws = [_drawn(world, rngs[i], names[i]) for i in turns]
        states = world.solve([request for draw in draws for request in draw.requests()])
        for place, i in enumerate(turns):
            three = states[3 * place : 3 * place + 3]
            if i in done or any(state.impossible for state in three):
                continue
            if any(_dead(draws[place], state) for state in three[:2]):
                continue
            case = writer.case(rngs[i], draws[place], names[i], three)
            if case.truth["shows"]["all"]:
                done[i] = case
    return [done[i] for i in sorted(done)]
