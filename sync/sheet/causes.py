"""The sheet's block of causes: which are held open, what was seen or measured of each, and the check that comes next.

It ranks nothing and prints no weight; what is held open and its evidence come from the assessment, words from the book.
"""

from __future__ import annotations

from sync.kernel.judgement import Assessment, Evidence, EvidenceRow, JudgedTest, NextCheck
from sync.kernel.visit import Test
from sync.kernel.word_books import CauseWords
from sync.sheet.sheet_data import (
    CauseFamily,
    CausesBlock,
    CheckLine,
    EvidenceGrid,
    EvidenceLine,
    EvidenceMark,
    HeldCause,
)
from sync.sheet.wording import Phrases, sentence

LETTERS = "ABC"
SPEAKS = ("fits", "against", "silent")
SIDES = ("high", "low", "usual")


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
    book, held = words_of(phrases), held_open(test, phrases)
    many = len(held) > len(LETTERS)
    lettered = [] if many else held
    worked_on = len(tests) > 1 and test["role"] == "before"
    return {"name": "causes", "kind": "causes",
            "title": phrases.say("section", "causes_before" if worked_on else "causes"),
            "said": finding(test, phrases),
            "held": _lettered(lettered, book) if len(lettered) > 1 else [],
            "families": _families(held, phrases) if many else [],
            "grid": _grid(test, lettered, phrases) if len(lettered) > 1 else None,
            "check": _check(test["next_check"], lettered, len(test["undecided"]), phrases),
            "notes": [*(_alone(test, phrases) if len(held) == 1 else []),
                      *(_alike(test, lettered, phrases) if len(lettered) > 1 else []), *_notes(test, lettered, book)]}


def judged_before(assessment: Assessment, tests: list[Test]) -> JudgedTest | None:
    """The judgement of the first test shown that has causes, and evidence of them; None where none has."""
    shown = {test["id"]: place for place, test in enumerate(tests)}
    judged = [test for test in assessment["tests"] if test["id"] in shown and test["causes"] and test["evidence"]]
    return min(judged, key=lambda test: shown[test["id"]]) if judged else None


def words_of(phrases: Phrases) -> CauseWords:
    """The words for causes in the sheet's language."""
    return phrases.rulebook["cause_words"]["languages"]["en"]


def held_open(test: JudgedTest, phrases: Phrases) -> list[str]:
    """The causes held open in the order of the trade, or the one that stands alone; none where that is healthy."""
    first = test["causes"][0]["id"]
    held = test["undecided"] or [first]
    return [] if held == ["healthy"] else [cause for cause in phrases.rulebook["causes"]["order"] if cause in held]


def finding(test: JudgedTest, phrases: Phrases) -> str:
    """What a test points to, in a sentence or two.

    Args:
        test: its judgement, with causes [JudgedTest]
        phrases: words and units of the reader [Phrases]

    Returns:
        the healthy finding, the one cause that stands alone, or how many are held open [sentences]
    """
    book, first, undecided = words_of(phrases), test["causes"][0]["id"], test["undecided"]
    said = book["said"]
    if not undecided:
        return said["healthy"] if first == "healthy" else sentence(book["causes"][first]["name"]) + "."
    faults = [cause for cause in held_open(test, phrases) if cause != "healthy"]
    names = [book["causes"][cause]["name"] for cause in faults]
    listed = said["or"].join(part for part in (phrases.row(names[:-1]), names[-1]) if part)
    blanks = {"count": book["count"][len(faults)], "causes": listed}
    if first == "healthy":
        return said["nothing" if len(undecided) <= len(LETTERS) else "nothing_many"].format(**blanks)
    fitting = sentence(said["open_one" if len(faults) == 1 else "open"].format(**blanks))
    return f"{fitting} {said['not_healthy']}" if "healthy" in undecided else fitting


def _lettered(held: list[str], book: CauseWords) -> list[HeldCause]:
    return [{"letter": letter, "name": book["causes"][cause]["name"]}
            for letter, cause in zip(LETTERS, held, strict=False)]


def _alone(test: JudgedTest, phrases: Phrases) -> list[str]:
    """What the one cause that stands alone means to the customer, and its evidence in a line or two."""
    book, cause = words_of(phrases), test["causes"][0]["id"]
    lines = [book["causes"][cause]["customer"]]
    for key, kind in (("for", "fits"), ("however", "against")):
        items = [evidence(row, phrases) for row in test["evidence"] if row["on"].get(cause) == kind]
        lines += [book["said"][key].format(evidence=phrases.semicolons(items))] if items else []
    return [" ".join(lines)]


def _families(held: list[str], phrases: Phrases) -> list[CauseFamily]:
    book, families = words_of(phrases), phrases.rulebook["cause_words"]["families"]
    rows = {name: [book["causes"][cause]["name"] for cause in causes if cause in held]
            for name, causes in families.items()}
    return [{"title": book["families"][name], "causes": phrases.row(names)} for name, names in rows.items() if names]


def _grid(test: JudgedTest, held: list[str], phrases: Phrases) -> EvidenceGrid:
    said = words_of(phrases)["said"]
    return {"head": said["seen"], "letters": list(LETTERS[:len(held)]),
            "lines": [_line(row, held, phrases) for row in test["evidence"] if _for_all(row, held) is None],
            "legend": [{"kind": kind, "text": said[kind]} for kind in SPEAKS]}


def _for_all(row: EvidenceRow, held: list[str]) -> str | None:
    """What a thing that was seen or measured says of all causes held open alike; None where it tells them apart."""
    kinds = {row["on"].get(cause, "silent") for cause in held}
    return kinds.pop() if len(kinds) == 1 else None


def _alike(test: JudgedTest, held: list[str], phrases: Phrases) -> list[str]:
    """What tells no cause held open from another, in one paragraph."""
    rows = {kind: [evidence(row, phrases) for row in test["evidence"] if _for_all(row, held) == kind]
            for kind in SPEAKS}
    said = words_of(phrases)["said"]
    texts = [said[f"all_{kind}"].format(evidence=phrases.semicolons(items)) for kind, items in rows.items() if items]
    return [" ".join(texts)] if texts else []


def _line(row: EvidenceRow, held: list[str], phrases: Phrases) -> EvidenceLine:
    book = words_of(phrases)
    kinds = [row["on"].get(cause, "silent") for cause in held]
    marks: list[EvidenceMark] = [{"kind": kind, "text": f"{letter}: {book['said'][kind]}"}
                                 for letter, kind in zip(LETTERS, kinds, strict=False)]
    return {"label": sentence(evidence(row, phrases)), "marks": marks}


def evidence(item: Evidence, phrases: Phrases) -> str:
    """A thing that was seen or measured, its figures in the reader's units."""
    text = words_of(phrases)["evidence"][item["code"]]
    for name, value in item["values"].items():
        text = text.replace("{" + name + "}", _figure(item["code"], value, phrases))
    return text


def _figure(code: str, value: float, phrases: Phrases) -> str:
    kind = phrases.rulebook["cause_words"]["figures"][code.rsplit("_", 1)[0]]
    if kind == "percent":
        return f"{phrases.number(100.0 * value, 0)}\u00a0%"
    return phrases.measure(kind, value)


def _check(check: NextCheck | None, held: list[str], open_causes: int, phrases: Phrases) -> CheckLine | None:
    """The check that comes next: what each cause held open would show, or how many causes it would leave."""
    if check is None:
        return None
    book = words_of(phrases)
    minutes = phrases.number(check["minutes"], 0)
    label = book["said"]["next"].format(minutes=minutes, check=book["checks"][check["what"]])
    codes = {showing["id"]: showing["code"] for showing in check["shows"]}
    if held and len(set(codes.values())) > 1:
        return {"label": label, "about": sentence(_subject(check, phrases)),
                "shows": [_showing(codes[cause], book) if cause in codes else "" for cause in held]}
    count = max(1, int(open_causes - check["gain"] + 0.5))
    about = book["said"]["leaves"].format(count=book["count"][count]) if open_causes > 1 else ""
    return {"label": label, "about": about, "shows": []}


def _subject(check: NextCheck, phrases: Phrases) -> str:
    """What a check tells of: how a quantity would be, or whether a thing would be seen."""
    code, book = check["shows"][0]["code"], words_of(phrases)
    quantity = code.rsplit("_", 1)[0]
    if quantity in phrases.rulebook["cause_words"]["figures"]:
        return book["said"]["would_be"].format(what=phrases.code("derived", quantity))
    return book["said"]["would_see"].format(what=book["evidence"][code.removeprefix("no_")])


def _showing(code: str, book: CauseWords) -> str:
    """How a check would turn out, in a word."""
    side = code.rsplit("_", 1)[-1]
    return book["shows"][side if side in SIDES else "no" if code.startswith("no_") else "yes"]


def _notes(test: JudgedTest, held: list[str], book: CauseWords) -> list[str]:
    """What these readings cannot show, and what to mind; who may open the circuit stands among the cautions."""
    notes = []
    if ("undercharge" in held and len(held) > 1) or test["causes"][0]["id"] == "healthy":
        notes.append(book["said"]["weigh"])
    if "non_condensables" in held:
        notes.append(book["said"]["mixed"])
    return notes
