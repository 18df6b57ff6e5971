"""Properties of real refrigerants and of water from CoolProp, for the desk and for the builder of the tables.

Besides the builder, this is the only module that knows the property library; nothing that the phone repeats lives here.
"""

from __future__ import annotations

import threading
from typing import Any, TypedDict

from sync.kernel.judgement import CyclePoint


class IdealCycle(TypedDict):
    """An ideal cycle: work and cooling [kJ/kg], their ratio, and the corners in the order of the circuit."""

    work_kj_kg: float
    effect_kj_kg: float
    cop: float
    points: list[CyclePoint]


# A state of the library is set and then read: two threads sharing one would read each other's figures.
_STATES = threading.local()


def _state(fluid: str) -> Any:
    # Imported late: the library takes almost two seconds to load, and serving must not wait for it.
    import CoolProp

    states: dict[str, Any] = _STATES.__dict__
    if fluid not in states:
        states[fluid] = CoolProp.AbstractState("HEOS", fluid)
    return states[fluid]


def saturation_temperature_c(fluid: str, pressure_kpa: float) -> float:
    """Saturation temperature of a pure fluid.

    Args:
        fluid: the library's name of the fluid [text]
        pressure_kpa: absolute pressure [kPa]

    Returns:
        saturation temperature [°C]

    Valid for: between the triple point and the critical point of the fluid.

    Raises:
        ValueError: the pressure lies outside that range.

    Source: CoolProp 8, Helmholtz equations of state as cited by the library for each fluid.
    """
    import CoolProp

    state = _state(fluid)
    state.update(CoolProp.PQ_INPUTS, pressure_kpa * 1000.0, 0.0)
    return float(state.T()) - 273.15


def saturation_pressure_kpa(fluid: str, temperature_c: float) -> float:
    """Saturation pressure of a pure fluid.

    Args:
        fluid: the library's name of the fluid [text]
        temperature_c: temperature [°C]

    Returns:
        absolute saturation pressure [kPa]

    Valid for: between the triple point and the critical point of the fluid.

    Raises:
        ValueError: the temperature lies outside that range.

    Source: CoolProp 8, Helmholtz equations of state as cited by the library for each fluid.
    """
    import CoolProp

    state = _state(fluid)
    state.update(CoolProp.QT_INPUTS, 0.0, temperature_c + 273.15)
    return float(state.p()) / 1000.0


def critical_point(fluid: str) -> tuple[float, float]:
    """Critical temperature and pressure.

    Args:
        fluid: the library's name of the fluid [text]

    Returns:
        temperature and absolute pressure [°C, kPa]

    Source: CoolProp 8, as cited by the library for each fluid.
    """
    state = _state(fluid)
    return float(state.T_critical()) - 273.15, float(state.p_critical()) / 1000.0


def ideal_cycle(fluid: str, evaporating_c: float, condensing_c: float) -> IdealCycle:
    """Saturated vapour compressed isentropically to the condensing pressure, saturated liquid throttled back.

    The end of compression is found by pressure and entropy, which also works inside the dome. There, pressure and
    temperature could not tell wet from dry.

    Args:
        fluid: the library's name of the fluid [text]
        evaporating_c: evaporating temperature [°C]
        condensing_c: condensing temperature [°C]

    Returns:
        {work_kj_kg, effect_kj_kg, cop, points: [{kj_kg, kpa}]} [kJ/kg, 1, kPa absolute]

    Valid for: triple point < evaporating < condensing < critical point.

    Raises:
        ValueError: the temperatures lie outside that range.

    Source: CoolProp 8, Helmholtz equations of state as cited by the library for each fluid.
    """
    import CoolProp

    state = _state(fluid)
    state.update(CoolProp.QT_INPUTS, 1.0, evaporating_c + 273.15)
    low_kpa, suction, entropy = state.p() / 1000.0, state.hmass() / 1000.0, state.smass()
    state.update(CoolProp.QT_INPUTS, 0.0, condensing_c + 273.15)
    high_kpa, liquid = state.p() / 1000.0, state.hmass() / 1000.0
    state.update(CoolProp.PSmass_INPUTS, high_kpa * 1000.0, entropy)
    discharge = state.hmass() / 1000.0
    corners = ((suction, low_kpa), (discharge, high_kpa), (liquid, high_kpa), (liquid, low_kpa))
    return {
        "work_kj_kg": discharge - suction,
        "effect_kj_kg": suction - liquid,
        "cop": (suction - liquid) / (discharge - suction),
        "points": [{"kj_kg": float(h), "kpa": float(p)} for h, p in corners],
    }


def dome(fluid: str, from_c: float, count: int) -> list[CyclePoint]:
    """The saturation line from liquid over the critical point to vapour.

    Args:
        fluid: the library's name of the fluid [text]
        from_c: the temperature at both ends of the line [°C]
        count: how many points on each side [count]

    Returns:
        points on the line, in order [kJ/kg, kPa absolute]

    Valid for: triple point < `from_c` < critical point.

    Raises:
        ValueError: the temperature lies outside that range.

    Source: CoolProp 8, Helmholtz equations of state as cited by the library for each fluid.
    """
    import CoolProp

    state = _state(fluid)
    # Just below the critical point, where both sides meet; at the point itself the library finds no two phases.
    span = critical_point(fluid)[0] - 0.05 - from_c
    sides: list[list[CyclePoint]] = [[], []]
    for quality in (0, 1):
        for number in range(count):
            # Closer together near the top, where the line bends.
            share = 1.0 - (1.0 - number / (count - 1)) ** 2
            state.update(CoolProp.QT_INPUTS, float(quality), from_c + span * share + 273.15)
            sides[quality].append({"kj_kg": float(state.hmass()) / 1000.0, "kpa": float(state.p()) / 1000.0})
    return [*sides[0], *reversed(sides[1])]
