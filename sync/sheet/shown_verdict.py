"""The sheet's account of a verdict that differs from the one shown on the phone: both, and why.

It judges nothing; the digest identifies the verdict that was shown, and its words are known only if it can be worked
out again.
"""

from __future__ import annotations

import hashlib
from typing import cast

from sync.kernel.json_tree import JsonObject
from sync.kernel.judgement import Assessment
from sync.kernel.verdict_digest import shown_text
from sync.kernel.visit import VerdictShown, Visit
from sync.sheet import readings
from sync.sheet.blocks import paragraph, prose
from sync.sheet.result import finding
from sync.sheet.sheet_data import JudgedVisit, ProseBlock
from sync.sheet.wording import Phrases, clock

MARK = 12  # hex digits of a digest that a person can compare


def block(visit: Visit, assessment: Assessment, before: JudgedVisit | None, phrases: Phrases) -> ProseBlock | None:
    """Both verdicts and the reason; None if they agree or none was shown.

    Args:
        visit: the visit [Visit]
        assessment: its judgement [Assessment]
        before: visit and judgement as they were when the verdict was shown; None if unavailable
        phrases: words and units of the reader [Phrases]

    Returns:
        the block [ProseBlock]
    """
    shown = visit.get("verdict_shown") or {}
    if not shown.get("digest"):
        return _unmarked(shown, assessment, phrases)
    if shown["digest"] == verdict_digest(assessment):
        return None
    proven = before if before and verdict_digest(before["assessment"]) == shown["digest"] else None
    key, time = ("then", clock(shown["at"])) if shown.get("at") else ("then_undated", "")
    paragraphs = [
        paragraph(_then(shown, proven, phrases), _lead(key, shown, time, phrases)),
        paragraph(_found(visit, assessment, phrases), _lead("now", assessment, "", phrases)),
        paragraph(phrases.say("shown", _why(shown, assessment, proven, before)), phrases.say("shown", "why")),
    ]
    return prose("shown", phrases.say("section", "shown"), paragraphs)


def verdict_digest(assessment: Assessment) -> str:
    """The `digest` of `verdict.shown`, calculated again from a judgement of the desk.

    Args:
        assessment: the result of `assess` or `diagnose` [Assessment]

    Returns:
        SHA-256 over the text that represents the verdict [64 hex digits]

    Raises:
        ValueError: it contains a number that isn't finite.
    """
    # The kernel writes a judgement as the JSON tree that it is.
    return hashlib.sha256(shown_text(cast(JsonObject, assessment)).encode()).hexdigest()


def _unmarked(shown: VerdictShown, assessment: Assessment, phrases: Phrases) -> ProseBlock | None:
    """For a phone that kept no digest: if the rules differ, that the verdicts may differ."""
    if not shown.get("rulebook") or shown["rulebook"] == assessment["rulebook"]:
        return None
    text = phrases.say("shown", "unmarked", shown=shown["rulebook"][:MARK], used=assessment["rulebook"][:MARK])
    return prose("shown", phrases.say("section", "shown"), [paragraph(text)])


def _lead(key: str, edition: VerdictShown | Assessment, time: str, phrases: Phrases) -> str:
    return phrases.say("shown", key, time=time, rulebook=(edition.get("rulebook") or "")[:MARK],
                       app=edition.get("app") or "")


def _then(shown: VerdictShown, proven: JudgedVisit | None, phrases: Phrases) -> str:
    if proven is None:
        return phrases.say("shown", "then_unknown", digest=shown["digest"][:MARK])
    return _found(proven["visit"], proven["assessment"], phrases)


def _found(visit: Visit, assessment: Assessment, phrases: Phrases) -> str:
    return " ".join(finding(visit, assessment, readings.pair_of(visit, assessment), phrases))


def _why(shown: VerdictShown, assessment: Assessment, proven: JudgedVisit | None, before: JudgedVisit | None) -> str:
    same_rules = shown.get("rulebook") == assessment["rulebook"]
    now = verdict_digest(assessment)
    if proven is not None or (same_rules and before and verdict_digest(before["assessment"]) != now):
        return "entries"
    if not same_rules:
        return "rules"
    return "version" if shown.get("app") != assessment["app"] else "unclear"
