"""Faults as data: short values, sentences from the rulebook, and worded once however often they pass by."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from sync.language.words import Words
from sync.wire.faults import fault, shown, worded

SYNC = Path(__file__).resolve().parents[2] / "sync"


def test_a_value_is_shown_short_and_as_sound_json() -> None:
    """Scalars as they are, long text cut, half a letter replaced, objects left out."""
    assert [shown(value) for value in (5, 1.5, True, None, "x")] == [5, 1.5, True, None, "x"]
    assert shown("x" * 500) == "x" * 80 + "…"
    assert shown("\ud800") == "?"
    assert shown(float("inf")) == "inf"
    assert shown({"a": 1}) is None


def test_wording_twice_is_wording_once(rulebook: dict[str, Any]) -> None:
    """A limit that the sentence names isn't needed a second time."""
    once = worded([fault("/a", "too_long", "x", limit=40), fault("/b", "missing")], Words(rulebook["words"]))
    assert "40" in once[0]["detail"]
    assert worded(once, Words(rulebook["words"])) == once


def test_every_code_of_a_fault_has_its_sentence(rulebook: dict[str, Any]) -> None:
    """Read from the source: each code that the border and the code behind it can name."""
    named: set[str] = set()
    for path in (path for room in ("wire", "work") for path in (SYNC / room).rglob("*.py")):
        code = path.read_text("utf-8")
        named |= set(re.findall(r'(?:_?refuse|_?Coded|_Unsound|_deferred|Refusal|\.problem)\("(\w+)"', code))
        named |= set(re.findall(r'fault\([^,()]+(?:\([^()]*\))?, "(\w+)"', code))
        named |= set(re.findall(r'(?:Pattern|Named)\(\w+, "(\w+)"', code))
        named |= set(re.findall(r'\.faults\[[^\]]+\] = "(\w+)"', code))
    assert len(named) > 30
    assert named - rulebook["words"]["en"]["errors"].keys() == set()
