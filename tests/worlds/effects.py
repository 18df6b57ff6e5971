"""How far a fault moves true readings away from the same car when healthy, in units of what can just be seen."""

from __future__ import annotations

from math import sqrt
from typing import Any

from tests.worlds.instruments import Instruments
from tests.worlds.writing import READING_SETS

Json = dict[str, Any]
REST_AIR_SHOWS_KPA = 70.0


def _limit(name: str, other: float, tools: Instruments) -> float:
    """How far a true reading must move to be noticed: twice its uncertainty, or what a person would notice."""
    warm = max(2.0 * tools.thermometer_c / sqrt(3.0), 1.0)
    if name.endswith("_kpa_g"):
        return 2.0 * tools.u_kpa("low" if name.startswith("low") else "high")
    if name.endswith("_c"):
        return warm if name.startswith(("vent", "return")) else 1.5 * warm
    return 0.4 * other + 3.0 if name in ("on_s", "off_s") else 12.0


def effect_of(sick: Json, twin: Json, tools: Instruments) -> float:
    """How far the reading that moves most lies from the healthy twin's, in units of what can just be seen; at least one
    if the compressor runs differently.
    """
    effect = 0.0
    for name, value in sick.items():
        other = twin.get(name)
        if name == "running" and value != other:
            effect = max(effect, 1.0)
        elif not isinstance(value, str) and other is not None:
            effect = max(effect, abs(value - other) / _limit(name, other, tools))
    return effect


def effects_of(sick: dict[str, Json], twin: dict[str, Json], tools: Instruments, beside: tuple[float, bool]) -> Json:
    """The effect by set of readings, each set including those before it.

    `beside` is how far the pressure at rest lies above the twin's [kPa], and whether a sign was noticed that the twin
    lacks; both count only with all readings.
    """
    at_rest_kpa, noticed = beside
    effect, effects = 0.0, {}
    for name in READING_SETS:
        effect = max(effect, effect_of(sick[name], twin[name], tools))
        if name == "all":
            effect = max(effect, at_rest_kpa / REST_AIR_SHOWS_KPA, 1.0 if noticed else 0.0)
        effects[name] = effect
    return effects
