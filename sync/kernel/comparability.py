"""Whether two tests can be compared: recorded differences and faults, and what wasn't recorded.

Limits are rulebook data. Nothing here computes a change.
"""

from __future__ import annotations

from typing import cast

from sync.kernel.books import Rulebook
from sync.kernel.comparison_book import PairLimits
from sync.kernel.json_tree import Recorded
from sync.kernel.judgement import JudgedTest
from sync.kernel.visit import Test, Visit

# A test's conditions and readings, looked up by name.
Sections = dict[str, dict[str, Recorded]]


def part(test: Test, section: str, name: str) -> Recorded:
    """One recorded value of a test; None if it wasn't recorded."""
    return (cast(Sections, test).get(section) or {}).get(name)


def number(test: Test, section: str, name: str) -> float | None:
    """One recorded number of a test; None if it wasn't recorded."""
    value = part(test, section, name)
    return None if value is None else float(value)


def has_work(visit: Visit, codes: list[str]) -> bool:
    """Whether any of these pieces of work was done."""
    return any(item["code"] in codes for item in visit.get("work") or [])


def has_move(visit: Visit, kinds: list[str]) -> bool:
    """Whether refrigerant was moved in any of these ways."""
    return any(move["kind"] in kinds for move in visit.get("refrigerant_moves") or [])


def is_regulated(visit: Visit) -> bool | None:
    """Whether the compressor adapts its stroke or speed; None if its type is unknown."""
    kind = (visit.get("vehicle") or {}).get("compressor")
    if kind is None or kind == "unknown":
        return None
    return bool(kind != "cycling_clutch")


def _differs(before: Test, after: Test, section: str, name: str) -> bool:
    one, other = part(before, section, name), part(after, section, name)
    return one is not None and other is not None and one != other


def _apart(before: Test, after: Test, name: str, limit: float) -> bool:
    one, other = number(before, "conditions", name), number(after, "conditions", name)
    return one is not None and other is not None and not abs(one - other) <= limit


def _single(test: Test, judged: JudgedTest, limits: PairLimits, reasons: list[str]) -> None:
    rinsed = number(test, "conditions", "rinsed_min_ago")
    mode, running = part(test, "conditions", "mode"), part(test, "readings", "running")
    high = number(test, "readings", "high_max_kpa_g")
    if high is None:
        high = number(test, "readings", "high_kpa_g")
    checks = (
        ("face_wet", part(test, "conditions", "face_wet") is True),
        ("rinsed_recently", rinsed is not None and rinsed < limits["rinsed_min"]),
        ("not_cooling", mode == "heating" or mode == "battery"),
        ("not_running", running == "not_running"),
        ("cut_out_on_high_pressure", high is not None and high >= limits["cut_out_kpa_g"]),
        ("not_levelled", judged["levelled"] is not None and not judged["levelled"]["settled"]),
        ("readings_impossible", len(judged["faults"]) > 0),
    )
    for code, holds in checks:
        if holds and code not in reasons:
            reasons.append(code)


def reasons_of(
    visit: Visit, pair: list[Test], judged: list[JudgedTest], rulebook: Rulebook
) -> list[str]:
    """Why a pair can't be compared.

    Args:
        visit: the visit [JSON object]
        pair: the test before and the test after [list of two]
        judged: their judgements [list of two]
        rulebook: the rulebook [books by name]

    Returns:
        codes; none if it can be compared [list]

    Source: the rulebook's `comparison` book (common practice, no source).
    """
    limits = rulebook["comparison"]["limits"]
    before, after = pair
    reasons: list[str] = []
    for i in (0, 1):
        _single(pair[i], judged[i], limits, reasons)
    fan_stages = ["off", "low", "high"]
    fan_seen = part(before, "conditions", "fan") in fan_stages and part(after, "conditions", "fan") in fan_stages
    fan_was_work = has_work(visit, rulebook["comparison"]["fan_work"])
    checks = (
        ("blower_differs", _differs(before, after, "conditions", "blower")),
        ("air_differs", _differs(before, after, "conditions", "air")),
        ("rear_differs", _differs(before, after, "conditions", "rear")),
        ("fan_differs", fan_seen and not fan_was_work and _differs(before, after, "conditions", "fan")),
        ("minutes_differ", _apart(before, after, "running_min", limits["minutes"])),
        ("speed_differs", is_regulated(visit) is not True and _apart(before, after, "rpm", limits["rpm"])),
        ("ambient_differs", _apart(before, after, "ambient_c", limits["ambient_k"])),
    )
    for code, holds in checks:
        if holds:
            reasons.append(code)
    return reasons


def notes_of(pair: list[Test], rulebook: Rulebook) -> tuple[list[str], float]:
    """What wasn't recorded or differs slightly, and how much that widens the split.

    Args:
        pair: the test before and the test after [list of two]
        rulebook: the rulebook [books by name]

    Returns:
        codes, and the sum of squares of the added standard uncertainties [list, K²]

    Source: the rulebook's `comparison` book (common practice, no source).
    """
    book = rulebook["comparison"]
    codes: list[str] = []
    total = 0.0
    for name in book["not_recorded_k"]:
        one, other = part(pair[0], "conditions", name), part(pair[1], "conditions", name)
        unseen = name == "fan" and (one == "not_seen" or other == "not_seen")
        if one is None or other is None or unseen:
            codes.append(name + "_not_recorded")
            total = total + book["not_recorded_k"][name] * book["not_recorded_k"][name]
    for name in book["differs_k"]:
        if _differs(pair[0], pair[1], "conditions", name):
            codes.append(name + "_differs")
            total = total + book["differs_k"][name] * book["differs_k"][name]
    if _differs(pair[0], pair[1], "readings", "running"):
        codes.append("running_differs")
        total = total + book["running_differs_k"] * book["running_differs_k"]
    return codes, total
