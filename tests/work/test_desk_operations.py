"""The desk's own operations: numbered one after another, built on what is current, refused with a sentence."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from sync.records.logbook import Logbook
from sync.records.receipts import receipts
from sync.wire import op_line
from sync.work import cards, desk_operations
from sync.work.desk_operations import NoSuchField, NotFiled
from sync.work.intake import receive
from tests.support.ops import JUNE_12, Phone, body_of

Books = dict[str, Any]


@pytest.fixture
def logbook(folder: Path, rulebook: Books) -> Iterator[Logbook]:
    """An empty logbook, open."""
    with Logbook(folder, rulebook, floor_bytes=0) as opened:
        yield opened


def test_corrections_follow_one_another_and_settle_what_was_in_dispute(logbook: Logbook) -> None:
    """Two phones disagree on a telephone number; the desk's value counts, and its next value replaces that."""
    ops = [Phone(name).beside("customer.set", {"/phone": None}, id="c1", phone=f"555-010{at}")
           for at, name in enumerate(("aaaa", "bbbb"))]
    receive(logbook, body_of(*ops), JUNE_12)
    assert len(cards.customer(logbook, "c1")["conflicts"]) == 1
    for at, number in enumerate(("555-0105", "555-0106")):
        desk_operations.correct(logbook, "customer", "c1", {"phone": number, "name": "M. Okafor"}, (JUNE_12 + at, -420))
        found = cards.customer(logbook, "c1")
        assert (found["fields"], found["conflicts"]) == ({"phone": number, "name": "M. Okafor"}, [])
    told = receipts(logbook, op_line.DESK, 0)["receipts"]
    assert [(receipt["seq"], receipt["status"]) for receipt in told] == [(1, "accepted"), (2, "accepted")]


def test_a_merging_shows_at_once(logbook: Logbook) -> None:
    """Under either id."""
    desk_operations.merge(logbook, "c1", "c2", (JUNE_12, -420))
    assert cards.customer(logbook, "c2")["id"] == "c1"


def test_what_the_shape_refuses_is_told(logbook: Logbook) -> None:
    """Where and why."""
    with pytest.raises(NotFiled) as caught:
        desk_operations.correct(logbook, "vehicle", "v1", {"year": "old"}, (JUNE_12, -420))
    assert "/body/year" in caught.value.values["why"]


def test_a_field_is_read_as_its_shape_wants_it(rulebook: Any) -> None:
    """Numbers as numbers, texts as texts, nothing as unknown; other names and other kinds are reported."""
    assert desk_operations.value_of("vehicle", "year", "2011", rulebook) == 2011
    assert desk_operations.value_of("vehicle", "plate", "2011", rulebook) == "2011"
    assert desk_operations.value_of("customer", "email", "", rulebook) is None
    for name, text in (("colour", "red"), ("id", "x"), ("of", "[]"), ("baseline", "{}"), ("year", "MMXI")):
        with pytest.raises(NoSuchField):
            desk_operations.value_of("vehicle", name, text, rulebook)
