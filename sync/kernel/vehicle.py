"""A vehicle and what its readings are compared with, as types: its healthy tests and its maker's chart.

Nothing here judges; `yardsticks` does. What wasn't recorded is absent.
"""

from __future__ import annotations

from typing import Literal, Required, TypedDict

from sync.kernel.figure import Figure


class HealthyTest(TypedDict, total=False):
    """What an earlier test showed that a person marked healthy."""

    at: Required[str]
    visit: str
    test: str
    refrigerant: str
    blower: str
    air: str
    rear: str
    windows: str
    rpm: float
    suction_at: str
    values: Required[dict[str, Figure]]


class Baseline(TypedDict, total=False):
    """The healthy tests of one vehicle, newest first, and when its refrigerant was last worked on."""

    entries: Required[list[HealthyTest]]
    refrigerant_work_at: str


class ChartRow(TypedDict, total=False):
    """One row of a maker's chart; ranges are [low, high], and any of them may be missing."""

    ambient_c: Required[float]
    inlet_c: float
    humidity_pct: float
    low_kpa_g: list[float]
    high_kpa_g: list[float]
    vent_c: list[float]


class Chart(TypedDict, total=False):
    """The maker's chart of this vehicle, as a person entered it, with the settings it states."""

    source: str
    rpm: float
    blower: str
    air: str
    windows: str
    rows: Required[list[ChartRow]]


class Vehicle(TypedDict, total=False):
    """The vehicle and what is known about its air conditioning."""

    id: str
    vin: str
    plate: str
    make: str
    model: str
    year: int
    odometer_km: float
    powertrain: str
    refrigerant: str
    refrigerant_text: str
    label_refrigerant: str
    charge_spec_g: float
    oil: str
    evaporators: Literal[1, 2]
    metering: str
    compressor: str
    internal_exchanger: bool | None
    baseline: Baseline
    chart: Chart
