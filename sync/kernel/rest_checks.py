"""What is measured beside the running tests: the rest reading, the vacuum hold, the cleaner's mix, CO2 equivalents.

Limits are rulebook data, and each finding is a code.
"""

from __future__ import annotations

from math import sqrt
from typing import Any

from sync.errors import OutOfRange
from sync.kernel import air
from sync.kernel.inputs import ROOT_3, Inputs, instruments_of, place_of
from sync.kernel.saturation import pressure_kpa

Found = dict[str, Any]


def _rested(rest: Found, limits: Found) -> bool:
    hours, metal, around = rest.get("hours_off"), rest.get("metal_c"), rest.get("air_c")
    if hours is not None and hours < limits["hours"]:
        return False
    return metal is None or around is None or abs(float(metal) - float(around)) <= limits["metal_air_k"]


def _gauges(rest: Found, instruments: Found) -> tuple[list[float], list[float]]:
    values, us = [], []
    for side in ("low", "high"):
        value = rest.get(side + "_kpa_g")
        if value is not None:
            gauge = instruments[side + "_gauge"]
            values.append(float(value) - gauge["zero_kpa"])
            us.append(gauge["class_pct"] / 100.0 * gauge["span_kpa"] / ROOT_3)
    return values, us


def rest_of(visit: Found, rulebook: Found) -> Found | None:
    """The last rest reading against saturation at the coldest metal that holds liquid.

    Args:
        visit: the visit [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        {excess_kpa: {value, u} or None, finding}, None without a rest reading [kPa]

    Source: trade rule of the rulebook's `checks_at_rest` book (common practice, no source).
    """
    rests = visit.get("rests") or []
    if len(rests) == 0:
        return None
    rest, limits = rests[-1], rulebook["checks_at_rest"]["rest"]
    refrigerant = (visit.get("vehicle") or {}).get("refrigerant") or "unknown"
    row = rulebook["refrigerants"]["refrigerants"].get(refrigerant)
    if row is None or row["table"] is None:
        return {"excess_kpa": None, "finding": "refrigerant_unknown"}
    instruments = instruments_of(visit, rulebook)
    values, us = _gauges(rest, instruments)
    place = Inputs(rulebook)
    place_of(visit, rulebook, place)
    metal = rest.get("metal_c")
    spot = rest.get("air_c") if metal is None else metal
    if len(values) == 0 or spot is None or "station_kpa" not in place.values:
        return {"excess_kpa": None, "finding": "not_enough"}
    if spot >= row["critical_c"]:
        return {"excess_kpa": None, "finding": "above_critical"}
    u_spot = instruments["thermometer_c"] / ROOT_3
    doubt = limits["air_only_u_k"] if metal is None else limits["metal_u_k"]
    u_spot = sqrt(u_spot * u_spot + doubt * doubt)
    pressure, u_pressure = values[0], us[0]
    if len(values) == 2:
        pressure = (values[0] + values[1]) / 2.0
        u_pressure = sqrt(us[0] * us[0] + us[1] * us[1]) / 2.0
    try:
        full = pressure_kpa(refrigerant, float(spot), rulebook)
        slope = (
            pressure_kpa(refrigerant, float(spot) + u_spot, rulebook)
            - pressure_kpa(refrigerant, float(spot) - u_spot, rulebook)
        ) / 2.0
    except OutOfRange:
        return {"excess_kpa": None, "finding": "out_of_table"}
    excess = pressure + place.values["station_kpa"] - full
    u = sqrt(u_pressure * u_pressure + slope * slope + place.u["station_kpa"] * place.u["station_kpa"])
    return {"excess_kpa": {"value": excess, "u": u}, "finding": _rest_finding(rest, values, us, (excess, u), limits)}


def _rest_finding(rest: Found, values: list[float], us: list[float], excess: tuple[float, float], limits: Found) -> str:
    if len(values) == 2 and abs(values[0] - values[1]) > 2.0 * sqrt(us[0] * us[0] + us[1] * us[1]):
        return "gauges_disagree"
    if not _rested(rest, limits):
        return "not_rested"
    reach = 2.0 * excess[1]
    if reach < limits["flag_kpa"]:
        reach = limits["flag_kpa"]
    if excess[0] > reach:
        return "above_saturation"
    if excess[0] < -reach:
        return "below_saturation"
    return "as_saturated"


def vacuum_of(visit: Found, rulebook: Found) -> Found | None:
    """The last evacuation and its hold.

    Args:
        visit: the visit [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        {level_pa, end_pa, rise_pa_min, finding}, None without one [Pa, Pa, Pa/min]

    Source: vapour pressure of water from IAPWS; the limits are common practice, no source.
    """
    found = None
    for move in visit.get("refrigerant_moves") or []:
        if move["kind"] == "vacuum" and move.get("pressure_pa") is not None:
            found = move
    if found is None:
        return None
    limits = rulebook["checks_at_rest"]["evacuation"]
    level, rise, held = float(found["pressure_pa"]), found.get("rise_pa"), found.get("held_min")
    result: Found = {"level_pa": level, "end_pa": None, "rise_pa_min": None}
    if rise is None or held is None or not held > 0:
        result["finding"] = "hold_not_recorded"
        return result
    end = level + float(rise)
    result.update(end_pa=end, rise_pa_min=float(rise) / float(held))
    water = air.vapour_pressure_pa(limits["water_c"], rulebook)
    if level > limits["deep_pa"]:
        result["finding"] = "not_deep"
    elif held < limits["held_min"]:
        result["finding"] = "held_too_short"
    elif rise <= limits["rise_pa"]:
        result["finding"] = "held"
    elif limits["water_low"] * water <= end <= water:
        result["finding"] = "rose_toward_water"
    else:
        result["finding"] = "rose"
    return result


def cleaner_of(visit: Found, rulebook: Found) -> Found | None:
    """The mix of the last coil cleaner.

    Args:
        visit: the visit [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        {cleaner_ml, water_ml, water_parts, per_pass_ml, findings}, None without a mix; the label governs [ml, 1]

    Source: arithmetic; the usual mix is common practice, no source.
    """
    mix = None
    for item in visit.get("work") or []:
        if item.get("cleaner") is not None:
            mix = item["cleaner"]
    if (
        mix is None
        or mix.get("parts_cleaner") is None
        or mix.get("parts_water") is None
        or not mix["parts_cleaner"] > 0
        or not mix["parts_water"] >= 0
    ):
        return None
    limits = rulebook["checks_at_rest"]["cleaner"]
    cleaner, water = float(mix["parts_cleaner"]), float(mix["parts_water"])
    made, passes, dwell = mix.get("made_ml"), mix.get("passes"), mix.get("dwell_min")
    result: Found = {"cleaner_ml": None, "water_ml": None, "water_parts": water / cleaner, "per_pass_ml": None}
    if made is not None:
        result["cleaner_ml"] = float(made) * cleaner / (cleaner + water)
        result["water_ml"] = float(made) * water / (cleaner + water)
        if passes is not None and passes > 0:
            result["per_pass_ml"] = float(made) / float(passes)
    findings = []
    if result["water_parts"] < limits["least_water"]:
        findings.append("stronger_than_usual")
    if dwell is not None and dwell > limits["dwell_min"]:
        findings.append("left_longer_than_usual")
    result["findings"] = findings
    return result


def co2e_of(visit: Found, rulebook: Found) -> list[Found]:
    """CO2 equivalent of every mass of refrigerant moved, with the IPCC report it rests on.

    Args:
        visit: the visit [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        [{move, kg, report}] by the newest report that lists the refrigerant [kg CO2e]

    Source: GWP100 of IPCC AR4, AR5, AR6 as kept in the rulebook's `refrigerants` book.
    """
    found = []
    for move in visit.get("refrigerant_moves") or []:
        if move["kind"] != "charged" and move["kind"] != "recovered":
            continue
        name, grams = move.get("refrigerant"), move.get("grams")
        if name is None:
            name = (visit.get("vehicle") or {}).get("refrigerant")
        row = rulebook["refrigerants"]["refrigerants"].get(name)
        if row is None or grams is None:
            continue
        for report in ("AR6", "AR5", "AR4"):
            if report in row["gwp"]:
                found.append({"move": move["id"], "kg": float(grams) / 1000.0 * row["gwp"][report], "report": report})
                break
    return found
