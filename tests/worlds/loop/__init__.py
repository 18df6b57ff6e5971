"""The world of the loop: a steady refrigerant loop in balance with its cabin, by part, one test after the other.

It provides `WORLD`; it must not know how readings are judged.
"""

from __future__ import annotations

from collections.abc import Sequence
from multiprocessing import get_context
from random import Random
from typing import cast

from tests.worlds.loop.car import Car, draw_car
from tests.worlds.loop.fluids import fluid, humidity
from tests.worlds.loop.plant import State as Plant
from tests.worlds.loop.plant import solve
from tests.worlds.world import CarFacts, Refrigerant, Regulation, Request, State

COLDEST_C = -24.0
WARMER_CABIN_K = 1.0
PROCESSES = 2
MANY = 200  # from this many requests on, two processes pay off


class Loop:
    """Implements `World`: cars of the loop model; a cabin with open windows is held a degree above outside air."""

    name = "loop"

    def draw_car(self, rng: Random) -> Car:
        """A healthy car drawn at random."""
        return draw_car(rng)

    def facts(self, car: Car) -> CarFacts:
        """What could be known about it."""
        return CarFacts(
            refrigerant=cast(Refrigerant, car.refrigerant),
            regulation=cast(Regulation, car.compressor.kind),
            metering="orifice_tube" if car.metering.kind == "orifice_tube" else "expansion_valve",
            internal_exchanger=car.metering.exchanger > 0.0,
            high_port="liquid" if car.lines.high_port == "liquid" else "discharge",
            charge_g=car.charge.grams,
        )

    def solve(self, requests: Sequence[Request]) -> list[State]:
        """The true state of each test, in order; many of them from two processes."""
        if len(requests) < MANY:
            return [_solved(request) for request in requests]
        for name in ("R134a", "R1234yf"):
            fluid(name)
        with get_context("fork").Pool(PROCESSES) as pool:
            return pool.map(_solved, requests, chunksize=16)


def _solved(request: Request) -> State:
    weather, settings, cabin = request.weather, request.settings, None
    if settings.windows == "open" and settings.air == "recirculated":
        outside = humidity(weather.ambient_c, weather.humidity_pct, weather.pressure_kpa)
        cabin = (weather.ambient_c + WARMER_CABIN_K, outside)
    return _state(request, solve(request.car, weather, settings, request.faults, cabin))


def _impossible(plant: Plant) -> str | None:
    if plant.tripped:
        return "tripped"
    return "unsettled" if not plant.settled or plant.t_evap < COLDEST_C else None


def _state(request: Request, plant: Plant) -> State:
    car, ambient = request.car, request.weather.ambient_c
    air = request.faults.air_kpa * car.charge.gas_share_at_rest * (ambient + 273.15) / 313.15
    return State(
        low_kpa=plant.low_kpa,
        low_max_kpa=plant.low_max_kpa,
        high_kpa=plant.high_kpa,
        high_min_kpa=plant.high_min_kpa,
        vent_c=plant.vent_c,
        vent_left_c=plant.vent_left_c,
        vent_right_c=plant.vent_right_c,
        return_c=plant.return_c,
        return_rh_pct=plant.return_rh_pct,
        suction_evaporator_c=plant.suction_evaporator_c,
        suction_compressor_c=plant.suction_compressor_c,
        liquid_c=plant.liquid_condenser_c,
        discharge_c=plant.discharge_c,
        face_c=plant.face_c,
        share=plant.share,
        running="cycling" if plant.running == "cycling" else "steady",
        on_s=plant.on_s,
        off_s=plant.off_s,
        rest_kpa=fluid(car.refrigerant).pressure(ambient) + air,
        air_share=plant.air_share,
        frost=0.5 if plant.t_evap < -5.0 and plant.superheat_k < 8.0 else 0.0,
        bubbles=plant.quality,
        q_evaporator_kw=plant.q_evap_kw,
        q_condenser_kw=plant.q_cond_kw,
        work_kw=plant.work_kw,
        heat_gain_kw=0.0,
        imbalance=plant.imbalance,
        impossible=_impossible(plant),
    )


WORLD = Loop()
