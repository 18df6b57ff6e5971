"""A world of cars as lumped masses integrated in time: what a test reads emerges from the running car.

It provides `WORLD`; it must not know how readings are judged.
"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from tests.worlds.masses.batch import gather
from tests.worlds.masses.car import Car, draw
from tests.worlds.masses.readings import Reading, rest_pressures
from tests.worlds.masses.run import integrate
from tests.worlds.world import CarFacts, Request, State

CHUNK = 500  # requests with their history in memory at once


class MassesWorld:
    """Implements `tests.worlds.world.World`."""

    name = "masses"

    def draw_car(self, rng: Random) -> Car:
        """A healthy car drawn at random."""
        return draw(rng)

    def facts(self, car: Car) -> CarFacts:
        """What could be known about it."""
        port = "liquid" if car.condenser.high_liquid else "discharge"
        return CarFacts(car.refrigerant, car.regulation, car.metering, car.lines.exchanger > 0,
                        "liquid" if port == "liquid" else "discharge", 1000.0 * car.charge_kg)

    def solve(self, requests: Sequence[Request]) -> list[State]:
        """The true state of each test, in order."""
        states: list[State] = []
        for first in range(0, len(requests), CHUNK):
            batch = gather(requests[first:first + CHUNK])
            history, _ = integrate(batch)
            rest = rest_pressures(batch)
            place = batch.weather.pressure_kpa
            states += [Reading(history, k, (float(place[k]), float(rest[k]))).state() for k in range(len(rest))]
        return states


WORLD = MassesWorld()
