"""The result of a visit in two plain sentences and the small print beside them.

Sentences follow the assessment's verdict and claim nothing where it gives none; they are rulebook data.
"""

from __future__ import annotations

from typing import Any

from sync.sheet.causes import judged_before, words_of
from sync.sheet.readings import Test, value_at
from sync.sheet.wording import Phrases, sentence

SPOKEN = (("high", "readings.high_kpa_g", "pressure"), ("low", "readings.low_kpa_g", "pressure"),
          ("vent", "readings.vent_c", "temperature"))


def result(visit: dict[str, Any], assessment: dict[str, Any], tests: list[Test], phrases: Phrases) -> dict[str, Any]:
    """What the sheet says first.

    Args:
        visit: the visit [design shape]
        assessment: its assessment [design shape]
        tests: the tests set side by side [list]
        phrases: words and units of the reader [object]

    Returns:
        {sentences: one or two, detail: none or some} [texts]
    """
    comparison = assessment.get("comparison")
    if comparison:
        found = _found(visit, assessment, tests, phrases)
        return {"sentences": [*found, _verdict(comparison, phrases)],
                "detail": _split(comparison, tests, phrases) + _notes(comparison, phrases)}
    sentences = _measured(tests, phrases)
    outcome = visit.get("outcome")
    if outcome and len(sentences) < 2:
        sentences.append(phrases.code("outcome", outcome))
    detail = [phrases.say("result", "not_claimed")] if len(tests) > 1 else []
    return {"sentences": sentences, "detail": detail}


def _found(visit: dict[str, Any], assessment: dict[str, Any], tests: list[Test], phrases: Phrases) -> list[str]:
    """What was done; where nothing was, what the readings fit, if that can be told."""
    done = [phrases.code("work", item["code"]) for item in visit.get("work") or [] if item["code"] != "tested_only"]
    if done:
        return [phrases.say("result", "work", work=sentence(phrases.listed(list(dict.fromkeys(done)))))]
    entry = judged_before(assessment, tests)
    if entry is None or entry["undecided"]:
        return []
    return [words_of(phrases)["causes"][entry["causes"][0]["id"]]["customer"]]


def _verdict(comparison: dict[str, Any], phrases: Phrases) -> str:
    verdict = comparison["verdict"]
    if verdict == "not_comparable":
        reasons = phrases.listed([phrases.code("reason", code) for code in comparison.get("reasons") or []])
        return phrases.say("result", verdict, reasons=reasons)
    if verdict != "better":
        return phrases.say("result", verdict)
    vent = comparison.get("vent") or {}
    if vent.get("verdict") == "better":
        return phrases.say("result", "better_vent")
    return phrases.say("result", "better_floor" if "vent_at_floor" in (comparison.get("notes") or []) else "better")


def _split(comparison: dict[str, Any], tests: list[Test], phrases: Phrases) -> list[str]:
    """How the change of the high side divides into the work and the weather."""
    part = comparison.get("high_side") or {}
    raw, work, weather, interval = (part.get(key) for key in
                                    ("raw_change_kpa", "work_share_kpa", "conditions_share_kpa", "interval_kpa"))
    if raw is None or work is None or weather is None or interval is None:
        return []
    size = phrases.figure("pressure", abs(raw))
    key = "split_none" if not size.strip("0.,") else "split_fall" if raw < 0 else "split_rise"
    text = phrases.say("result", key, raw=size, unit=phrases.unit("pressure"), work=phrases.signed("pressure", work),
                       weather=phrases.signed("pressure", weather), low=phrases.signed("pressure", interval[0]),
                       high=phrases.signed("pressure", interval[1]))
    return [" ".join([text, *_warmer(tests, phrases)])]


def _warmer(tests: list[Test], phrases: Phrases) -> list[str]:
    if len(tests) < 2:
        return []
    first, second = (value_at(test, "conditions.ambient_c") for test in (tests[0], tests[-1]))
    if first is None or second is None:
        return []
    difference = phrases.figure("temperature_difference", abs(second - first))
    if not difference.strip("0.,"):
        return []
    return [phrases.say("result", "warmer" if second > first else "cooler", difference=difference,
                        unit=phrases.unit("temperature"))]


def _notes(comparison: dict[str, Any], phrases: Phrases) -> list[str]:
    """What limits the comparison or speaks against it, one sentence a kind."""
    codes = [*(comparison.get("credits") or []), *(comparison.get("notes") or [])]
    found = [phrases.say("result", code) for code in ("no_healthy_band", "high_side_not_recorded") if code in codes]
    if "vent_at_floor" in codes:
        found.append(phrases.say("result", "floor"))
    for key, group in (("but", "against"), ("beside", "beside"), ("wider", "wider")):
        things = list(dict.fromkeys(phrases.code(group, code) for code in codes if code in phrases.words[group]))
        if things:
            found.append(phrases.say("result", key, things=phrases.listed(things)))
    return [" ".join(found)] if found else []


def _measured(tests: list[Test], phrases: Phrases) -> list[str]:
    """What the gauges and the vent read, without a claim."""
    if not tests:
        return [phrases.say("result", "no_test")]
    spoken = [_readings(test, phrases) for test in tests]
    if not any(spoken):
        return [phrases.say("result", "pair_no_readings" if len(tests) > 1 else "single_no_readings")]
    if len(tests) == 1:
        return [phrases.say("result", "single", readings=spoken[0])]
    pairs = zip(("pair_before", "pair_after"), spoken, strict=True)
    return [phrases.say("result", key, readings=text) for key, text in pairs if text]


def _readings(test: Test, phrases: Phrases) -> str:
    found = [(name, quantity, value) for name, path, quantity in SPOKEN if (value := value_at(test, path)) is not None]
    return phrases.listed([phrases.say("result", name, value=phrases.measure(quantity, value))
                           for name, quantity, value in found])
