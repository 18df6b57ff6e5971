"""What readings depend on when nothing is wrong: weather, entering air, speed and the settings on file.

The middles of healthy cars are functions of these. Nothing is judged here.
"""

from __future__ import annotations

from typing import TypedDict

from sync.errors import OutOfRange, UnknownName
from sync.kernel import air
from sync.kernel.books import Rulebook
from sync.kernel.causes_book import SettingsTable
from sync.kernel.inputs import Inputs
from sync.kernel.ranking import Settings
from sync.kernel.visit import Test, Visit


class Surroundings(TypedDict):
    """The air of a test, as far as it is known, and how it reached the coil.

    `way` is "outside", "open", "closed" or "unknown": outside air, or recirculated air with the windows open or closed.
    """

    ambient_c: float | None
    entering_c: float | None
    humidity_g_kg: float | None
    outside_g_kg: float | None
    rpm: float | None
    way: str


def way_of(intake: str | None, windows: str | None) -> str:
    """How air reached the coil [code of `Surroundings`]."""
    if intake == "outside":
        return "outside"
    return windows if windows == "open" or windows == "closed" else "unknown"


def moisture(
    warm_c: float | None, damp_pct: float | None, station_kpa: float | None, rulebook: Rulebook
) -> float | None:
    """Humidity ratio if temperature, humidity and the air pressure on site are known; otherwise None [g/kg]."""
    if warm_c is None or damp_pct is None or station_kpa is None:
        return None
    try:
        return 1000.0 * air.humidity_ratio(warm_c, damp_pct, station_kpa, rulebook)
    except (OutOfRange, UnknownName):
        # A humidity beyond the table says nothing; it is named among the faults.
        return None


def _over_ambient(around: Surroundings, table: SettingsTable) -> tuple[float, float]:
    """How far the entering air lies over the outside air; a guess with its uncertainty where it wasn't measured [K]."""
    entering, ambient = around["entering_c"], around["ambient_c"]
    if entering is not None and ambient is not None:
        return entering - ambient, 0.0
    guess = table["entering_unknown"][around["way"]]
    return guess["k"], guess["u_k"]


def _humidity(around: Surroundings, table: SettingsTable) -> tuple[float, float]:
    """Humidity ratio of the air that enters the coil, from its own humidity or from that of the outside air [g/kg]."""
    own, outside = around["humidity_g_kg"], around["outside_g_kg"]
    if own is not None:
        return own, 0.0
    if outside is not None:
        share = table["moisture_share"][around["way"]]
        return share["share"] * outside, share["u"] * outside
    return table["humidity_unknown"]["g_kg"], table["humidity_unknown"]["u_g_kg"]


def settings_at(around: Surroundings, codes: dict[str, str | None], table: SettingsTable) -> Settings:
    """What the middles depend on in some surroundings, each with its uncertainty.

    Args:
        around: the air [JSON object]
        codes: the settings and what is on file about the car [code by name]
        table: the rulebook's `causes` book, `settings` [JSON object]

    Returns:
        distances from the book's own settings in `numbers`, their standard uncertainties in `u`, and `codes` [10 K of
        ambient, 10 K of entering over ambient, 5 g/kg, 1,000 rpm]

    Source: the rulebook's `causes` book.
    """
    over, over_u = _over_ambient(around, table)
    damp, damp_u = _humidity(around, table)
    ambient, rpm = around["ambient_c"], around["rpm"]
    numbers = {
        "ambient": 0.0 if ambient is None else (ambient - table["ambient_c"]) / 10.0,
        "entering": (over - table["entering_over_ambient_k"]) / 10.0,
        "humidity": (damp - table["humidity_g_kg"]) / 5.0,
        "speed": 0.0 if rpm is None else (rpm - table["rpm"]) / 1000.0,
    }
    u = {
        "ambient": table["ambient_unknown_k"] / 10.0 if ambient is None else 0.0,
        "entering": over_u / 10.0,
        "humidity": damp_u / 5.0,
        "speed": table["rpm_unknown"] / 1000.0 if rpm is None else 0.0,
    }
    return {"numbers": numbers, "u": u, "codes": codes}


def codes_of(visit: Visit, test: Test) -> dict[str, str | None]:
    """The settings of a test and what is on file about the car, by the names of the `causes` book [codes]."""
    vehicle, conditions, readings = visit.get("vehicle") or {}, test.get("conditions") or {}, test.get("readings") or {}
    return {
        "blower": conditions.get("blower"),
        "air": conditions.get("air"),
        "refrigerant": vehicle.get("refrigerant"),
        "high_port": readings.get("high_port"),
        "suction_at": readings.get("suction_at"),
        "exchanger": "fitted" if vehicle.get("internal_exchanger") is True else None,
        "compressor": vehicle.get("compressor"),
        "metering": vehicle.get("metering"),
    }


def settings_of(visit: Visit, test: Test, inputs: Inputs, rulebook: Rulebook) -> Settings:
    """What the middles of a test depend on, each with its uncertainty.

    Args:
        visit: the visit, for what is on file about the vehicle [JSON object]
        test: the test [JSON object]
        inputs: its values and standard uncertainties [by name]
        rulebook: the rulebook [books by name]

    Returns:
        as `settings_at` [JSON object]

    Source: the rulebook's `causes` book.
    """
    conditions, values = test.get("conditions") or {}, inputs.values
    rpm, station = conditions.get("rpm"), values.get("station_kpa")
    around: Surroundings = {
        "ambient_c": values.get("ambient_c"),
        "entering_c": values.get("entering_c"),
        "humidity_g_kg": moisture(values.get("load_air_c"), values.get("load_humidity_pct"), station, rulebook),
        "outside_g_kg": moisture(values.get("ambient_c"), values.get("humidity_pct"), station, rulebook),
        "rpm": None if rpm is None else float(rpm),
        "way": way_of(conditions.get("air"), conditions.get("windows")),
    }
    return settings_at(around, codes_of(visit, test), rulebook["causes"]["settings"])
