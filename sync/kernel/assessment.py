"""The judgement of one visit: what its readings mean, what can't be right and what they can't tell.

Results carry codes and values, and the same visit gives the same result on phone and desk.
"""

from __future__ import annotations

from sync.kernel.books import Rulebook
from sync.kernel.causes import causes_of, scope_of
from sync.kernel.comparison import compare
from sync.kernel.contradictions import faults_of
from sync.kernel.inputs import Inputs, inputs_of, refrigerant_of
from sync.kernel.judgement import Assessment, JudgedTest, RestJudgement
from sync.kernel.quantities import derive
from sync.kernel.ranking import Facts
from sync.kernel.regulation import regimes_of
from sync.kernel.rest_checks import cleaner_of, co2e_of, rest_of, vacuum_of
from sync.kernel.settling import levelled_of
from sync.kernel.visit import Test, Visit
from sync.kernel.yardsticks import expected_of, scene_of, yardstick_of


def assess_test(
    visit: Visit, test: Test, inputs: Inputs, rest: RestJudgement | None, rulebook: Rulebook
) -> JudgedTest:
    """The judgement of one running test.

    Args:
        visit: the visit it belongs to [JSON object]
        test: the test [JSON object]
        inputs: its measured values, with standard uncertainties [by name]
        rest: the visit's rest reading as judged, or None [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        {id, role, faults, derived, expected, levelled, unknown, causes, undecided, evidence, range, next_check}
        [JSON object]
    """
    refrigerant = refrigerant_of(visit)
    derived, unknown = derive(inputs, refrigerant, rulebook)
    judged: JudgedTest = {
        "id": test["id"],
        "role": test["role"],
        "faults": faults_of(test, inputs, derived, refrigerant, rulebook),
        "derived": derived,
        "expected": {},
        "levelled": levelled_of(test, rulebook),
        "unknown": unknown,
        "causes": [],
        "undecided": [],
        "evidence": [],
        "range": scope_of(visit, test, rulebook),
        "next_check": None,
    }
    if len(judged["range"]) > 0:
        return judged
    scene, regimes = scene_of(visit, test, inputs, rulebook), regimes_of(visit, test, rulebook["causes"])
    judged["range"] = scene["range"]
    yardsticks = {regime: yardstick_of(regime, scene, rulebook) for regime in regimes}
    judged["expected"] = expected_of(yardsticks[_likeliest(regimes)], rulebook)
    ranking = causes_of(visit, test, Facts(inputs, judged, rest), yardsticks, rulebook)
    judged["causes"] = ranking["causes"]
    judged["undecided"] = ranking["undecided"]
    judged["evidence"] = ranking["evidence"]
    judged["next_check"] = ranking["next_check"]
    return judged


def _likeliest(regimes: dict[str, float]) -> str:
    """The way of regulating with the largest weight; the first of equals."""
    best, most = "", 0.0
    for regime in regimes:
        if regimes[regime] > most:
            best, most = regime, regimes[regime]
    return best


def assess(visit: Visit, rulebook: Rulebook, app: str = "dev") -> Assessment:
    """The judgement of a validated visit, from the visit alone.

    Args:
        visit: a visit of schema 1 without faults of shape [JSON object]
        rulebook: the rulebook with its edition under "hash" [books by name]
        app: the version that judges [text]

    Returns:
        {visit, rulebook, app, rest, vacuum, cleaner, tests, comparison, cycle, co2e} [JSON object]
    """
    rest = rest_of(visit, rulebook)
    tests: list[JudgedTest] = []
    measured: list[Inputs] = []
    for test in visit.get("tests") or []:
        inputs = inputs_of(visit, test, rulebook)
        measured.append(inputs)
        tests.append(assess_test(visit, test, inputs, rest, rulebook))
    return {
        "visit": visit["id"],
        "rulebook": rulebook["hash"],
        "app": app,
        "rest": rest,
        "vacuum": vacuum_of(visit, rulebook),
        "cleaner": cleaner_of(visit, rulebook),
        "tests": tests,
        "comparison": compare(visit, tests, measured, rulebook),
        "cycle": None,
        "co2e": co2e_of(visit, rulebook),
    }
