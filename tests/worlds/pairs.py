"""Visits with a test before and a test after some work, drawn the same way in every world, with the work's true share.

It knows what was done, never what should be concluded.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random
from typing import Any

from tests.worlds.draws import draw_settings, draw_weather
from tests.worlds.instruments import Instruments, Reader, draw_instruments
from tests.worlds.world import BLOWERS, NO_FAULT, CarFacts, Faults, Request, Settings, State, Weather, World
from tests.worlds.writing import place_of, readings_of, vehicle_of

Json = dict[str, Any]
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
# How often each is drawn: nothing most often, so that false claims are counted on many cars.
TURNS = ("nothing",) * 8 + ("cleaned",) * 5 + ("fan_repaired", "filter", "leak", "leak", "recharge", "recharge",
                                                "wet_face", "dirtied")  # fmt: skip
ROUNDS = 30
CHANCES = {
    "humidity_pct": 0.88, "return_air_c": 0.85, "return_air_humidity_pct": 0.45, "lines": 0.5, "discharge_line_c": 0.4,
    "strain": 0.5, "fan": 0.8, "running_min": 0.93, "sides": 0.4,
}  # fmt: skip


@dataclass(frozen=True)
class Pair:
    """A visit with its two tests, and the truth."""

    visit: Json
    truth: Json


@dataclass(frozen=True)
class _Draw:
    car: Any
    what: str
    weathers: tuple[Weather, Weather]
    settings: tuple[Settings, Settings]
    faults: tuple[Faults, Faults]

    def requests(self) -> list[Request]:
        """Before, after, and after on the day and with the settings of before."""
        before, after = self.settings
        there = replace(before, fan=after.fan) if self.what == "fan_repaired" else before
        return [
            Request(self.car, self.weathers[0], before, self.faults[0]),
            Request(self.car, self.weathers[1], after, self.faults[1]),
            Request(self.car, self.weathers[0], there, self.faults[1]),
        ]


def _standing(rng: Random) -> Faults:
    """What may be wrong with a car that nobody repairs that day."""
    draw = rng.random()
    if draw < 0.40:
        return NO_FAULT
    if draw < 0.75:
        return Faults(dirt=rng.uniform(0.1, 0.7))
    if draw < 0.85:
        return Faults(charge=rng.uniform(0.6, 1.3))
    if draw < 0.92:
        return Faults(air_kpa=rng.uniform(40.0, 250.0))
    return Faults(weak=rng.uniform(0.1, 0.4), dirt=rng.uniform(0.0, 0.4))


def _faults(rng: Random, what: str) -> tuple[Faults, Faults]:
    standing = _standing(rng)
    if what == "cleaned":
        dirt = rng.uniform(0.2, 0.9)
        other = Faults(charge=rng.uniform(0.8, 1.0)) if rng.random() < 0.2 else NO_FAULT
        return replace(other, dirt=dirt), replace(other, dirt=dirt * rng.uniform(0.0, 0.3))
    if what == "dirtied":
        return Faults(dirt=rng.uniform(0.0, 0.2)), Faults(dirt=rng.uniform(0.3, 0.85))
    if what == "filter":
        return Faults(evaporator_air=rng.uniform(0.2, 0.6)), Faults(evaporator_air=rng.uniform(0.0, 0.08))
    dirt = rng.choice((0.0, rng.uniform(0.0, 0.6)))
    if what == "leak":
        start = rng.uniform(0.85, 1.0)
        return Faults(charge=start, dirt=dirt), Faults(charge=start - rng.uniform(0.15, 0.5), dirt=dirt)
    if what == "recharge":
        return Faults(charge=rng.uniform(0.45, 0.8), dirt=dirt), Faults(charge=rng.uniform(0.97, 1.03), dirt=dirt)
    if what == "wet_face":
        return standing, standing if rng.random() < 0.5 else replace(standing, dirt=0.3 * standing.dirt)
    return standing, standing


def _disturbed(rng: Random, settings: Settings) -> Settings:
    return replace(
        settings,
        rpm=settings.rpm + rng.uniform(-40.0, 40.0),
        face_gust_k=max(-1.2, min(1.2, rng.gauss(0.0, 0.4))),
        fan_gust=max(0.93, min(1.07, rng.gauss(1.0, 0.025))),
        load_gust_kw=rng.uniform(-0.1, 0.1),
    )


def _after(rng: Random, before: Settings, like: bool) -> Settings:
    """As alike as a careful person can make them, or different in one thing."""
    after = replace(
        before,
        rpm=before.rpm + rng.uniform(-120.0, 120.0),
        running_min=max(8.0, before.running_min + rng.uniform(-3.5, 3.5)),
        soak_k=rng.uniform(0.0, 12.0),
    )
    if like:
        return after
    other = rng.choice(("blower", "rpm", "minutes", "fan", "hood"))
    changed: dict[str, Settings] = {
        "blower": replace(after, blower=rng.choice([step for step in BLOWERS if step != before.blower])),
        "rpm": replace(after, rpm=before.rpm + rng.choice((-1.0, 1.0)) * rng.uniform(350.0, 600.0)),
        "minutes": replace(after, running_min=before.running_min + rng.uniform(6.0, 15.0)),
        "fan": replace(after, fan="low" if before.fan == "high" else "high"),
        "hood": replace(after, hood_open=not before.hood_open),
    }
    return changed[other]


def _later(rng: Random, weather: Weather) -> Weather:
    """The weather an hour later: within 5 K of ambient and 8 points of humidity."""
    return replace(
        weather,
        ambient_c=weather.ambient_c + rng.uniform(-5.0, 5.0),
        humidity_pct=max(10.0, min(95.0, weather.humidity_pct + rng.uniform(-8.0, 8.0))),
        pressure_kpa=weather.pressure_kpa + rng.uniform(-0.1, 0.1),
        sun=max(0.0, min(1.0, weather.sun + rng.uniform(-0.4, 0.4))),
    )


def _drawn(world: World, rng: Random, what: str, like: bool) -> _Draw:
    weather = draw_weather(rng)
    plan = replace(draw_settings(rng), fan="low" if rng.random() < 0.12 else "high")
    before, after = _disturbed(rng, plan), _disturbed(rng, _after(rng, plan, like))
    if what == "fan_repaired":
        before = replace(before, fan=rng.choice(("off", "low")), hood_open=True)
        after = replace(after, fan="high", hood_open=True)
    if what == "wet_face":
        after = replace(after, wet_share=rng.uniform(0.15, 0.6))
    return _Draw(world.draw_car(rng), what, (weather, _later(rng, weather)), (before, after), _faults(rng, what))


def _taken(rng: Random) -> set[str]:
    return {name for name, chance in CHANCES.items() if rng.random() < chance}


def _conditions(reader: Reader, state: State, settings: Settings, facts: CarFacts, taken: set[str]) -> Json:
    conditions: Json = {
        "ambient_c": reader.air(state.face_c), "blower": settings.blower, "air": settings.air, "rear": "none",
        "windows": settings.windows, "hood_open": settings.hood_open, "in_sun": reader.weather.sun > 0.5,
        "fan": settings.fan if "fan" in taken else "not_seen", "face_wet": settings.wet_share > 0.0, "mode": "cooling",
    }  # fmt: skip
    if "humidity_pct" in taken:
        conditions["humidity_pct"] = reader.damp(reader.weather.humidity_pct)
    if "running_min" in taken:
        conditions["running_min"] = float(round(settings.running_min))
    if facts.regulation != "electric":
        conditions["rpm"] = float(round(settings.rpm / 10.0) * 10)
    return conditions


def _test(reader: Reader, state: State, settings: Settings, facts: CarFacts, taken: set[str]) -> Json:
    clamp = "evaporator" if "evaporator" in taken else "compressor"
    sets = readings_of(reader, state, facts, settings.air, clamp)
    readings = dict(sets["gauges"])
    if "return_air_c" not in taken:
        readings.pop("return_air_c", None)
    elif "return_air_humidity_pct" in taken and "return_air_c" in readings:
        readings["return_air_humidity_pct"] = reader.damp(state.return_rh_pct)
    if "lines" in taken:
        readings |= sets["lines"]
        if "discharge_line_c" not in taken:
            readings.pop("discharge_line_c")
    vents = {name: value for name, value in sets["all"].items() if name.startswith("vent")}
    if "strain" in taken:
        readings |= {name: value for name, value in sets["all"].items() if name not in vents}
    if "sides" in taken:
        readings |= vents
    return {"conditions": _conditions(reader, state, settings, facts, taken), "readings": readings}


def _visit(rng: Random, draw: _Draw, facts: CarFacts, states: list[State], tools: Instruments) -> Json:
    taken = _taken(rng) | ({"evaporator"} if rng.random() < 0.4 else set())
    tests = []
    for i, role in enumerate(("before", "after")):
        reader = Reader(tools, rng, draw.weathers[i])
        test = _test(reader, states[i], draw.settings[i], facts, taken)
        tests.append({"id": role, "role": role, "at": f"2025-07-14T{9 + i:02d}:20:00+02:00", **test})
    if draw.what == "wet_face":
        tests[1]["conditions"]["rinsed_min_ago"] = float(rng.randint(1, 12))
    visit: Json = {
        "id": "0198f000-0000-7000-8000-000000000000",
        "schema": 1,
        "started_at": "2025-07-14T09:00:00+02:00",
        "vehicle": vehicle_of(rng, facts),
        "place": place_of(rng, draw.weathers[0]),
        "instruments": tools.stated(),
        "tests": tests,
        "work": [{"id": "work", "code": WORK[draw.what], "at": "2025-07-14T09:50:00+02:00"}],
    }
    if draw.what == "recharge":
        grams = round((draw.faults[1].charge - draw.faults[0].charge) * facts.charge_g)
        move = {"id": "move", "kind": "charged", "at": "2025-07-14T09:45:00+02:00", "grams": float(grams)}
        visit["refrigerant_moves"] = [move | {"refrigerant": facts.refrigerant}]
    return visit


def _truth(draw: _Draw, facts: CarFacts, states: list[State]) -> Json:
    before, after, there = states
    return {
        "what": draw.what,
        "unchanged": draw.faults[0] == draw.faults[1] and draw.what != "fan_repaired",
        "kind": facts.regulation,
        "running": [before.running, after.running],
        "work_share_high_kpa": there.high_kpa - before.high_kpa,
        "raw_change_high_kpa": after.high_kpa - before.high_kpa,
        "work_share_vent_k": there.vent_c - before.vent_c,
    }


def pairs(world: World, seed: int, count: int, only: str | None = None) -> list[Pair]:
    """`count` pairs of a world, each kind of work in turn or always `only`; one in seven differs in a setting.

    Deterministic by world, seed, count and `only`. Pairs that cannot be drawn are left out.
    """
    whats = [only or TURNS[i % len(TURNS)] for i in range(count)]
    likes = [what == "wet_face" or i % 7 != 0 for i, what in enumerate(whats)]
    rngs = [Random(f"pair {world.name} {seed} {only} {i}") for i in range(count)]
    done: dict[int, Pair] = {}
    for _ in range(ROUNDS):
        left = [i for i in range(count) if i not in done]
        if not left:
            break
        draws = [_drawn(world, rngs[i], whats[i], likes[i]) for i in left]
        states = world.solve([request for draw in draws for request in draw.requests()])
        for place, i in enumerate(left):
            three = states[3 * place : 3 * place + 3]
            if not any(state.impossible for state in three):
                facts = world.facts(draws[place].car)
                visit = _visit(rngs[i], draws[place], facts, three, draw_instruments(rngs[i]))
                truth = _truth(draws[place], facts, three) | {"like": likes[i]}
                done[i] = Pair(visit, truth)
    return [done[i] for i in sorted(done)]
