"""The sheet's account of a verdict that differs from the one shown on the phone: both, and why.

It judges nothing; which verdict was shown is known by its digest, and its words only where it can be worked out again.
"""

from __future__ import annotations

import hashlib
from typing import Any

from sync.kernel.verdict_digest import shown_text
from sync.sheet import readings
from sync.sheet.blocks import Block, Visit, paragraph, prose
from sync.sheet.result import result
from sync.sheet.wording import Phrases, clock

MARK = 12  # hex digits of a digest that a person can compare


def block(visit: Visit, assessment: dict[str, Any], before: dict[str, Any] | None, said: dict[str, Any],
          phrases: Phrases) -> Block | None:
    """Both verdicts and the reason, None where they agree or none was shown.

    Args:
        visit: the visit [design shape]
        assessment: its assessment [design shape]
        before: {visit, assessment} as they were when the verdict was shown, None where that cannot be had [mapping]
        said: the sheet's own result as from `result` [mapping]
        phrases: words and units of the reader [object]

    Returns:
        {kind, title, columns} [plain data]
    """
    shown = visit.get("verdict_shown") or {}
    if not shown.get("digest"):
        return _unmarked(shown, assessment, phrases)
    if shown["digest"] == verdict_digest(assessment):
        return None
    proven = before if before and verdict_digest(before["assessment"]) == shown["digest"] else None
    paragraphs = [
        paragraph(_then(shown, proven, phrases), _lead("then" if shown.get("at") else "then_undated", shown, phrases)),
        paragraph(" ".join(said["sentences"]), _lead("now", assessment, phrases)),
        paragraph(phrases.say("shown", _why(shown, assessment, proven, before)), phrases.say("shown", "why")),
    ]
    return prose(phrases.say("section", "shown"), [paragraphs])


def verdict_digest(assessment: dict[str, Any]) -> str:
    """What `verdict.shown` carries as `digest`, worked out again from a judgement of the desk.

    Args:
        assessment: what `assess` or `diagnose` gives [JSON object]

    Returns:
        SHA-256 over the text that stands for the verdict [64 hex digits]

    Raises:
        ValueError: it holds a number that is not finite.
    """
    return hashlib.sha256(shown_text(assessment).encode()).hexdigest()


def _unmarked(shown: dict[str, Any], assessment: dict[str, Any], phrases: Phrases) -> Block | None:
    """A phone that kept no digest: where the rules differ, that the verdicts may."""
    if not shown.get("rulebook") or shown["rulebook"] == assessment.get("rulebook"):
        return None
    text = phrases.say("shown", "unmarked", shown=str(shown["rulebook"])[:MARK],
                       used=str(assessment.get("rulebook") or "")[:MARK])
    return prose(phrases.say("section", "shown"), [[paragraph(text)]])


def _lead(key: str, made: dict[str, Any], phrases: Phrases) -> str:
    return phrases.say("shown", key, time=clock(made["at"]) if made.get("at") else "",
                       rulebook=str(made.get("rulebook") or "")[:MARK], app=str(made.get("app") or ""))


def _then(shown: dict[str, Any], proven: dict[str, Any] | None, phrases: Phrases) -> str:
    if proven is None:
        return phrases.say("shown", "then_unknown", digest=str(shown["digest"])[:MARK])
    tests = readings.pair_of(proven["visit"], proven["assessment"])
    return " ".join(result(proven["visit"], proven["assessment"], tests, phrases)["sentences"])


def _why(shown: dict[str, Any], assessment: dict[str, Any], proven: dict[str, Any] | None,
         before: dict[str, Any] | None) -> str:
    if proven is not None or (before and verdict_digest(before["assessment"]) != verdict_digest(assessment)
                              and shown.get("rulebook") == assessment.get("rulebook")):
        return "entries"
    if shown.get("rulebook") != assessment.get("rulebook"):
        return "rules"
    return "version" if shown.get("app") != assessment.get("app") else "unclear"
