"""Folding operations into a visit: order, conflicts, settling, striking, replacing."""

from __future__ import annotations

import itertools

import pytest

from sync.kernel import fold


def op(number, kind, body, base=None, **clock):
    """One operation of visit v; its id gives its number."""
    return {
        "id": f"op{number}", "device": clock.get("device", "aa"), "seq": clock.get("seq", number), "schema": 1,
        "visit": "v", "kind": kind, "base": base or {}, "body": body, "at": clock.get("at", number), "tz": 0,
    }  # fmt: skip


@pytest.fixture(scope="module")
def kinds(rulebook):
    """The book of kinds."""
    return rulebook["kinds"]


OPENED = op(1, "visit.open", {"started_at": "2026-06-12T09:05:00-07:00", "vehicle": {"plate": "OLD 1"}})


def test_every_order_of_arrival_gives_the_same_visit(kinds):
    """All 120 orders of five operations."""
    ops = [
        OPENED,
        op(2, "visit.set", {"vehicle": {"plate": "NEW 1"}}, {"/vehicle/plate": "op1"}),
        op(3, "test.add", {"id": "b", "role": "before", "at": "t", "readings": {"low_kpa_g": 1.0}}),
        op(4, "reading.set", {"id": "b", "readings": {"low_kpa_g": 2.0}}, {"/tests/b/readings/low_kpa_g": "op3"}),
        op(5, "trace.add", {"test": "b", "points": [{"s": 0, "vent_c": 9.0}]}),
    ]
    first = fold.fold(ops, kinds)
    assert first["vehicle"]["plate"] == "NEW 1"
    assert first["tests"] == [
        {"id": "b", "role": "before", "at": "t", "readings": {"low_kpa_g": 2.0}, "trace": [{"s": 0, "vent_c": 9.0}]}
    ]
    for order in itertools.permutations(ops):
        assert fold.fold(list(order), kinds) == first


def test_a_chain_of_edits_on_one_phone_is_no_conflict(kinds):
    """Edited offline three times, each on the one before."""
    ops = [OPENED]
    for number in (2, 3, 4):
        body = {"vehicle": {"plate": f"P {number}"}}
        ops.append(op(number, "visit.set", body, {"/vehicle/plate": f"op{number - 1}"}))
    found = fold.replay(ops, kinds)
    assert found["conflicts"] == []
    assert found["visit"]["vehicle"]["plate"] == "P 4"
    assert found["heads"]["/vehicle/plate"] == ["op4"]


def test_two_edits_on_the_same_base_are_a_conflict_and_both_are_kept(kinds):
    """The visit shows the first in order; the other stays beside it until a person settles it."""
    one = op(2, "visit.set", {"vehicle": {"plate": "ONE"}}, {"/vehicle/plate": "op1"}, at=50)
    other = op(3, "visit.set", {"vehicle": {"plate": "TWO"}}, {"/vehicle/plate": "op1"}, device="bb", at=40, seq=1)
    for ops in ([OPENED, one, other], [other, one, OPENED]):
        found = fold.replay(ops, kinds)
        assert found["visit"]["vehicle"]["plate"] == "TWO"
        assert [value["value"] for value in found["conflicts"][0]["values"]] == ["TWO", "ONE"]
    settled = op(
        4, "conflict.settle", {"of": ["op2", "op3"], "set": {"vehicle": {"plate": "ONE"}}}, {"/vehicle/plate": "op2"}
    )
    found = fold.replay([OPENED, one, other, settled], kinds)
    assert found["conflicts"] == []
    assert found["visit"]["vehicle"]["plate"] == "ONE"


def test_an_item_struck_is_gone_and_others_stay(kinds):
    """Lists only grow and are struck."""
    ops = [
        OPENED,
        op(2, "work.add", {"id": "w1", "code": "condenser_cleaned"}),
        op(3, "work.add", {"id": "w2", "code": "tested_only"}),
        op(4, "item.strike", {"list": "work", "id": "w2"}),
    ]
    assert fold.fold(ops, kinds)["work"] == [{"id": "w1", "code": "condenser_cleaned"}]


def test_a_price_line_set_anew_keeps_its_place(kinds):
    """Setting a line leaf by leaf changes that line, in its place; null removes a leaf."""
    ops = [
        OPENED,
        op(2, "charge.add", {"id": "c1", "text": "Test", "unit_price": "60", "quantity": "2"}),
        op(3, "charge.add", {"id": "c2", "text": "Filter"}),
        op(4, "charge.set", {"id": "c1", "unit_price": "65", "quantity": None},
           {"/charges/c1/unit_price": "op2", "/charges/c1/quantity": "op2"}),
    ]  # fmt: skip
    found = fold.replay(ops, kinds)
    changed = {"id": "c1", "text": "Test", "unit_price": "65"}
    assert found["visit"]["charges"] == [changed, {"id": "c2", "text": "Filter"}]
    assert found["conflicts"] == []


def test_null_clears_and_typed_texts_are_kept_whole(kinds):
    """A cleared field is absent; what was typed is one value."""
    ops = [
        OPENED,
        op(2, "test.add", {"id": "b", "role": "before", "at": "t", "readings": {"vent_c": 3.6},
                           "typed": {"vent_c": {"text": "38,5", "unit": "f"}}}),
        op(3, "visit.set", {"vehicle": {"plate": None}}, {"/vehicle/plate": "op1"}),
    ]  # fmt: skip
    visit = fold.fold(ops, kinds)
    assert "plate" not in visit.get("vehicle", {})
    assert visit["typed"] == {"b.vent_c": {"text": "38,5", "unit": "f"}}


def test_a_mending_operation_stands_for_the_one_it_replaces(kinds):
    """Under its own id."""
    mend = op(
        2,
        "op.mend",
        {"replaces": "bad", "kind": "visit.set", "body": {"vehicle": {"plate": "M"}}},
        {"/vehicle/plate": "op1"},
    )
    found = fold.replay([OPENED, mend], kinds)
    assert found["visit"]["vehicle"]["plate"] == "M"
    assert found["heads"]["/vehicle/plate"] == ["op2"]


def test_an_edit_built_on_a_refused_operation_builds_on_its_mending(kinds):
    """The phone wrote the edit before it knew of the refusal; that isn't a conflict."""
    body = {"replaces": "bad", "kind": "visit.set", "body": {"vehicle": {"plate": "M"}}}
    mend = op(3, "op.mend", body, {"/vehicle/plate": "op1"})
    edit = op(2, "visit.set", {"vehicle": {"plate": "E"}}, {"/vehicle/plate": "bad"})
    for ops in ([OPENED, edit, mend], [mend, OPENED, edit]):
        found = fold.replay(ops, kinds)
        assert found["conflicts"] == []
        assert found["visit"]["vehicle"]["plate"] == "E"


def test_wrong_clocks_do_not_break_the_order(kinds):
    """An edit dated before what it builds on still comes after it; a ring of references still folds."""
    ops = [op(1, "visit.open", {"started_at": "s", "complaint": "a"}, at=1000),
           op(2, "visit.set", {"complaint": "b"}, {"/complaint": "op1"}, device="bb", at=1, seq=1)]  # fmt: skip
    assert fold.fold(ops, kinds)["complaint"] == "b"
    assert [one["id"] for one in fold.ordered(ops)] == ["op1", "op2"]
    ring = [op(1, "visit.set", {"complaint": "a"}, {"/complaint": "op2"}),
            op(2, "visit.set", {"complaint": "b"}, {"/complaint": "op1"}, device="bb", seq=1)]  # fmt: skip
    assert len(fold.ordered(ring)) == 2


def test_pointers_escape_what_rfc_6901_reserves():
    """RFC 6901, section 3: ~ is ~0, / is ~1."""
    assert fold.escaped("a/b~c") == "a~1b~0c"


READING = op(3, "reading.set", {"id": "b", "readings": {"low_kpa_g": 2.0}}, {"/tests/b/readings/low_kpa_g": None})


@pytest.mark.parametrize("others", [[], [op(2, "test.add", {"id": "a", "role": "after", "at": "t"})]])
def test_a_reading_waits_for_its_test(kinds, others):
    """What is set on a test that was never added isn't a test, whether the visit has others or none. Nothing of it is
    lost: once the test is added, it shows.
    """
    without = fold.fold([OPENED, *others, READING], kinds)
    assert without == fold.fold([OPENED, *others], kinds)
    test = op(4, "test.add", {"id": "b", "role": "before", "at": "t"})
    for ops in itertools.permutations([OPENED, *others, READING, test]):
        found = fold.fold(list(ops), kinds)["tests"]
        assert {"id": "b", "role": "before", "at": "t", "readings": {"low_kpa_g": 2.0}} in found
        assert len(found) == 1 + len(others)


def test_a_price_waits_for_its_line(kinds):
    """The same for any other list, and for what a settling sets."""
    price = op(2, "charge.set", {"id": "c", "unit_price": "65.00"}, {"/charges/c/unit_price": None})
    settled = op(3, "conflict.settle", {"of": [], "set": {"work": {"w": {"by": "N. Example"}}}}, {})
    assert fold.fold([OPENED, price, settled], kinds) == fold.fold([OPENED], kinds)


def test_a_trace_is_in_rising_time_however_it_came(kinds):
    """A file's many points between typed ones; points of one second keep their order, and what was struck is gone."""
    seconds = [[30, 90], [60.001, 0.001, 45.001, 45.001], [75], [10.002, 200.002, 5.002, 90]]
    added = [op(number, "trace.add", {"test": "b", "points": [{"s": s, "vent_c": float(number)} for s in points]})
             for number, points in enumerate(seconds, start=3)]
    ops = [OPENED, op(2, "test.add", {"id": "b", "role": "before", "at": "t"}), *added,
           op(9, "trace.strike", {"test": "b", "s": 75})]
    trace = fold.fold(ops, kinds)["tests"][0]["trace"]
    assert [point["s"] for point in trace] == sorted(s for points in seconds for s in points if s != 75)
    assert [point["vent_c"] for point in trace if point["s"] == 90] == [3.0, 6.0]
