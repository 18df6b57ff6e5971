"""Single tests of cars with one known cause, drawn the same way in every world, as a technician would write them down.

It knows what is wrong with a car, never what should be concluded.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random
from typing import Any

from tests.worlds.draws import CAUSES, Draw, draw_settings, draw_weather, faulty
from tests.worlds.effects import effects_of
from tests.worlds.instruments import Instruments, Reader, draw_instruments
from tests.worlds.sights import CHECKS, Chances, sights_of, signs_of
from tests.worlds.world import NO_FAULT, CarFacts, State, World
from tests.worlds.writing import READING_SETS, conditions_of, place_of, readings_of, rest_of, vehicle_of

Json = dict[str, Any]
# A car that cools the entering air by less than this doesn't count as cooling.
NO_COOLING_K = 3.0
ROUNDS = 30
# One car in five is healthy; the other causes are equally frequent.
ORDER = (*CAUSES, "healthy", *CAUSES[1:], "healthy", "healthy", "healthy")


@dataclass(frozen=True)
class Case:
    """A visit with one test for each set of readings, a healthy test of the same car, and the true cause."""

    visits: dict[str, Json]
    own: Json
    truth: Json


def _visit(parts: Json, test: Json, started: str = "2025-07-14") -> Json:
    shell = {"id": "0198f000-0000-7000-8000-000000000000", "schema": 1, "started_at": started + "T09:00:00+02:00"}
    return {**shell, **parts, "tests": [{"id": "single", "role": "single", "at": started + "T09:20:00+02:00", **test}]}


class Writer:
    """Writes the visits of one draw with the instruments and probabilities of its world."""

    def __init__(self, world: World, chances: Chances) -> None:
        self.world, self.chances = world, chances

    def case(self, rng: Random, draw: Draw, cause: str, states: list[State]) -> Case:
        """The three visits and the healthy test on another day."""
        facts, tools = self.world.facts(draw.car), draw_instruments(rng)
        reader = Reader(tools, rng, draw.weather)
        clamp = "evaporator" if rng.random() < 0.4 else "compressor"
        parts: Json = {"vehicle": vehicle_of(rng, facts), "place": place_of(rng, draw.weather)}
        parts["instruments"] = tools.stated()
        conditions = conditions_of(reader, states[0], draw.settings, facts)
        readings = readings_of(reader, states[0], facts, draw.settings.air, clamp)
        signs = signs_of(draw, states[0], facts)
        sights = sights_of(rng, self.chances, signs)
        rest = rest_of(rng, reader, states[0], facts.refrigerant)
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
        conditions = conditions_of(reader, state, draw.sound, facts)
        place = {"station_pressure_kpa": round(draw.other_day.pressure_kpa, 1)}
        test = {"conditions": conditions, "readings": taken["gauges"] | taken["lines"] | taken["all"]}
        return _visit({**parts, "place": place}, test, "2024-08-02")

    def _truth(
        self, draw: Draw, cause: str, states: list[State], tools: Instruments,
        known: tuple[CarFacts, str, set[str], dict[str, bool]],
    ) -> Json:
        """What is wrong, how far it shows in each set of readings, and what true instruments would have read."""
        facts, clamp, sights, signs = known
        perfect = Reader(tools, Random(0), draw.weather, perfect=True)
        sick, twin = (readings_of(perfect, state, facts, draw.settings.air, clamp) for state in states[:2])
        twin_signs = signs_of(replace(draw, faults=NO_FAULT, settings=draw.sound), states[1], facts)
        noticed = any(code in sights and signs[code] and not twin_signs[code] for code in signs)
        effects = effects_of(sick, twin, tools, (states[0].rest_kpa - states[1].rest_kpa, noticed))
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
            "conditions": conditions_of(perfect, states[0], draw.settings, facts),
        }


def _of_set(name: str, scene: tuple[Draw, Json, Json, dict[str, Json]], sights: set[str], rest: Json) -> Json:
    """The visit with the readings, checks and sights of a set."""
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
    return _visit(parts, {"observed": observed, "conditions": conditions, "readings": taken})


def _possible(draw: Draw, states: list[State]) -> bool:
    """Whether all requests give tests, and the car and its twin cool on the day of the test."""
    outside = draw.settings.air == "outside"
    entering = [draw.weather.ambient_c if outside else state.return_c for state in states[:2]]
    cooled = [there - state.vent_c for there, state in zip(entering, states, strict=False)]
    return not any(state.impossible for state in states) and min(cooled) >= NO_COOLING_K


def _drawn(world: World, rng: Random, cause: str) -> Draw:
    weather = draw_weather(rng)
    other = draw_weather(rng)
    sound, severity = draw_settings(rng), rng.random()
    faults, settings = faulty(rng, cause, severity, sound)
    return Draw(world.draw_car(rng), weather, settings, sound, faults, severity, other)


def cases(world: World, seed: int, count: int) -> list[Case]:
    """`count` cases of a world, causes in turn, one in five healthy.

    A case is drawn again until both days are tests, some reading moves by twice its uncertainty or a sign shows, and
    the car still cools. Deterministic by world, seed and count. Cases that cannot be drawn are left out.
    """
    rngs = [Random(f"case {world.name} {seed} {i}") for i in range(count)]
    names = [ORDER[i % len(ORDER)] for i in range(count)]
    writer, done = Writer(world, Chances(world.name)), dict[int, Case]()
    for _ in range(ROUNDS):
        left = [i for i in range(count) if i not in done]
        if not left:
            break
        # Few remaining cases are tried several times at once: some worlds take as long for one test as for a hundred.
        turns = [i for i in left for _ in range(max(1, min(6, count // (4 * len(left)))))]
        draws = [_drawn(world, rngs[i], names[i]) for i in turns]
        states = world.solve([request for draw in draws for request in draw.requests()])
        for place, i in enumerate(turns):
            three = states[3 * place : 3 * place + 3]
            if i in done or not _possible(draws[place], three):
                continue
            case = writer.case(rngs[i], draws[place], names[i], three)
            if case.truth["shows"]["all"]:
                done[i] = case
    return [done[i] for i in sorted(done)]
