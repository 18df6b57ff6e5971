"""Intake: each operation is judged once, filed once, and answered the same for ever, by network or by hand."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from sync.records.logbook import Logbook
from sync.wire.op_line import NotLines
from sync.work.intake import TooManyLines, receive
from tests.support.ops import Phone, body_of, framed, line_of, uuid7

Books = dict[str, Any]


@pytest.fixture
def logbook(folder: Path, rulebook: Books) -> Iterator[Logbook]:
    """An empty logbook, open."""
    with Logbook(folder, rulebook, floor_bytes=0) as opened:
        yield opened


def results(logbook: Logbook, body: bytes) -> list[dict[str, Any]]:
    """The answer to a body."""
    found: list[dict[str, Any]] = receive(logbook, body, 1_800_000_000_000)["results"]
    return found


def statuses(logbook: Logbook, *ops: Any) -> list[str]:
    """The statuses for a batch of operations."""
    return [result["status"] for result in results(logbook, body_of(*ops))]


def journal_lines(logbook: Logbook) -> int:
    """How many records the journal holds, counted from the file itself."""
    return (logbook.folder / "journal.log").read_bytes().count(b"\n")


def test_an_operation_is_filed_and_answered(logbook: Logbook) -> None:
    """Id, digest of its bytes, accepted, not a repeat; and it is in the visit."""
    phone = Phone()
    visit = phone.new_id()
    opening = phone.opening(visit)
    [result] = results(logbook, body_of(opening))
    digest = line_of(opening)[:64].decode()
    assert result == {"id": opening["id"], "status": "accepted", "digest": digest, "repeat": False}
    assert logbook.ops(visit) == [opening]


def test_sent_twice_stored_once(logbook: Logbook) -> None:
    """The same batch again, and doubled within itself: the first results with repeat, not one byte more on disk."""
    phone = Phone()
    visit = phone.new_id()
    mine = phone.plate(visit, "A")
    theirs = Phone("b0b0").plate(visit, "B")
    body = body_of(phone.opening(visit), mine, theirs) + framed(b'{"id":NaN}') + line_of({"id": phone.new_id()})
    first = results(logbook, body)
    assert [result["status"] for result in first] == ["accepted", "accepted", "conflict", "rejected", "rejected"]
    size = (logbook.folder / "journal.log").stat().st_size
    again = results(logbook, body + body)
    assert again == [{**result, "repeat": True} for result in first + first]
    assert (logbook.folder / "journal.log").stat().st_size == size


def test_a_repeat_within_one_batch_is_a_repeat(logbook: Logbook) -> None:
    """The second of two equal lines."""
    phone = Phone()
    opening = phone.opening(phone.new_id())
    assert [result["repeat"] for result in results(logbook, body_of(opening, opening))] == [False, True]
    assert journal_lines(logbook) == 1


def test_the_first_answer_stays_for_ever(folder: Path, rulebook: Books) -> None:
    """After closing, after the pages are gone, after both, with the problem as first reported."""
    phone = Phone()
    visit = phone.new_id()
    body = body_of(phone.opening(visit), phone.op(visit, "visit.set", {"wheels": 4})) + framed(b"no json")
    with Logbook(folder, rulebook, floor_bytes=0) as logbook:
        first = results(logbook, body)
    expected = [{**result, "repeat": True} for result in first]
    with Logbook(folder, rulebook, floor_bytes=0) as logbook:
        assert results(logbook, body) == expected
    for page in (folder / "pages").rglob("*.json"):
        page.unlink()
    with Logbook(folder, rulebook, floor_bytes=0) as logbook:
        assert results(logbook, body) == expected


def test_a_fault_of_shape_is_rejected_with_all_its_faults_and_the_rest_is_filed(logbook: Logbook) -> None:
    """Unknown field, text for a number, NaN, 1e400, depth and half a letter; the neighbours are accepted."""
    phone = Phone()
    visit = phone.new_id()
    shapes = phone.op(visit, "visit.set", {"wheels": 4, "distance_km": "12"}, {"/wheels": None, "/distance_km": None})
    unsound = json.dumps(phone.plate(visit, "X")).encode()
    body = (
        body_of(phone.opening(visit), shapes)
        + framed(unsound.replace(b'"X"', b'{"a":NaN,"b":1e400,"c":"\\ud800"}'))
        + framed(unsound.replace(b'"X"', b"[" * 60 + b"]" * 60).replace(b'"seq": 3', b'"seq": 4'))
        + body_of(phone.test(visit, vent_c=400, low_kpa_g=2000, high_kpa_g=100))
    )
    found = results(logbook, body)
    assert [result["status"] for result in found] == ["accepted", "rejected", "rejected", "rejected", "accepted"]
    told = [{(e["pointer"], e["code"]) for e in result["problem"]["errors"]} for result in found[1:4]]
    assert told[0] == {("/body/wheels", "unknown_field"), ("/body/distance_km", "not_a_number")}
    place = "/body/vehicle/plate"
    assert told[1] == {(f"{place}/a", "not_finite"), (f"{place}/b", "not_finite"), (f"{place}/c", "lone_surrogate")}
    assert {code for _, code in told[2]} == {"id_reused"}, "the same id came a moment before with other bytes"
    assert found[1]["id"] == shapes["id"]
    assert [op["kind"] for op in logbook.ops(visit)] == ["visit.open", "test.add"]


def test_an_id_used_again_is_rejected_and_the_first_stays(logbook: Logbook) -> None:
    """Other bytes under the same id, in this visit or another: rejected, with the same answer when repeated."""
    phone = Phone()
    visit, other = phone.new_id(), phone.new_id()
    first = phone.plate(visit, "A")
    elsewhere = {**phone.opening(other), "id": first["id"]}
    assert statuses(logbook, phone.opening(visit), first) == ["accepted", "accepted"]
    for reused in ({**first, "body": {"vehicle": {"plate": "B"}}}, elsewhere):
        [result] = results(logbook, body_of(reused))
        assert (result["status"], result["problem"]["code"], result["repeat"]) == ("rejected", "id_reused", False)
        assert results(logbook, body_of(reused)) == [{**result, "repeat": True}]
    assert results(logbook, body_of(first))[0]["status"] == "accepted"
    assert logbook.visit(visit)["vehicle"] == {"plate": "A"}


def test_a_damaged_line_is_rejected_and_its_sound_copy_is_taken(logbook: Logbook) -> None:
    """The claimed digest is returned, so that the phone knows which one it was; the id stays free."""
    phone = Phone()
    opening = phone.opening(phone.new_id())
    line = line_of(opening)
    damaged = line.replace(b"-07:00", b"-08:00")
    [result] = results(logbook, damaged)
    assert (result["status"], result["problem"]["code"]) == ("rejected", "damaged")
    assert (result["id"], result["digest"]) == (opening["id"], line[:64].decode())
    assert results(logbook, damaged) == [{**result, "repeat": True}]
    assert results(logbook, line)[0]["status"] == "accepted"


def test_what_comes_too_early_waits_and_leaves_no_trace(logbook: Logbook) -> None:
    """No opening, an unseen base, a newer schema: deferred, nothing stored; judged again when the time has come."""
    phone = Phone()
    visit = phone.new_id()
    opening, first = phone.opening(visit), phone.plate(visit, "A")
    second = phone.plate(visit, "B", base=first["id"])
    newer = {**phone.plate(visit, "C"), "schema": 2, "body": {"what": "nobody knows yet"}}
    found = results(logbook, body_of(second, first, newer))
    assert [result["status"] for result in found] == ["deferred"] * 3
    assert [result["problem"]["code"] for result in found] == ["visit_not_seen", "visit_not_seen", "newer_schema"]
    assert (logbook.folder / "journal.log").read_bytes() == b""
    assert statuses(logbook, opening, second, first) == ["accepted", "deferred", "accepted"]
    assert statuses(logbook, second, first, newer) == ["accepted", "accepted", "deferred"]
    assert logbook.visit(visit)["vehicle"] == {"plate": "B"}


def test_a_chain_of_changes_on_one_phone_is_no_conflict(logbook: Logbook) -> None:
    """Ten changes of one field, offline, each on top of the last, all in one batch."""
    phone = Phone()
    visit = phone.new_id()
    chain = [phone.opening(visit), phone.plate(visit, "0")]
    for number in range(1, 10):
        chain.append(phone.plate(visit, str(number), base=chain[-1]["id"]))
    assert set(statuses(logbook, *chain)) == {"accepted"}
    assert logbook.visit(visit)["vehicle"] == {"plate": "9"}


def test_two_hands_on_one_field_are_a_conflict_and_both_are_kept(logbook: Logbook) -> None:
    """The second one, even by way of an older base; another field of the same visit isn't a conflict."""
    one, two = Phone("aaaa"), Phone("bbbb")
    visit = one.new_id()
    first = one.plate(visit, "A")
    mine = one.plate(visit, "B", base=first["id"])
    theirs = two.plate(visit, "C", base=first["id"])
    vin = two.op(visit, "visit.set", {"vehicle": {"vin": "1G4AH59H45G118341"}}, {"/vehicle/vin": None})
    assert statuses(logbook, one.opening(visit), first, mine) == ["accepted"] * 3
    assert statuses(logbook, theirs, vin) == ["conflict", "accepted"]
    entry = logbook.visit_heads(visit)
    assert entry is not None
    assert entry["heads"]["/vehicle/plate"] == [mine["id"], theirs["id"]]
    settled = one.op(visit, "conflict.settle", {"of": [mine["id"], theirs["id"]], "set": {"vehicle": {"plate": "D"}}})
    assert statuses(logbook, settled, one.plate(visit, "E", base=settled["id"])) == ["accepted", "accepted"]
    assert logbook.visit(visit)["vehicle"] == {"plate": "E", "vin": "1G4AH59H45G118341"}


def test_a_settling_of_what_is_not_seen_waits(logbook: Logbook) -> None:
    """`of` counts as a base."""
    phone = Phone()
    visit = phone.new_id()
    settle = phone.op(visit, "conflict.settle", {"of": [phone.new_id()], "set": {"vehicle": {"plate": "D"}}})
    assert statuses(logbook, phone.opening(visit), settle) == ["accepted", "deferred"]


def test_a_rejected_operation_is_mended_by_another(logbook: Logbook) -> None:
    """What built on the rejected one waits, and is filed once the replacement is there."""
    phone = Phone()
    visit = phone.new_id()
    bad = phone.op(visit, "visit.set", {"vehicle": {"plate": 5}}, {"/vehicle/plate": None})
    after = phone.plate(visit, "B", base=bad["id"])
    assert statuses(logbook, phone.opening(visit), bad, after) == ["accepted", "rejected", "deferred"]
    inner = {"replaces": bad["id"], "kind": "visit.set", "body": {"vehicle": {"plate": "5"}}}
    mending = phone.op(visit, "op.mend", inner, {"/vehicle/plate": None})
    assert statuses(logbook, mending, after) == ["accepted", "accepted"]


def test_a_mending_that_leaves_a_field_out_hands_its_base_on(logbook: Logbook) -> None:
    """A chain from one phone with a refused link, nothing of which can be kept, is filed and isn't a conflict."""
    phone = Phone()
    visit = phone.new_id()
    first = phone.plate(visit, "A")
    bad = phone.op(visit, "visit.set", {"vehicle": {"plate": 5}}, {"/vehicle/plate": first["id"]})
    after = phone.plate(visit, "B", base=bad["id"])
    assert statuses(logbook, phone.opening(visit), first, bad, after)[2:] == ["rejected", "deferred"]
    inner = {"replaces": bad["id"], "kind": "visit.set", "body": {"vehicle": {}}}
    mending = phone.op(visit, "op.mend", inner, {"/vehicle/plate": first["id"]})
    assert statuses(logbook, mending) == ["accepted"]
    assert logbook.visit(visit)["vehicle"] == {"plate": "A"}, "leaving a value out is not taking back the one before"
    assert statuses(logbook, after) == ["accepted"]
    assert logbook.visit(visit)["vehicle"] == {"plate": "B"}


def test_an_opening_can_be_mended_too(logbook: Logbook) -> None:
    """A visit whose opening was refused opens with its replacement."""
    phone = Phone()
    visit = phone.new_id()
    bad = phone.op(visit, "visit.open", {"started_at": "today"}, {"/started_at": None})
    inner = {"replaces": bad["id"], "kind": "visit.open", "body": {"started_at": "2026-06-12T09:05:00-07:00"}}
    mending = phone.op(visit, "op.mend", inner, {"/started_at": None})
    assert statuses(logbook, bad, mending, phone.plate(visit, "A")) == ["rejected", "accepted", "accepted"]


@pytest.mark.parametrize("ms", [0, 1, 253_402_300_700_000, 951_868_800_000])
def test_a_wrong_clock_still_files(logbook: Logbook, ms: int) -> None:
    """1970, the last minutes of the year 9999, and a leap day: filed, found, repeated."""
    phone = Phone(ms=ms)
    visit = uuid7(ms, 1)
    opening = {**phone.opening(visit), "id": uuid7(ms, 2)}
    assert statuses(logbook, opening) == ["accepted"]
    assert results(logbook, body_of(opening))[0]["repeat"] is True
    assert logbook.visit(visit)["started_at"] == "2026-06-12T09:05:00-07:00"


def test_the_limits_of_a_batch(logbook: Logbook) -> None:
    """50 lines are accepted, 51 aren't, and neither are none; then nothing at all was filed."""
    phone = Phone()
    visit = phone.new_id()
    ops = [phone.opening(visit)] + [phone.test(visit, f"t{n}") for n in range(50)]
    with pytest.raises(TooManyLines) as caught:
        receive(logbook, body_of(*ops), 5)
    assert caught.value.values == {"count": 51, "limit": 50}
    for body in (b"", b"hello", body_of(ops[0]) + b"x\n"):
        with pytest.raises(NotLines):
            receive(logbook, body, 5)
    assert (logbook.folder / "journal.log").read_bytes() == b""
    assert set(statuses(logbook, *ops[:50])) == {"accepted"}


def test_an_operation_over_128_kb_is_rejected_and_its_neighbours_filed(logbook: Logbook) -> None:
    """131,072 bytes of JSON pass the limit, one more doesn't; the id is returned."""
    phone = Phone()
    visit = phone.new_id()
    large = phone.op(visit, "visit.set", {"complaint": ""}, {"/complaint": None})
    spare = 131_072 - len(line_of(large)) + 66
    fits = {**large, "body": {"complaint": "x" * spare}}
    over = {**large, "id": phone.new_id(), "body": {"complaint": "x" * (spare + 1)}}
    found = results(logbook, body_of(phone.opening(visit), fits, over))
    codes = [[error["code"] for error in result["problem"]["errors"]] for result in found[1:]]
    assert codes == [["too_long"], ["op_too_large"]], "the form has a limit of its own for a text"
    assert found[2]["id"] == over["id"]
