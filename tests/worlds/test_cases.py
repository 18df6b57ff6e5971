"""Cases as drawn: how often, where, and what counts as showing; how they are judged isn't tested here.

Weather is checked against ISO 2533 and psychrolib, the smallest effect that counts against JCGM 100.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache
from random import Random
from statistics import median
from typing import Any

import psychrolib  # type: ignore[import-untyped]
import pytest

from sync.wire.schemas import check_visit
from tests.worlds.cases import Case, Writer, cases
from tests.worlds.draws import CAUSES, Draw, draw_settings, draw_weather, faulty
from tests.worlds.effects import effect_of
from tests.worlds.instruments import draw_instruments
from tests.worlds.sights import Chances
from tests.worlds.stock import NAMES, world_of
from tests.worlds.world import NO_FAULT
from tests.worlds.writing import READING_SETS

psychrolib.SetUnitSystem(psychrolib.SI)
# Two full rounds of zones, which is quick; only a few of masses, which takes seconds.
COUNTS = {"loop": 12, "zones": 50, "masses": 3}
KPA_AT_2000_M = 79.50  # ISO 2533, from memory
WEATHER_KPA = 1.6  # how far the weather moves a barometer here


@cache
def drawn(name: str) -> list[Case]:
    """Cases of a world."""
    return cases(world_of(name), 5, COUNTS[name])


def test_one_case_in_five_is_healthy_and_causes_are_even() -> None:
    """Fifty cases: ten healthy, four of each cause."""
    counts = Counter(case.truth["cause"] for case in drawn("zones"))
    assert counts == {"healthy": 10} | {cause: 4 for cause in CAUSES if cause != "healthy"}


@pytest.mark.parametrize("name", ["loop", "zones"])
def test_a_seed_gives_the_same_cases_again_and_another_gives_others(name: str) -> None:
    """World, seed and count alone decide."""
    world = world_of(name)
    assert cases(world, 3, 8) == cases(world, 3, 8)
    assert cases(world, 3, 8) != cases(world, 4, 8)


def test_weather_lies_where_it_is_said_to() -> None:
    """15 to 43 °C, 20 to 80 %, 0 to 2,000 m, dew point up to 26 °C; the ranges are used to their ends."""
    rng = Random(1)
    days = [draw_weather(rng) for _ in range(3000)]
    for values, low, high, slack in (
        ([day.ambient_c for day in days], 15.0, 43.0, 1.0),
        ([day.humidity_pct for day in days], 20.0, 80.0, 1.0),
        ([day.pressure_kpa for day in days], KPA_AT_2000_M - WEATHER_KPA, 101.325 + WEATHER_KPA, 1.6),
    ):
        assert low <= min(values) < low + slack
        assert high - slack < max(values) <= high
    dew = [psychrolib.GetTDewPointFromRelHum(day.ambient_c, day.humidity_pct / 100.0) for day in days]
    assert 25.0 < max(dew) < 26.5


def test_a_sound_car_is_asked_for_beside_the_sick_one() -> None:
    """The twin has the sick car, its weather and settings, but no fault and a good fan; the other day's has the car."""
    rng, world = Random(2), world_of("zones")
    for cause in CAUSES * 3:
        weather, sound = draw_weather(rng), draw_settings(rng)
        faults, settings = faulty(rng, cause, 0.7, sound)
        draw = Draw(world.draw_car(rng), weather, settings, sound, faults, 0.7, draw_weather(rng))
        sick, twin, other = draw.requests()
        assert (twin.car, twin.weather, twin.faults, twin.settings.fan) == (sick.car, sick.weather, NO_FAULT, "high")
        assert (other.car, other.faults, other.settings) == (sick.car, NO_FAULT, twin.settings)
        assert replace(sick.settings, fan="high") == twin.settings
        assert (sick.faults == NO_FAULT and sick.settings.fan == "high") == (cause == "healthy")


@pytest.mark.parametrize("name", NAMES)
def test_every_visit_is_sound(name: str, rulebook: Any) -> None:
    """Each set of readings, and the healthy test on file, pass the shape check."""
    for case in drawn(name):
        for visit in (*case.visits.values(), case.own):
            assert check_visit(visit, rulebook) == []


@pytest.mark.parametrize("cause", CAUSES[1:])
def test_a_fault_three_quarters_of_the_way_to_the_worst_moves_readings(cause: str) -> None:
    """By twice their uncertainty on most cars, with gauges, vent and lines; a sign alone wouldn't do."""
    rng, world = Random(7), world_of("zones")
    draws = []
    for _ in range(12):
        sound = draw_settings(rng)
        faults, settings = faulty(rng, cause, 0.75, sound)
        draws.append(Draw(world.draw_car(rng), draw_weather(rng), settings, sound, faults, 0.75, draw_weather(rng)))
    states = world.solve([request for draw in draws for request in draw.requests()])
    writer, effects = Writer(world, Chances("zones")), []
    for place, draw in enumerate(draws):
        three = states[3 * place : 3 * place + 3]
        if not any(state.impossible for state in three):
            effects.append(writer.case(rng, draw, cause, three).truth["effects"]["lines"])
    assert len(effects) >= 6
    assert median(effects) >= 1.0


@pytest.mark.parametrize("name", NAMES)
def test_more_readings_never_show_less(name: str) -> None:
    """Effects grow with the sets, a case shows in the last set at the latest, and a healthy car is its own twin."""
    for case in drawn(name):
        truth = case.truth
        effects = [truth["effects"][readings] for readings in READING_SETS]
        assert effects == sorted(effects)
        assert truth["shows"]["all"]
        if truth["cause"] == "healthy":
            assert truth["sick"] == truth["twin"]
            assert effects == [0.0, 0.0, 0.0]
        else:
            assert effects[-1] >= 1.0
            assert truth["shows"]["gauges"] == (effects[0] >= 1.0)


@pytest.mark.parametrize("name", NAMES)
def test_each_set_holds_the_readings_of_the_one_before(name: str) -> None:
    """The lines' readings include the gauges', and everything includes both."""
    for case in drawn(name):
        [gauges], [lines], [everything] = (case.visits[readings]["tests"] for readings in READING_SETS)
        assert gauges["readings"].items() < lines["readings"].items() < everything["readings"].items()
        assert "suction_line_c" not in gauges["readings"]
        assert "rests" in case.visits["all"]
        assert "rests" not in case.visits["lines"]


def test_a_fault_shows_beyond_twice_what_the_instrument_leaves_open() -> None:
    """JCGM 100:2008, 6.3.3: twice the standard uncertainty; 3,500 kPa of class 1.6 has 32.3 kPa, so 64.7 kPa."""
    tools = replace(draw_instruments(Random(1)), high_span_kpa=3500.0, class_pct=1.6)
    twin = {"high_kpa_g": 1200.0, "vent_c": 6.0, "running": "steady"}
    assert effect_of(twin | {"high_kpa_g": 1264.66}, twin, tools) == pytest.approx(1.0, abs=0.001)
    assert effect_of(twin | {"high_kpa_g": 1070.7}, twin, tools) == pytest.approx(2.0, abs=0.002)
    assert effect_of(twin | {"running": "cycling"}, twin, tools) == 1.0
    assert effect_of(twin, twin, tools) == 0.0
