"""The sheet's part for the technician: the cycles on the dome of saturation, and this vehicle's visits side by side.

It takes what was worked out and draws nothing; no verdict is read from here.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sync.physics import cycle
from sync.sheet.blocks import named_refrigerant
from sync.sheet.readings import COVERAGE, Test, value_at
from sync.sheet.wording import Phrases, moment, sentence

Visit = dict[str, Any]
SPLIT = "condenser_split_k"
# More marks than these cannot be told apart on a picture a thumb wide; the latest are the ones that matter.
EARLIER_MOST = 6


def block(visit: Visit, assessment: dict[str, Any], earlier: Sequence[dict[str, Any]], tests: list[Test],
          phrases: Phrases) -> dict[str, Any] | None:
    """The part for the technician.

    Args:
        visit: the visit [design shape]
        assessment: its assessment [design shape]
        earlier: this vehicle's earlier visits as from `summary`, oldest first [list]
        tests: the tests set side by side [list]
        phrases: words and units of the reader [object]

    Returns:
        {kind, title, plots, notes}, None where there is neither a cycle nor an earlier visit [plain data]
    """
    circuit = _circuit(visit, assessment, tests, phrases)
    plots = [plot for plot in (circuit, _visits(visit, assessment, earlier, tests, phrases)) if plot]
    if not plots:
        return None
    return {"kind": "drawings", "title": phrases.say("section", "technician"), "plots": plots,
            "notes": [" ".join(_cycle_notes(assessment, tests, phrases))] if circuit else []}


def summary(visit: Visit, assessment: dict[str, Any]) -> dict[str, Any] | None:
    """What a later sheet of the same vehicle shows of a visit: its last word, after the work where there was work.

    Args:
        visit: the visit [design shape]
        assessment: its assessment [design shape]

    Returns:
        {at, ambient_c, split: {value, u} or None, high_kpa_g or None}, None where no test says it [°C, K, kPa]
    """
    tests = visit.get("tests") or []
    by_role = {test.get("role"): test for test in tests}
    test = by_role.get("after") or by_role.get("single") or (tests[-1] if tests else None)
    return None if test is None else _told(test, assessment)


def _told(test: Test, assessment: dict[str, Any]) -> dict[str, Any] | None:
    derived = {entry["id"]: entry.get("derived") or {} for entry in assessment.get("tests") or []}
    split = derived.get(test["id"], {}).get(SPLIT)
    ambient, high = value_at(test, "conditions.ambient_c"), value_at(test, "readings.high_kpa_g")
    if ambient is None or (split is None and high is None):
        return None
    return {"at": test["at"], "ambient_c": ambient, "split": split, "high_kpa_g": high}


def _circuit(visit: Visit, assessment: dict[str, Any], tests: list[Test], phrases: Phrases) -> dict[str, Any] | None:
    held = (assessment.get("cycle") or {}).get("tests") or {}
    shown = [test for test in tests if test["id"] in held]
    code = (visit.get("vehicle") or {}).get("refrigerant")
    fluid = (phrases.rulebook["refrigerants"]["refrigerants"].get(code) or {}).get("fluid")
    if not shown or not fluid:
        return None
    derived = {entry["id"]: entry.get("derived") or {} for entry in assessment.get("tests") or []}
    lowest = min(derived[test["id"]]["low_saturation_c"]["value"] for test in shown)
    cycles = [_cycle(test, held[test["id"]]["points"], phrases) for test in shown]
    unit = phrases.unit("pressure")
    said = phrases.words["list"]["semicolon"].join(one["said"] for one in cycles)
    return {
        "kind": "circuit", "axis": phrases.say("technician", "circuit_axis", unit=unit),
        "across": phrases.say("technician", "circuit_across"),
        "dome": [_place(point, phrases) for point in cycle.dome(fluid, lowest - 8.0)],
        "cycles": [{key: one[key] for key in ("label", "points", "dashed")} for one in cycles],
        "alt": phrases.say("technician", "circuit_alt", refrigerant=named_refrigerant(code, phrases), cycles=said),
        "decimal": phrases.words["number"]["point"],
    }


def _cycle(test: Test, points: list[dict[str, float]], phrases: Phrases) -> dict[str, Any]:
    role = test.get("role") or "single"
    low, high = (phrases.figure("pressure", point["kpa"]) for point in (points[0], points[1]))
    said = phrases.say("technician", "circuit_cycle", role=phrases.code("role", role), low=low, high=high,
                       unit=phrases.unit("pressure"))
    return {"label": phrases.code("role", role), "points": [_place(point, phrases) for point in points],
            "dashed": role == "after", "said": said}


def _place(point: dict[str, float], phrases: Phrases) -> list[float]:
    """A place of the diagram; rounded, so that the last bits of a library do not make another sheet."""
    return [round(point["kj_kg"], 2), round(phrases.in_unit("pressure", point["kpa"]), 4)]


def _cycle_notes(assessment: dict[str, Any], tests: list[Test], phrases: Phrases) -> list[str]:
    said = [phrases.say("technician", "saturated")]
    derived = {entry["id"]: entry.get("derived") or {} for entry in assessment.get("tests") or []}
    cops = [(test, derived[test["id"]]["ideal_cop"]) for test in tests if "ideal_cop" in derived.get(test["id"], {})]
    named = [phrases.say("technician", "cop_one", role=phrases.code("role", test.get("role") or "single"),
                         value=phrases.number(part["value"], 1), spread=phrases.number(COVERAGE * part["u"], 1))
             for test, part in cops]
    if named:
        said.append(phrases.say("technician", "cop", list=phrases.row(named)))
    change = (assessment.get("cycle") or {}).get("work_change")
    if change and len(named) > 1:
        key = "work_less" if change["value"] < 0 else "work_more"
        said.append(phrases.say("technician", key, value=phrases.number(abs(change["value"]) * 100, 0),
                                spread=phrases.number(COVERAGE * change["u"] * 100, 0)))
    return [sentence(text) for text in said]


def _visits(visit: Visit, assessment: dict[str, Any], earlier: Sequence[dict[str, Any]], tests: list[Test],
            phrases: Phrases) -> dict[str, Any] | None:
    now = [(told, test.get("role") or "single") for test in tests if (told := _told(test, assessment))]
    entries = [*((told, "earlier") for told in earlier[-EARLIER_MOST:]), *now]
    if not earlier or not now:
        return None
    # One quantity for all marks: the split where every visit has it, else the high side as read.
    if all(told["split"] for told, _ in entries):
        axis, quantity, part = "visits_split", "temperature_difference", "split"
    else:
        axis, quantity, part = "visits_high", "pressure", "high_kpa_g"
        entries = [(told, mark) for told, mark in entries if told["high_kpa_g"] is not None]
    if len({mark == "earlier" for _, mark in entries}) < 2:
        return None
    points = [_point(told, mark, (quantity, part), phrases) for told, mark in entries]
    named = phrases.say("technician", axis, unit=phrases.unit(quantity))
    across = phrases.say("technician", "visits_across", unit=phrases.unit("temperature"))
    said = phrases.words["list"]["semicolon"].join(point.pop("said") for point in points)
    return {"kind": "visits", "axis": named, "across": across, "points": points,
            "alt": phrases.say("technician", "visits_alt", axis=named, across=across, points=said),
            "decimal": phrases.words["number"]["point"]}


def _point(told: dict[str, Any], mark: str, shown: tuple[str, str], phrases: Phrases) -> dict[str, Any]:
    quantity, part = shown
    value, u = (told[part]["value"], told[part]["u"]) if part == "split" else (told[part], 0.0)
    at = moment(told["at"])
    label = phrases.code("role", mark) if mark != "earlier" else phrases.say(
        "technician", "visits_label", day=str(at.day), month=phrases.words["months"][at.month - 1][:3],
        year=str(at.year))
    said = phrases.say("technician", "visits_point", label=label, value=phrases.figure(quantity, value),
                       ambient=phrases.figure("temperature", told["ambient_c"]))
    low, high = (phrases.in_unit(quantity, value + sign * COVERAGE * u) for sign in (-1.0, 1.0))
    return {"x": phrases.in_unit("temperature", told["ambient_c"]), "y": phrases.in_unit(quantity, value),
            "low": low, "high": high, "label": label, "mark": mark, "said": said}
