"""The honest before/after: what the weather explains of a change, what the work explains, and how sure that is.

It reads inputs and derived quantities, never the desk's cycle.
"""

from __future__ import annotations

from math import sqrt
from typing import Any

from sync.errors import OutOfRange
from sync.kernel import saturation
from sync.kernel.comparability import has_move, has_work, is_regulated, notes_of, part, reasons_of
from sync.kernel.inputs import Inputs, instruments_of

Part = dict[str, Any]


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


class _Carry:
    """Carries the test after to the day of the test before; made for one pair, with every uncertain term by name."""

    def __init__(self, refrigerant: str, rulebook: dict[str, Any]) -> None:
        self.refrigerant = refrigerant
        self.rulebook = rulebook
        self.x: dict[str, float] = {}
        self.u: dict[str, float] = {}
        self.notes: list[str] = []

    def put(self, name: str, value: float, u: float) -> None:
        self.x[name] = value
        self.u[name] = u

    def split(self, side: str) -> float:
        x = self.x
        absolute = x["high_" + side] + x["high_common"] - x["drop"] + x["station"]
        return saturation.temperature_c(self.refrigerant, absolute, self.rulebook) - x["ambient_" + side]

    def work_split(self) -> float:
        """Split of the car after the work on the day before, less the split before [K]."""
        x = self.x
        carried = self.split("after") * load_factor(x["load_ratio"], x["power"])
        return carried + x["model_k"] + x["model_share"] * carried - self.split("before")

    def work_pressure(self) -> float:
        """High side of the car after the work on the day before, less the high side before [kPa]."""
        x = self.x
        condensing = x["ambient_before"] + self.split("before") + self.work_split()
        there = saturation.pressure_kpa(self.refrigerant, condensing, self.rulebook)
        return there + x["drop"] - x["station"] - x["high_common"] - x["high_before"]

    def with_u(self, pressure: bool) -> tuple[float, float]:
        """Value and standard uncertainty by central differences over every term."""

        def rule() -> float:
            return self.work_pressure() if pressure else self.work_split()

        value = rule()
        total = 0.0
        for name in self.u:
            if self.u[name] > 0.0:
                middle = self.x[name]
                self.x[name] = middle + self.u[name]
                above = rule()
                self.x[name] = middle - self.u[name]
                below = rule()
                self.x[name] = middle
                change = (above - below) / 2.0
                total = total + change * change
        return value, sqrt(total)


def _ambients(carry: _Carry, inputs: list[Inputs], own: float, book: dict[str, Any]) -> None:
    unknown = book["ambient_unknown"]
    known = [one.values.get("ambient_c") for one in inputs]
    u = [own * one.u["ambient_c"] if "ambient_c" in one.values else unknown["one_u_k"] for one in inputs]
    first, second = known
    if first is None and second is None:
        first, second = unknown["c"], unknown["c"]
        u = [unknown["both_u_k"], unknown["both_u_k"]]
    elif first is None:
        first = second
    elif second is None:
        second = first
    if known[0] is None or known[1] is None:
        carry.notes.append("ambient_not_recorded")
    carry.put("ambient_before", float(first or 0.0), u[0])
    carry.put("ambient_after", float(second or 0.0), u[1])


def _load_ratio(carry: _Carry, judged: list[Part], book: dict[str, Any]) -> None:
    terms = book["load"]
    loads = [one["derived"].get("load_kj_kg") for one in judged]
    if loads[0] is not None and loads[1] is not None:
        over = [load["value"] - terms["floor_kj_kg"] for load in loads]
        if over[0] >= terms["lowest"] and over[1] >= terms["lowest"]:
            ratio = over[0] / over[1]
            # Thermometer and hygrometer are the same in both tests: a share of each uncertainty is taken as its own.
            share = terms["own_share"]
            one, other = share * loads[0]["u"] / over[0], share * loads[1]["u"] / over[1]
            carry.put("load_ratio", ratio, ratio * sqrt(one * one + other * other))
            return
    # Without the entering air the load follows the weather a little; the guess is widened, not trusted.
    carry.notes.append("load_not_recorded")
    warmer = carry.x["ambient_before"] - carry.x["ambient_after"]
    guess = 1.0 + terms["ratio_per_k"] * warmer
    drift = terms["ratio_per_k"] * warmer
    carry.put("load_ratio", guess, sqrt(terms["ratio_u_unknown"] * terms["ratio_u_unknown"] + drift * drift))


def _carry(
    visit: dict[str, Any], pair: list[Part], judged: list[Part], inputs: list[Inputs], rulebook: dict[str, Any]
) -> _Carry:
    book = rulebook["comparison"]
    carry = _Carry((visit.get("vehicle") or {}).get("refrigerant") or "unknown", rulebook)
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
    key = "unknown" if regulated is None else "regulated" if regulated else "fixed"
    carry.put("power", book["power"][key], book["power"]["u"])
    _load_ratio(carry, judged, book)
    codes, squares = notes_of(pair, rulebook)
    for code in codes:
        carry.notes.append(code)
    carry.put("model_k", 0.0, sqrt(squares + book["spread"]["split_k"] * book["spread"]["split_k"]))
    carry.put("model_share", 0.0, book["spread"]["split_share"])
    return carry


def starved(judged: list[Part], pair: list[Part], rulebook: dict[str, Any]) -> list[str]:
    """Signs of starvation that came with a change.

    Args:
        judged: the judgements before and after [list of two]
        pair: the tests before and after [list of two]
        rulebook: the rulebook [books by name]

    Returns:
        codes [list]

    Source: the rulebook's `comparison` book (common practice, no source).
    """
    limits = rulebook["comparison"]["starvation"]
    before, after = judged[0]["derived"], judged[1]["derived"]
    found = []

    def rise(name: str) -> float | None:
        if name not in before or name not in after:
            return None
        return float(after[name]["value"] - before[name]["value"])

    vents = [part(test, "readings", "vent_c") for test in pair]
    ambients = [part(test, "conditions", "ambient_c") for test in pair]
    if vents[0] is not None and vents[1] is not None:
        warmer = 0.0
        if ambients[0] is not None and ambients[1] is not None and ambients[1] > ambients[0]:
            warmer = limits["vent_per_ambient_k"] * (ambients[1] - ambients[0])
        if vents[1] - vents[0] - warmer > limits["vent_k"]:
            found.append("vent_warmer")
    superheat, subcooling, evaporating = rise("superheat_k"), rise("subcooling_k"), rise("low_saturation_c")
    if superheat is not None and superheat > limits["superheat_k"]:
        found.append("superheat_up")
    gone = "subcooling_k" in after and after["subcooling_k"]["value"] < limits["subcooling_gone_k"]
    if subcooling is not None and gone and subcooling < -limits["subcooling_fall_k"]:
        found.append("subcooling_gone")
    if evaporating is not None and evaporating < -limits["evaporating_fall_k"]:
        found.append("low_side_down")
    return found


def _direction(work: float, u: float, rulebook: dict[str, Any]) -> str:
    reach = rulebook["comparison"]["coverage"] * u
    if work + reach < 0.0:
        return "fell"
    if work - reach > 0.0:
        return "rose"
    return "stayed"


def _verdict(direction: str, before: float, after: float, band: Part | None, evidence: Part) -> str:
    """Toward a healthy car or away from it; a fall that came with starvation is never better.

    Work on the charge may rightly raise the high side of a car that is dirty besides, so that it is not called worse.
    """
    if direction == "stayed" or band is None:
        return "not_shown"
    middle = (band["low"] + band["high"]) / 2.0
    starving = len(evidence["signs"]) > 0
    if direction == "fell":
        if starving:
            return "worse" if before <= middle or after < band["low"] else "not_shown"
        return "better" if before > middle and after >= band["low"] - evidence["slack"] else "not_shown"
    if before < band["low"] and after <= band["high"]:
        return "better"
    worse = not evidence["charged"] and (before > middle or after > band["high"])
    return "worse" if worse else "not_shown"


def _figures(name: str, raw: float, work: float, u: float, rulebook: dict[str, Any]) -> Part:
    reach = rulebook["comparison"]["coverage"] * u
    return {
        "raw_change_" + name: raw,
        "conditions_share_" + name: raw - work,
        "work_share_" + name: work,
        "interval_" + name: [work - reach, work + reach],
    }


def _nothing(name: str) -> Part:
    keys = ("raw_change_", "conditions_share_", "work_share_", "interval_")
    empty: Part = {key + name: None for key in keys}
    empty["verdict"] = "not_comparable"
    return empty


def at_floor(vents: list[float], visit: dict[str, Any], rulebook: dict[str, Any]) -> bool:
    """Whether both vents sit where freeze protection holds them (common practice: near 38-39 °F)."""
    terms = rulebook["comparison"]["vent"]
    for vent in vents:
        if not terms["floor_low_c"] <= vent <= terms["floor_high_c"]:
            return False
    return is_regulated(visit) is not None or abs(vents[1] - vents[0]) <= terms["floor_apart_k"]


def _vent(visit: dict[str, Any], pair: list[Part], inputs: list[Inputs], rulebook: dict[str, Any]) -> Part:
    terms = rulebook["comparison"]["vent"]
    vents = [one.values["vent_c"] for one in inputs]
    name = "entering_c" if "entering_c" in inputs[0].values and "entering_c" in inputs[1].values else "ambient_c"
    warmer = 0.0
    drift = terms["drift_unknown_k"]
    if name in inputs[0].values and name in inputs[1].values:
        warmer = inputs[1].values[name] - inputs[0].values[name]
        drift = abs(warmer)
    floor = at_floor(vents, visit, rulebook)
    raw = vents[1] - vents[0]
    share = 0.0 if floor else terms["per_k"] * warmer
    common = instruments_of(visit, rulebook)["common_share"]
    own = sqrt(1.0 - common) if 0.0 <= common <= 1.0 else 1.0
    squares = terms["spread_k"] * terms["spread_k"] + terms["per_k_u"] * terms["per_k_u"] * drift * drift
    for one in inputs:
        squares = squares + own * own * one.u["vent_c"] * one.u["vent_c"]
    u = sqrt(squares)
    found = _figures("k", raw, raw - share, u, rulebook)
    direction = _direction(raw - share, u, rulebook)
    observed = pair[1].get("observed") or []
    weak = "weak_air" in observed or "icing_then_warm" in observed
    if floor or direction == "stayed" or weak:
        found["verdict"] = "not_shown"
    else:
        found["verdict"] = "better" if direction == "fell" else "worse"
    return found


def _overall(parts: list[Part | None], reasons: list[str]) -> str:
    if len(reasons) > 0:
        return "not_comparable"
    words = [one["verdict"] for one in parts if one is not None]
    if "worse" in words:
        return "worse"
    if "better" in words:
        return "better"
    return "not_shown" if "not_shown" in words else "not_comparable"


def _credits(visit: dict[str, Any], rulebook: dict[str, Any]) -> list[str]:
    """What may have changed the readings beside the cleaning, named and never credited to it."""
    book = rulebook["comparison"]
    found = []
    if has_move(visit, book["refrigerant_moves"]):
        found.append("refrigerant_moved")
    if has_work(visit, book["refrigerant_work"]):
        found.append("refrigerant_work")
    return found


def _sides(carry: _Carry, judged: list[Part], inputs: list[Inputs], evidence: Part) -> list[Part]:
    pressure, u_pressure = carry.with_u(True)
    split, u_split = carry.with_u(False)
    before = carry.split("before")
    rulebook = carry.rulebook
    band = judged[0]["expected"].get("condenser_split_k")
    direction = _direction(pressure, u_pressure, rulebook)
    raw = inputs[1].values["high_kpa_g"] - inputs[0].values["high_kpa_g"]
    high = _figures("kpa", raw, pressure, u_pressure, rulebook)
    high["verdict"] = _verdict(direction, before, before + split, band, evidence)
    raw_split = carry.split("after") - before
    side = _figures("k", raw_split, split, u_split, rulebook)
    side["verdict"] = _verdict(_direction(split, u_split, rulebook), before, before + split, band, evidence)
    return [high, side]


def compare(visit: dict[str, Any], judged: list[Part], inputs: list[Inputs], rulebook: dict[str, Any]) -> Part | None:
    """The last test before against the last test after.

    Args:
        visit: the visit [JSON object]
        judged: the judgements of its tests, in their order [list]
        inputs: the inputs of its tests, in their order [list]
        rulebook: the rulebook [books by name]

    Returns:
        {pair, reference, high_side, condenser_split, vent, verdict, reasons, credits, notes}, None without a pair
        [JSON object]

    Source: design of the tool, on common practice; intervals by JCGM 100:2008, clause 5 and 6.
    """
    tests = visit.get("tests") or []
    last = {"before": -1, "after": -1}
    for i in range(len(tests)):
        if tests[i]["role"] in last:
            last[tests[i]["role"]] = i
    if last["before"] < 0 or last["after"] < 0:
        return None
    at = [last["before"], last["after"]]
    pair, two, given = [tests[i] for i in at], [judged[i] for i in at], [inputs[i] for i in at]
    reasons = reasons_of(visit, pair, two, rulebook)
    refrigerant = (visit.get("vehicle") or {}).get("refrigerant") or "unknown"
    if rulebook["refrigerants"]["refrigerants"].get(refrigerant, {}).get("table") is None:
        reasons.append("refrigerant_unknown")
    found: Part = {"pair": [test["id"] for test in pair], "reference": "before_day"}
    found.update(high_side=_nothing("kpa"), condenser_split=None, vent=None)
    notes: list[str] = []
    if len(reasons) == 0 and "high_kpa_g" in given[0].values and "high_kpa_g" in given[1].values:
        signs = starved(two, pair, rulebook)
        for sign in signs:
            notes.append(sign)
        slack = rulebook["comparison"]["band_slack_k"]
        evidence = {"signs": signs, "charged": len(_credits(visit, rulebook)) > 0, "slack": slack}
        carry = _carry(visit, pair, two, given, rulebook)
        for note in carry.notes:
            notes.append(note)
        try:
            found["high_side"], split = _sides(carry, two, given, evidence)
            if "ambient_not_recorded" not in notes:
                found["condenser_split"] = split
        except OutOfRange:
            reasons.append("out_of_table")
        if two[0]["expected"].get("condenser_split_k") is None:
            notes.append("no_healthy_band")
    elif "high_kpa_g" not in given[0].values or "high_kpa_g" not in given[1].values:
        notes.append("high_side_not_recorded")
    if "vent_c" in given[0].values and "vent_c" in given[1].values:
        if len(reasons) > 0:
            found["vent"] = _nothing("k")
        else:
            found["vent"] = _vent(visit, pair, given, rulebook)
            if at_floor([one.values["vent_c"] for one in given], visit, rulebook):
                notes.append("vent_at_floor")
    found["verdict"] = _overall([found["high_side"], found["condenser_split"], found["vent"]], reasons)
    found.update(reasons=reasons, credits=_credits(visit, rulebook), notes=notes)
    return found
