"""The sheet's block of causes: which are held open, what was seen or measured about each, and the next check.

It ranks nothing and prints no weight; what is held open and its evidence come from the assessment, words from the book.
"""

from __future__ import annotations

from sync.kernel.judgement import Assessment, Evidence, EvidenceRow, JudgedTest, NextCheck
from sync.kernel.visit import Test
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
    """The causes of the first shown test that has any, as found before the work.

    Args:
        assessment: the visit's judgement [Assessment]
        tests: the tests set side by side [list]
        phrases: words and units of the reader [Phrases]

    Returns:
        the block; None if there are no causes [CausesBlock]
    """
    test = judged_before(assessment, tests)
    if test is None:
        return None
    held = held_open(test, phrases)
    many = len(held) > len(LETTERS)
    lettered = [] if many else held
    worked_on = len(tests) > 1 and test["role"] == "before"
    return {"name": "causes", "kind": "causes",
            "title": phrases.say("section", "causes_before" if worked_on else "causes"),
            "said": finding(test, phrases),
            "held": _lettered(lettered, phrases) if len(lettered) > 1 else [],
            "families": _families(held, phrases) if many else [],
            "grid": _grid(test, lettered, phrases) if len(lettered) > 1 else None,
            "check": _check(test["next_check"], lettered, len(test["undecided"]), phrases),
            "notes": [*(_alone(test, phrases) if len(held) == 1 else []),
                      *(_alike(test, lettered, phrases) if len(lettered) > 1 else []),
                      *_notes(test, lettered, phrases)]}


def judged_before(assessment: Assessment, tests: list[Test]) -> JudgedTest | None:
    """The judgement of the first shown test that has causes, and their evidence; None if none has."""
    shown = {test["id"]: place for place, test in enumerate(tests)}
    judged = [test for test in assessment["tests"] if test["id"] in shown and test["causes"] and test["evidence"]]
    return min(judged, key=lambda test: shown[test["id"]]) if judged else None


def held_open(test: JudgedTest, phrases: Phrases) -> list[str]:
    """The causes held open in the order of the trade, or the one that stands alone; none if that is healthy."""
    first = test["causes"][0]["id"]
    held = test["undecided"] or [first]
    return [] if held == ["healthy"] else [cause for cause in phrases.rulebook["causes"]["order"] if cause in held]


def finding(test: JudgedTest, phrases: Phrases) -> str:
    """What a test suggests, in a sentence or two.

    Args:
        test: its judgement, with causes [JudgedTest]
        phrases: words and units of the reader [Phrases]

    Returns:
        the healthy finding, the one cause that stands alone, or how many are held open [sentences]
    """
    first, undecided = test["causes"][0]["id"], test["undecided"]
    if not undecided:
        alone = sentence(phrases.cause(f"causes.{first}", "name")) + "."
        return phrases.cause("said", "healthy") if first == "healthy" else alone
    faults = [cause for cause in held_open(test, phrases) if cause != "healthy"]
    names = [phrases.cause(f"causes.{cause}", "name") for cause in faults]
    listed = phrases.cause("said", "or").join(part for part in (phrases.row(names[:-1]), names[-1]) if part)
    blanks = {"count": phrases.cause("count", str(len(faults))), "causes": listed}
    if first == "healthy":
        return phrases.cause("said", "nothing" if len(undecided) <= len(LETTERS) else "nothing_many", **blanks)
    fitting = sentence(phrases.cause("said", "open_one" if len(faults) == 1 else "open", **blanks))
    return f"{fitting} {phrases.cause('said', 'not_healthy')}" if "healthy" in undecided else fitting


def _lettered(held: list[str], phrases: Phrases) -> list[HeldCause]:
    return [{"letter": letter, "name": phrases.cause(f"causes.{cause}", "name")}
            for letter, cause in zip(LETTERS, held, strict=False)]


def _alone(test: JudgedTest, phrases: Phrases) -> list[str]:
    """What the one cause that stands alone means to the customer, and its evidence in a line or two."""
    cause = test["causes"][0]["id"]
    lines = [phrases.cause(f"causes.{cause}", "customer")]
    for key, kind in (("for", "fits"), ("however", "against")):
        items = [evidence(row, phrases) for row in test["evidence"] if row["on"].get(cause) == kind]
        lines += [phrases.cause("said", key, evidence=phrases.semicolons(items))] if items else []
    return [" ".join(lines)]


def _families(held: list[str], phrases: Phrases) -> list[CauseFamily]:
    families = phrases.rulebook["strips"]["families"]
    rows = {name: [phrases.cause(f"causes.{cause}", "name") for cause in causes if cause in held]
            for name, causes in families.items()}
    return [{"title": phrases.cause("families", name), "causes": phrases.row(names)}
            for name, names in rows.items() if names]


def _grid(test: JudgedTest, held: list[str], phrases: Phrases) -> EvidenceGrid:
    return {"head": phrases.cause("said", "seen"), "letters": list(LETTERS[:len(held)]),
            "lines": [_line(row, held, phrases) for row in test["evidence"] if _for_all(row, held) is None],
            "legend": [{"kind": kind, "text": phrases.cause("said", kind)} for kind in SPEAKS]}


def _for_all(row: EvidenceRow, held: list[str]) -> str | None:
    """What a seen or measured thing says about all causes held open alike; None if it tells them apart."""
    kinds = {row["on"].get(cause, "silent") for cause in held}
    return kinds.pop() if len(kinds) == 1 else None


def _alike(test: JudgedTest, held: list[str], phrases: Phrases) -> list[str]:
    """Evidence that doesn't tell the causes held open apart, in one paragraph."""
    rows = {kind: [evidence(row, phrases) for row in test["evidence"] if _for_all(row, held) == kind]
            for kind in SPEAKS}
    texts = [phrases.cause("said", f"all_{kind}", evidence=phrases.semicolons(items))
             for kind, items in rows.items() if items]
    return [" ".join(texts)] if texts else []


def _line(row: EvidenceRow, held: list[str], phrases: Phrases) -> EvidenceLine:
    kinds = [row["on"].get(cause, "silent") for cause in held]
    marks: list[EvidenceMark] = [{"kind": kind, "text": f"{letter}: {phrases.cause('said', kind)}"}
                                 for letter, kind in zip(LETTERS, kinds, strict=False)]
    return {"label": sentence(evidence(row, phrases)), "marks": marks}


def evidence(item: Evidence, phrases: Phrases) -> str:
    """A seen or measured thing, with its figures in the reader's units."""
    figures = {name: _figure(item["code"], value, phrases) for name, value in item["values"].items()}
    return phrases.cause("evidence", item["code"], **figures)


def _figure(code: str, value: float, phrases: Phrases) -> str:
    kind = phrases.rulebook["strips"]["figures"][code.rsplit("_", 1)[0]]
    if kind == "percent":
        return f"{phrases.number(100.0 * value, 0)}\u00a0%"
    return phrases.measure(kind, value)


def _check(check: NextCheck | None, held: list[str], open_causes: int, phrases: Phrases) -> CheckLine | None:
    """The next check: what each cause held open would show, or how many causes it would leave."""
    if check is None:
        return None
    minutes = phrases.number(check["minutes"], 0)
    label = phrases.cause("said", "next", minutes=minutes, check=phrases.cause("checks", check["what"]))
    codes = {showing["id"]: showing["code"] for showing in check["shows"]}
    if held and len(set(codes.values())) > 1:
        return {"label": label, "about": sentence(_subject(check, phrases)),
                "shows": [_showing(codes[cause], phrases) if cause in codes else "" for cause in held]}
    count = max(1, int(open_causes - check["gain"] + 0.5))
    about = phrases.cause("said", "leaves", count=phrases.cause("count", str(count))) if open_causes > 1 else ""
    return {"label": label, "about": about, "shows": []}


def _subject(check: NextCheck, phrases: Phrases) -> str:
    """What a check tells: how a quantity would be, or whether something would be seen."""
    code = check["shows"][0]["code"]
    quantity = code.rsplit("_", 1)[0]
    if quantity in phrases.rulebook["strips"]["figures"]:
        return phrases.cause("said", "would_be", what=phrases.code("derived", quantity))
    return phrases.cause("said", "would_see", what=phrases.cause("evidence", code.removeprefix("no_")))


def _showing(code: str, phrases: Phrases) -> str:
    """How a check would turn out, in one word."""
    side = code.rsplit("_", 1)[-1]
    return phrases.cause("shows", side if side in SIDES else "no" if code.startswith("no_") else "yes")


def _notes(test: JudgedTest, held: list[str], phrases: Phrases) -> list[str]:
    """What these readings can't show, and what to keep in mind; the cautions say who may open the circuit."""
    notes = []
    if ("undercharge" in held and len(held) > 1) or test["causes"][0]["id"] == "healthy":
        notes.append(phrases.cause("said", "weigh"))
    if "non_condensables" in held:
        notes.append(phrases.cause("said", "mixed"))
    return notes
