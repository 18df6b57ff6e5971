"""The judgement of a visit and its parts, as types: codes and values, never sentences.

Nothing here judges; what a code means in words is rulebook data.
"""

from __future__ import annotations

from typing import Literal, TypedDict

from sync.kernel.figure import Figure

Value = float | str
Verdict = Literal["better", "worse", "not_shown", "not_comparable"]


class DerivedFigure(Figure):
    """A derived quantity with its unit."""

    unit: str


class Span(TypedDict):
    """From low to high [unit of the quantity]."""

    low: float
    high: float


class OwnValue(TypedDict):
    """What this very car showed when a person marked it healthy, and when."""

    value: float
    at: str


class Expected(Span):
    """What this car would show if it were healthy, and by which yardsticks.

    `by` names the narrowest yardstick used: "history", "chart" or "fleet"; `low` and `high` come from all of them
    together. `fleet` is what healthy cars show, `chart` the maker's printed range, `history` an earlier test, each None
    if there is none. `outside` names an earlier test or chart that lies too far from the fleet to be used.
    """

    by: str
    fleet: Span | None
    chart: Span | None
    history: OwnValue | None
    outside: bool


class Levelled(TypedDict):
    """Whether a running test has settled [truth, °C, s]."""

    settled: bool
    heading_for: float
    wait_s: float


class Fault(TypedDict):
    """Readings that can't be right."""

    code: str
    fields: list[str]
    values: dict[str, Value]


class Unknown(TypedDict):
    """A quantity that is unavailable, and what it would need."""

    what: str
    code: str
    needs: list[str]


class Evidence(TypedDict):
    """What speaks for or against a cause."""

    code: str
    values: dict[str, float]


Speaks = Literal["fits", "against", "silent"]


class EvidenceRow(Evidence):
    """One thing that was measured or seen, and what it says about each cause held open."""

    on: dict[str, Speaks]


# `for` is a keyword of the language.
Cause = TypedDict("Cause", {"id": str, "fit": float, "for": list[Evidence], "against": list[Evidence]})


class Showing(TypedDict):
    """What a check would show with a cause, as a code."""

    id: str
    code: str


class NextCheck(TypedDict):
    """The check that would narrow the causes most for its minutes.

    `gain` is by how many causes the set would shrink on average; `shows` is what each cause held open would show.
    """

    what: str
    minutes: float
    separates: list[str]
    gain: float
    shows: list[Showing]


class Ranking(TypedDict):
    """The causes of what one test shows."""

    causes: list[Cause]
    undecided: list[str]
    evidence: list[EvidenceRow]
    range: list[str]
    next_check: NextCheck | None


class JudgedTest(Ranking):
    """The judgement of one running test."""

    id: str
    role: str
    faults: list[Fault]
    derived: dict[str, DerivedFigure]
    expected: dict[str, Expected]
    levelled: Levelled | None
    unknown: list[Unknown]


class RestJudgement(TypedDict):
    """A car at rest, compared with saturation."""

    excess_kpa: Figure | None
    finding: str


class VacuumJudgement(TypedDict):
    """An evacuation and its hold [Pa, Pa/min]."""

    level_pa: float
    end_pa: float | None
    rise_pa_min: float | None
    finding: str


class CleanerMix(TypedDict):
    """The mix of a coil cleaner [ml, 1]."""

    cleaner_ml: float | None
    water_ml: float | None
    water_parts: float
    per_pass_ml: float | None
    findings: list[str]


class Co2Equivalent(TypedDict):
    """The CO2 equivalent of one move [kg], and the report it rests on."""

    move: str
    kg: float
    report: str


class PressureChange(TypedDict):
    """A change of the high side: `raw` is conditions and work together; no figures if the pair can't be compared."""

    raw_change_kpa: float | None
    conditions_share_kpa: float | None
    work_share_kpa: float | None
    interval_kpa: list[float] | None
    verdict: Verdict


class TemperatureChange(TypedDict):
    """The same of the condenser split or the vent."""

    raw_change_k: float | None
    conditions_share_k: float | None
    work_share_k: float | None
    interval_k: list[float] | None
    verdict: Verdict


class Comparison(TypedDict):
    """The last test before, compared with the last test after."""

    pair: list[str]
    reference: str
    high_side: PressureChange
    condenser_split: TemperatureChange | None
    vent: TemperatureChange | None
    verdict: Verdict
    reasons: list[str]
    credits: list[str]
    notes: list[str]


class CyclePoint(TypedDict):
    """A corner of the ideal cycle [kJ/kg, kPa absolute]."""

    kj_kg: float
    kpa: float


class CycleOfTest(TypedDict):
    """The corners of one test's cycle, in the order of the circuit."""

    points: list[CyclePoint]


class Cycle(TypedDict):
    """The ideal cycles, which only the desk calculates, and how the work changed the work per unit of cooling."""

    tests: dict[str, CycleOfTest]
    work_change: Figure | None


class Assessment(TypedDict):
    """The judgement of one visit."""

    visit: str
    rulebook: str
    app: str
    rest: RestJudgement | None
    vacuum: VacuumJudgement | None
    cleaner: CleanerMix | None
    tests: list[JudgedTest]
    comparison: Comparison | None
    cycle: Cycle | None
    co2e: list[Co2Equivalent]
