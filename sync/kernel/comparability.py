"""Whether two tests can be compared: recorded differences and faults, and what was not recorded.

Limits are rulebook data. Nothing here computes a change.
"""

from __future__ import annotations

from typing import Any

_Test = dict[str, Any]


def part(test: _Test, section: str, name: str) -> Any:
    """One recorded value of a test, None where it was not recorded."""
    return (test.get(section) or {}).get(name)


def has_work(visit: dict[str, Any], codes: list[str]) -> bool:
    """Whether one of these pieces of work was done."""
    return any(item["code"] in codes for item in visit.get("work") or [])


def has_move(visit: dict[str, Any], kinds: list[str]) -> bool:
    """Whether refrigerant was moved in one of these ways."""
    return any(move["kind"] in kinds for move in visit.get("refrigerant_moves") or [])


def is_regulated(visit: dict[str, Any]) -> bool | None:
    """Whether the compressor adapts its stroke or speed; None where its type is not known."""
    kind = (visit.get("vehicle") or {}).get("compressor")
    if kind is None or kind == "unknown":
        return None
    return bool(kind != "cycling_clutch")


def _differs(before: _Test, after: _Test, section: str, name: str) -> bool:
    one, other = part(before, section, name), part(after, section, name)
    return one is not None and other is not None and one != other


def _apart(before: _Test, after: _Test, name: str, limit: float) -> bool:
    one, other = part(before, "conditions", name), part(after, "conditions", name)
    return one is not None and other is not None and not abs(float(one) - float(other)) <= limit


def _single(test: _Test, judged: dict[str, Any], limits: dict[str, Any], found: list[str]) -> None:
    rinsed = part(test, "conditions", "rinsed_min_ago")
    mode, running = part(test, "conditions", "mode"), part(test, "readings", "running")
    high = part(test, "readings", "high_max_kpa_g")
    if high is None:
        high = part(test, "readings", "high_kpa_g")
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
        if holds and code not in found:
            found.append(code)


def reasons_of(
    visit: dict[str, Any], pair: list[_Test], judged: list[dict[str, Any]], rulebook: dict[str, Any]
) -> list[str]:
    """Why a pair cannot be compared.

    Args:
        visit: the visit [JSON object]
        pair: the test before and the test after [list of two]
        judged: their judgements [list of two]
        rulebook: the rulebook [books by name]

    Returns:
        codes, none where it can be compared [list]

    Source: the rulebook's `comparison` book (common practice, no source).
    """
    limits = rulebook["comparison"]["limits"]
    before, after = pair
    found: list[str] = []
    for i in (0, 1):
        _single(pair[i], judged[i], limits, found)
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
            found.append(code)
    return found


def notes_of(pair: list[_Test], rulebook: dict[str, Any]) -> tuple[list[str], float]:
    """What was not recorded or differs a little, and how much that widens the split.

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
