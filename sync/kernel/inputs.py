"""What a test measured: corrected values with their standard uncertainties, ready for the rules.

Here the readings meet instruments, cycling, ports and place. Nothing is judged.
"""

from __future__ import annotations

from math import sqrt

from sync.errors import OutOfRange
from sync.kernel import saturation
from sync.kernel.books import GaugeTerms, InstrumentTerms, Rulebook
from sync.kernel.visit import Gauge, Test, Visit

ROOT_3 = sqrt(3.0)
Values = dict[str, float]


class Inputs:
    """Values and standard uncertainties by name, what to use when one is missing, and why one is unavailable."""

    def __init__(self, rulebook: Rulebook) -> None:
        self.values: Values = {}
        self.u: Values = {}
        self.needs: dict[str, list[str]] = dict(rulebook["quantities"]["needs"])
        self.codes: dict[str, str] = {}
        # The effect of each input on a quantity derived from it, by quantity; two that share an input move together.
        self.parts: dict[str, Values] = {}

    def take(self, name: str, value: float | None, u: float) -> None:
        """Note a value with its standard uncertainty; an absent value leaves no trace."""
        if value is not None:
            self.values[name] = float(value)
            self.u[name] = u


def refrigerant_of(visit: Visit) -> str:
    """What is in the circuit now, as far as it was recorded [code]."""
    return (visit.get("vehicle") or {}).get("refrigerant") or "unknown"


def root_sum(parts: list[float]) -> float:
    """Root of the sum of squares of independent standard uncertainties [any].

    Source: JCGM 100:2008, equation 10, with sensitivities already applied.
    """
    total = 0.0
    for part in parts:
        total = total + part * part
    return sqrt(total)


def _given_or(value: float | None, usual: float) -> float:
    return float(usual if value is None else value)


def _gauge_of(own: Gauge, usual: GaugeTerms) -> GaugeTerms:
    return {
        "span_kpa": _given_or(own.get("span_kpa"), usual["span_kpa"]),
        "class_pct": _given_or(own.get("class_pct"), usual["class_pct"]),
        "zero_kpa": _given_or(own.get("zero_kpa"), usual["zero_kpa"]),
    }


def instruments_of(visit: Visit, rulebook: Rulebook) -> InstrumentTerms:
    """The visit's instruments, with the stated defaults filled in.

    Args:
        visit: the visit [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        {low_gauge, high_gauge, thermometer_c, hygrometer_pct, common_share} [kPa, %, K]

    Source: the rulebook's `instruments` book.
    """
    own = visit.get("instruments") or {}
    usual = rulebook["instruments"]["defaults"]
    return {
        "low_gauge": _gauge_of(own.get("low_gauge") or {}, usual["low_gauge"]),
        "high_gauge": _gauge_of(own.get("high_gauge") or {}, usual["high_gauge"]),
        "thermometer_c": _given_or(own.get("thermometer_c"), usual["thermometer_c"]),
        "hygrometer_pct": _given_or(own.get("hygrometer_pct"), usual["hygrometer_pct"]),
        "common_share": _given_or(own.get("common_share"), usual["common_share"]),
    }


def place_of(visit: Visit, rulebook: Rulebook, inputs: Inputs) -> None:
    """Take in the air pressure on site: a measured one overrides the altitude; without either it stays unknown."""
    place = visit.get("place") or {}
    terms = rulebook["instruments"]["station"]
    measured = place.get("station_pressure_kpa")
    if measured is not None:
        if measured > 0:
            inputs.take("station_kpa", measured, terms["measured_u_kpa"])
        else:
            inputs.codes["station_kpa"] = "out_of_table"
            inputs.needs["station_kpa"] = ["place.station_pressure_kpa"]
    elif place.get("altitude_m") is not None:
        try:
            inputs.take(
                "station_kpa", saturation.station_kpa(float(place["altitude_m"]), rulebook), terms["altitude_u_kpa"]
            )
        except OutOfRange:
            inputs.codes["station_kpa"] = "out_of_table"


def _gauge_u(gauge: GaugeTerms) -> float:
    return gauge["class_pct"] / 100.0 * gauge["span_kpa"] / ROOT_3


def _pressures(test: Test, instruments: InstrumentTerms, rulebook: Rulebook, inputs: Inputs) -> None:
    readings = test.get("readings") or {}
    terms = rulebook["instruments"]
    cycling = readings.get("running") == "cycling"
    flutters = "needle_flutter" in (test.get("observed") or [])
    for side, value, gauge in (
        ("low", readings.get("low_kpa_g"), instruments["low_gauge"]),
        ("high", readings.get("high_kpa_g"), instruments["high_gauge"]),
    ):
        parts = [_gauge_u(gauge)]
        highest = readings.get("high_max_kpa_g") if side == "high" and cycling else None
        if flutters:
            parts.append(terms["flutter"][side + "_kpa"])
        if cycling:
            # The pair at cut-out belongs together: the lowest low side and the highest high side.
            if highest is not None:
                parts.append(terms["cycling"]["high_kpa"])
            elif side == "high":
                parts.append(terms["cycling"]["high_at_unknown_phase_kpa"])
            else:
                parts.append(terms["cycling"]["low_kpa"])
        shown = value if highest is None else highest
        if shown is not None:
            inputs.take(side + "_kpa_g", float(shown) - gauge["zero_kpa"], root_sum(parts))
    port = readings.get("high_port") or "unknown"
    inputs.take("suction_drop_kpa", 0.0, terms["ports"]["suction_kpa"] / ROOT_3)
    inputs.take("high_drop_kpa", 0.0, terms["ports"]["high"][port] / ROOT_3)


def _temperatures(test: Test, instruments: InstrumentTerms, rulebook: Rulebook, inputs: Inputs) -> None:
    readings = test.get("readings") or {}
    conditions = test.get("conditions") or {}
    steady = instruments["thermometer_c"] / ROOT_3
    moving = steady
    if readings.get("running") == "cycling":
        moving = root_sum([steady, rulebook["instruments"]["cycling"]["temperature_c"]])
    inputs.take("ambient_c", conditions.get("ambient_c"), steady)
    inputs.take("humidity_pct", conditions.get("humidity_pct"), instruments["hygrometer_pct"] / ROOT_3)
    inputs.take("return_air_c", readings.get("return_air_c"), steady)
    inputs.take("suction_line_c", readings.get("suction_line_c"), moving)
    inputs.take("liquid_line_c", readings.get("liquid_line_c"), moving)
    inputs.take("discharge_line_c", readings.get("discharge_line_c"), moving)
    centre, left, right = readings.get("vent_c"), readings.get("vent_left_c"), readings.get("vent_right_c")
    if centre is None and left is not None and right is not None:
        centre = (float(left) + float(right)) / 2.0
    elif centre is None:
        centre = right if left is None else left
    inputs.take("vent_c", centre, moving)


def _entering(test: Test, instruments: InstrumentTerms, inputs: Inputs) -> None:
    readings = test.get("readings") or {}
    conditions = test.get("conditions") or {}
    air = conditions.get("air")
    thermometer = instruments["thermometer_c"] / ROOT_3
    hygrometer = instruments["hygrometer_pct"] / ROOT_3
    if air == "outside":
        inputs.take("entering_c", conditions.get("ambient_c"), thermometer)
        inputs.take("load_air_c", conditions.get("ambient_c"), thermometer)
        inputs.take("load_humidity_pct", conditions.get("humidity_pct"), hygrometer)
        inputs.needs["entering_c"] = ["conditions.ambient_c"]
        inputs.needs["load_air_c"] = ["conditions.ambient_c"]
        inputs.needs["load_humidity_pct"] = ["conditions.humidity_pct"]
        return
    inputs.take("entering_c", readings.get("return_air_c"), thermometer)
    inputs.needs["entering_c"] = ["readings.return_air_c"]
    inputs.needs["load_air_c"] = ["readings.return_air_c"]
    inputs.needs["load_humidity_pct"] = ["readings.return_air_humidity_pct"]
    if air == "recirculated":
        inputs.take("load_air_c", readings.get("return_air_c"), thermometer)
        inputs.take("load_humidity_pct", readings.get("return_air_humidity_pct"), hygrometer)
    else:
        inputs.needs["load_air_c"] = ["conditions.air"]


def _share(test: Test, rulebook: Rulebook, inputs: Inputs) -> None:
    readings = test.get("readings") or {}
    on, off, command = readings.get("on_s"), readings.get("off_s"), readings.get("command_pct")
    terms = rulebook["instruments"]["share_u"]
    if on is not None and off is not None and on >= 0 and off >= 0 and on + off > 0:
        inputs.take("on_share", float(on) / (float(on) + float(off)), terms["timed"])
    elif command is not None and 0 <= command <= 100:
        inputs.take("on_share", float(command) / 100.0, terms["command"])


def inputs_of(visit: Visit, test: Test, rulebook: Rulebook) -> Inputs:
    """Everything a test measured, corrected, with its standard uncertainty.

    Gauges are corrected for what they read when open to the air. Port drops enter as one-sided terms of value zero.

    Args:
        visit: the visit [JSON object]
        test: one of its tests [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        the inputs of the rules [kPa gauge, kPa absolute for the place, °C, %, share]

    Source: JCGM 100:2008, 4.3.7 (rectangular limits); EN 837-1 for gauge classes.
    """
    inputs = Inputs(rulebook)
    instruments = instruments_of(visit, rulebook)
    place_of(visit, rulebook, inputs)
    _pressures(test, instruments, rulebook, inputs)
    _temperatures(test, instruments, rulebook, inputs)
    _entering(test, instruments, inputs)
    _share(test, rulebook, inputs)
    return inputs
