"""One test carried over to the day of another: the weather's load and ambient, with every uncertain term by name.

It changes no reading and gives no verdict; limits and spreads are rulebook data.
"""

from __future__ import annotations

from math import sqrt

from sync.kernel import air, saturation
from sync.kernel.books import Rulebook, SaturationTable
from sync.kernel.comparability import is_regulated, notes_of
from sync.kernel.comparison_book import ComparisonBook
from sync.kernel.conditions import moisture, way_of
from sync.kernel.inputs import Inputs, instruments_of, refrigerant_of
from sync.kernel.interpolation import between
from sync.kernel.visit import Test, Visit


def load_factor(ratio: float, power: float) -> float:
    """A ratio of loads to a power near one, without a power function.

    Args:
        ratio: load before over load after [1]
        power: exponent, 0 to 1.5 [1]

    Returns:
        close to ratio**power for ratios from 0.5 to 2 [1]

    Valid for: ratio > 0, power from 0 to 1.5.

    Source: first-order rational approximation about 1 (a Padé approximant).
    """
    return ((1.0 + power) * ratio + (1.0 - power)) / ((1.0 - power) * ratio + (1.0 + power))


class SameDay:
    """Carries the later test over to the earlier one's day; made for one pair, with every uncertain term by name."""

    def __init__(self, refrigerant: str, rulebook: Rulebook) -> None:
        self.rulebook = rulebook
        self.table: SaturationTable = saturation.table_of(refrigerant, rulebook)
        self.x: dict[str, float] = {}
        self.u: dict[str, float] = {}
        self.notes: list[str] = []

    def put(self, name: str, value: float, u: float) -> None:
        self.x[name] = value
        self.u[name] = u

    def split(self, side: str) -> float:
        x = self.x
        absolute = x["high_" + side] + x["high_common"] - x["drop"] + x["station"]
        return between(self.table["p_kpa"], self.table["t_c"], absolute) - x["ambient_" + side]

    def load(self, side: str) -> float:
        """The load above what a coil wouldn't take up, at least the lowest that tells anything [kJ/kg]."""
        x, terms = self.x, self.rulebook["comparison"]["load"]
        entering = x["entering_" + side] + x["entering_over"]
        ratio = (x["moisture_" + side] + x["outside_" + side] * x["moisture_share"]) / 1000.0
        load = air.enthalpy_kj_kg(entering, ratio) - terms["floor_kj_kg"]
        return load if load > terms["lowest"] else terms["lowest"]

    def load_ratio(self) -> float:
        """Load on the earlier day over load on the later day [1]."""
        return self.load("before") / self.load("after")

    def work(self) -> tuple[float, float]:
        """High side and split of the car after the work on the earlier day, minus those before it [kPa, K]."""
        x, before = self.x, self.split("before")
        carried = self.split("after") * load_factor(self.load_ratio(), x["power"])
        split = carried + x["model_k"] + x["model_share"] * carried - before
        there = between(self.table["t_c"], self.table["p_kpa"], x["ambient_before"] + before + split)
        return there + x["drop"] - x["station"] - x["high_common"] - x["high_before"], split

    def with_u(self) -> tuple[float, float, float, float]:
        """What `work` gives, each value followed by its standard uncertainty by central differences over every term."""
        pressure, split = self.work()
        of_pressure, of_split = 0.0, 0.0
        for name in self.u:
            if self.u[name] > 0.0:
                middle = self.x[name]
                self.x[name] = middle + self.u[name]
                above = self.work()
                self.x[name] = middle - self.u[name]
                below = self.work()
                self.x[name] = middle
                by_pressure, by_split = (above[0] - below[0]) / 2.0, (above[1] - below[1]) / 2.0
                of_pressure = of_pressure + by_pressure * by_pressure
                of_split = of_split + by_split * by_split
        return pressure, sqrt(of_pressure), split, sqrt(of_split)


def _ambients(carry: SameDay, inputs: list[Inputs], own: float, book: ComparisonBook) -> None:
    unknown = book["ambient_unknown"]
    ambients = [one.values.get("ambient_c") for one in inputs]
    u = [own * one.u["ambient_c"] if "ambient_c" in one.values else unknown["one_u_k"] for one in inputs]
    first, second = ambients
    if first is None and second is None:
        first, second = unknown["c"], unknown["c"]
        u = [unknown["both_u_k"], unknown["both_u_k"]]
    elif first is None:
        first = second
    elif second is None:
        second = first
    if ambients[0] is None or ambients[1] is None:
        carry.notes.append("ambient_not_recorded")
    carry.put("ambient_before", float(first or 0.0), u[0])
    carry.put("ambient_after", float(second or 0.0), u[1])


def _entering_air(carry: SameDay, inputs: list[Inputs], own: float, way: str) -> None:
    """The air that enters the coil; if it wasn't measured twice, the outside air and an unknown common to both."""
    terms = carry.rulebook["comparison"]["load"]
    carry.put("entering_over", 0.0, 0.0)
    if "entering_c" in inputs[0].values and "entering_c" in inputs[1].values:
        for i, side in ((0, "before"), (1, "after")):
            carry.put("entering_" + side, inputs[i].values["entering_c"], own * inputs[i].u["entering_c"])
        return
    carry.notes.append("load_not_recorded")
    guess = terms["entering_unknown"][way]
    carry.put("entering_over", guess["k"], guess["u_k"])
    for side in ("before", "after"):
        carry.put("entering_" + side, carry.x["ambient_" + side], guess["own_k"])


def _moisture(carry: SameDay, inputs: list[Inputs], way: str) -> None:
    """Moisture of the entering air: its own, or a share of the outside air's that is the same in both tests."""
    terms = carry.rulebook["comparison"]["load"]
    rulebook = carry.rulebook
    humid: list[float | None] = []
    outside: list[float | None] = []
    for one in inputs:
        values, station = one.values, one.values.get("station_kpa", carry.x["station"])
        humid.append(moisture(values.get("load_air_c"), values.get("load_humidity_pct"), station, rulebook))
        outside.append(moisture(values.get("ambient_c"), values.get("humidity_pct"), station, rulebook))
    share = terms["moisture_share"][way]
    carry.put("moisture_share", share["share"], 0.0)
    for i, side in ((0, "before"), (1, "after")):
        own, around = humid[i], outside[i]
        carry.put("moisture_" + side, 0.0, terms["moisture_own_g_kg"])
        carry.put("outside_" + side, 0.0, 0.0)
        if own is not None and humid[1 - i] is not None:
            carry.put("moisture_" + side, own, terms["moisture_own_g_kg"])
        elif around is not None and outside[1 - i] is not None:
            carry.put("outside_" + side, around, 0.0)
            carry.put("moisture_share", share["share"], share["u"])
        else:
            carry.put("outside_" + side, terms["moisture_unknown"]["g_kg"], 0.0)
            carry.put("moisture_share", 1.0, terms["moisture_unknown"]["u_share"])


def same_day_of(visit: Visit, pair: list[Test], inputs: list[Inputs], rulebook: Rulebook) -> SameDay:
    """The pair with everything that makes their days differ.

    Args:
        visit: the visit [JSON object]
        pair: the test before and the test after [list of two]
        inputs: their inputs, both with a high side [list of two]
        rulebook: the rulebook [books by name]

    Returns:
        the terms with their standard uncertainties, and notes on what wasn't recorded [by name, codes]

    Source: the rulebook's `comparison` book (common practice, no source).
    """
    book = rulebook["comparison"]
    carry = SameDay(refrigerant_of(visit), rulebook)
    common = instruments_of(visit, rulebook)["common_share"]
    own = sqrt(1.0 - common) if 0.0 <= common <= 1.0 else 1.0
    for i, side in ((0, "before"), (1, "after")):
        carry.put("high_" + side, inputs[i].values["high_kpa_g"], own * inputs[i].u["high_kpa_g"])
    carry.put("high_common", 0.0, sqrt(1.0 - own * own) * inputs[0].u["high_kpa_g"])
    carry.put("drop", 0.0, inputs[0].u["high_drop_kpa"])
    _ambients(carry, inputs, own, book)
    if "station_kpa" in inputs[0].values:
        carry.put("station", inputs[0].values["station_kpa"], inputs[0].u["station_kpa"])
    else:
        carry.notes.append("place_not_recorded")
        carry.put("station", book["place_unknown"]["station_kpa"], book["place_unknown"]["u_kpa"])
    regulated = is_regulated(visit)
    power = book["power"]["unknown"]
    if regulated is not None:
        power = book["power"]["regulated"] if regulated else book["power"]["fixed"]
    carry.put("power", power, book["power"]["u"])
    conditions = pair[0].get("conditions") or {}
    way = way_of(conditions.get("air"), conditions.get("windows"))
    _entering_air(carry, inputs, own, way)
    _moisture(carry, inputs, way)
    codes, squares = notes_of(pair, rulebook)
    for code in codes:
        carry.notes.append(code)
    carry.put("model_k", 0.0, sqrt(squares + book["spread"]["split_k"] * book["spread"]["split_k"]))
    carry.put("model_share", 0.0, book["spread"]["split_share"])
    return carry
