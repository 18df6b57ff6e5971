"""Who may hand in whose entries, over real HTTP: a phone its own, a person any phone's, nobody the desk's."""

from __future__ import annotations

import json
import urllib.request
from pathlib import Path
from typing import Any

import pytest

from sync.records.logbook import Logbook
from sync.records.receipts import next_seq, receipts
from sync.wire.op_line import DESK
from tests.support import children
from tests.support.ops import Phone, body_of, framed, line_of
from tests.support.service import Service
from tests.work.test_bundle_intake import bundle_of, told_in

NDJSON = "application/x-ndjson"
SEQ_MOST = 2**53


def handed_in(service: Service, by: str, body: bytes) -> list[dict[str, Any]]:
    """The answer to lines that a paired phone hands in."""
    status, _, content = service.post(f"/sync?device={by}", body, NDJSON)
    assert status == 200, content
    found: list[dict[str, Any]] = json.loads(content)["results"]
    return found


def told_to(service: Service, device: str) -> list[dict[str, Any]]:
    """A device's receipts."""
    found: list[dict[str, Any]] = json.loads(service.get(f"/receipts?device={device}")[2])["receipts"]
    return found


@pytest.mark.parametrize("named", [DESK, "beef"])
def test_nobody_writes_in_anothers_name(desk: Service, named: str) -> None:
    """Refused with a sentence and its place; the same again gets the same answer; a good entry beside it is filed."""
    phone, other = Phone("cafe"), Phone(named)
    own, foreign = phone.opening(phone.new_id()), other.opening(other.new_id())
    for repeat in (False, True):
        first, second = handed_in(desk, "cafe", body_of(foreign, own))
        assert (first["status"], first["problem"]["code"], first["repeat"]) == ("rejected", "not_its_own", repeat)
        assert named in first["problem"]["detail"]
        assert [(one["pointer"], one["code"]) for one in first["problem"]["errors"]] == [("/device", "not_its_own")]
        assert second["status"] == "accepted"
    assert line_of(foreign) in (desk.folder / "journal.log").read_bytes(), "what is refused is kept, too"


def test_an_entry_that_another_handed_in_is_taken_from_its_writer(desk: Service) -> None:
    """Nothing blocks it; from then on every sender is told the answer it got."""
    writer = Phone("beef", ms=Phone().ms + 70_000)
    line = line_of(writer.opening(writer.new_id()))
    assert handed_in(desk, "cafe", line)[0]["status"] == "rejected"
    [taken] = handed_in(desk, "beef", line)
    assert (taken["status"], taken["repeat"]) == ("accepted", False)
    assert handed_in(desk, "cafe", line) == [{**taken, "repeat": True}]
    assert [(one["id"], one["status"]) for one in told_to(desk, "beef")] == [(taken["id"], "accepted")]


def test_an_unsound_line_is_no_receipt_of_the_device_it_names(desk: Service) -> None:
    """Damaged, unreadable, too large or in a wrong form: refused, and the device it names hears nothing of it."""
    other = Phone("0bad", ms=Phone().ms + 140_000)
    op = other.opening(other.new_id())
    text = json.dumps(op).encode()
    twice = text.replace(b'"seq": 1', b'"seq": 1, "seq": 1')
    large = json.dumps({**other.opening(other.new_id()), "body": {"note": "x" * 140_000}}).encode()
    lines = [b"0" * 64 + b" " + text + b"\n", framed(twice), framed(large), line_of({**op, "kind": "visit.dream"})]
    for line in lines:
        [told] = handed_in(desk, "cafe", line)
        assert told["status"] == "rejected"
    assert told_to(desk, "0bad") == []
    assert handed_in(desk, "0bad", framed(text))[0]["status"] == "accepted"


def test_a_part_brings_its_own_phones_entries_alone(service: Service) -> None:
    """POST /bundles, like POST /sync: another phone's and the desk's are refused and block nothing later."""
    writer, other = Phone("beef"), Phone("cafe", ms=Phone().ms + 70_000)
    theirs, own = line_of(writer.opening(writer.new_id())), line_of(other.opening(other.new_id()))
    forged = line_of(Phone(DESK, ms=writer.ms + 5).op(writer.new_id(), "sheet.approve", {"revision": "ab" * 32}))
    headers = {"Content-Type": "text/plain", **service.bearer("cafe")}
    told = told_in(sent(service, bundle_of("beef", theirs + own + forged), headers))
    assert [one["status"] for one in told] == ["rejected", "accepted", "rejected"]
    assert [told[place]["problem"]["code"] for place in (0, 2)] == ["not_its_own", "not_its_own"]
    assert "beef" in told[0]["problem"]["detail"]
    assert handed_in(service, "beef", theirs)[0]["status"] == "accepted"


def test_a_file_brings_any_phones_entries_but_not_the_desks(service: Service, tmp_path: Path) -> None:
    """`layby receive`; what the desk did write is known, what only has its name is refused, the rest is filed."""
    writer = Phone("beef")
    visit = writer.new_id()
    bare = writer.beside("customer.set", {"/name": None}, id="c1", name="M. Okafor")
    naming = writer.op(visit, "visit.set", {"customer": {"id": "c1"}}, {"/customer/id": None})
    part = bundle_of("beef", body_of(writer.opening(visit), naming, bare))
    assert {one["status"] for one in told_in(carried(service, part, tmp_path))} == {"accepted"}
    command = [str(service.command), "--folder", str(service.folder), "card", "customer", "c1", "phone=555-0105"]
    children.run(command, check=True)
    changes = json.loads(service.get("/changes?device=beef")[2])["changes"]
    [written] = [one["line"] for one in changes if one["kind"] == "op" and f'"{DESK}"' in one["line"]]
    forged = Phone(DESK, ms=writer.ms + 5).op(visit, "sheet.approve", {"revision": "ab" * 32})
    part = bundle_of("cafe", written.encode() + b"\n" + line_of(forged))
    told = told_in(carried(service, part, tmp_path))
    assert [(one["status"], one["repeat"]) for one in told] == [("accepted", True), ("rejected", False)]
    assert told[1]["problem"]["code"] == "not_its_own"
    kept = [json.loads(one["line"][65:])["kind"] for one in
            json.loads(service.get("/changes?device=beef")[2])["changes"] if one["kind"] == "op"]
    assert "sheet.approve" not in kept


def carried(service: Service, part: bytes, folder: Path) -> bytes:
    """The receipt for a part that a person takes in at the desk."""
    (folder / "part.txt").write_bytes(part)
    command = [str(service.command), "--folder", str(service.folder), "receive", str(folder / "part.txt")]
    assert children.run(command).returncode < 2
    return (folder / "part-receipt.txt").read_bytes()


def sent(service: Service, part: bytes, headers: dict[str, str]) -> bytes:
    """The receipt for a part that a phone hands up."""
    request = urllib.request.Request(f"{service.url}/bundles", part, headers)
    with urllib.request.urlopen(request, timeout=60) as answer:
        return bytes(answer.read())


def test_no_number_of_a_phones_own_harms_the_records(service: Service, rulebook: dict[str, Any]) -> None:
    """The largest number that every reader can hold is accepted, larger ones are refused; all pages are written."""
    phone = Phone("cafe")
    visit = phone.new_id()
    opening = {**phone.opening(visit), "seq": SEQ_MOST}
    small = {**phone.plate(visit, "LT 482"), "seq": 3}
    assert [one["status"] for one in handed_in(service, "cafe", body_of(opening, small))] == ["accepted"] * 2
    for seq in (SEQ_MOST + 1, 10**16, 10**300, 1e300, 3.5, -1, "3", None, True):
        [told] = handed_in(service, "cafe", line_of({**phone.plate(visit, "X"), "seq": seq}))
        assert (told["status"], told["problem"]["errors"][0]["pointer"]) == ("rejected", "/seq"), seq
    assert [one["seq"] for one in told_to(service, "cafe")] == [3, SEQ_MOST]
    status, _, content = service.get(f"/receipts?device=cafe&after={SEQ_MOST}")
    assert (status, json.loads(content)["receipts"]) == (200, [])
    for named in (DESK, "beef"):
        handed_in(service, "cafe", body_of({**Phone(named).opening(phone.new_id()), "seq": SEQ_MOST}))
    service.stop()
    assert "could not be written" not in service.log.read_text("utf-8")
    with Logbook(service.folder, rulebook) as logbook:
        assert (next_seq(logbook, DESK), next_seq(logbook, "beef")) == (1, 1)
        assert [one["seq"] for one in receipts(logbook, "cafe", 0)["receipts"]] == [3, SEQ_MOST]
        assert logbook.visit(visit)["vehicle"] == {"plate": "LT 482"}


def test_the_desk_takes_its_own_name_from_nobodys_file(folder: Path, tmp_path: Path) -> None:
    """`layby receive` of a file in the desk's name: status 1 and the sentence."""
    desk = Phone(DESK)
    carried = tmp_path / "odd.txt"
    carried.write_bytes(bundle_of(DESK, body_of(desk.opening(desk.new_id()))))
    command = [str(Service(folder).command), "--folder", str(folder), "receive", str(carried)]
    done = children.run(command)
    assert (done.returncode, "1 refused" in done.stdout, f"device {DESK}" in done.stdout) == (1, True, True), done
