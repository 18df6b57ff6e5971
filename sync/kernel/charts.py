"""The maker's chart of a vehicle, read at the weather of a test.

How near a chart must be, and what its conditions leave open, is rulebook data. Nothing is judged here.
"""

from __future__ import annotations

from dataclasses import dataclass

from sync.errors import OutOfRange, UnknownName
from sync.kernel.books import ChartTerms, Rulebook
from sync.kernel.conditions import Surroundings, codes_of, moisture, settings_at, way_of
from sync.kernel.judgement import Span
from sync.kernel.quantities import AboveCritical, Substance
from sync.kernel.ranking import Settings
from sync.kernel.vehicle import Chart, ChartRow
from sync.kernel.visit import Test, Visit


@dataclass(frozen=True)
class ChartReading:
    """What a chart prints for a test: spans by quantity, what its conditions leave open [K], and its surroundings."""

    spans: dict[str, Span]
    open_k: float
    settings: Settings


@dataclass(frozen=True)
class _Between:
    """Two rows around an ambient temperature, and how far along it lies; beyond the ends, the end row twice."""

    below: ChartRow
    above: ChartRow
    share: float


def _rows_at(chart: Chart, ambient: float, terms: ChartTerms) -> _Between | None:
    """The rows around an ambient temperature; None if it is too far beyond the ends."""
    below: ChartRow | None = None
    above: ChartRow | None = None
    for row in chart["rows"]:
        at = float(row["ambient_c"])
        if at <= ambient and (below is None or at > float(below["ambient_c"])):
            below = row
        if at >= ambient and (above is None or at < float(above["ambient_c"])):
            above = row
    if below is None and above is not None:
        return _Between(above, above, 0.0) if float(above["ambient_c"]) - ambient <= terms["beyond_k"] else None
    if above is None and below is not None:
        return _Between(below, below, 0.0) if ambient - float(below["ambient_c"]) <= terms["beyond_k"] else None
    if below is None or above is None:
        return None
    width = float(above["ambient_c"]) - float(below["ambient_c"])
    return _Between(below, above, 0.0 if width == 0.0 else (ambient - float(below["ambient_c"])) / width)


def _part(between: _Between, low: list[float] | None, high: list[float] | None, end: int) -> float | None:
    return None if low is None or high is None else _number(between, low[end], high[end])


def _number(between: _Between, low: float | None, high: float | None) -> float | None:
    if low is None or high is None:
        return None
    return float(low) + between.share * (float(high) - float(low))


def _spans(between: _Between, ambient: float, substance: Substance, station_kpa: float) -> dict[str, Span]:
    """The printed ranges as quantities: pressures through saturation at the book's place, the vent as printed."""
    spans: dict[str, Span] = {}
    below, above = between.below, between.above
    sides = (
        ("low_saturation_c", below.get("low_kpa_g"), above.get("low_kpa_g"), 0.0),
        ("condenser_split_k", below.get("high_kpa_g"), above.get("high_kpa_g"), ambient),
    )
    for name, one, other, less in sides:
        low, high = _part(between, one, other, 0), _part(between, one, other, 1)
        if low is None or high is None:
            continue
        try:
            spans[name] = {
                "low": substance.saturation_c(low + station_kpa) - less,
                "high": substance.saturation_c(high + station_kpa) - less,
            }
        except (OutOfRange, AboveCritical, UnknownName):
            # A range beyond the table can't be a yardstick; on the card it stays as entered.
            continue
    cold, warm = _part(between, below.get("vent_c"), above.get("vent_c"), 0), _part(
        between, below.get("vent_c"), above.get("vent_c"), 1
    )
    if cold is not None and warm is not None:
        spans["vent_c"] = {"low": cold, "high": warm}
    return spans


def _alike(chart: Chart, test: Test, terms: ChartTerms) -> bool:
    """Whether blower, air, windows and speed were those that the chart states."""
    conditions = test.get("conditions") or {}
    for stated, taken in (
        (chart.get("blower"), conditions.get("blower")),
        (chart.get("air"), conditions.get("air")),
        (chart.get("windows"), conditions.get("windows")),
    ):
        if stated is not None and stated != taken:
            return False
    stated_rpm, rpm = chart.get("rpm"), conditions.get("rpm")
    return stated_rpm is None or (rpm is not None and abs(float(rpm) - float(stated_rpm)) <= terms["rpm"])


def _chart_settings(
    chart: Chart, between: _Between, scene: tuple[Visit, Test], ambient: float, rulebook: Rulebook
) -> Settings:
    """The surroundings for which the chart prints its ranges."""
    visit, test = scene
    station = rulebook["yardsticks"]["chart"]["station_kpa"]
    inlet = _number(between, between.below.get("inlet_c"), between.above.get("inlet_c"))
    damp = _number(between, between.below.get("humidity_pct"), between.above.get("humidity_pct"))
    way, rpm = way_of(chart.get("air"), chart.get("windows")), chart.get("rpm")
    if inlet is None and (way == "open" or way == "outside"):
        inlet = ambient
    around: Surroundings = {
        "ambient_c": ambient,
        "entering_c": inlet,
        "humidity_g_kg": None,
        "outside_g_kg": moisture(ambient, damp, station, rulebook),
        "rpm": None if rpm is None else float(rpm),
        "way": way,
    }
    codes = codes_of(visit, test)
    codes["blower"] = chart.get("blower") or codes["blower"]
    codes["air"] = chart.get("air") or codes["air"]
    return settings_at(around, codes, rulebook["causes"]["settings"])


def chart_of(visit: Visit, test: Test, substance: Substance, rulebook: Rulebook) -> ChartReading | None:
    """What the maker's chart prints for the weather of a test.

    Args:
        visit: the visit with `vehicle.chart` [JSON object]
        test: the test [JSON object]
        substance: the refrigerant in the circuit [object]
        rulebook: the rulebook [books by name]

    Returns:
        spans by quantity, what they leave open and their surroundings; None without a chart, without an ambient
        temperature, or too far from its rows [°C, K]

    Source: the rulebook's `yardsticks` book, `chart`.
    """
    chart = (visit.get("vehicle") or {}).get("chart")
    ambient = (test.get("conditions") or {}).get("ambient_c")
    if chart is None or ambient is None:
        return None
    terms = rulebook["yardsticks"]["chart"]
    between = _rows_at(chart, float(ambient), terms)
    if between is None:
        return None
    there = _held(float(ambient), between)
    spans = _spans(between, there, substance, terms["station_kpa"])
    open_k = terms["open_k"] if _alike(chart, test, terms) else terms["differs_k"]
    return ChartReading(spans, open_k, _chart_settings(chart, between, (visit, test), there, rulebook))


def _held(ambient: float, between: _Between) -> float:
    """The nearest ambient temperature within the chart's rows [°C]."""
    low, high = float(between.below["ambient_c"]), float(between.above["ambient_c"])
    if ambient < low:
        return low
    return high if ambient > high else ambient
