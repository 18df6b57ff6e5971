"""The sheet's block of causes: the two that fit best with what speaks for and against each, and what would settle it.

It ranks nothing and prints no fit as a percentage; order and evidence come from the assessment, words from the book.
"""

from __future__ import annotations

from typing import Any

from sync.sheet.blocks import Block
from sync.sheet.readings import Test
from sync.sheet.wording import Phrases, sentence

LEADING = 2
Entry = dict[str, Any]


def block(assessment: dict[str, Any], tests: list[Test], phrases: Phrases) -> Block | None:
    """The causes of the first test shown for which they were worked out, as found before the work.

    Args:
        assessment: the visit's assessment, its tests with `causes`, `undecided` and `next_check` [design shape]
        tests: the tests set side by side [list]
        phrases: words and units of the reader [object]

    Returns:
        {kind, title, first, causes: [{lead, text, evidence}], open}, None where there are no causes [plain data]
    """
    entry = judged_before(assessment, tests)
    if entry is None:
        return None
    book = words_of(phrases)
    leading = leading_of(entry, phrases)
    # An alarm that a sound system would raise as well must not come alone.
    named = [cause["id"] for cause in leading]
    sound = leading and "healthy" in entry["undecided"] and "healthy" not in named
    worked_on = len(tests) > 1 and entry.get("role") == "before"
    return {"kind": "causes", "title": phrases.say("section", "causes_before" if worked_on else "causes"),
            "first": phrases.say("causes", "sound") if sound else "",
            "causes": [_cause(cause, leading[0], book, phrases) for cause in leading],
            "open": " ".join(_open(entry, leading, book, phrases))}


def judged_before(assessment: dict[str, Any], tests: list[Test]) -> Entry | None:
    """The judgement of the first test shown that has causes, None where none has."""
    shown = {test["id"]: place for place, test in enumerate(tests)}
    found = [entry for entry in assessment.get("tests") or [] if entry["id"] in shown and entry.get("causes")]
    return min(found, key=lambda entry: shown[entry["id"]]) if found else None


def words_of(phrases: Phrases) -> Entry:
    """The words for causes in the sheet's language."""
    book: Entry = phrases.rulebook["cause_words"]["languages"]["en"]
    return book


def leading_of(entry: Entry, phrases: Phrases) -> list[Entry]:
    """The best cause, and the second where it is not told apart from the first; none where too many are open."""
    limits = phrases.rulebook["causes"]["told_apart"]
    if len(entry["undecided"]) > limits["most"]:
        return []
    best: list[Entry] = entry["causes"][:LEADING]
    return [cause for cause in best if cause["fit"] >= limits["near"] * best[0]["fit"]]


def _cause(cause: Entry, best: Entry, book: Entry, phrases: Phrases) -> dict[str, str]:
    """A cause in words for the customer, its evidence as one line; what was just said of the best is not said again."""
    words = book["causes"][cause["id"]]
    lead = (book["said"]["first"].replace("{cause}", words["name"]) if cause is best
            else phrases.say("causes", "near", cause=words["name"]))
    said = []
    for part in ("for", "against"):
        if cause[part]:
            repeated = cause is not best and cause[part] == best[part]
            listed = phrases.say("causes", "same") if repeated else phrases.words["list"]["semicolon"].join(
                evidence(item, book, phrases) for item in cause[part])
            said.append(sentence(book["said"][part].replace("{evidence}", listed)) + ".")
    return {"lead": lead, "text": words["customer"], "evidence": " ".join(said)}


def evidence(item: Entry, book: Entry, phrases: Phrases) -> str:
    """What speaks for or against a cause, its figures in the reader's units."""
    text: str = book["evidence"][item["code"]]
    for name, value in item["values"].items():
        text = text.replace("{" + name + "}", _figure(item["code"], value, phrases))
    return text


def _figure(code: str, value: float, phrases: Phrases) -> str:
    kind = phrases.rulebook["cause_words"]["figures"][code.rsplit("_", 1)[0]]
    if kind == "percent":
        return f"{phrases.number(100.0 * value, 0)}\u00a0%"
    if kind == "times":
        return phrases.number(value, 1)
    return phrases.measure(kind, value)


def _open(entry: Entry, leading: list[Entry], book: Entry, phrases: Phrases) -> list[str]:
    """What cannot be told apart yet, the reading that would help most, and what to mind.

    That opening the circuit is for certified people stands among the cautions of every sheet.
    """
    said, ids = book["said"], [cause["id"] for cause in leading]
    found = []
    if not leading:
        found.append(said["many_sound" if entry["causes"][0]["id"] == "healthy" else "many"])
    elif set(entry["undecided"]) <= {*ids, "healthy"}:
        found += [phrases.say("causes", "tied")] if len(ids) > 1 else []
    else:
        names = phrases.listed([book["causes"][cause]["name"] for cause in entry["undecided"]])
        found.append(said["tied"].replace("{causes}", names))
    if entry["next_check"]:
        found.append(phrases.say("causes", "check", check=book["checks"][entry["next_check"]["what"]]))
    if "undercharge" in ids or ids[:1] == ["healthy"]:
        found.append(said["weigh"])
    if "non_condensables" in ids:
        found.append(said["mixed"])
    return found
