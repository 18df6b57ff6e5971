"""The rulebook's `causes` book, as types; keys that are causes, looks or quantities come from the data.

Nothing here ranks; `causes` does.
"""

from __future__ import annotations

from typing import Required, TypedDict


class RegimesTable(TypedDict):
    """How likely each way of regulating is, by what is known of the compressor."""

    compressor: dict[str, dict[str, float]]
    running: dict[str, dict[str, float]]
    unknown: dict[str, float]
    stays_on: dict[str, float]


class Guess(TypedDict):
    """A difference that wasn't measured, with its standard uncertainty [K]."""

    k: float
    u_k: float


class MoistureShare(TypedDict):
    """The share of the outside air's moisture that the entering air has, with its standard uncertainty [1]."""

    share: float
    u: float


class HumidityGuess(TypedDict):
    """A humidity ratio that wasn't measured, with its standard uncertainty [g/kg]."""

    g_kg: float
    u_g_kg: float


class SettingsTable(TypedDict):
    """The settings that the middles refer to, and what is assumed where a setting wasn't recorded."""

    ambient_c: float
    ambient_unknown_k: float
    entering_over_ambient_k: float
    entering_unknown: dict[str, Guess]
    humidity_g_kg: float
    humidity_unknown: HumidityGuess
    moisture_share: dict[str, MoistureShare]
    rpm: float
    rpm_unknown: float


class LowLoad(TypedDict):
    """A demand so low that a switched compressor should cut out."""

    ambient_c: float
    blower: list[str]


class LooksFrom(TypedDict):
    """What says outright whether a sight is there, and which work mends it."""

    checks: dict[str, str]
    fan: dict[str, dict[str, bool]]
    running: dict[str, dict[str, bool]]
    low_load: LowLoad
    vents_apart_k: float
    air_pct: float
    mends: dict[str, list[str]]


class UnseenTable(TypedDict):
    """How much it counts that a sight wasn't noted."""

    felt: list[str]
    noted: float
    looked: float
    most: float
    sights: list[str]


class ToldApart(TypedDict):
    """How much weight the set holds, when and which causes may stand alone, and what counts as evidence."""

    share: float
    alone: float
    never_alone: list[str]
    times: float
    usual_z: float
    unusual_z: float
    behind: float
    often: float
    gain: float


class CheckRow(TypedDict, total=False):
    """A possible next check: a look, or a quantity with its reading, what that needs and consists of, and its u."""

    what: Required[str]
    minutes: Required[float]
    look: str
    reading: str
    needs: str
    quantity: str
    reads: dict[str, float]
    u: float


class CausesBook(TypedDict):
    """How common each cause is, which sights go with it, and what can be checked."""

    order: list[str]
    common: dict[str, float]
    no_modes: list[str]
    regimes: RegimesTable
    settings: SettingsTable
    looks: dict[str, dict[str, float]]
    groups: list[list[str]]
    looks_from: LooksFrom
    unseen: UnseenTable
    told_apart: ToldApart
    checks: list[CheckRow]
