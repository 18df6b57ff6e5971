"""The result of a visit in the trade's words, for the next technician: the verdict, its figures and its limits.

Sentences follow the assessment's verdict and claim nothing if it gives none; they are rulebook data.
"""

from __future__ import annotations

from sync.kernel.comparability import has_work
from sync.kernel.judgement import Assessment, Comparison
from sync.kernel.visit import Test, Visit
from sync.sheet.blocks import paragraph, prose
from sync.sheet.causes import judged_before
from sync.sheet.outcome import changed
from sync.sheet.readings import value_at
from sync.sheet.sheet_data import ProseBlock
from sync.sheet.wording import Phrases, sentence

SPOKEN = (("high", "readings.high_kpa_g", "pressure"), ("low", "readings.low_kpa_g", "pressure"),
          ("vent", "readings.vent_c", "temperature"))
# Codes that have a sentence of their own.
STANDING = ("superheat_back", "no_healthy_band", "high_side_not_recorded")


def block(visit: Visit, assessment: Assessment, tests: list[Test], phrases: Phrases) -> ProseBlock | None:
    """What the two tests show, with figures.

    Args:
        visit: the visit [Visit]
        assessment: its judgement [Assessment]
        tests: the tests set side by side [list]
        phrases: words and units of the reader [Phrases]

    Returns:
        the block; None with fewer than two tests [ProseBlock]
    """
    if len(tests) < 2:
        return None
    comparison = assessment["comparison"]
    if comparison is None:
        return prose("result", phrases.say("section", "result"), [paragraph(phrases.say("result", "not_claimed"))])
    texts = [_verdict(comparison, phrases), *_split(comparison, tests, phrases), *_notes(visit, comparison, phrases)]
    return prose("result", phrases.say("section", "result"), [paragraph(text) for text in texts])


def finding(visit: Visit, assessment: Assessment, tests: list[Test], phrases: Phrases) -> list[str]:
    """What was done and what came of it, in one sentence each; the readings, if nothing was compared.

    Args:
        visit: the visit [Visit]
        assessment: its judgement [Assessment]
        tests: the tests set side by side [list]
        phrases: words and units of the reader [Phrases]

    Returns:
        one or two sentences [list]
    """
    comparison = assessment["comparison"]
    if comparison:
        return [*_work(visit, assessment, tests, phrases), _verdict(comparison, phrases)]
    return _measured(tests, phrases)


def _work(visit: Visit, assessment: Assessment, tests: list[Test], phrases: Phrases) -> list[str]:
    """What was done; if nothing, what the readings fit, if that can be told."""
    done = [phrases.code("work", item["code"]) for item in visit.get("work") or [] if item["code"] != "tested_only"]
    if done:
        return [sentence(phrases.listed(list(dict.fromkeys(done)))) + "."]
    test = judged_before(assessment, tests)
    if test is None or test["undecided"]:
        return []
    return [phrases.cause(f"causes.{test['causes'][0]['id']}", "customer")]


def _verdict(comparison: Comparison, phrases: Phrases) -> str:
    verdict = comparison["verdict"]
    if verdict == "not_comparable":
        reasons = phrases.listed([phrases.code("reason", code) for code in comparison["reasons"]])
        return phrases.say("result", verdict, reasons=reasons)
    if verdict == "not_shown" and changed(comparison):
        return phrases.say("result", "not_shown_changed")
    if verdict != "better":
        return phrases.say("result", verdict)
    vent, notes = comparison["vent"], comparison["notes"]
    if vent and vent["verdict"] == "better":
        return phrases.say("result", "better_vent")
    if "superheat_back" in notes:
        return phrases.say("result", "better_superheat")
    return phrases.say("result", "better_floor" if "vent_at_floor" in notes else "better")


def _split(comparison: Comparison, tests: list[Test], phrases: Phrases) -> list[str]:
    """How the change of the high side divides between work and weather."""
    side = comparison["high_side"]
    raw, work, weather = side["raw_change_kpa"], side["work_share_kpa"], side["conditions_share_kpa"]
    interval = side["interval_kpa"]
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
    if not phrases.figure("temperature_difference", abs(second - first)).strip("0.,"):
        return []
    return [phrases.say("result", "warmer" if second > first else "cooler",
                        difference=phrases.difference(abs(second - first)))]


def _notes(visit: Visit, comparison: Comparison, phrases: Phrases) -> list[str]:
    """What limits the comparison or speaks against it, one sentence for each kind."""
    book = phrases.rulebook["comparison"]
    cleaned = has_work(visit, [*book["condenser_work"], *book["air_work"]])
    codes = [*(comparison["credits"] if cleaned else []), *comparison["notes"]]
    sentences = [phrases.say("result", code) for code in STANDING if code in codes]
    if "vent_at_floor" in codes:
        sentences.append(phrases.say("result", "floor"))
    for key, group in (("but", "against"), ("beside", "beside"), ("wider", "wider")):
        things = list(dict.fromkeys(phrases.code(group, code) for code in codes if phrases.has(group, code)))
        if things:
            sentences.append(phrases.say("result", key, things=phrases.listed(things)))
    return [" ".join(sentences)] if sentences else []


def _measured(tests: list[Test], phrases: Phrases) -> list[str]:
    """What gauges and vent read, without a claim."""
    if not tests:
        return [phrases.say("result", "no_test")]
    readings = [_readings(test, phrases) for test in tests]
    if not any(readings):
        return [phrases.say("result", "pair_no_readings" if len(tests) > 1 else "single_no_readings")]
    if len(tests) == 1:
        return [phrases.say("result", "single", readings=readings[0])]
    pairs = zip(("pair_before", "pair_after"), readings, strict=True)
    return [phrases.say("result", key, readings=text) for key, text in pairs if text]


def _readings(test: Test, phrases: Phrases) -> str:
    return phrases.listed([phrases.say("result", name, value=phrases.measure(quantity, value))
                           for name, path, quantity in SPOKEN if (value := value_at(test, path)) is not None])
