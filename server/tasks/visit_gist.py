"""What a visit came to, in the words of the reader: the verdict, the numbers before and after, the sum, what it lacks.

It judges nothing; the judgement is handed in.
"""

from __future__ import annotations

from server.tasks.messages import Gist
from sync.kernel.books import Rulebook
from sync.kernel.judgement import Assessment
from sync.kernel.prices import NoAmount
from sync.kernel.visit import UnitsOfBoth, Visit
from sync.language.reader import language, words_of
from sync.language.words import Words
from sync.sheet.figures import figures
from sync.sheet.price import money, total_of
from sync.sheet.readings import pair_of
from sync.sheet.wording import Phrases

# Outcomes that say more of a visit than its readings do.
TOLD_FIRST = ("declined", "referred", "return_needed")
# What a sheet cannot go without: where it stands in a visit, and the reason that says so.
NEEDED = {"customer.email": "lacks_email", "outcome": "lacks_outcome", "technician.business": "lacks_business"}


def gist_of(visit: Visit, judged: Assessment | None, rulebook: Rulebook) -> Gist:
    """A visit on a line or two.

    Args:
        visit: the visit [Visit]
        judged: its judgement, None where it could not be judged [Assessment or None]
        rulebook: the rulebook [Rulebook]

    Returns:
        in the reader's language and the technician's units [Gist]
    """
    units: UnitsOfBoth = {"technician": (visit.get("units") or {}).get("technician") or {}}
    phrases = Phrases(rulebook, language(), units)
    words = words_of(rulebook)
    shown = figures(visit, judged, pair_of(visit, judged), phrases) if judged else []
    texts = {one["name"]: words.say("desk.gist.pair", before=one["before"], after=one["value"], unit=one["unit"])
             if one["before"] else f"{one['value']}\u00a0{one['unit']}" for one in shown}
    signed = (visit.get("signature") or {}).get("sum")
    said = [_outcome(visit, words), _verdict(visit, judged, words)]
    return {"verdict": _begun(", ".join(part for part in said if part)), "vent": texts.get("vent", ""),
            "high": texts.get("high", ""), "sum": _sum(visit, phrases),
            "signed": money(signed, visit, phrases) if signed else ""}


def _outcome(visit: Visit, words: Words) -> str:
    outcome = visit.get("outcome")
    return words.term("outcome", outcome) if outcome in TOLD_FIRST else ""


def _verdict(visit: Visit, judged: Assessment | None, words: Words) -> str:
    if judged is None:
        return ""
    if judged["comparison"]:
        return words.term("verdict", judged["comparison"]["verdict"])
    tests = [test for test in judged["tests"] if test["causes"]]
    if not tests:
        return words.say("desk.gist.tested" if visit.get("tests") else "desk.gist.no_test")
    first, undecided = tests[-1]["causes"][0]["id"], tests[-1]["undecided"]
    if first == "healthy":
        return words.say("desk.gist.healthy")
    if undecided:
        return words.say("desk.gist.open", count=len(undecided))
    return words.say(f"causes.causes.{first}.name")


def _begun(text: str) -> str:
    return text[:1].upper() + text[1:]


def _sum(visit: Visit, phrases: Phrases) -> str:
    try:
        return total_of(visit, phrases) or ""
    except NoAmount:
        # The sheet's own reason says which price is none.
        return ""


def lacking(visit: Visit) -> list[str]:
    """What keeps a visit's sheet from going: paths of NEEDED that are empty [texts]."""
    customer, technician = visit.get("customer") or {}, visit.get("technician") or {}
    there = {"customer.email": customer.get("email"), "outcome": visit.get("outcome"),
             "technician.business": technician.get("business")}
    return [path for path in NEEDED if not there[path]]
