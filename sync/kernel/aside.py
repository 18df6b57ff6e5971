"""Why the causes that are not held open were set aside: what of one test speaks against each.

Asked for only when a person looks, so that the judgement itself need not work it out at every keystroke.
"""

from __future__ import annotations

from typing import TypedDict

from sync.kernel.books import Rulebook
from sync.kernel.causes_book import CausesBook
from sync.kernel.distances import distances_of, sharpness_of
from sync.kernel.inputs import inputs_of, refrigerant_of
from sync.kernel.judgement import Evidence, EvidenceRow, JudgedTest
from sync.kernel.looks import Factors, look_factors, looks_of
from sync.kernel.measurement import measurement_of
from sync.kernel.quantities import derive
from sync.kernel.ranking import Explanation, Facts, Look
from sync.kernel.regulation import regimes_of
from sync.kernel.rest_checks import rest_of
from sync.kernel.visit import Test, Visit
from sync.kernel.weights import explained, stand_of
from sync.kernel.yardsticks import scene_of, yardstick_of


class Aside(TypedDict):
    """A cause that is not held open, and what speaks against it; nothing where it only fits less well."""

    id: str
    against: list[Evidence]


def _farthest(rows: list[EvidenceRow], explanation: Explanation, book: CausesBook) -> list[Evidence]:
    """The reading that lies farthest from what a cause predicts, where that is far."""
    zs = distances_of(sharpness_of(explanation["best"]["stand"]), explanation, book)
    most, place = book["told_apart"]["unusual_z"], -1
    for i in range(len(zs)):
        if abs(zs[i]) >= most:
            most, place = abs(zs[i]), i
    return [] if place < 0 else [{"code": rows[place]["code"], "values": rows[place]["values"]}]


def _unseen(cause: str, looks: dict[str, Look], told: dict[str, Factors], book: CausesBook) -> list[Evidence]:
    """The sights that make a cause much less likely."""
    found: list[Evidence] = []
    for name in looks:
        seen, factors = looks[name]["seen"], told[name]
        against = seen and cause == "healthy"
        if cause in factors and factors[cause] * book["told_apart"]["times"] <= 1.0:
            against = True
        if against:
            found.append({"code": name if seen else "no_" + name, "values": {}})
    return found


def aside_of(visit: Visit, test: Test, judged: JudgedTest, rulebook: Rulebook) -> list[Aside]:
    """The causes of a test that are not held open, in the order of the trade, with what speaks against each.

    Args:
        visit: the visit it belongs to [JSON object]
        test: the test, with causes [JSON object]
        judged: its judgement [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        [{id, against}], the reading that speaks loudest first [list]

    Source: the rulebook's `causes` book, `told_apart`.
    """
    book, distribution = rulebook["causes"], rulebook["distribution"]
    inputs = inputs_of(visit, test, rulebook)
    # Working the quantities out notes in the inputs what each hangs on.
    derive(inputs, refrigerant_of(visit), rulebook)
    scene, regimes = scene_of(visit, test, inputs, rulebook), regimes_of(visit, test, book)
    looks = looks_of(visit, test, book)
    measurement = measurement_of(Facts(inputs, judged, rest_of(visit, rulebook)), distribution)
    stands = [
        stand_of((code, regimes[code]), yardstick_of(code, scene, rulebook), measurement, distribution)
        for code in regimes
    ]
    told = {name: look_factors(name, looks[name], book) for name in looks}
    explanations = explained(stands, distribution)
    held = judged["undecided"] if len(judged["undecided"]) > 0 else [judged["causes"][0]["id"]]
    aside: list[Aside] = []
    for cause in book["order"]:
        if cause in held:
            continue
        against = _farthest(judged["evidence"], explanations[cause], book)
        against.extend(_unseen(cause, looks, told, book))
        aside.append({"id": cause, "against": against})
    return aside
