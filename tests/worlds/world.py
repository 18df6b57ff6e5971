"""What every world of invented cars takes and gives: weather, settings, faults, and the true state of a running test.

A world knows physics alone. It never sees the rulebook, and no world imports another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random
from typing import Any, Literal, Protocol

Refrigerant = Literal["R134a", "R1234yf"]
# How the compressor is regulated: switched by suction pressure or by the temperature behind the coil, by its own
# suction pressure (internal), by a command (external), or by the speed of a motor.
Regulation = Literal["cycling_pressure", "cycling_vent", "variable_internal", "variable_external", "electric"]
REGULATIONS = ("cycling_pressure", "cycling_vent", "variable_internal", "variable_external", "electric")
BLOWERS = ("low", "medium", "high")


@dataclass(frozen=True)
class Weather:
    """Air on site: dry bulb [°C], relative humidity [%], pressure [kPa absolute], sun from 0 to 1."""

    ambient_c: float
    humidity_pct: float
    pressure_kpa: float
    sun: float = 0.3


@dataclass(frozen=True)
class Settings:
    """How a test is run, with the small disturbances nobody records.

    `windows` open means that the cabin's air changes many times a minute and so stays near the outside air.
    `soak_k` is how much warmer than outside the cabin was at the start [K], `wet_share` how much of the condenser's
    face is wet from a rinse (it then cools toward the wet bulb) [0 to 1], `face_gust_k` how much warmer the air at the
    face is than its mean [K], `fan_gust` a factor on its air flow, `load_gust_kw` heat into the cabin.
    """

    rpm: float = 2000.0
    blower: str = "medium"
    air: str = "recirculated"
    fan: str = "high"
    windows: str = "closed"
    hood_open: bool = True
    running_min: float = 15.0
    soak_k: float = 8.0
    wet_share: float = 0.0
    face_gust_k: float = 0.0
    fan_gust: float = 1.0
    load_gust_kw: float = 0.0


@dataclass(frozen=True)
class Faults:
    """What is wrong, in shares or units; every world takes all of them, alone and together.

    dirt: share of the condenser's air flow lost to dirt, 0 to 0.97. charge: share of the label's charge, 0.2 to 1.8.
    air_kpa: partial pressure of air in the circuit at rest at 40 °C [kPa], 0 to 700. weak: share of the compressor's
    displacement lost (leaking inside), 0 to 0.95. restriction: share of the liquid line's flow area lost before the
    metering, 0 to 0.98. valve_open: how far the metering sticks open between its own position (0) and fully open (1);
    on an orifice tube the share by which its area is too large. evaporator_air: share of the evaporator's air lost,
    0 to 0.95. blend: share of the vent's air that comes past the heater, 0 to 0.9. set_point_k: how much colder than
    designed the freeze protection lets the coil become [K], 0 to -15. ice: share of the coil's passages closed by
    ice, 0 to 0.95 (ice is thick enough to blow the air away only where the coil is below freezing).
    """

    dirt: float = 0.0
    charge: float = 1.0
    air_kpa: float = 0.0
    weak: float = 0.0
    restriction: float = 0.0
    valve_open: float = 0.0
    evaporator_air: float = 0.0
    blend: float = 0.0
    set_point_k: float = 0.0
    ice: float = 0.0


NO_FAULT = Faults()


@dataclass(frozen=True)
class CarFacts:
    """What a technician could know about a car."""

    refrigerant: Refrigerant
    regulation: Regulation
    metering: Literal["expansion_valve", "orifice_tube"]
    internal_exchanger: bool
    high_port: Literal["discharge", "liquid"]
    charge_g: float


@dataclass(frozen=True)
class Request:
    """One running test to be solved; `car` is the world's own."""

    car: Any
    weather: Weather
    settings: Settings
    faults: Faults = NO_FAULT


@dataclass(frozen=True)
class State:
    """What true instruments would read after `running_min` minutes. Pressures kPa absolute, temperatures °C.

    When it cycles, `low_kpa` and `high_kpa` are those at the cut-out (lowest low, highest high), `low_max_kpa` and
    `high_min_kpa` those at the cut-in, and temperatures are means over a cycle; when it is steady the pairs are equal.
    `low_kpa` is at the low port in the suction line, `high_kpa` at the high port. `share` is the part of full
    displacement in use (on time, stroke or speed) [0 to 1]; `face_c` what a thermometer at the condenser's face shows.
    `rest_kpa` is what both gauges read after hours at rest in the shade at `weather.ambient_c`. `impossible` says why
    there is no such test ("tripped" on high pressure, "unsettled", "no flow"), and is None otherwise.
    """

    low_kpa: float
    low_max_kpa: float
    high_kpa: float
    high_min_kpa: float
    vent_c: float
    vent_left_c: float
    vent_right_c: float
    return_c: float
    return_rh_pct: float
    suction_evaporator_c: float
    suction_compressor_c: float
    liquid_c: float
    discharge_c: float
    face_c: float
    share: float
    running: Literal["steady", "cycling"]
    on_s: float
    off_s: float
    rest_kpa: float
    air_share: float
    frost: float
    bubbles: float
    q_evaporator_kw: float
    q_condenser_kw: float
    work_kw: float
    heat_gain_kw: float
    imbalance: float
    impossible: str | None = None


class World(Protocol):
    """A world of cars. `air_share` of a state is the part of the blower's healthy air that still comes out, `frost`
    how likely frost shows on the suction line [0 to 1], `bubbles` the vapour share at the sight glass [0 to 1], and
    `imbalance` the heat that does not add up over a circuit, as a share of the condenser's."""

    name: str

    def draw_car(self, rng: Random) -> Any:
        """A healthy car drawn at random, as varied as real cars."""

    def facts(self, car: Any) -> CarFacts:
        """What could be known about it."""

    def solve(self, requests: Sequence[Request]) -> list[State]:
        """The true state of each test, in order; the same requests give the same states."""
