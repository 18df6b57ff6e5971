"""What speaks for or against a cause in one test: deviations from a healthy car's middle, and what was seen or not.

Middles, spreads and the ways of regulating are rulebook data. Nothing is ranked here.
"""

from __future__ import annotations

from sync.kernel.bands import class_of
from sync.kernel.books import Rulebook
from sync.kernel.causes_book import CausesBook, ExpectedRow
from sync.kernel.combined import combined_of
from sync.kernel.inputs import root_sum
from sync.kernel.judgement import Band, DerivedFigure, Fault, JudgedTest
from sync.kernel.ranking import Facts, Look, Middle, Settings, TestEvidence, View
from sync.kernel.visit import Figure, Test, Visit


def factor(z: float) -> float:
    """How well a deviation of z standard uncertainties agrees: 1 at none, falling slowly far out.

    Args:
        z: distance in standard uncertainties [1]

    Returns:
        1 / (1 + z²/7)⁴, the shape of Student's t with seven degrees of freedom [1]

    Source: Lange, Little and Taylor 1989, robust modelling with the t distribution, from memory.
    """
    part = 1.0 + z * z / 7.0
    square = part * part
    return 1.0 / (square * square)


def often_of(row: dict[str, float], cause: str) -> float:
    """How often a sight is noticed with a cause.

    Args:
        row: the sight's row in the `causes` book [JSON object]
        cause: its id [code]

    Returns:
        that of the cause, or of all that the row does not name [share]

    Source: the rulebook's `causes` book.
    """
    return row[cause] if cause in row else row["else"]


def shift_of(pattern: list[float], name: str, book: CausesBook) -> float:
    """How far a pattern moves a quantity.

    Args:
        pattern: its row in the `causes` book, a shift for each of its columns [list]
        name: the quantity [name]
        book: the rulebook's `causes` book [JSON object]

    Returns:
        the shift [unit of the quantity]

    Source: the rulebook's `causes` book.
    """
    return pattern[book["columns"][name]]


def regimes_of(visit: Visit, test: Test, book: CausesBook) -> dict[str, float]:
    """The ways of regulating a test's readings are held against, each with its weight.

    Args:
        visit: the visit, for the compressor on file [JSON object]
        test: the test, for how the compressor ran [JSON object]
        book: the rulebook's `causes` book [JSON object]

    Returns:
        {regime: weight}; all that may be where the type, or how it ran, is not known [share]

    Source: common practice, no source.
    """
    weights = book["regimes"]
    vehicle = visit.get("vehicle") or {}
    kind, metering = vehicle.get("compressor"), vehicle.get("metering")
    running = (test.get("readings") or {}).get("running")
    if kind is not None and kind in weights["compressor"]:
        regimes = dict(weights["compressor"][kind])
    elif running is not None and running in weights["running"]:
        regimes = dict(weights["running"][running])
    else:
        regimes = dict(weights["unknown"])
    switched = regimes.pop("switched") if "switched" in regimes else 0.0
    never = _row(weights["never_off"], running)
    orifice = _row(weights["orifice"], metering)
    for regime, weight in (
        ("cycling_valve", switched * (1.0 - never) * (1.0 - orifice)),
        ("cycling_orifice", switched * (1.0 - never) * orifice),
        ("never_off", switched * never),
    ):
        if weight > 0.0:
            regimes[regime] = weight
    return regimes


def _row(rows: dict[str, float], key: str | None) -> float:
    """What a table says of a code, or of all that it does not name."""
    return rows[key] if key is not None and key in rows else rows["else"]


def _settings(visit: Visit, test: Test, derived: dict[str, DerivedFigure], rulebook: Rulebook) -> Settings:
    """What the middles move with: distances from the book's own settings, codes, and how much wider they get."""
    vehicle, conditions, readings = visit.get("vehicle") or {}, test.get("conditions") or {}, test.get("readings") or {}
    refrigerant = vehicle.get("refrigerant")
    row = rulebook["refrigerants"]["refrigerants"].get(refrigerant or "unknown")
    trust = 0.0 if row is None else row["trust"]
    usual, load, rpm = rulebook["causes"]["settings"], derived.get("load_kj_kg"), conditions.get("rpm")
    sure = class_of(test, derived, rulebook)[1]
    return {
        "load": 0.0 if load is None else (load["value"] - usual["load_kj_kg"]) / 10.0,
        "load_u": usual["load_unknown_kj_kg"] / 10.0 if load is None else load["u"] / 10.0,
        "ambient": (float(conditions["ambient_c"]) - usual["ambient_c"]) / 10.0,
        "rpm": 0.0 if rpm is None else (float(rpm) - usual["rpm"]) / 1000.0,
        "rpm_u": usual["rpm_unknown"] / 1000.0 if rpm is None else 0.0,
        "codes": {
            "blower": conditions.get("blower"),
            "air": conditions.get("air"),
            "refrigerant": refrigerant,
            "high_port": readings.get("high_port"),
            "suction_at": readings.get("suction_at"),
            "exchanger": "fitted" if vehicle.get("internal_exchanger") is True else None,
            "compressor": vehicle.get("compressor") or "unknown",
            "metering": vehicle.get("metering"),
        },
        "widen": 2.0 - trust + (0.0 if sure else rulebook["bands"]["widen_unsure"]),
    }


def _moved(row: ExpectedRow, settings: Settings) -> float:
    """What a row's middle moves by with load, ambient and speed, and with the codes it knows."""
    middle = (
        row["centre"]
        + row["per_10_kj_kg"] * settings["load"]
        + row["per_10_k"] * settings["ambient"]
        + row["per_1000_rpm"] * settings["rpm"]
    )
    for name in row["by"]:
        code = settings["codes"][name]
        if code is not None and code in row["by"][name]:
            middle = middle + row["by"][name][code]
    return middle


def middle_of(row: ExpectedRow, band: Band | None, settings: Settings) -> Middle | None:
    """A healthy car's middle for a quantity at a test's settings, and how far cars lie around it.

    Args:
        row: the quantity's row for one regime in the `causes` book [JSON object]
        band: its expected band, None where there is none [{low, high, by}]
        settings: what the middles move with [by name]

    Returns:
        middle and standard uncertainty; None for a quantity that needs a band and has none [unit of the quantity]

    Source: the rulebook's `causes` and `bands` books; the vehicle's own history goes before both.
    """
    if band is not None and band["by"] == "history":
        return (band["low"] + band["high"]) / 2.0, (band["high"] - band["low"]) / 4.0
    middle = _moved(row, settings)
    if row["from"] == "band":
        if band is None:
            return None
        middle = middle + (band["low"] + band["high"]) / 2.0
    parts = [row["spread"], row["per_10_kj_kg"] * settings["load_u"], row["per_1000_rpm"] * settings["rpm_u"]]
    return middle, root_sum(parts) * settings["widen"]


def _of_bands(middles: dict[str, Middle], expected: dict[str, Band], book: CausesBook) -> dict[str, Middle] | None:
    """The same middles taken from the bands themselves, None where that would tell nothing else."""
    others = dict(middles)
    apart = False
    for name in book["views"]["quantities"]:
        band = expected.get(name)
        if band is not None and band["by"] == "band":
            middle = (band["low"] + band["high"]) / 2.0
            others[name] = (middle, (band["high"] - band["low"]) / 4.0)
            if abs(middle - middles[name][0]) > book["views"]["apart"] * middles[name][1]:
                apart = True
    return others if apart else None


def views_of(
    regimes: dict[str, float], judged: JudgedTest, settings: Settings, book: CausesBook
) -> list[View]:
    """The ways to look at a test: each regime, by the settings' middles and by the bands' where these are apart.

    Args:
        regimes: the regimes with their weights [by name]
        judged: the test's derived quantities and expected bands [JSON object]
        settings: what the middles move with [by name]
        book: the rulebook's `causes` book [JSON object]

    Returns:
        [{regime, weight, middles: {name: [middle, spread]}}] [unit of each quantity]

    Source: the rulebook's `causes` and `bands` books. Cars differ more than either knows, so both are held open.
    """
    views: list[View] = []
    for regime in regimes:
        middles: dict[str, Middle] = {}
        for name in book["expected"][regime]:
            middle = middle_of(book["expected"][regime][name], judged["expected"].get(name), settings)
            if middle is not None:
                middles[name] = middle
        middles["rest_excess_kpa"] = (0.0, book["rest"]["spread_kpa"])
        views.append({"regime": regime, "weight": regimes[regime], "middles": middles})
        other = _of_bands(middles, judged["expected"], book)
        if other is not None:
            views.append({"regime": regime, "weight": regimes[regime] * book["views"]["weight"], "middles": other})
    return views


def _doubted(faults: list[Fault]) -> list[str]:
    """The readings that cannot be right; they are evidence of nothing."""
    fields: list[str] = []
    for fault in faults:
        fields.extend(fault["fields"])
    return fields


def _known_better(name: str, expected: dict[str, Band], book: CausesBook) -> bool:
    """Whether the car's own history speaks of a reading that a joined quantity shares; other cars then say less."""

    def own(quantity: str) -> bool:
        return quantity in expected and expected[quantity]["by"] == "history"

    return not own(name) and any(own(shared) for shared in book["repeats"].get(name, []))


def _measured(facts: Facts, book: CausesBook) -> dict[str, Figure]:
    """Values with their standard uncertainties for every quantity that bears on a cause and can be trusted."""
    inputs, judged, rest = facts.inputs, facts.judged, facts.rest
    measured: dict[str, Figure] = {}
    doubted = _doubted(judged["faults"])
    combined = combined_of(inputs, judged["derived"], book["least"])
    for name in book["rests_on"]:
        usable = True
        for field in book["rests_on"][name]:
            if field in doubted:
                usable = False
        if not usable or _known_better(name, judged["expected"], book):
            continue
        if name == "vent_c":
            if "vent_c" in inputs.values:
                measured[name] = {"value": inputs.values["vent_c"], "u": inputs.u["vent_c"]}
        elif name in combined:
            measured[name] = combined[name]
        elif name in judged["derived"]:
            measured[name] = {"value": judged["derived"][name]["value"], "u": judged["derived"][name]["u"]}
    if rest is not None and rest["excess_kpa"] is not None and rest["finding"] in book["rest"]["findings"]:
        measured["rest_excess_kpa"] = rest["excess_kpa"]
    return measured


def _mended(visit: Visit, test: Test, book: CausesBook) -> list[str]:
    """The looks that the visit's work has mended by the time of a test after it."""
    looks: list[str] = []
    if test.get("role") == "after":
        for work in visit.get("work") or []:
            looks.extend(book["looks_from"]["mends"].get(work["code"], []))
    return looks


def _findings(visit: Visit, test: Test, book: CausesBook) -> dict[str, bool]:
    """What was checked or measured outright: {look: seen}."""
    seen: dict[str, bool] = {}
    mended = _mended(visit, test, book)
    for check in visit.get("checks") or []:
        look = book["looks_from"]["checks"].get(check["code"])
        if look is not None and look not in mended and check.get("state") in ("ok", "fault"):
            seen[look] = check["state"] == "fault"
    fan = (test.get("conditions") or {}).get("fan")
    rows = book["looks_from"]["fan"]
    if fan is not None and fan in rows:
        for name in rows[fan]:
            seen[name] = rows[fan][name]
    readings = test.get("readings") or {}
    left, right = readings.get("vent_left_c"), readings.get("vent_right_c")
    if left is not None and right is not None:
        seen["uneven_vents"] = abs(float(left) - float(right)) > book["looks_from"]["vents_apart_k"]
    kind, running = (visit.get("vehicle") or {}).get("compressor"), readings.get("running")
    rows = book["looks_from"]["running"]
    if kind is not None and kind in rows and running is not None and running in rows[kind]:
        seen["never_off"] = rows[kind][running]
    for move in visit.get("refrigerant_moves") or []:
        if move["kind"] == "identified" and move.get("air_pct") is not None:
            seen["air_found"] = move["air_pct"] > book["looks_from"]["air_pct"]
    return seen


def _looked_round(visit: Visit, test: Test, book: CausesBook) -> bool:
    """Whether somebody went round the car: anything is on record that is not felt from the seat."""
    felt = book["unseen"]["felt"]
    for look in test.get("observed") or []:
        if look not in felt:
            return True
    for check in visit.get("checks") or []:
        if check.get("state") in ("ok", "fault") and book["looks_from"]["checks"].get(check["code"]) not in felt:
            return True
    fan = (test.get("conditions") or {}).get("fan")
    return fan is not None and fan != "not_seen"


def looks_of(visit: Visit, test: Test, book: CausesBook) -> dict[str, Look]:
    """What was seen and what was not, with how much the latter counts.

    Args:
        visit: the visit, for its checks and the identifier [JSON object]
        test: the test, for what was observed [JSON object]
        book: the rulebook's `causes` book [JSON object]

    Returns:
        {look: {seen, weight}}; a sight nobody looked for is left out [truth, share]

    Source: common practice, no source.
    """
    findings = _findings(visit, test, book)
    observed = test.get("observed") or []
    looked = _looked_round(visit, test, book)
    looks: dict[str, Look] = {}
    for look in book["looks"]:
        if look in observed:
            looks[look] = {"seen": True, "weight": 1.0}
        elif look in findings:
            looks[look] = {"seen": findings[look], "weight": book["unseen"]["noted"]}
        elif looked and look in book["unseen"]["sights"]:
            looks[look] = {"seen": False, "weight": book["unseen"]["looked"]}
    return looks


def evidence_of(visit: Visit, test: Test, facts: Facts, rulebook: Rulebook) -> TestEvidence | None:
    """Everything in one test that speaks for or against a cause.

    Args:
        visit: the visit [JSON object]
        test: the test [JSON object]
        facts: its `inputs`, what is `judged` of it so far, and the visit's `rest` reading as judged or None [by name]
        rulebook: the rulebook [books by name]

    Returns:
        {views, measured, looks}: [{regime, weight, middles}], {name: {value, u}}, {look: {seen, weight}}; None out of
        scope, without bands or without any evidence [unit of each quantity]

    Source: the rulebook's `causes` book.
    """
    judged = facts.judged
    if (test.get("conditions") or {}).get("ambient_c") is None or "low_saturation_c" not in judged["expected"]:
        return None
    book = rulebook["causes"]
    measured = _measured(facts, book)
    looks = looks_of(visit, test, book)
    if len(measured) == 0 and len(looks) == 0:
        return None
    settings = _settings(visit, test, judged["derived"], rulebook)
    views = views_of(regimes_of(visit, test, book), judged, settings, book)
    return {"views": views, "measured": measured, "looks": looks}
