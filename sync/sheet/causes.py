"""The sheet's block of causes: the two that fit best with what speaks for and against each, and what would settle it.

It ranks nothing and prints no fit as a percentage; order and evidence come from the assessment, words from the book.
"""

from __future__ import annotations

from sync.kernel.judgement import Assessment, Cause, Evidence, JudgedTest
from sync.kernel.visit import Test
from sync.kernel.word_books import CauseWords
from sync.sheet.sheet_data import CausesBlock, CauseText
from sync.sheet.wording import Phrases, sentence

LEADING = 2


def block(assessment: Assessment, tests: list[Test], phrases: Phrases) -> CausesBlock | None:
    """The causes of the first test shown for which they were worked out, as found before the work.

    Args:
        assessment: the visit's judgement [Assessment]
        tests: the tests set side by side [list]
        phrases: words and units of the reader [Phrases]

    Returns:
        the block, None where there are no causes [CausesBlock]
    """
    test = judged_before(assessment, tests)
    if test is None:
        return None
    book = words_of(phrases)
    leading = leading_of(test, phrases)
    # An alarm that a sound system would raise as well must not come alone.
    named = [cause["id"] for cause in leading]
    sound = leading and "healthy" in test["undecided"] and "healthy" not in named
    worked_on = len(tests) > 1 and test["role"] == "before"
    return {"name": "causes", "kind": "causes",
            "title": phrases.say("section", "causes_before" if worked_on else "causes"),
            "first": phrases.say("causes", "sound") if sound else "",
            "causes": [_cause(cause, leading[0], book, phrases) for cause in leading],
            "open": " ".join(_open(test, leading, book, phrases))}


def judged_before(assessment: Assessment, tests: list[Test]) -> JudgedTest | None:
    """The judgement of the first test shown that has causes, None where none has."""
    shown = {test["id"]: place for place, test in enumerate(tests)}
    judged = [test for test in assessment["tests"] if test["id"] in shown and test["causes"]]
    return min(judged, key=lambda test: shown[test["id"]]) if judged else None


def words_of(phrases: Phrases) -> CauseWords:
    """The words for causes in the sheet's language."""
    return phrases.rulebook["cause_words"]["languages"]["en"]


def leading_of(test: JudgedTest, phrases: Phrases) -> list[Cause]:
    """The best cause, and the second where it is not told apart from the first; none where too many are open."""
    limits = phrases.rulebook["causes"]["told_apart"]
    if len(test["undecided"]) > limits["most"]:
        return []
    best = test["causes"][:LEADING]
    return [cause for cause in best if cause["fit"] >= limits["near"] * best[0]["fit"]]


def _cause(cause: Cause, best: Cause, book: CauseWords, phrases: Phrases) -> CauseText:
    """A cause in words for the customer, its evidence as one line; what was just said of the best is not said again."""
    words = book["causes"][cause["id"]]
    lead = (book["said"]["first"].replace("{cause}", words["name"]) if cause is best
            else phrases.say("causes", "near", cause=words["name"]))
    sentences = []
    for part, items, of_best in (("for", cause["for"], best["for"]), ("against", cause["against"], best["against"])):
        if items:
            repeated = cause is not best and items == of_best
            listed = phrases.say("causes", "same") if repeated else phrases.semicolons(
                [evidence(item, book, phrases) for item in items])
            sentences.append(sentence(book["said"][part].replace("{evidence}", listed)) + ".")
    return {"lead": lead, "text": words["customer"], "evidence": " ".join(sentences)}


def evidence(item: Evidence, book: CauseWords, phrases: Phrases) -> str:
    """What speaks for or against a cause, its figures in the reader's units."""
    text = book["evidence"][item["code"]]
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


def _open(test: JudgedTest, leading: list[Cause], book: CauseWords, phrases: Phrases) -> list[str]:
    """What cannot be told apart yet, the reading that would help most, and what to mind.

    That opening the circuit is for certified people stands among the cautions of every sheet.
    """
    words, ids = book["said"], [cause["id"] for cause in leading]
    sentences = []
    if not leading:
        sentences.append(words["many_sound" if test["causes"][0]["id"] == "healthy" else "many"])
    elif set(test["undecided"]) <= {*ids, "healthy"}:
        sentences += [phrases.say("causes", "tied")] if len(ids) > 1 else []
    else:
        names = phrases.listed([book["causes"][cause]["name"] for cause in test["undecided"]])
        sentences.append(words["tied"].replace("{causes}", names))
    if test["next_check"]:
        sentences.append(phrases.say("causes", "check", check=book["checks"][test["next_check"]["what"]]))
    if "undercharge" in ids or ids[:1] == ["healthy"]:
        sentences.append(words["weigh"])
    if "non_condensables" in ids:
        sentences.append(words["mixed"])
    return sentences
