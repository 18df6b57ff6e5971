"""The rulebook's `causes` book, as types; keys that are causes, looks or quantities are those of the data.

Nothing here ranks; `causes` does.
"""

from __future__ import annotations

from typing import Required, TypedDict


class RegimesTable(TypedDict):
    """How likely each way of regulating is, by what is known of the compressor."""

    names: list[str]
    compressor: dict[str, dict[str, float]]
    running: dict[str, dict[str, float]]
    unknown: dict[str, float]
    never_off: dict[str, float]
    orifice: dict[str, float]


class CauseSettings(TypedDict):
    """The settings that the middles stand for."""

    load_kj_kg: float
    ambient_c: float
    rpm: float
    load_unknown_kj_kg: float
    rpm_unknown: float


# `from` is a word of the language.
ExpectedRow = TypedDict(
    "ExpectedRow",
    {
        "from": str,
        "centre": float,
        "per_10_kj_kg": float,
        "per_10_k": float,
        "per_1000_rpm": float,
        "by": dict[str, dict[str, float]],
        "spread": float,
    },
)


class ViewsTable(TypedDict):
    """When the bands' own middles are held open beside the settings'."""

    quantities: list[str]
    apart: float
    weight: float


class RestColumn(TypedDict):
    """What a rest reading counts as evidence."""

    spread_kpa: float
    findings: list[str]


class LeastTable(TypedDict):
    """Below what a divisor tells nothing [K]."""

    most_drop_k: float
    vent_drop_k: float
    condenser_split_k: float


class LooksFrom(TypedDict):
    """What says outright whether a sight is there, and which work mends it."""

    checks: dict[str, str]
    fan: dict[str, dict[str, bool]]
    running: dict[str, dict[str, bool]]
    vents_apart_k: float
    air_pct: float
    mends: dict[str, list[str]]


class UnseenTable(TypedDict):
    """How much it counts that a sight was not noted."""

    felt: list[str]
    noted: float
    looked: float
    sights: list[str]


class ToldApart(TypedDict):
    """When causes count as told apart, and a reading as evidence."""

    near: float
    most: int
    times: float
    reading_times: float
    missed: float
    usual_z: float
    unusual_z: float
    worth: float
    behind: float
    gain: float


class CheckRow(TypedDict, total=False):
    """A check that may be made next: a look or a quantity with the uncertainty it would have."""

    what: Required[str]
    minutes: Required[float]
    look: str
    quantity: str
    u: float


class CausesBook(TypedDict):
    """What each cause does to a car's readings."""

    order: list[str]
    prior: dict[str, dict[str, float]]
    regimes: RegimesTable
    settings: CauseSettings
    expected: dict[str, dict[str, ExpectedRow]]
    views: ViewsTable
    rest: RestColumn
    rests_on: dict[str, list[str]]
    repeats: dict[str, list[str]]
    least: LeastTable
    columns: dict[str, int]
    patterns: dict[str, dict[str, list[list[float]]]]
    looks: dict[str, dict[str, float]]
    looks_from: LooksFrom
    unseen: UnseenTable
    told_apart: ToldApart
    checks: list[CheckRow]
