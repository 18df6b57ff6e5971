"""The causes of what one test shows: the set that is held open, and what each reading and sight says about it.

`weights` calculates the weights; here they become a set, evidence and the next check. Limits are rulebook data.
"""

from __future__ import annotations

from math import sqrt

from sync.kernel.books import Rulebook
from sync.kernel.causes_book import CausesBook, ToldApart
from sync.kernel.distances import distances_of, sharpness_of
from sync.kernel.inputs import refrigerant_of
from sync.kernel.judgement import Cause, EvidenceRow, Expected, Ranking, Span, Speaks
from sync.kernel.looks import Factors, factors_of, look_factors, looks_of, mended
from sync.kernel.measurement import Measurement, measurement_of
from sync.kernel.next_check import Question, next_check_of
from sync.kernel.normal import Load, along, covariance_of
from sync.kernel.ranking import Explanation, Facts, Fit, Look, Stand
from sync.kernel.regulation import regimes_of
from sync.kernel.visit import Test, Visit
from sync.kernel.weights import explained, held_open, stand_of, weighed
from sync.kernel.yardsticks import Yardstick


def scope_of(visit: Visit, test: Test, rulebook: Rulebook) -> list[str]:
    """Why no cause is named for a test; empty if causes are named.

    Args:
        visit: the visit, for the refrigerant in the circuit [JSON object]
        test: the test, for its mode [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        codes [list]

    Source: the rulebook's `refrigerants` and `causes` books.
    """
    refrigerant = refrigerant_of(visit)
    row = rulebook["refrigerants"]["refrigerants"].get(refrigerant)
    codes: list[str] = []
    if row is None or not row["trust"] > 0.0:
        codes.append("refrigerant_unknown" if refrigerant == "unknown" else "refrigerant_out_of_scope")
    mode = (test.get("conditions") or {}).get("mode")
    if mode is not None and mode in rulebook["causes"]["no_modes"]:
        codes.append("mode_out_of_scope")
    if (test.get("readings") or {}).get("running") == "not_running":
        codes.append("not_running")
    return codes


def _alone(order: list[Fit], bare: dict[str, float], measured: int, book: CausesBook) -> bool:
    """Whether the heaviest cause may stand alone: it weighs enough, and the readings support it without the sights."""
    cause, weight = order[0]
    limits = book["told_apart"]
    if measured == 0 or weight < limits["alone"] or cause in limits["never_alone"]:
        return False
    common = 0.0
    for other in book["common"]:
        common = common + book["common"][other]
    return any(other == cause and share > book["common"][cause] / common for other, share in weighed(bare))


def _set_of(order: list[Fit], bare: dict[str, float], measured: int, book: CausesBook) -> list[str]:
    """The causes held open: `order` has their weights with the sights, `bare` their scores without."""
    names = held_open(order, book["told_apart"]["share"])
    if len(names) == 1 and not _alone(order, bare, measured, book):
        names.append(order[1][0])
    return names


def _speaks(z: float, telling: bool, limits: ToldApart) -> Speaks:
    """Whether a reading fits a cause, speaks against it, or says nothing that it doesn't say of all causes."""
    if abs(z) >= limits["unusual_z"]:
        return "against"
    return "fits" if telling and abs(z) <= limits["usual_z"] else "silent"


def _usual(expected: Expected | None, stand: Stand, load: Load) -> Span:
    """What this car would show if it were healthy, including quantities for which no yardstick is drawn."""
    if expected is not None:
        return {"low": expected["low"], "high": expected["high"]}
    middle, reach = along(load, stand.middles), 2.0 * sqrt(covariance_of(load, stand.covariance, load))
    return {"low": middle - reach, "high": middle + reach}


def _side(value: float, expected: Span) -> str:
    middle, quarter = (expected["low"] + expected["high"]) / 2.0, (expected["high"] - expected["low"]) / 4.0
    if value > middle + quarter:
        return "_high"
    return "_low" if value < middle - quarter else "_usual"


def _of_readings(
    measurement: Measurement, names: list[str], explanations: dict[str, Explanation], facts: Facts, book: CausesBook
) -> list[EvidenceRow]:
    """A row for each measured quantity, with what it says about each cause held open."""
    if len(measurement.names) == 0:
        return []
    others, limits = names if "healthy" in names else [*names, "healthy"], book["told_apart"]
    sharp: dict[str, list[float]] = {}
    zs: dict[str, list[float]] = {}
    for cause in others:
        stand = explanations[cause]["best"]["stand"]
        if stand.regime not in sharp:
            sharp[stand.regime] = sharpness_of(stand)
        zs[cause] = distances_of(sharp[stand.regime], explanations[cause], book)
    rows: list[EvidenceRow] = []
    healthy = explanations["healthy"]["best"]["stand"]
    for i in range(len(measurement.names)):
        name, value = measurement.names[i], measurement.values[i]
        telling = any(abs(zs[cause][i]) > limits["usual_z"] for cause in others)
        on = {cause: _speaks(zs[cause][i], telling, limits) for cause in names}
        span = _usual(facts.judged["expected"].get(name), healthy, measurement.loads[i])
        values = {"value": value, "u": sqrt(measurement.covariance[i][i]), "usual": (span["low"] + span["high"]) / 2.0}
        rows.append({"code": name + _side(value, span), "values": values, "on": on})
    return rows


def _of_looks(
    looks: dict[str, Look], told: dict[str, Factors], names: list[str], book: CausesBook
) -> list[EvidenceRow]:
    """A row for each sight that was there, or that was looked for in vain where that says something."""
    times = book["told_apart"]["times"]
    rows: list[EvidenceRow] = []
    for name in looks:
        seen = looks[name]["seen"]
        telling, factors = seen, told[name]
        on: dict[str, Speaks] = {cause: "against" if seen and cause == "healthy" else "silent" for cause in names}
        for cause in factors:
            if cause in on and factors[cause] >= times:
                on[cause] = "fits"
                telling = True
            elif cause in on and factors[cause] * times <= 1.0:
                on[cause] = "against"
                telling = True
        if telling:
            rows.append({"code": name if seen else "no_" + name, "values": {}, "on": on})
    return rows


def _listed(order: list[Fit], evidence: list[EvidenceRow], held: int) -> list[Cause]:
    """All causes by weight; those held open come first, with what speaks for and against them."""
    causes: list[Cause] = []
    for name, weight in order:
        cause: Cause = {"id": name, "fit": weight, "for": [], "against": []}
        if len(causes) < held:
            for row in evidence:
                side = row["on"][name]
                if side != "silent":
                    cause["for" if side == "fits" else "against"].append({"code": row["code"], "values": row["values"]})
        causes.append(cause)
    return causes


def causes_of(
    visit: Visit, test: Test, facts: Facts, yardsticks: dict[str, Yardstick], rulebook: Rulebook
) -> Ranking:
    """The causes of what one test shows.

    Args:
        visit: the visit [JSON object]
        test: the test, in scope [JSON object]
        facts: its `inputs`, what is `judged` of it so far, and the visit's judged `rest` reading or None [by name]
        yardsticks: this car's, for each regime of the test [by regime]
        rulebook: the rulebook [books by name]

    Returns:
        {causes: [{id, fit, for, against}], undecided, evidence, range, next_check} [share]

    Source: the rulebook's `causes` book.
    """
    book, distribution = rulebook["causes"], rulebook["distribution"]
    regimes, looks = regimes_of(visit, test, book), looks_of(visit, test, book)
    measurement = measurement_of(facts, distribution)
    stands = [stand_of((code, regimes[code]), yardsticks[code], measurement, distribution) for code in regimes]
    told = {name: look_factors(name, looks[name], book) for name in looks}
    explanations, factors = explained(stands, distribution), factors_of(told, book)
    bare = {cause: book["common"][cause] * explanations[cause]["score"] for cause in book["order"]}
    scores = {cause: bare[cause] * factors[cause] for cause in book["order"]}
    order = weighed(scores)
    names = _set_of(order, bare, len(measurement.names), book)
    evidence = _of_readings(measurement, names, explanations, facts, book)
    evidence.extend(_of_looks(looks, told, names, book))
    held = {cause: scores[cause] for cause in names}
    question: Question = {
        "measurement": measurement,
        "looks": looks,
        "told": told,
        "explanations": explanations,
        "names": names,
        "scores": held,
        "done": mended(visit, test, book),
        "unknown": facts.judged["unknown"],
        "distribution": distribution,
    }
    return {
        "causes": _listed(order, evidence, len(names)),
        "undecided": names if len(names) > 1 else [],
        "evidence": evidence,
        "range": facts.judged["range"],
        "next_check": next_check_of(question, book),
    }
