"""The verdict that was shown and signed, compared with the sheet's: silent if they agree, both and the reason if not.

The judgement is the desk's own; the visits are invented.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from server.tasks.sheet_data import as_shown, inputs_of
from sync.kernel.assessment import assess
from sync.physics.diagnosis import diagnose
from sync.records.logbook import Logbook
from sync.sheet.jobsheet import jobsheet
from sync.sheet.shown_verdict import verdict_digest
from tests.server.test_evening import Desk
from tests.support.ops import line_of
from tests.support.sheet_visits import PAIR, PSI, blocks_of, operations

Rulebook = dict[str, Any]
SHOWN_AT = "2026-07-14T15:15:00+02:00"


def shown_by(visit: dict[str, Any], books: Rulebook, **changes: str) -> dict[str, Any]:
    """What a phone writes about the verdict it shows."""
    return {"rulebook": books["hash"], "app": "0.1.0", "at": SHOWN_AT,
            "digest": verdict_digest(assess(visit, books)), **changes}


def account(visit: dict[str, Any], rulebook: Rulebook, before: dict[str, Any] | None = None) -> list[dict[str, str]]:
    """The paragraphs about two verdicts; [] if the sheet has none."""
    data = jobsheet(visit, diagnose(visit, rulebook, "0.1.0"), rulebook, None, {"shown": before})
    found: list[dict[str, str]] = blocks_of(data).get("shown", {}).get("paragraphs", [])
    return found


def test_the_same_verdict_needs_no_word(rulebook: Rulebook) -> None:
    """Even if the rules were renewed meanwhile: what matters is what they say."""
    visit = {**PAIR, "verdict_shown": shown_by(PAIR, rulebook)}
    assert account(visit, rulebook) == []
    assert account({**PAIR, "verdict_shown": shown_by(PAIR, rulebook, rulebook="ab" * 32)}, rulebook) == []
    assert account(PAIR, rulebook) == []


def test_entries_corrected_later_show_both_verdicts(rulebook: Rulebook) -> None:
    """The words of both, and that the entries are the reason."""
    visit = copy.deepcopy(PAIR)
    visit["verdict_shown"] = shown_by(PAIR, rulebook)
    visit["tests"][1]["readings"]["high_kpa_g"] = 214 * PSI
    then, now, why = account(visit, rulebook, {"visit": PAIR, "assessment": assess(PAIR, rulebook)})
    assert then["lead"] == f"Shown on the phone at 15:15 (rulebook {rulebook['hash'][:12]}, Layby 0.1.0):"
    assert then["text"].endswith("with less strain on the compressor.")
    assert now["text"] != then["text"]
    assert why["text"] == "entries of this visit were added or corrected after it was shown."


@pytest.mark.parametrize(("changes", "reason"), [
    ({"rulebook": "ab" * 32}, "the rulebook was updated in between."),
    ({"app": "0.0.9"}, "another version of Layby worked it out."),
    ({}, "the same rules and the same entries gave another verdict"),
])
def test_a_verdict_that_cannot_be_worked_out_again_is_named_by_its_mark(
    changes: dict[str, str], reason: str, rulebook: Rulebook
) -> None:
    """Its words aren't invented; the editions say why."""
    visit = {**PAIR, "verdict_shown": shown_by(PAIR, rulebook, digest="cd" * 32, **changes)}
    then, _, why = account(visit, rulebook, {"visit": PAIR, "assessment": assess(PAIR, rulebook)})
    assert then["text"].endswith("Its mark is cdcdcdcdcdcd.")
    assert why["text"].startswith(reason)


def test_without_a_mark_only_the_rules_can_be_compared(rulebook: Rulebook) -> None:
    """An entry from before the digest: reported if the editions differ, silent if they agree."""
    shown = {"rulebook": "ab" * 32, "at": SHOWN_AT}
    (told,) = account({**PAIR, "verdict_shown": shown}, rulebook)
    assert "Whether their verdicts differ wasn’t recorded" in told["text"]
    assert account({**PAIR, "verdict_shown": {**shown, "rulebook": rulebook["hash"]}}, rulebook) == []


@pytest.fixture
def desk(folder: Path, rulebook: Rulebook) -> Iterator[Desk]:
    """A visit filed with the verdict that its phone showed."""
    with Logbook(folder, rulebook) as logbook:
        made = Desk(logbook, rulebook)
        made.file(operations(PAIR, made.phone))
        visit = logbook.visit(PAIR["id"])
        made.file(line_of(made.phone.op(PAIR["id"], "verdict.shown", shown_by(visit, rulebook))))
        yield made


def test_the_desk_works_out_what_the_phone_had_shown(desk: Desk, rulebook: Rulebook) -> None:
    """A reading corrected after the verdict was shown: the records prove the shown one, and the sheet has both."""
    chosen = {"language": "en", "paper": "A4"}
    first = inputs_of(desk.logbook, PAIR["id"], rulebook, chosen)
    assert first.data is not None
    assert "shown" not in blocks_of(first.data)
    body = {"id": "a2", "readings": {"high_kpa_g": 214 * PSI}}
    set_by = next(op["id"] for op in desk.logbook.ops(PAIR["id"]) if op["body"].get("id") == "a2")
    desk.file(line_of(desk.phone.op(PAIR["id"], "reading.set", body, {"/tests/a2/readings/high_kpa_g": set_by})))
    second = inputs_of(desk.logbook, PAIR["id"], rulebook, chosen)
    assert second.data is not None
    paragraphs = blocks_of(second.data)["shown"]["paragraphs"]
    assert paragraphs[0]["text"].endswith("with less strain on the compressor.")
    assert paragraphs[2]["text"].startswith("entries of this visit")


def test_what_was_shown_cannot_be_had_without_its_opening(desk: Desk, rulebook: Rulebook) -> None:
    """No verdict, or one older than everything on file."""
    ops = desk.logbook.ops(PAIR["id"])
    assert as_shown([op for op in ops if op["kind"] != "verdict.shown"], rulebook) is None
    assert as_shown([op for op in ops if op["kind"] == "verdict.shown"], rulebook) is None
