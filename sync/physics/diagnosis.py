"""The desk's full diagnosis of a visit: the kernel's judgement, completed by what only a property library can tell.

Nothing here changes a verdict; what it adds is for the desk alone.
"""

from __future__ import annotations

from typing import Any

from sync.kernel.assessment import assess
from sync.physics import cycle


def diagnose(visit: dict[str, Any], rulebook: dict[str, Any], app: str) -> dict[str, Any]:
    """The judgement of a validated visit with the ideal cycle of each test.

    Args:
        visit: a visit of schema 1 without faults of shape [JSON object]
        rulebook: the rulebook with its edition under "hash" [books by name]
        app: the version that judges [text]

    Returns:
        what `assess` gives, with `cycle` filled, and `ideal_cop` and `specific_work_kj_kg` among the derived values
        [JSON object]
    """
    result = assess(visit, rulebook, app)
    points = {}
    for test in result["tests"]:
        found = cycle.between(test["derived"], visit, rulebook)
        if found is not None:
            points[test["id"]] = {"points": found["points"]}
            test["derived"]["ideal_cop"] = found["ideal_cop"]
            test["derived"]["specific_work_kj_kg"] = found["specific_work_kj_kg"]
    if points:
        result["cycle"] = {"tests": points, "work_change": cycle.work_change(result)}
    return result
