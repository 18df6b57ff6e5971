"""The rulebook's books, as types; keys that are codes or names are those of the data.

Nothing here reads a file; the books are data beside the code and are handed to the rules as an argument.
"""

from __future__ import annotations

from typing import NotRequired, Required, TypedDict

from sync.kernel.json_tree import Json, JsonObject

Reach = list[float]


class UnitRow(TypedDict):
    """How a unit becomes the canonical one: number times scale plus offset."""

    label: str
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

    label: Required[str]
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
    """A quantity that can be derived, and from which inputs."""

    name: str
    unit: str
    refrigerant: bool
    inputs: list[str]


class PlausibleRange(TypedDict):
    """Outside of which a reading is questioned."""

    quantity: str
    low: float
    high: float


# `as` is a word of the language.
UnitSlip = TypedDict("UnitSlip", {"as": str, "scale": float, "offset": float})


class QuantitiesBook(TypedDict):
    """What can be derived, what it needs, and what is plausible."""

    derived: list[DerivedRow]
    needs: dict[str, list[str]]
    plausible: dict[str, PlausibleRange]
    plausible_r744: dict[str, float]
    slips: dict[str, list[UnitSlip]]


class GaugeTerms(TypedDict):
    """A gauge as it is taken when nobody says otherwise."""

    span_kpa: float
    class_pct: float
    zero_kpa: float


class InstrumentTerms(TypedDict):
    """The instruments of a visit, completed."""

    low_gauge: GaugeTerms
    high_gauge: GaugeTerms
    thermometer_c: float
    hygrometer_pct: float
    common_share: float


class StationTerms(TypedDict):
    """How sure the pressure of the place is [kPa]."""

    measured_u_kpa: float
    altitude_u_kpa: float


class CyclingTerms(TypedDict):
    """What cycling adds to the uncertainty."""

    low_kpa: float
    high_kpa: float
    high_at_unknown_phase_kpa: float
    temperature_c: float


class PortTerms(TypedDict):
    """Limits of what is lost on the way to a port [kPa]."""

    suction_kpa: float
    high: dict[str, float]


class ShareTerms(TypedDict):
    """How sure the compressor's share is [share]."""

    timed: float
    command: float


class InstrumentsBook(TypedDict):
    """Defaults of the instruments and the terms of their uncertainty."""

    defaults: InstrumentTerms
    station: StationTerms
    flutter: dict[str, float]
    cycling: CyclingTerms
    ports: PortTerms
    share_u: ShareTerms


class BandsValid(TypedDict):
    """Where the bands hold."""

    ambient_c: Reach
    altitude_m: Reach


class LoadClasses(TypedDict):
    """The borders of the classes of load."""

    low_load_kj_kg: float
    high_load_kj_kg: float


class IdleTerms(TypedDict):
    """What idling does to the condenser split."""

    below_rpm: float
    split_low_k: float
    split_high_k: float


class HistoryRules(TypedDict):
    """When a vehicle's own healthy tests are a yardstick."""

    days: int
    coverage: float
    spread: dict[str, float]


class BandsBook(TypedDict):
    """What healthy cars show."""

    valid: BandsValid
    classes: LoadClasses
    widen_unsure: float
    idle: IdleTerms
    bands: dict[str, dict[str, Reach]]
    discharge_over_condensing_k: dict[str, Reach]
    superheat_k: dict[str, Reach]
    subcooling_k: dict[str, Reach]
    cycling_low_saturation_c: Reach
    history: HistoryRules


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
    """How far scale and book may lie apart."""

    apart_g: float


class ChecksAtRestBook(TypedDict):
    """Limits of what is measured beside the running tests."""

    rest: RestLimits
    settling: SettlingLimits
    evacuation: EvacuationLimits
    cleaner: CleanerLimits
    cylinder: CylinderLimits


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


# `in` is a word of the language.
CautionCondition = TypedDict(
    "CautionCondition",
    {
        "field": NotRequired[str],
        "in": NotRequired[list[Json]],
        "list": NotRequired[str],
        "codes": NotRequired[list[str]],
    },
)


class CautionRow(TypedDict):
    """A caution, and the groups of conditions of which one has to hold."""

    code: str
    when: list[list[CautionCondition]]
    text: str


class CautionsBook(TypedDict):
    """The cautions of the trade."""

    cautions: list[CautionRow]


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


class WordingBook(TypedDict):
    """Sentences by the code of an error, and words by group and code."""

    errors: dict[str, str]
    codes: dict[str, dict[str, str]]


class CauseName(TypedDict):
    """What a cause is called, how it is said to each reader, and what would confirm it."""

    name: str
    customer: str
    technician: str
    confirm: str
    takes: str
    mind: str


class CauseWords(TypedDict):
    """The words of causes, evidence and checks in one language."""

    causes: dict[str, CauseName]
    evidence: dict[str, str]
    checks: dict[str, str]
    said: dict[str, str]


class CauseWordsBook(TypedDict):
    """Of what kind each figure of evidence is, and the words by language."""

    figures: dict[str, str]
    languages: dict[str, CauseWords]


class SheetRow(TypedDict, total=False):
    """A row of the sheet's readings: its label, and the reading or derived quantity it shows, as which quantity."""

    label: Required[str]
    path: str
    derived: str
    quantity: str
    unit: str
    decimals: int
    side: str
    strong: bool
    kept: bool


class OwnNote(TypedDict):
    """A note of the sheet, and the groups of conditions of which one has to hold."""

    code: str
    text: str
    when: list[list[CautionCondition]]


class SheetWordsBook(TypedDict):
    """The sheet's rows, and its words by language, group and code."""

    on_phone: list[str]
    rows: list[SheetRow]
    conditions: list[str]
    own_notes: list[OwnNote]
    minor_digits: dict[str, int]
    languages: dict[str, JsonObject]


class Rulebook(TypedDict):
    """All books by name, and the edition of what judges under "hash"."""

    hash: str
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
    bands: BandsBook
    checks_at_rest: ChecksAtRestBook
    comparison: ComparisonBook
    causes: CausesBook
    cautions: CautionsBook
    kinds: KindsBook
    vocabularies: dict[str, list[str]]
    wording: WordingBook
    cause_words: CauseWordsBook
    sheet_words: SheetWordsBook
