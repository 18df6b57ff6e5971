"""The rulebook's `comparison` book, as types.

Nothing here compares; `comparison` does.
"""

from __future__ import annotations

from typing import TypedDict

from sync.kernel.causes_book import MoistureShare


class PairLimits(TypedDict):
    """Differences that make a pair not comparable."""

    rinsed_min: float
    minutes: float
    rpm: float
    ambient_k: float
    cut_out_kpa_g: float


class LoadPower(TypedDict):
    """The exponent of the load ratio on the condenser split."""

    regulated: float
    fixed: float
    unknown: float
    u: float


class EnteringGuess(TypedDict):
    """Entering air over outside air where it wasn't measured: the mean, what both tests share, what each has alone."""

    k: float
    u_k: float
    own_k: float


class MoistureGuess(TypedDict):
    """The outside air's moisture where it wasn't measured, and its relative uncertainty."""

    g_kg: float
    u_share: float


class LoadTerms(TypedDict):
    """How loads are compared."""

    floor_kj_kg: float
    lowest: float
    entering_unknown: dict[str, EnteringGuess]
    moisture_share: dict[str, MoistureShare]
    moisture_own_g_kg: float
    moisture_unknown: MoistureGuess


class SplitSpread(TypedDict):
    """How well a split carries over from one day to another."""

    split_share: float
    split_k: float


class AmbientUnknown(TypedDict):
    """What is assumed for an ambient temperature that nobody recorded."""

    c: float
    one_u_k: float
    both_u_k: float


class PlaceUnknown(TypedDict):
    """What is assumed for a place that nobody recorded."""

    station_kpa: float
    u_kpa: float


class Following(TypedDict):
    """How far the vent follows the entering air [K/K], with its standard uncertainty."""

    per_k: float
    u: float


class VentTerms(TypedDict):
    """How vents are compared."""

    follows: dict[str, Following]
    spread_k: float
    floor_low_c: float
    floor_high_c: float
    floor_apart_k: float
    drift_unknown_k: float


class StarvationLimits(TypedDict):
    """Signs that a change starved the evaporator."""

    vent_k: float
    vent_per_ambient_k: float
    superheat_k: float
    subcooling_gone_k: float
    subcooling_fall_k: float
    evaporating_fall_k: float


class ComparisonBook(TypedDict):
    """How a before/after pair is compared."""

    limits: PairLimits
    power: LoadPower
    load: LoadTerms
    spread: SplitSpread
    not_recorded_k: dict[str, float]
    differs_k: dict[str, float]
    running_differs_k: float
    ambient_unknown: AmbientUnknown
    place_unknown: PlaceUnknown
    vent: VentTerms
    coverage: float
    starvation: StarvationLimits
    refrigerant_work: list[str]
    refrigerant_moves: list[str]
    condenser_work: list[str]
    air_work: list[str]
    other_work: list[str]
    fan_work: list[str]
