"""The sheet's block of causes: the two that fit best with what speaks for and against each, and what would settle it.

It ranks nothing; order, fit and evidence come from the assessment, words from the rulebook.
"""

from __future__ import annotations

from typing import Any

from sync.phrases import Phrases, sentence
from sync.sheet_blocks import Block, paragraph, prose
from sync.sheet_readings import Test

LEADING = 2
# A cause that fits less than this is no longer worth a line on a customer's sheet (common practice, no source).
FIT_LEAST = 0.05


def block(assessment: dict[str, Any], tests: list[Test], phrases: Phrases) -> Block | None:
    """The causes of the first test shown for which they were worked out, as found before the work.

    Args:
        assessment: the visit's assessment, its tests with `causes`, `undecided` and `next_check` [design shape]
        tests: the tests set side by side [list]
        phrases: words of the reader [object]

    Returns:
        {kind, title, columns: the causes, then what is open}, None where there are no causes [plain data]
    """
    shown = {test["id"] for test in tests}
    entries = [entry for entry in assessment.get("tests") or [] if entry["id"] in shown and entry.get("causes")]
    if not entries:
        return None
    entry = entries[0]
    leading = [cause for cause in entry["causes"][:LEADING] if cause["fit"] >= FIT_LEAST]
    told = [_cause(cause, phrases) for cause in leading]
    return prose(phrases.say("section", "causes"), [told, _open(entry, phrases)])


def _cause(cause: dict[str, Any], phrases: Phrases) -> dict[str, str]:
    lead = phrases.say("causes", "fit", cause=sentence(name_of(cause["id"], phrases)),
                       fit=phrases.number(100.0 * cause["fit"], 0))
    said = [phrases.say("causes", key, list=phrases.row([evidence(item, phrases) for item in cause.get(part) or []]))
            for key, part in (("speaks_for", "for"), ("speaks_against", "against")) if cause.get(part)]
    return paragraph(" ".join(said) or phrases.say("causes", "no_evidence"), lead)


def name_of(cause: str, phrases: Phrases) -> str:
    """A cause as a technician names it, from the causes book where that has it."""
    book = phrases.rulebook.get("causes", {}).get("causes", {})
    words = book.get(cause, {}) if isinstance(book, dict) else {}
    return str(words.get("technician") or phrases.code("cause", cause))


def evidence(item: dict[str, Any], phrases: Phrases) -> str:
    """What speaks for or against a cause, its values filled in where the words have room for them."""
    values = {name: phrases.number(value, 1) if isinstance(value, float | int) else str(value)
              for name, value in (item.get("values") or {}).items()}
    text = phrases.code("evidence", item["code"])
    for name, value in values.items():
        text = text.replace("{" + name + "}", value)
    return text


def _open(entry: dict[str, Any], phrases: Phrases) -> list[dict[str, str]]:
    """What cannot be told apart yet, and the reading that would help most."""
    found = []
    if entry.get("undecided"):
        names = phrases.listed([name_of(cause, phrases) for cause in entry["undecided"]])
        found.append(paragraph(sentence(names) + ".", phrases.say("found", "undecided")))
    check = entry.get("next_check")
    if check:
        apart = phrases.listed([name_of(cause, phrases) for cause in check.get("separates") or []])
        what = sentence(phrases.code("next_check", check["what"]))
        text = phrases.say("causes", "settles" if apart else "check", what=what, causes=apart)
        found.append(paragraph(text, phrases.say("causes", "next")))
    return found
