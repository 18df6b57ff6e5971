"""The rulebook's `comparison` book, as types.

Nothing here compares; `comparison` does.
"""

from __future__ import annotations

from typing import TypedDict


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


class LoadTerms(TypedDict):
    """How loads are compared."""

    floor_kj_kg: float
    ratio_u_unknown: float
    ratio_per_k: float
    lowest: float
    own_share: float


class SplitSpread(TypedDict):
    """How well a split is carried from one day to another."""

    split_share: float
    split_k: float


class AmbientUnknown(TypedDict):
    """What is taken for an ambient nobody recorded."""

    c: float
    one_u_k: float
    both_u_k: float


class PlaceUnknown(TypedDict):
    """What is taken for a place nobody recorded."""

    station_kpa: float
    u_kpa: float


class VentTerms(TypedDict):
    """How vents are compared."""

    per_k: float
    per_k_u: float
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
    band_slack_k: float
    starvation: StarvationLimits
    refrigerant_work: list[str]
    refrigerant_moves: list[str]
    fan_work: list[str]
