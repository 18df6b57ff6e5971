"""The honest before/after: how much of a change the weather explains, how much the work, and how certain that is.

It reads inputs and derived quantities, never the desk's ideal cycle.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from sync.errors import OutOfRange
from sync.kernel.books import Rulebook
from sync.kernel.comparability import has_move, has_work, is_regulated, number, reasons_of
from sync.kernel.conditions import way_of
from sync.kernel.inputs import Inputs, instruments_of, refrigerant_of
from sync.kernel.judgement import Comparison, Expected, JudgedTest, PressureChange, TemperatureChange, Verdict
from sync.kernel.same_day import SameDay, same_day_of
from sync.kernel.visit import Test, Visit


def starved(judged: list[JudgedTest], pair: list[Test], rulebook: Rulebook) -> list[str]:
    """Signs of starvation that appeared together with a change.

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
    signs = []

    def rise(name: str) -> float | None:
        if name not in before or name not in after:
            return None
        return float(after[name]["value"] - before[name]["value"])

    vent, vent_after = number(pair[0], "readings", "vent_c"), number(pair[1], "readings", "vent_c")
    ambient, ambient_after = number(pair[0], "conditions", "ambient_c"), number(pair[1], "conditions", "ambient_c")
    if vent is not None and vent_after is not None:
        warmer = 0.0
        if ambient is not None and ambient_after is not None and ambient_after > ambient:
            warmer = limits["vent_per_ambient_k"] * (ambient_after - ambient)
        if vent_after - vent - warmer > limits["vent_k"]:
            signs.append("vent_warmer")
    superheat, subcooling, evaporating = rise("superheat_k"), rise("subcooling_k"), rise("low_saturation_c")
    if superheat is not None and superheat > limits["superheat_k"]:
        signs.append("superheat_up")
    gone = "subcooling_k" in after and after["subcooling_k"]["value"] < limits["subcooling_gone_k"]
    if subcooling is not None and gone and subcooling < -limits["subcooling_fall_k"]:
        signs.append("subcooling_gone")
    if evaporating is not None and evaporating < -limits["evaporating_fall_k"]:
        signs.append("low_side_down")
    return signs


def _direction(work: float, u: float, rulebook: Rulebook) -> str:
    reach = rulebook["comparison"]["coverage"] * u
    if work + reach < 0.0:
        return "fell"
    if work - reach > 0.0:
        return "rose"
    return "stayed"


@dataclass(frozen=True)
class _Change:
    """What came with a change: signs of starvation, and which kinds of work were done."""

    signs: list[str]
    charged: bool
    air: bool
    condenser: bool
    other: bool
    idle: bool


def _change_of(visit: Visit, pair: list[Test], judged: list[JudgedTest], rulebook: Rulebook) -> _Change:
    kinds = rulebook["comparison"]
    return _Change(
        starved(judged, pair, rulebook),
        len(_credits(visit, rulebook)) > 0,
        has_work(visit, kinds["air_work"]),
        has_work(visit, kinds["condenser_work"]),
        has_work(visit, kinds["other_work"]),
        _idle(visit),
    )


def _idle(visit: Visit) -> bool:
    """Whether it was noted that no work was done; an empty list leaves that open."""
    work = visit.get("work") or []
    moved = len(visit.get("refrigerant_moves") or []) > 0
    return len(work) > 0 and not moved and all(item["code"] == "tested_only" for item in work)


def _verdict(direction: str, after: float, expected: Expected | None, change: _Change) -> Verdict:
    """Better if work on the condenser or its air lowered the high side, with no sign of starvation.

    After work on the refrigerant, or with changed parts, the high side says nothing; more air over the evaporator
    rightly raises it. A drop below what any healthy car shows is not an improvement.
    """
    if direction == "stayed" or expected is None or change.charged or change.other:
        return "not_shown"
    if direction == "rose":
        return "not_shown" if change.air else "worse"
    lowest = expected["low"] if expected["fleet"] is None else expected["fleet"]["low"]
    unclear = len(change.signs) > 0 or after < lowest or change.idle or (change.air and not change.condenser)
    return "not_shown" if unclear else "better"


def _superheat_back(judged: list[JudgedTest], change: _Change, rulebook: Rulebook) -> bool:
    """Whether work on the refrigerant brought the superheat back to its place."""
    if not change.charged:
        return False
    before, after = judged[0]["derived"].get("superheat_k"), judged[1]["derived"].get("superheat_k")
    expected = judged[1]["expected"].get("superheat_k")
    if before is None or after is None or expected is None:
        return False
    reach = rulebook["comparison"]["coverage"] * sqrt(before["u"] * before["u"] + after["u"] * after["u"])
    above = before["value"] > expected["high"] and after["value"] < before["value"] - reach
    return above and expected["low"] <= after["value"] <= expected["high"]


def _interval(work: float, u: float, rulebook: Rulebook) -> list[float]:
    reach = rulebook["comparison"]["coverage"] * u
    return [work - reach, work + reach]


def _temperature(raw: float, work: float, u: float, rulebook: Rulebook) -> TemperatureChange:
    """A change of temperature and the work's share of it; the verdict is added later."""
    return {
        "raw_change_k": raw,
        "conditions_share_k": raw - work,
        "work_share_k": work,
        "interval_k": _interval(work, u, rulebook),
        "verdict": "not_shown",
    }


def _no_pressure() -> PressureChange:
    return {
        "raw_change_kpa": None,
        "conditions_share_kpa": None,
        "work_share_kpa": None,
        "interval_kpa": None,
        "verdict": "not_comparable",
    }


def _no_temperature() -> TemperatureChange:
    return {
        "raw_change_k": None,
        "conditions_share_k": None,
        "work_share_k": None,
        "interval_k": None,
        "verdict": "not_comparable",
    }


def at_floor(vents: list[float], visit: Visit, rulebook: Rulebook) -> bool:
    """Whether both vents are where freeze protection holds them (common practice: near 38-39 °F)."""
    terms = rulebook["comparison"]["vent"]
    for vent in vents:
        if not terms["floor_low_c"] <= vent <= terms["floor_high_c"]:
            return False
    return is_regulated(visit) is not None or abs(vents[1] - vents[0]) <= terms["floor_apart_k"]


def _vent(
    visit: Visit, pair: list[Test], inputs: list[Inputs], beside: _Change, rulebook: Rulebook
) -> TemperatureChange:
    """The change of the vent, with the part that follows the entering air and the part due to the work."""
    terms, conditions = rulebook["comparison"]["vent"], pair[0].get("conditions") or {}
    follows = terms["follows"][way_of(conditions.get("air"), conditions.get("windows"))]
    vents = [one.values["vent_c"] for one in inputs]
    name = "entering_c" if "entering_c" in inputs[0].values and "entering_c" in inputs[1].values else "ambient_c"
    warmer = 0.0
    drift = terms["drift_unknown_k"]
    if name in inputs[0].values and name in inputs[1].values:
        warmer = inputs[1].values[name] - inputs[0].values[name]
        drift = abs(warmer)
    floor = at_floor(vents, visit, rulebook)
    raw = vents[1] - vents[0]
    share = 0.0 if floor else follows["per_k"] * warmer
    common = instruments_of(visit, rulebook)["common_share"]
    own = sqrt(1.0 - common) if 0.0 <= common <= 1.0 else 1.0
    squares = terms["spread_k"] * terms["spread_k"] + follows["u"] * follows["u"] * drift * drift
    for one in inputs:
        squares = squares + own * own * one.u["vent_c"] * one.u["vent_c"]
    u = sqrt(squares)
    change = _temperature(raw, raw - share, u, rulebook)
    direction = _direction(raw - share, u, rulebook)
    if not floor:
        change["verdict"] = _vent_verdict(direction, vents, pair[1], beside, rulebook)
    return change


def _vent_verdict(
    direction: str, vents: list[float], after: Test, change: _Change, rulebook: Rulebook
) -> Verdict:
    """Colder is better and warmer worse, unless something else explains it."""
    freezes = rulebook["comparison"]["vent"]["floor_low_c"]
    observed = after.get("observed") or []
    if direction == "stayed" or "weak_air" in observed or "icing_then_warm" in observed:
        return "not_shown"
    if direction == "fell":
        # A vent that freezes, or got colder because the evaporator starved, isn't better; doing nothing can't improve
        # it either.
        return "not_shown" if len(change.signs) > 0 or vents[1] < freezes or change.idle else "better"
    # More air warms the vent and cools the cabin, and a vent that had been freezing may warm up. After work on the
    # refrigerant, a warmer vent must not be the only sign.
    rightly = change.air or vents[0] < freezes or (change.charged and len(change.signs) < 2)
    return "not_shown" if rightly else "worse"


def _overall(verdicts: list[Verdict], reasons: list[str]) -> Verdict:
    if len(reasons) > 0:
        return "not_comparable"
    if "worse" in verdicts:
        return "worse"
    if "better" in verdicts:
        return "better"
    return "not_shown" if "not_shown" in verdicts else "not_comparable"


def _credits(visit: Visit, rulebook: Rulebook) -> list[str]:
    """What else may have changed the readings besides the cleaning; it is named and never credited to the cleaning."""
    book = rulebook["comparison"]
    credits = []
    if has_move(visit, book["refrigerant_moves"]):
        credits.append("refrigerant_moved")
    if has_work(visit, book["refrigerant_work"]):
        credits.append("refrigerant_work")
    return credits


def _sides(
    carry: SameDay, judged: list[JudgedTest], inputs: list[Inputs], change: _Change
) -> tuple[PressureChange, TemperatureChange]:
    """The high side and the condenser split, each with its verdict."""
    pressure, u_pressure, split, u_split = carry.with_u()
    before = carry.split("before")
    rulebook = carry.rulebook
    expected = judged[0]["expected"].get("condenser_split_k")
    direction = _direction(pressure, u_pressure, rulebook)
    raw = inputs[1].values["high_kpa_g"] - inputs[0].values["high_kpa_g"]
    high: PressureChange = {
        "raw_change_kpa": raw,
        "conditions_share_kpa": raw - pressure,
        "work_share_kpa": pressure,
        "interval_kpa": _interval(pressure, u_pressure, rulebook),
        "verdict": _verdict(direction, before + split, expected, change),
    }
    side = _temperature(carry.split("after") - before, split, u_split, rulebook)
    side["verdict"] = _verdict(_direction(split, u_split, rulebook), before + split, expected, change)
    return high, side


def _pair_of(tests: list[Test]) -> list[int] | None:
    """The indexes of the last test before and the last test after; None if one of them is missing."""
    before, after = -1, -1
    for i in range(len(tests)):
        if tests[i]["role"] == "before":
            before = i
        if tests[i]["role"] == "after":
            after = i
    return None if before < 0 or after < 0 else [before, after]


def _not_comparable(visit: Visit, pair: list[Test], judged: list[JudgedTest], rulebook: Rulebook) -> list[str]:
    reasons = reasons_of(visit, pair, judged, rulebook)
    refrigerant = refrigerant_of(visit)
    row = rulebook["refrigerants"]["refrigerants"].get(refrigerant)
    if row is None or row["table"] is None:
        reasons.append("refrigerant_unknown")
    return reasons


def compare(visit: Visit, judged: list[JudgedTest], inputs: list[Inputs], rulebook: Rulebook) -> Comparison | None:
    """Compares the last test before with the last test after.

    Args:
        visit: the visit [JSON object]
        judged: the judgements of its tests, in their order [list]
        inputs: the inputs of its tests, in their order [list]
        rulebook: the rulebook [books by name]

    Returns:
        {pair, reference, high_side, condenser_split, vent, verdict, reasons, credits, notes}; None without a pair
        [JSON object]

    Source: design of the tool, on common practice; intervals by JCGM 100:2008, clause 5 and 6.
    """
    tests = visit.get("tests") or []
    at = _pair_of(tests)
    if at is None:
        return None
    pair, two, figures = [tests[i] for i in at], [judged[i] for i in at], [inputs[i] for i in at]
    reasons = _not_comparable(visit, pair, two, rulebook)
    credits = _credits(visit, rulebook)
    change = None if len(reasons) > 0 else _change_of(visit, pair, two, rulebook)
    notes: list[str] = []
    high, split = _no_pressure(), None
    if "high_kpa_g" not in figures[0].values or "high_kpa_g" not in figures[1].values:
        notes.append("high_side_not_recorded")
    elif change is not None:
        carry = same_day_of(visit, pair, figures, rulebook)
        notes.extend(change.signs)
        notes.extend(carry.notes)
        try:
            high, side = _sides(carry, two, figures, change)
            if "ambient_not_recorded" not in notes:
                split = side
        except OutOfRange:
            reasons.append("out_of_table")
        if two[0]["expected"].get("condenser_split_k") is None:
            notes.append("no_healthy_band")
    vent = _vent_of(visit, pair, figures, change if len(reasons) == 0 else None, rulebook)
    if vent is not None and len(reasons) == 0 and at_floor([one.values["vent_c"] for one in figures], visit, rulebook):
        notes.append("vent_at_floor")
    verdicts = [high["verdict"]]
    if len(reasons) == 0 and change is not None and _superheat_back(two, change, rulebook):
        notes.append("superheat_back")
        verdicts.append("better")
    for part in (split, vent):
        if part is not None:
            verdicts.append(part["verdict"])
    return {
        "pair": [test["id"] for test in pair],
        "reference": "before_day",
        "high_side": high,
        "condenser_split": split,
        "vent": vent,
        "verdict": _overall(verdicts, reasons),
        "reasons": reasons,
        "credits": credits,
        "notes": notes,
    }


def _vent_of(
    visit: Visit, pair: list[Test], inputs: list[Inputs], change: _Change | None, rulebook: Rulebook
) -> TemperatureChange | None:
    """The change of the vent; None if it wasn't measured in both tests; no figures if they can't be compared."""
    if "vent_c" not in inputs[0].values or "vent_c" not in inputs[1].values:
        return None
    return _no_temperature() if change is None else _vent(visit, pair, inputs, change, rulebook)
