"""Days, settings and cars with one known cause, drawn the same way in every world; nothing is solved here."""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random
from typing import Any

from tests.worlds.loop.fluids import humidity, station_pressure
from tests.worlds.world import BLOWERS, NO_FAULT, Faults, Request, Settings, Weather

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


# The share of the liquid line's flow area that the worst restriction leaves open.
LEAST_OPEN = 0.02


@dataclass(frozen=True)
class Draw:
    """One car with one cause on one day, as requested from a world."""

    car: Any
    weather: Weather
    settings: Settings
    sound: Settings
    faults: Faults
    severity: float
    other_day: Weather

    def requests(self) -> list[Request]:
        """The faulty car, its healthy twin, and the twin on another day."""
        return [
            Request(self.car, self.weather, self.settings, self.faults),
            Request(self.car, self.weather, self.sound),
            Request(self.car, self.other_day, self.sound),
        ]


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
    """Faults and settings of a cause, from hardly any (0) to as bad as it gets (1)."""
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
        # What it costs in pressure goes with the inverse square of the open area: most of an even scale shows nothing.
        "restriction": Faults(restriction=1.0 - LEAST_OPEN**s),
        "valve_open": Faults(valve_open=s),
        "evaporator_airflow": Faults(evaporator_air=0.9 * s),
        "warm_blend": Faults(blend=0.7 * s),
    }
    return table[cause], sound
