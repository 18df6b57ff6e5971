"""Readings that can't be right, alone or together: they are faults here, named first and never refused.

Ranges and unit mix-ups are rulebook data; nothing here changes a reading.
"""

from __future__ import annotations

from typing import cast

from sync.kernel.books import Rulebook
from sync.kernel.comparability import Sections
from sync.kernel.fields_book import FieldRow
from sync.kernel.inputs import Inputs
from sync.kernel.judgement import DerivedFigure, Fault, Value
from sync.kernel.visit import Test


def _fault(code: str, fields: list[str], values: dict[str, Value]) -> Fault:
    return {"code": code, "fields": fields, "values": values}


def plausible_range(row: FieldRow, refrigerant: str) -> tuple[float, float]:
    """From where to where a field's value is plausible.

    Args:
        row: a row of the book of fields that has a range [JSON object]
        refrigerant: what is in the circuit now [code]

    Returns:
        the ends, in the field's canonical unit [kPa, °C, % or rpm]

    Source: the rulebook's book `fields` (common practice, no source).
    """
    low, high = row["range"]
    if refrigerant == "R744" and "high_r744" in row:
        return float(low), float(row["high_r744"])
    return float(low), float(high)


def _slip(value: float, quantity: str, low: float, high: float, rulebook: Rulebook) -> tuple[str, float] | None:
    for slip in rulebook["quantities"]["slips"][quantity]:
        would_be = value * slip["scale"] + slip["offset"]
        if low <= would_be <= high:
            return slip["as"], would_be
    return None


def beyond(row: FieldRow, value: float) -> bool:
    """Whether a figure that no test holds is outside its plausible range: asked about, kept as it is.

    Args:
        row: the field's row [object]
        value: in the canonical unit [unit of the field]

    Returns:
        whether it is to be asked about; never where the book names no range [truth]

    Source: the rulebook's book `fields` (common practice, no source).
    """
    if "range" not in row:
        return False
    low, high = row["range"]
    return not low <= value <= high


def implausible(test: Test, refrigerant: str, rulebook: Rulebook) -> list[Fault]:
    """Readings outside their plausible range, each with the unit mix-up that would explain it.

    Args:
        test: the test [JSON object]
        refrigerant: what is in the circuit now [code]
        rulebook: the rulebook [books by name]

    Returns:
        faults `unit_slip` and `implausible` [list]

    Source: the rulebook's books `fields` and `quantities` (common practice, no source).
    """
    faults = []
    table = rulebook["fields"]["scopes"]["tests"]
    sections = cast(Sections, test)
    for field in table:
        row = table[field]
        if "range" not in row:
            continue
        section, name = field.split(".")
        number = (sections.get(section) or {}).get(name)
        if number is None:
            continue
        value = float(number)
        low, high = plausible_range(row, refrigerant)
        if low <= value <= high:
            continue
        slip = _slip(value, row["quantity"], low, high, rulebook) if "quantity" in row else None
        if slip is None:
            faults.append(_fault("implausible", [field], {"value": value, "low": low, "high": high}))
        else:
            unit, would_be = slip
            faults.append(_fault("unit_slip", [field], {"value": value, "as": unit, "would_be": would_be}))
    return faults


def _pressure_faults(inputs: Inputs, running: bool) -> list[Fault]:
    faults = []
    x = inputs.values
    fields = {"low_kpa_g": "readings.low_kpa_g", "high_kpa_g": "readings.high_kpa_g"}
    if "station_kpa" in x:
        for name in fields:
            if name in x and not x[name] + x["station_kpa"] > 0.0:
                faults.append(_fault("under_vacuum", [fields[name]], {"value": x[name], "station": x["station_kpa"]}))
    if running and "low_kpa_g" in x and "high_kpa_g" in x and x["low_kpa_g"] > x["high_kpa_g"]:
        values: dict[str, Value] = {"low": x["low_kpa_g"], "high": x["high_kpa_g"]}
        faults.append(_fault("sides_swapped", ["readings.low_kpa_g", "readings.high_kpa_g"], values))
    return faults


def _beyond(derived: dict[str, DerivedFigure], name: str) -> bool:
    return name in derived and derived[name]["value"] < -2.0 * derived[name]["u"]


def _pair_faults(derived: dict[str, DerivedFigure], running: bool) -> list[Fault]:
    faults = []
    low, high = "readings.low_kpa_g", "readings.high_kpa_g"
    liquid, ambient = "readings.liquid_line_c", "conditions.ambient_c"
    if _beyond(derived, "liquid_over_ambient_k") and running:
        under = derived["liquid_over_ambient_k"]["value"]
        faults.append(_fault("liquid_under_ambient", [liquid, ambient], {"by": -under}))
        if "subcooling_k" in derived and "condenser_split_k" in derived:
            subcooling, split = derived["subcooling_k"]["value"], derived["condenser_split_k"]["value"]
            values: dict[str, Value] = {"subcooling": subcooling, "split": split}
            faults.append(_fault("subcooling_above_split", [high, liquid, ambient], values))
    if not running:
        return faults
    for name, code, fields in (
        ("condenser_split_k", "condensing_under_ambient", [high, ambient]),
        ("vent_over_evaporating_k", "vent_under_evaporating", ["readings.vent_c", low]),
        ("superheat_k", "suction_under_evaporating", ["readings.suction_line_c", low]),
        ("discharge_over_condensing_k", "discharge_under_condensing", ["readings.discharge_line_c", high]),
        ("subcooling_k", "liquid_over_condensing", [liquid, high]),
    ):
        if _beyond(derived, name):
            faults.append(_fault(code, fields, {"by": -derived[name]["value"]}))
    return faults


def faults_of(
    test: Test, inputs: Inputs, derived: dict[str, DerivedFigure], refrigerant: str, rulebook: Rulebook
) -> list[Fault]:
    """All faults of a test's readings, the most obvious first.

    Args:
        test: the test [JSON object]
        inputs: values and standard uncertainties [by name]
        derived: the derived quantities [by name]
        refrigerant: what is in the circuit now [code]
        rulebook: the rulebook [books by name]

    Returns:
        [{code, fields, values}] [list]

    Source: a pair is impossible where it breaks the order of temperatures or pressures by more than twice its
        standard uncertainty (common practice, no source).
    """
    running = (test.get("readings") or {}).get("running") != "not_running"
    faults = implausible(test, refrigerant, rulebook)
    for fault in _pressure_faults(inputs, running):
        faults.append(fault)
    for fault in _pair_faults(derived, running):
        faults.append(fault)
    return faults
