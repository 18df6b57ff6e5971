"""What a test measured: corrected values with their standard uncertainties, ready for the rules.

Here instruments, cycling, ports and the place meet the readings. Nothing is judged.
"""

from __future__ import annotations

from math import sqrt
from typing import Any

from sync.errors import OutOfRange
from sync.kernel import saturation

ROOT_3 = sqrt(3.0)
Values = dict[str, float]


class Inputs:
    """Values and standard uncertainties by name, what to take when one is missing, and why one cannot be had."""

    def __init__(self, rulebook: dict[str, Any]) -> None:
        self.values: Values = {}
        self.u: Values = {}
        self.needs: dict[str, list[str]] = dict(rulebook["quantities"]["needs"])
        self.codes: dict[str, str] = {}

    def take(self, name: str, value: Any, u: float) -> None:
        """Note a value with its standard uncertainty; an absent one leaves no trace."""
        if value is not None:
            self.values[name] = float(value)
            self.u[name] = u


def root_sum(parts: list[float]) -> float:
    """Root of the sum of squares of independent standard uncertainties [any].

    Source: JCGM 100:2008, equation 10, with sensitivities already applied.
    """
    total = 0.0
    for part in parts:
        total = total + part * part
    return sqrt(total)


def instruments_of(visit: dict[str, Any], rulebook: dict[str, Any]) -> dict[str, Any]:
    """The visit's instruments, completed by the stated defaults.

    Args:
        visit: the visit [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        {low_gauge, high_gauge, thermometer_c, hygrometer_pct, common_share} [kPa, %, K]

    Source: the rulebook's `instruments` book.
    """
    own = visit.get("instruments") or {}
    found: dict[str, Any] = {}
    defaults = rulebook["instruments"]["defaults"]
    for name in defaults:
        if name == "low_gauge" or name == "high_gauge":
            gauge = own.get(name) or {}
            found[name] = {}
            for part in defaults[name]:
                value = gauge.get(part)
                found[name][part] = float(defaults[name][part] if value is None else value)
        else:
            value = own.get(name)
            found[name] = float(defaults[name] if value is None else value)
    return found


def place_of(visit: dict[str, Any], rulebook: dict[str, Any], inputs: Inputs) -> None:
    """Take the pressure of the place: measured wins over altitude; without either it stays unknown."""
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


def _gauge_u(gauge: dict[str, float]) -> float:
    return gauge["class_pct"] / 100.0 * gauge["span_kpa"] / ROOT_3


def _pressures(test: dict[str, Any], instruments: dict[str, Any], rulebook: dict[str, Any], inputs: Inputs) -> None:
    readings = test.get("readings") or {}
    terms = rulebook["instruments"]
    cycling = readings.get("running") == "cycling"
    flutters = "needle_flutter" in (test.get("observed") or [])
    for side in ("low", "high"):
        gauge = instruments[side + "_gauge"]
        value = readings.get(side + "_kpa_g")
        parts = [_gauge_u(gauge)]
        if flutters:
            parts.append(terms["flutter"][side + "_kpa"])
        if cycling:
            # The pair at cut-out belongs together: the lowest low side with the highest high side.
            if side == "high" and readings.get("high_max_kpa_g") is not None:
                value = readings["high_max_kpa_g"]
                parts.append(terms["cycling"]["high_kpa"])
            elif side == "high":
                parts.append(terms["cycling"]["high_at_unknown_phase_kpa"])
            else:
                parts.append(terms["cycling"]["low_kpa"])
        if value is not None:
            inputs.take(side + "_kpa_g", float(value) - gauge["zero_kpa"], root_sum(parts))
    port = readings.get("high_port") or "unknown"
    inputs.take("suction_drop_kpa", 0.0, terms["ports"]["suction_kpa"] / ROOT_3)
    inputs.take("high_drop_kpa", 0.0, terms["ports"]["high"][port] / ROOT_3)


def _temperatures(test: dict[str, Any], instruments: dict[str, Any], rulebook: dict[str, Any], inputs: Inputs) -> None:
    readings = test.get("readings") or {}
    conditions = test.get("conditions") or {}
    steady = instruments["thermometer_c"] / ROOT_3
    moving = steady
    if readings.get("running") == "cycling":
        moving = root_sum([steady, rulebook["instruments"]["cycling"]["temperature_c"]])
    inputs.take("ambient_c", conditions.get("ambient_c"), steady)
    inputs.take("humidity_pct", conditions.get("humidity_pct"), instruments["hygrometer_pct"] / ROOT_3)
    inputs.take("return_air_c", readings.get("return_air_c"), steady)
    for name in ("suction_line_c", "liquid_line_c", "discharge_line_c"):
        inputs.take(name, readings.get(name), moving)
    centre, left, right = readings.get("vent_c"), readings.get("vent_left_c"), readings.get("vent_right_c")
    if centre is None and left is not None and right is not None:
        centre = (float(left) + float(right)) / 2.0
    elif centre is None:
        centre = right if left is None else left
    inputs.take("vent_c", centre, moving)


def _entering(test: dict[str, Any], instruments: dict[str, Any], inputs: Inputs) -> None:
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


def _share(test: dict[str, Any], rulebook: dict[str, Any], inputs: Inputs) -> None:
    readings = test.get("readings") or {}
    on, off, command = readings.get("on_s"), readings.get("off_s"), readings.get("command_pct")
    terms = rulebook["instruments"]["share_u"]
    if on is not None and off is not None and on >= 0 and off >= 0 and on + off > 0:
        inputs.take("on_share", float(on) / (float(on) + float(off)), terms["timed"])
    elif command is not None and 0 <= command <= 100:
        inputs.take("on_share", float(command) / 100.0, terms["command"])


def inputs_of(visit: dict[str, Any], test: dict[str, Any], rulebook: dict[str, Any]) -> Inputs:
    """Everything a test measured, corrected and with its standard uncertainty.

    Gauges are corrected for what they read open to the air. Port drops enter as one-sided terms of value zero.

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
