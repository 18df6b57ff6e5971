"""What is measured outside the running tests: the rest reading, the vacuum hold, the cleaner's mix, CO2 equivalents.

Limits are rulebook data, and each finding is a code.
"""

from __future__ import annotations

from math import sqrt

from sync.errors import OutOfRange
from sync.kernel import air
from sync.kernel.books import InstrumentTerms, RestLimits, Rulebook
from sync.kernel.inputs import ROOT_3, Inputs, instruments_of, place_of, refrigerant_of
from sync.kernel.judgement import CleanerMix, Co2Equivalent, RestJudgement, VacuumJudgement
from sync.kernel.saturation import pressure_kpa
from sync.kernel.visit import Cleaner, Move, Rest, Visit


def _rested(rest: Rest, limits: RestLimits) -> bool:
    hours, metal, around = rest.get("hours_off"), rest.get("metal_c"), rest.get("air_c")
    if hours is not None and hours < limits["hours"]:
        return False
    return metal is None or around is None or abs(float(metal) - float(around)) <= limits["metal_air_k"]


def _gauges(rest: Rest, instruments: InstrumentTerms) -> tuple[list[float], list[float]]:
    values, us = [], []
    for value, gauge in (
        (rest.get("low_kpa_g"), instruments["low_gauge"]),
        (rest.get("high_kpa_g"), instruments["high_gauge"]),
    ):
        if value is not None:
            values.append(float(value) - gauge["zero_kpa"])
            us.append(gauge["class_pct"] / 100.0 * gauge["span_kpa"] / ROOT_3)
    return values, us


def rest_of(visit: Visit, rulebook: Rulebook) -> RestJudgement | None:
    """The last rest reading, compared with saturation at the coldest metal that holds liquid.

    Args:
        visit: the visit [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        {excess_kpa: {value, u} or None, finding}; None without a rest reading [kPa]

    Source: trade rule of the rulebook's `checks_at_rest` book (common practice, no source).
    """
    rests = visit.get("rests") or []
    if len(rests) == 0:
        return None
    rest, limits = rests[-1], rulebook["checks_at_rest"]["rest"]
    refrigerant = refrigerant_of(visit)
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


def _rest_finding(
    rest: Rest, values: list[float], us: list[float], excess: tuple[float, float], limits: RestLimits
) -> str:
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


def vacuum_of(visit: Visit, rulebook: Rulebook) -> VacuumJudgement | None:
    """The last evacuation and its hold.

    Args:
        visit: the visit [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        {level_pa, end_pa, rise_pa_min, finding}, None without one [Pa, Pa, Pa/min]

    Source: vapour pressure of water from IAPWS; the limits are common practice, no source.
    """
    move = _last_vacuum(visit)
    if move is None:
        return None
    limits = rulebook["checks_at_rest"]["evacuation"]
    level, rise, minutes = float(move["pressure_pa"]), move.get("rise_pa"), move.get("held_min")
    if rise is None or minutes is None or not minutes > 0:
        return {"level_pa": level, "end_pa": None, "rise_pa_min": None, "finding": "hold_not_recorded"}
    end = level + float(rise)
    water = air.vapour_pressure_pa(limits["water_c"], rulebook)
    if level > limits["deep_pa"]:
        finding = "not_deep"
    elif minutes < limits["held_min"]:
        finding = "held_too_short"
    elif rise <= limits["rise_pa"]:
        finding = "held"
    elif limits["water_low"] * water <= end <= water:
        finding = "rose_toward_water"
    else:
        finding = "rose"
    return {"level_pa": level, "end_pa": end, "rise_pa_min": float(rise) / float(minutes), "finding": finding}


def _last_vacuum(visit: Visit) -> Move | None:
    last: Move | None = None
    for move in visit.get("refrigerant_moves") or []:
        if move["kind"] == "vacuum" and move.get("pressure_pa") is not None:
            last = move
    return last


def cleaner_of(visit: Visit, rulebook: Rulebook) -> CleanerMix | None:
    """The mix of the last coil cleaner.

    Args:
        visit: the visit [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        {cleaner_ml, water_ml, water_parts, per_pass_ml, findings}; None without a mix; the label takes precedence [ml,
        1]

    Source: arithmetic; the usual mix is common practice, no source.
    """
    mix: Cleaner | None = None
    for item in visit.get("work") or []:
        if item.get("cleaner") is not None:
            mix = item["cleaner"]
    if mix is None:
        return None
    cleaner, water = mix.get("parts_cleaner"), mix.get("parts_water")
    if cleaner is None or water is None or not cleaner > 0 or not water >= 0:
        return None
    limits = rulebook["checks_at_rest"]["cleaner"]
    volume, passes, dwell = mix.get("made_ml"), mix.get("passes"), mix.get("dwell_min")
    water_parts = float(water) / float(cleaner)
    findings: list[str] = []
    if water_parts < limits["least_water"]:
        findings.append("stronger_than_usual")
    if dwell is not None and dwell > limits["dwell_min"]:
        findings.append("left_longer_than_usual")
    result: CleanerMix = {
        "cleaner_ml": None,
        "water_ml": None,
        "water_parts": water_parts,
        "per_pass_ml": None,
        "findings": findings,
    }
    if volume is not None:
        parts = float(cleaner) + float(water)
        result["cleaner_ml"] = float(volume) * float(cleaner) / parts
        result["water_ml"] = float(volume) * float(water) / parts
        if passes is not None and passes > 0:
            result["per_pass_ml"] = float(volume) / float(passes)
    return result


def co2e_of(visit: Visit, rulebook: Rulebook) -> list[Co2Equivalent]:
    """The CO2 equivalent of every mass of refrigerant moved, with the IPCC report it is based on.

    Args:
        visit: the visit [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        [{move, kg, report}] by the newest report that lists the refrigerant [kg CO2e]

    Source: GWP100 of IPCC AR4, AR5, AR6 as kept in the rulebook's `refrigerants` book.
    """
    equivalents: list[Co2Equivalent] = []
    for move in visit.get("refrigerant_moves") or []:
        if move["kind"] != "charged" and move["kind"] != "recovered":
            continue
        name, grams = move.get("refrigerant"), move.get("grams")
        if name is None:
            name = (visit.get("vehicle") or {}).get("refrigerant")
        row = rulebook["refrigerants"]["refrigerants"].get(name or "unknown")
        if row is None or grams is None:
            continue
        for report in ("AR6", "AR5", "AR4"):
            if report in row["gwp"]:
                kg = float(grams) / 1000.0 * row["gwp"][report]
                equivalents.append({"move": move["id"], "kg": kg, "report": report})
                break
    return equivalents
