"""Pairs as drawn: sound visits, and a truth that depends on the car alone; the judgement isn't tested here."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest

from sync.wire.schemas import check_visit
from tests.worlds.pairs import TURNS, WORK, Pair, pairs
from tests.worlds.stock import world_of

COUNTS = {"loop": 21, "zones": 42}


@cache
def drawn(name: str) -> list[Pair]:
    """Pairs of a world."""
    return pairs(world_of(name), 5, COUNTS[name])


@pytest.mark.parametrize("name", COUNTS)
def test_every_pair_is_a_sound_visit(name: str, rulebook: Any) -> None:
    """Every kind of work occurs, and each visit passes the shape check."""
    assert {pair.truth["what"] for pair in drawn(name)} == set(WORK) == set(TURNS)
    for pair in drawn(name):
        assert check_visit(pair.visit, rulebook) == []
        assert [test["role"] for test in pair.visit["tests"]] == ["before", "after"]
        assert [work["code"] for work in pair.visit["work"]] == [WORK[pair.truth["what"]]]


@pytest.mark.parametrize("name", COUNTS)
def test_a_seed_gives_the_same_pairs_again_and_another_gives_others(name: str) -> None:
    """World, seed, count and what is done alone decide."""
    world = world_of(name)
    assert pairs(world, 3, 4) == pairs(world, 3, 4)
    assert pairs(world, 3, 4) != pairs(world, 4, 4)
    assert {pair.truth["what"] for pair in pairs(world, 3, 4, "leak")} == {"leak"}


@pytest.mark.parametrize("name", COUNTS)
def test_what_was_not_changed_has_no_share_in_the_change(name: str) -> None:
    """The truth of an untouched car is exactly zero whatever the weather did to its readings."""
    untouched = [pair.truth for pair in drawn(name) if pair.truth["what"] == "nothing"]
    assert len(untouched) >= 5
    for truth in untouched:
        assert truth["unchanged"]
        assert truth["work_share_high_kpa"] == truth["work_share_vent_k"] == 0.0
        assert truth["raw_change_high_kpa"] != 0.0


@pytest.mark.parametrize("name", COUNTS)
def test_a_cleaned_face_lowers_the_high_side_and_a_dirtied_one_raises_it(name: str) -> None:
    """Signs of the true change in the first test's weather (common practice, no source)."""
    for what, sign in (("cleaned", -1.0), ("dirtied", 1.0)):
        shares = [sign * pair.truth["work_share_high_kpa"] for pair in drawn(name) if pair.truth["what"] == what]
        assert shares
        assert min(shares) > 0.0


def test_one_pair_in_seven_differs_in_a_setting() -> None:
    """Every seventh in turn, but never a wet face; a rinsed face and a charged amount are recorded."""
    for pair in drawn("zones"):
        before, after = (test["conditions"] for test in pair.visit["tests"])
        if pair.truth["what"] == "wet_face":
            assert (after["face_wet"], pair.truth["like"]) == (True, True)
            assert 1.0 <= after["rinsed_min_ago"] <= 12.0
        elif pair.truth["like"]:
            assert (before["blower"], before["hood_open"]) == (after["blower"], after["hood_open"]) or (
                pair.truth["what"] == "fan_repaired"
            )
        if pair.truth["what"] == "recharge":
            [move] = pair.visit["refrigerant_moves"]
            assert move["kind"] == "charged"
            assert move["grams"] > 0.0
    assert 5 <= sum(not pair.truth["like"] for pair in drawn("zones")) <= 42 / 7
