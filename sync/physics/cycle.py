"""The ideal cycle between two saturation temperatures, from CoolProp, for the desk only.

A figure for comparison, saturated at both ends, and it says so; causes and comparison never read it.
"""

from __future__ import annotations

from math import sqrt
from typing import TypedDict

from sync.kernel.books import Rulebook
from sync.kernel.figure import Figure
from sync.kernel.judgement import Assessment, CyclePoint, DerivedFigure
from sync.kernel.visit import Visit
from sync.physics import refrigerant
from sync.physics.refrigerant import IdealCycle


class CycleFigures(TypedDict):
    """What the ideal cycle of one test adds to its judgement."""

    ideal_cop: DerivedFigure
    specific_work_kj_kg: DerivedFigure
    points: list[CyclePoint]


def ideal(fluid: str, evaporating_c: float, condensing_c: float) -> IdealCycle:
    """The cycle with saturated vapour into the compressor, isentropic compression and saturated liquid to the valve.

    Args:
        fluid: the property library's name of the fluid [text]
        evaporating_c: evaporating temperature [°C]
        condensing_c: condensing temperature [°C]

    Returns:
        {work_kj_kg, effect_kj_kg, cop, points: [{kj_kg, kpa}] in the order of the circuit} [kJ/kg, 1, kPa absolute]

    Valid for: triple point < evaporating < condensing < critical point; also where compression ends inside the dome.

    Raises:
        ValueError: the temperatures lie outside that range.

    Source: Moran & Shapiro, Fundamentals of Engineering Thermodynamics, section 10.2 (from memory).
    """
    return refrigerant.ideal_cycle(fluid, evaporating_c, condensing_c)


def dome(fluid: str, from_c: float, count: int = 24) -> list[CyclePoint]:
    """The saturation line that a cycle is drawn against.

    Args:
        fluid: the property library's name of the fluid [text]
        from_c: the temperature at both ends of the line [°C]
        count: how many points on each side [count]

    Returns:
        points from liquid over the critical point to vapour [kJ/kg, kPa absolute]

    Valid for: triple point < `from_c` < critical point.

    Raises:
        ValueError: the temperature lies outside that range.

    Source: CoolProp 8, as cited by the library for each fluid.
    """
    return refrigerant.dome(fluid, from_c, count)


def _figures(fluid: str, low_c: float, high_c: float) -> tuple[float, float] | None:
    try:
        cycle = ideal(fluid, low_c, high_c)
    except ValueError:
        return None
    return cycle["cop"], cycle["work_kj_kg"]


def between(derived: dict[str, DerivedFigure], visit: Visit, rulebook: Rulebook) -> CycleFigures | None:
    """The ideal cycle of one test, with its uncertainty.

    Args:
        derived: the test's derived quantities [by name]
        visit: the visit, for the refrigerant in the circuit [Visit]
        rulebook: the rulebook [Rulebook]

    Returns:
        COP, specific work and corners; None without both saturation temperatures or if the condensing side isn't above
        the evaporating side [CycleFigures]

    Source: JCGM 100:2008, 5.1.3, note 2, for the uncertainty.
    """
    low, high = derived.get("low_saturation_c"), derived.get("high_saturation_c")
    row = rulebook["refrigerants"]["refrigerants"].get((visit.get("vehicle") or {}).get("refrigerant") or "")
    if low is None or high is None or row is None or not row["fluid"] or not high["value"] - low["value"] > 1.0:
        return None
    fluid = row["fluid"]
    try:
        cycle = ideal(fluid, low["value"], high["value"])
    except ValueError:
        return None
    squares = [0.0, 0.0]
    for moved_low, moved_high in ((low["u"], 0.0), (0.0, high["u"])):
        above = _figures(fluid, low["value"] + moved_low, high["value"] + moved_high)
        below = _figures(fluid, low["value"] - moved_low, high["value"] - moved_high)
        if above is None or below is None:
            return None
        for i in (0, 1):
            squares[i] += ((above[i] - below[i]) / 2.0) ** 2
    return {
        "ideal_cop": {"value": cycle["cop"], "u": sqrt(squares[0]), "unit": "ratio"},
        "specific_work_kj_kg": {"value": cycle["work_kj_kg"], "u": sqrt(squares[1]), "unit": "kj_kg"},
        "points": cycle["points"],
    }


def work_change(assessment: Assessment) -> Figure | None:
    """Relative change of work per unit of cooling between the last test before and the last after.

    Args:
        assessment: the judgement with the ideal COP of its tests [Assessment]

    Returns:
        after divided by before, minus one; None without both [share]

    Source: work per unit of cooling is 1 / COP; JCGM 100:2008, equation 12, for a quotient.
    """
    last = {test["role"]: test["derived"].get("ideal_cop") for test in assessment["tests"]}
    before, after = last.get("before"), last.get("after")
    if before is None or after is None:
        return None
    ratio = before["value"] / after["value"]
    u = ratio * sqrt((before["u"] / before["value"]) ** 2 + (after["u"] / after["value"]) ** 2)
    return {"value": ratio - 1.0, "u": u}
