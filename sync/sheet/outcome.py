"""The one sentence that opens page one, and how it was measured, in the customer's plain words.

A claim is made only if the judgement makes it, and is no larger than the judgement and the printed numbers show.
"""

from __future__ import annotations

from datetime import timedelta

from sync.kernel.judgement import Assessment, Comparison, PressureChange, TemperatureChange
from sync.kernel.visit import Test, Visit
from sync.sheet.causes import judged_before
from sync.sheet.readings import settings_differ, value_at
from sync.sheet.sheet_data import Result
from sync.sheet.wording import Phrases, moment

# Parts of a pressure that have a name in everyday speech.
SHARES = (("tenth", 0.1), ("eighth", 0.125), ("sixth", 1 / 6), ("fifth", 0.2), ("quarter", 0.25), ("third", 1 / 3),
          ("two_fifths", 0.4), ("half", 0.5))
SHARE_LEAST = 0.075
LONGEST_MIN = 180


def outcome(visit: Visit, assessment: Assessment, tests: list[Test], phrases: Phrases) -> Result:
    """What the sheet says first.

    Args:
        visit: the visit [Visit]
        assessment: its judgement [Assessment]
        tests: the tests set side by side [list]
        phrases: words and units of the reader [Phrases]

    Returns:
        one sentence, and how it was measured [Result]
    """
    comparison = assessment["comparison"]
    if comparison:
        text = _compared(comparison, tests, phrases)
    elif len(tests) == 1:
        text = _once(assessment, tests, phrases)
    else:
        text = _unmeasured(visit, tests, phrases)
    return {"sentences": [text], "detail": [_measured(tests, phrases)]}


def _compared(comparison: Comparison, tests: list[Test], phrases: Phrases) -> str:
    verdict = comparison["verdict"]
    if verdict == "better":
        return _better(comparison, tests, phrases)
    if verdict == "not_shown" and changed(comparison):
        return phrases.say("said", "not_shown_changed")
    return phrases.say("said", verdict)


def _better(comparison: Comparison, tests: list[Test], phrases: Phrases) -> str:
    """What was shown: colder air, less pressure, both, or neither as a number."""
    colder, less = _colder(comparison["vent"], phrases), _less(comparison["high_side"], tests, phrases)
    if colder and less:
        return phrases.say("said", "vent_and_pressure", difference=colder, share=less)
    if colder:
        return phrases.say("said", "vent", difference=colder)
    if "superheat_back" in comparison["notes"]:
        return phrases.say("said", "superheat_back")
    floor = "_floor" if "vent_at_floor" in comparison["notes"] else ""
    return phrases.say("said", f"pressure{floor}", share=less) if less else phrases.say("said", f"better{floor}")


def _colder(vent: TemperatureChange | None, phrases: Phrases) -> str:
    """By how much the vent is colder, the smaller of the reading and the work's share; empty if not shown."""
    if vent is None or vent["verdict"] != "better":
        return ""
    size = _smaller_fall(vent["raw_change_k"], vent["work_share_k"])
    text = phrases.figure("temperature_difference", size, 0)
    return f"{text}\u00a0{phrases.unit('temperature')}" if text != "0" else ""


def _less(side: PressureChange, tests: list[Test], phrases: Phrases) -> str:
    """By what part the pressure fell, the smaller of the reading and the work's share; empty if not shown."""
    before = value_at(tests[0], "readings.high_kpa_g")
    if side["verdict"] != "better" or not before or before <= 0:
        return ""
    share = _smaller_fall(side["raw_change_kpa"], side["work_share_kpa"]) / before
    if share < SHARE_LEAST:
        return ""
    return phrases.say("share", min(SHARES, key=lambda named: abs(named[1] - share))[0])


def _smaller_fall(raw: float | None, work: float | None) -> float:
    """The smaller of two falls; 0 if either isn't one."""
    return 0.0 if raw is None or work is None else max(0.0, min(-raw, -work))


def changed(comparison: Comparison) -> bool:
    """Whether something changed by more than its uncertainty, for better, for worse or neither."""
    split, vent = comparison["condenser_split"], comparison["vent"]
    intervals = [comparison["high_side"]["interval_kpa"], *(part["interval_k"] for part in (split, vent) if part)]
    return any(interval is not None and not interval[0] <= 0.0 <= interval[1] for interval in intervals)


def _once(assessment: Assessment, tests: list[Test], phrases: Phrases) -> str:
    """What a single test suggests; if nothing, that it was measured."""
    test = judged_before(assessment, tests)
    if test is None:
        return phrases.say("said", "measured_once")
    first, undecided = test["causes"][0]["id"], test["undecided"]
    if first == "healthy":
        return phrases.say("said", "nothing_stands_out" if undecided else "healthy")
    if not undecided:
        return phrases.cause(f"causes.{first}", "customer")
    return phrases.say("said", "open_or_healthy" if "healthy" in undecided else "open")


def _unmeasured(visit: Visit, tests: list[Test], phrases: Phrases) -> str:
    """The outcome of a visit about which its measurements say nothing."""
    if len(tests) > 1:
        return phrases.say("said", "measured_twice")
    came_of_it = visit.get("outcome")
    return phrases.say("said", f"outcome_{came_of_it}") if came_of_it else phrases.say("said", "visited")


def _measured(tests: list[Test], phrases: Phrases) -> str:
    if len(tests) < 2:
        return phrases.say("measured", "once" if tests else "none")
    apart = moment(tests[-1]["at"]) - moment(tests[0]["at"])
    how = "differing" if settings_differ(tests, phrases) else "same"
    if not timedelta(0) < apart <= timedelta(minutes=LONGEST_MIN):
        return phrases.say("measured", f"twice_{how}")
    return phrases.say("measured", f"apart_{how}", count=round(apart.total_seconds() / 60))
