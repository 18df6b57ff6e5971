"""What a healthy car would show under a test's settings, where the rulebook's bands are valid.

The bands, their classes and their validity are rulebook data.
"""

from __future__ import annotations

from sync.kernel.books import BandsBook, Rulebook
from sync.kernel.history import history_of
from sync.kernel.inputs import Inputs
from sync.kernel.judgement import Band, DerivedFigure
from sync.kernel.visit import Test, Visit


def class_of(test: Test, derived: dict[str, DerivedFigure], rulebook: Rulebook) -> tuple[str, bool]:
    """The class of load a test was taken in, and whether that is certain.

    Args:
        test: the test [JSON object]
        derived: its derived quantities [by name]
        rulebook: the rulebook [books by name]

    Returns:
        "A", "B" or "C", and whether everything it rests on was recorded [code, truth]

    Source: the rulebook's `bands` book (common practice, no source).
    """
    conditions = test.get("conditions") or {}
    limits = rulebook["bands"]["classes"]
    blower, air = conditions.get("blower"), conditions.get("air")
    load = derived["load_kj_kg"]["value"] if "load_kj_kg" in derived else None
    if blower == "high" or air == "outside" or (load is not None and load > limits["high_load_kj_kg"]):
        return "C", True
    if blower is None or air is None:
        return "B", False
    if blower == "low":
        if load is None:
            return "A", False
        if load <= limits["low_load_kj_kg"]:
            return "A", True
    return "B", load is not None


def _valid(visit: Visit, inputs: Inputs, rulebook: Rulebook) -> bool:
    valid = rulebook["bands"]["valid"]
    low, high = valid["ambient_c"]
    if "ambient_c" not in inputs.values or not low <= inputs.values["ambient_c"] <= high:
        return False
    altitude = (visit.get("place") or {}).get("altitude_m")
    low, high = valid["altitude_m"]
    return altitude is None or low <= altitude <= high


def _out_of_scope(test: Test) -> bool:
    mode = (test.get("conditions") or {}).get("mode")
    running = (test.get("readings") or {}).get("running")
    return bool(mode == "heating" or mode == "battery" or running == "not_running")


def _trust(refrigerant: str, rulebook: Rulebook) -> float:
    """How far the bands can be trusted for a refrigerant: 0 where they say nothing."""
    row = rulebook["refrigerants"]["refrigerants"].get(refrigerant)
    return 0.0 if row is None else float(row["trust"])


def _band(low: float, high: float, widen: float) -> Band:
    more = (high - low) * widen / 2.0
    return {"low": low - more, "high": high + more, "by": "band"}


def clamp_of(visit: Visit, test: Test) -> str:
    """Where the suction clamp sat, as far as it decides what superheat is normal there.

    Args:
        visit: the visit, for its metering and internal exchanger [JSON object]
        test: the test [JSON object]

    Returns:
        a key of the `bands` book's superheat [code]

    Source: common practice, no source.
    """
    vehicle = visit.get("vehicle") or {}
    place: str = (test.get("readings") or {}).get("suction_at") or "unknown"
    if place == "compressor" and vehicle.get("internal_exchanger") is True:
        return "behind_exchanger"
    if place == "compressor" and vehicle.get("metering") == "orifice_tube":
        return "after_accumulator"
    return place


def _of_lines(visit: Visit, test: Test, widen: float, book: BandsBook) -> dict[str, Band]:
    """Superheat by where the clamp sat, subcooling by the metering; what is not known widens."""
    place = clamp_of(visit, test)
    metering = (visit.get("vehicle") or {}).get("metering") or "unknown"
    if metering not in book["subcooling_k"]:
        metering = "expansion_valve"
    unsure = book["widen_unsure"]
    low, high = book["superheat_k"][place]
    bands = {"superheat_k": _band(low, high, widen + unsure if place == "unknown" else widen)}
    low, high = book["subcooling_k"][metering]
    bands["subcooling_k"] = _band(low, high, widen + unsure if metering == "unknown" else widen)
    return bands


def expected_of(
    visit: Visit, test: Test, inputs: Inputs, derived: dict[str, DerivedFigure], rulebook: Rulebook
) -> dict[str, Band]:
    """The band of a healthy car for each quantity; the vehicle's own history goes before the rulebook's bands.

    Args:
        visit: the visit [JSON object]
        test: the test [JSON object]
        inputs: values and standard uncertainties [by name]
        derived: its derived quantities [by name]
        rulebook: the rulebook [books by name]

    Returns:
        {name: {low, high, by}}, empty where neither is valid [K, °C, ratio]

    Source: the rulebook's `bands` book (common practice, no source).
    """
    refrigerant = (visit.get("vehicle") or {}).get("refrigerant") or "unknown"
    trust = _trust(refrigerant, rulebook)
    if refrigerant == "unknown" or _out_of_scope(test):
        return {}
    if not trust > 0.0 or not _valid(visit, inputs, rulebook):
        return history_of(visit, test, rulebook)
    book = rulebook["bands"]
    name, sure = class_of(test, derived, rulebook)
    widen = 1.0 - trust
    if not sure:
        widen = widen + book["widen_unsure"]
    rpm = (test.get("conditions") or {}).get("rpm")
    bands: dict[str, Band] = {}
    for quantity in book["bands"]:
        low, high = book["bands"][quantity][name]
        if quantity == "condenser_split_k" and rpm is not None and rpm < book["idle"]["below_rpm"]:
            low = low + book["idle"]["split_low_k"]
            high = high + book["idle"]["split_high_k"]
        if quantity == "low_saturation_c" and (test.get("readings") or {}).get("running") == "cycling":
            low, high = book["cycling_low_saturation_c"]
        bands[quantity] = _band(low, high, widen)
    if refrigerant in book["discharge_over_condensing_k"]:
        low, high = book["discharge_over_condensing_k"][refrigerant]
        bands["discharge_over_condensing_k"] = _band(low, high, widen)
    bands.update(_of_lines(visit, test, widen, book))
    bands.update(history_of(visit, test, rulebook))
    return bands
