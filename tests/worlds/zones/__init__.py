"""The world of zones: a steady-state moving-boundary model, solved for many cars at once."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random
from typing import Any

from tests.worlds.world import CarFacts, Request, State, World
from tests.worlds.zones.batch import Batch
from tests.worlds.zones.cars import Car, draw_car
from tests.worlds.zones.states import states

CHUNK = 500  # requests that are solved together, for the processor's cache


class Zones:
    """Implements `World`."""

    name = "zones"

    def draw_car(self, rng: Random) -> Car:
        """A healthy car; only `rng` decides."""
        return draw_car(rng)

    def facts(self, car: Any) -> CarFacts:
        """What could be known about it."""
        facts: CarFacts = car.facts()
        return facts

    def solve(self, requests: Sequence[Request]) -> list[State]:
        """The true states, in order."""
        result: list[State] = []
        for start in range(0, len(requests), CHUNK):
            result += states(Batch(requests[start : start + CHUNK]))
        return result


WORLD: World = Zones()
