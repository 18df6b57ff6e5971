"""The desk's full diagnosis of a visit: the kernel's judgement plus what only a property library can tell.

Nothing here changes a verdict; the additions are for the desk only.
"""

from __future__ import annotations

from sync.kernel.assessment import assess
from sync.kernel.books import Rulebook
from sync.kernel.judgement import Assessment, CycleOfTest
from sync.kernel.visit import Visit
from sync.physics import cycle


def diagnose(visit: Visit, rulebook: Rulebook, app: str) -> Assessment:
    """The judgement of a validated visit with the ideal cycle of each test.

    Args:
        visit: a visit of schema 1 without faults of shape [Visit]
        rulebook: the rulebook with its edition under "hash" [Rulebook]
        app: the version that judges [text]

    Returns:
        the result of `assess` with `cycle` filled in, and `ideal_cop` and `specific_work_kj_kg` among the derived
        values [Assessment]
    """
    assessment = assess(visit, rulebook, app)
    cycles: dict[str, CycleOfTest] = {}
    for test in assessment["tests"]:
        figures = cycle.between(test["derived"], visit, rulebook)
        if figures is not None:
            cycles[test["id"]] = {"points": figures["points"]}
            test["derived"]["ideal_cop"] = figures["ideal_cop"]
            test["derived"]["specific_work_kj_kg"] = figures["specific_work_kj_kg"]
    if cycles:
        assessment["cycle"] = {"tests": cycles, "work_change": cycle.work_change(assessment)}
    return assessment
