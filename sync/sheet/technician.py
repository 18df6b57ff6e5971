"""The sheet's part for the technician: the cycles on the dome of saturation, and this vehicle's visits side by side.

It takes what was calculated and draws nothing; no verdict comes from here.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from sync.kernel.figure import Figure
from sync.kernel.judgement import Assessment, CyclePoint
from sync.kernel.visit import Test, Visit
from sync.physics import cycle
from sync.sheet.blocks import named_refrigerant
from sync.sheet.plot_data import CircuitPlot, Course, TechnicianPlot, VisitMark, VisitsPlot
from sync.sheet.readings import COVERAGE, value_at
from sync.sheet.sheet_data import DrawingsBlock, EarlierTest
from sync.sheet.wording import Phrases, moment, sentence

SPLIT = "condenser_split_k"
# More marks than these can't be told apart in a picture as wide as a thumb; the latest ones matter.
EARLIER_MOST = 6


class Shown(NamedTuple):
    """A test as a mark of the drawing: its figures, and its role or "earlier"."""

    test: EarlierTest
    mark: str


def block(visit: Visit, assessment: Assessment, earlier: Sequence[EarlierTest], tests: list[Test],
          phrases: Phrases) -> DrawingsBlock | None:
    """The part for the technician.

    Args:
        visit: the visit [Visit]
        assessment: its judgement [Assessment]
        earlier: this vehicle's earlier visits as from `summary`, oldest first [list]
        tests: the tests set side by side [list]
        phrases: words and units of the reader [Phrases]

    Returns:
        the block; None if there is neither a cycle nor an earlier visit [DrawingsBlock]
    """
    circuit = _circuit(visit, assessment, tests, phrases)
    plots: list[TechnicianPlot] = [plot for plot in (circuit, _visits(assessment, earlier, tests, phrases)) if plot]
    if not plots:
        return None
    title = phrases.say("section", "drawings" if circuit else "visits")
    return {"name": "technician", "kind": "drawings", "title": title, "plots": plots,
            "notes": [" ".join(_cycle_notes(assessment, tests, phrases))] if circuit else []}


def summary(visit: Visit, assessment: Assessment) -> EarlierTest | None:
    """What a later sheet of the same vehicle shows of a visit: its last state, after the work if there was work.

    Args:
        visit: the visit [Visit]
        assessment: its judgement [Assessment]

    Returns:
        its figures; None if no test has them [EarlierTest]
    """
    tests = visit.get("tests") or []
    by_role = {test["role"]: test for test in tests}
    test = by_role.get("after") or by_role.get("single") or (tests[-1] if tests else None)
    return None if test is None else _figures(test, assessment)


def _figures(test: Test, assessment: Assessment) -> EarlierTest | None:
    derived = {judged["id"]: judged["derived"] for judged in assessment["tests"]}
    split = derived[test["id"]].get(SPLIT)
    ambient, high = value_at(test, "conditions.ambient_c"), value_at(test, "readings.high_kpa_g")
    if ambient is None or (split is None and high is None):
        return None
    return {"at": test["at"], "ambient_c": ambient, "split": split, "high_kpa_g": high}


def _circuit(visit: Visit, assessment: Assessment, tests: list[Test], phrases: Phrases) -> CircuitPlot | None:
    cycles = assessment["cycle"]["tests"] if assessment["cycle"] else {}
    shown = [test for test in tests if test["id"] in cycles]
    code = (visit.get("vehicle") or {}).get("refrigerant") or ""
    row = phrases.rulebook["refrigerants"]["refrigerants"].get(code)
    fluid = row["fluid"] if row else None
    if not shown or not fluid:
        return None
    derived = {judged["id"]: judged["derived"] for judged in assessment["tests"]}
    lowest = min(derived[test["id"]]["low_saturation_c"]["value"] for test in shown)
    unit, heat = phrases.unit("pressure"), phrases.say("enthalpy", phrases.unit_of("temperature"))
    listed = phrases.semicolons([_cycle_alt(test, cycles[test["id"]]["points"], phrases) for test in shown])
    return {
        "kind": "circuit", "axis": phrases.say("technician", "circuit_axis", unit=unit),
        "across": phrases.say("technician", "circuit_across", unit=heat),
        "dome": [_place(point, phrases) for point in cycle.dome(fluid, lowest - 8.0)],
        "cycles": [_cycle(test, cycles[test["id"]]["points"], phrases) for test in shown],
        "alt": phrases.say("technician", "circuit_alt", refrigerant=named_refrigerant(code, phrases), cycles=listed),
        "decimal": phrases.formats.point,
    }


def _cycle(test: Test, points: list[CyclePoint], phrases: Phrases) -> Course:
    return {"label": phrases.code("role", test["role"]), "points": [_place(point, phrases) for point in points],
            "dashed": test["role"] == "before"}


def _cycle_alt(test: Test, points: list[CyclePoint], phrases: Phrases) -> str:
    low, high = (phrases.figure("pressure", point["kpa"]) for point in (points[0], points[1]))
    return phrases.say("technician", "circuit_cycle", role=phrases.code("role", test["role"]), low=low, high=high,
                       unit=phrases.unit("pressure"))


def _place(point: CyclePoint, phrases: Phrases) -> list[float]:
    """A place in the diagram; rounded, so that the last bits of a library don't make another sheet."""
    one = phrases.rulebook["sheet_layout"]["enthalpy_kj_kg"][phrases.unit_of("temperature")]
    return [round(point["kj_kg"] / one, 2), round(phrases.in_unit("pressure", point["kpa"]), 4)]


def _cycle_notes(assessment: Assessment, tests: list[Test], phrases: Phrases) -> list[str]:
    notes = [phrases.say("technician", "saturated")]
    derived = {judged["id"]: judged["derived"] for judged in assessment["tests"]}
    cops = [(test, derived[test["id"]]["ideal_cop"]) for test in tests if "ideal_cop" in derived[test["id"]]]
    texts = [phrases.say("technician", "cop_one", role=phrases.code("role", test["role"]),
                         value=phrases.number(cop["value"], 1), spread=phrases.number(COVERAGE * cop["u"], 1))
             for test, cop in cops]
    if texts:
        notes.append(phrases.say("technician", "cop", list=phrases.row(texts)))
    change = assessment["cycle"]["work_change"] if assessment["cycle"] else None
    if change and len(texts) > 1:
        key = "work_less" if change["value"] < 0 else "work_more"
        notes.append(phrases.say("technician", key, value=phrases.number(abs(change["value"]) * 100, 0),
                                 spread=phrases.number(COVERAGE * change["u"] * 100, 0)))
    return [sentence(text) for text in notes]


def _visits(assessment: Assessment, earlier: Sequence[EarlierTest], tests: list[Test],
            phrases: Phrases) -> VisitsPlot | None:
    now = [Shown(figures, test["role"]) for test in tests if (figures := _figures(test, assessment))]
    shown = [*(Shown(test, "earlier") for test in earlier[-EARLIER_MOST:]), *now]
    if not earlier or not now:
        return None
    # One quantity for all marks: the split if every visit has it, otherwise the high side as read.
    by_split = all(each.test["split"] for each in shown)
    axis, quantity = ("visits_split", "temperature_difference") if by_split else ("visits_high", "pressure")
    values = [(each, value) for each in shown if (value := _value(each.test, by_split))]
    if len({each.mark == "earlier" for each, _ in values}) < 2:
        return None
    points = [_point(each, value, quantity, phrases) for each, value in values]
    named = phrases.say("technician", axis, unit=phrases.unit(quantity))
    across = phrases.say("technician", "visits_across", unit=phrases.unit("temperature"))
    listed = phrases.semicolons([
        phrases.say("technician", "visits_point", label=point["label"], value=phrases.figure(quantity, value["value"]),
                    ambient=phrases.figure("temperature", each.test["ambient_c"]))
        for point, (each, value) in zip(points, values, strict=True)])
    return {"kind": "visits", "axis": named, "across": across, "points": points,
            "alt": phrases.say("technician", "visits_alt", axis=named, across=across, points=listed),
            "decimal": phrases.formats.point}


def _value(test: EarlierTest, by_split: bool) -> Figure | None:
    """The split, or the high side, for which the instrument's own uncertainty isn't drawn."""
    high = test["high_kpa_g"]
    return test["split"] if by_split else None if high is None else {"value": high, "u": 0.0}


def _point(shown: Shown, figure: Figure, quantity: str, phrases: Phrases) -> VisitMark:
    at = moment(shown.test["at"])
    label = phrases.code("role", shown.mark) if shown.mark != "earlier" else phrases.formats.short_day(at)
    low, high = (phrases.in_unit(quantity, figure["value"] + sign * COVERAGE * figure["u"]) for sign in (-1.0, 1.0))
    return {"x": phrases.in_unit("temperature", shown.test["ambient_c"]),
            "y": phrases.in_unit(quantity, figure["value"]), "low": low, "high": high, "label": label,
            "mark": shown.mark}
