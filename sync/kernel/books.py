"""The rulebook's books, as types; keys that are codes or names come from the data.

Nothing here reads a file; the books are data beside the code and are passed to the rules as an argument.
"""

from __future__ import annotations

from typing import NotRequired, Required, TypedDict

from sync.kernel.causes_book import CausesBook
from sync.kernel.comparison_book import ComparisonBook
from sync.kernel.condition import Condition
from sync.kernel.distribution_book import DistributionBook
from sync.kernel.fields_book import FieldsBook
from sync.kernel.word_books import CurrenciesBook, SheetLayout, StripsBook, WordTree

Reach = list[float]


class UnitRow(TypedDict):
    """How a unit converts to the canonical one: number times scale plus offset."""

    scale: float
    offset: float
    decimals: int


class QuantityUnits(TypedDict):
    """The units of one quantity."""

    canonical: str
    units: dict[str, UnitRow]


class SaturationTable(TypedDict):
    """Saturation of one refrigerant [kPa absolute, °C]."""

    refrigerant: str
    max_error_k: float
    p_kpa: list[float]
    t_c: list[float]


class AtmosphereTable(TypedDict):
    """The standard atmosphere [m, kPa]."""

    altitude_m: list[float]
    p_kpa: list[float]


class WaterTable(TypedDict):
    """Saturation of water [°C, Pa]."""

    t_c: list[float]
    p_pa: list[float]


class RefrigerantRow(TypedDict, total=False):
    """One refrigerant."""

    fluid: Required[str | None]
    table: Required[str | None]
    critical_c: float
    critical_kpa: float
    safety_class: Required[str | None]
    trust: Required[float]
    gwp: Required[dict[str, float]]


class RefrigerantsBook(TypedDict):
    """All refrigerants by their code."""

    refrigerants: dict[str, RefrigerantRow]


class DerivedRow(TypedDict):
    """A quantity that can be derived, and its inputs; some are the difference of two others or of an input."""

    name: str
    unit: str
    refrigerant: bool
    inputs: list[str]
    difference: NotRequired[list[str]]


# `as` is a keyword of the language.
UnitSlip = TypedDict("UnitSlip", {"as": str, "scale": float, "offset": float})


class QuantitiesBook(TypedDict):
    """What can be derived, what it needs, and the unit mix-ups tried on a reading that is out of range."""

    derived: list[DerivedRow]
    needs: dict[str, list[str]]
    slips: dict[str, list[UnitSlip]]


class GaugeTerms(TypedDict):
    """A gauge as assumed when nobody says otherwise."""

    span_kpa: float
    class_pct: float
    zero_kpa: float


class InstrumentTerms(TypedDict):
    """The instruments of a visit, with defaults filled in."""

    low_gauge: GaugeTerms
    high_gauge: GaugeTerms
    thermometer_c: float
    hygrometer_pct: float
    common_share: float


class StationTerms(TypedDict):
    """How certain the air pressure on site is [kPa]."""

    measured_u_kpa: float
    altitude_u_kpa: float


class CyclingTerms(TypedDict):
    """What cycling adds to the uncertainty."""

    low_kpa: float
    high_kpa: float
    high_at_unknown_phase_kpa: float
    temperature_c: float


class PortTerms(TypedDict):
    """Limits of the pressure lost on the way to a port [kPa]."""

    suction_kpa: float
    high: dict[str, float]


class ShareTerms(TypedDict):
    """How certain the compressor's share is [share]."""

    timed: float
    command: float


class InstrumentsBook(TypedDict):
    """Default instruments and the terms of their uncertainty."""

    defaults: InstrumentTerms
    station: StationTerms
    flutter: dict[str, float]
    cycling: CyclingTerms
    ports: PortTerms
    share_u: ShareTerms


class ValidRow(TypedDict):
    """The range of one condition in which the yardsticks are used; `needed` says that its absence widens them too."""

    name: str
    low: float
    high: float
    needed: bool


class HistoryRules(TypedDict):
    """When a vehicle's own healthy test is a yardstick, and how far a car changes in the years after it."""

    days: int
    deviations: float
    years_k: dict[str, float]
    surroundings: list[str]


class ChartTerms(TypedDict):
    """How a maker's chart is used: how far beyond its rows, and what its conditions leave open [K]."""

    station_kpa: float
    beyond_k: float
    open_k: float
    differs_k: float
    rpm: float


class PublishedSource(TypedDict):
    """Where rows of published tables come from; `about` names the page."""

    maker: str


class PublishedTables(TypedDict):
    """What makers print for their healthy cars; the phone does without it."""

    columns: list[str]
    sources: list[PublishedSource]
    rows: list[list[float | str | None]]


class YardsticksBook(TypedDict):
    """What a healthy car shows, and how each yardstick is used."""

    valid: list[ValidRow]
    beyond: float
    coverage: float
    shown: list[str]
    chart: ChartTerms
    history: HistoryRules
    published: PublishedTables


class RestLimits(TypedDict):
    """Limits of a rest reading."""

    flag_kpa: float
    metal_air_k: float
    hours: float
    metal_u_k: float
    air_only_u_k: float


class SettlingLimits(TypedDict):
    """Limits of a levelled test."""

    window_s: float
    vent_k: float
    high_share: float
    return_k: float
    longest_wait_s: float
    one_entry_s: float


class EvacuationLimits(TypedDict):
    """Limits of a vacuum and its hold."""

    deep_pa: float
    held_min: float
    rise_pa: float
    water_c: float
    water_low: float


class CleanerLimits(TypedDict):
    """The usual mix of a coil cleaner."""

    usual_water: float
    least_water: float
    dwell_min: float


class CylinderLimits(TypedDict):
    """How far scale and book may differ."""

    apart_g: float


class ChecksAtRestBook(TypedDict):
    """Limits of what is measured outside the running tests."""

    rest: RestLimits
    settling: SettlingLimits
    evacuation: EvacuationLimits
    cleaner: CleanerLimits
    cylinder: CylinderLimits


class Deed(TypedDict):
    """Entries of a list before which a caution is read, the clock that begins then, and whether they can do without."""

    list: str
    codes: list[str]
    clock: NotRequired[str]
    idle: NotRequired[bool]


class CautionRow(TypedDict):
    """A caution, the groups of conditions of which one has to hold, and the deeds with which it comes."""

    code: str
    when: list[list[Condition]]
    deeds: NotRequired[list[Deed]]


class CautionsBook(TypedDict):
    """The cautions of the trade."""

    cautions: list[CautionRow]


class UnitQuestionBook(TypedDict):
    """What a running system mostly shows, by field, and the units that an odd reading may have been read in."""

    units: dict[str, list[str]]
    below_zero: dict[str, list[str]]
    usual: dict[str, list[float]]
    usual_r744: dict[str, list[float]]


class KindRule(TypedDict, total=False):
    """What a kind of operation does to a visit or a card."""

    does: Required[str]
    opens: bool
    list: str
    key: str
    field: str
    of: str


class KindsBook(TypedDict):
    """Every kind of operation, and the objects that are set as one value."""

    whole: list[str]
    kinds: dict[str, KindRule]


class Rulebook(TypedDict):
    """All books by name, and the editions of what judges and of the words; a phone gets its words separately."""

    hash: str
    words_hash: str
    units: dict[str, QuantityUnits]
    refrigerants: RefrigerantsBook
    saturation_R12: SaturationTable
    saturation_R134a: SaturationTable
    saturation_R1234yf: SaturationTable
    saturation_R152a: SaturationTable
    saturation_R744: SaturationTable
    atmosphere: AtmosphereTable
    water: WaterTable
    quantities: QuantitiesBook
    instruments: InstrumentsBook
    yardsticks: YardsticksBook
    distribution: DistributionBook
    checks_at_rest: ChecksAtRestBook
    comparison: ComparisonBook
    causes: CausesBook
    cautions: CautionsBook
    kinds: KindsBook
    vocabularies: dict[str, list[str]]
    fields: FieldsBook
    strips: StripsBook
    unit_question: UnitQuestionBook
    sheet_layout: SheetLayout
    currencies: CurrenciesBook
    words: NotRequired[dict[str, WordTree]]
