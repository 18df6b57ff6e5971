"""A disk that takes no more, under the real service: 507 with a sentence, nothing half-written, all accepted later.

The system itself refuses: the service may write no file beyond a size, as on a disk that is full at that point.
"""

from __future__ import annotations

import json
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.records.test_photos import name_of, photo
from tests.server.test_photo_routes import ask, held, send
from tests.server.test_sync_routes import NDJSON, problem, results
from tests.support.ops import Phone, body_of
from tests.support.service import LAYBY, Service
from tests.support.sheet_visits import PAIR, operations
from tests.support.visitor import Visitor

# Of 512 bytes each, as the shell counts them (POSIX.1-2017, ulimit).
BLOCKS = 128


@pytest.fixture
def crowded(folder: Path, tmp_path: Path) -> Iterator[Service]:
    """A real service, none of whose files may grow beyond 64 KiB."""
    command = tmp_path / "crowded-layby"
    command.write_text(f"#!/bin/sh\nulimit -f {BLOCKS}\nexec {shlex.quote(str(LAYBY))} \"$@\"\n")
    command.chmod(0o700)
    running = Service(folder, command).start()
    yield running
    running.stop()


def test_entries_that_do_not_fit_are_told_and_taken_later(crowded: Service) -> None:
    """The batch that goes past the end is undone, a small one still fits; with room again, all are accepted."""
    phone = Phone()
    visit = phone.new_id()
    assert results(crowded, body_of(phone.opening(visit)))[0]["status"] == "accepted"
    journal = crowded.folder / "journal.log"
    before = journal.read_bytes()
    large = [phone.test(visit, f"t{number}") for number in range(20)]
    for op in large:
        op["body"]["note"] = "x" * 4000
    for _ in range(2):
        problem(crowded.post("/sync", body_of(*large), NDJSON), 507, "disk_full")
        assert journal.read_bytes() == before
    assert results(crowded, body_of(phone.plate(visit, "LT 482")))[0]["status"] == "accepted"
    assert len(json.loads(crowded.get(f"/receipts?device={phone.device}")[2])["receipts"]) == 2
    crowded.stop()
    crowded.command = LAYBY
    crowded.start()
    assert {(one["status"], one["repeat"]) for one in results(crowded, body_of(*large))} == {("accepted", False)}
    assert len(json.loads(crowded.get(f"/receipts?device={phone.device}")[2])["receipts"]) == 22


def test_a_photo_that_does_not_fit_is_told_and_resumed_later(crowded: Service) -> None:
    """What fitted stays, the piece that didn't leaves no byte, and with room again the rest is sent."""
    content = photo(size=(1200, 900))
    sha, total, first = name_of(content), len(content), 40_000
    assert total > 100_000
    assert send(crowded, sha, (0, total), content[:first])[0] == 204
    for _ in range(2):
        problem(send(crowded, sha, (first, total), content[first:]), 507, "disk_full")
        assert held(crowded, sha) == (200, str(first), str(total))
    crowded.stop()
    crowded.command = LAYBY
    crowded.start()
    assert send(crowded, sha, (first, total), content[first:])[0] == 204
    assert ask(crowded, "GET", f"/blobs/{sha}")[2] == content


def test_a_page_of_the_desk_says_what_the_disk_lacks(crowded: Service) -> None:
    """A sheet that can't be noted: a page with the sentence, never a service error; the day can still be looked at, and
    with room again nothing is lost.
    """
    phone = Phone()
    results(crowded, operations(PAIR, phone))
    visitor = Visitor(crowded).first()
    # Fill up to where not even a note fits.
    for size in (4000, 400, 1):
        status = 200
        while status == 200:
            advice = phone.op(PAIR["id"], "advice.add", {"id": f"a{phone.seq}", "text": "x" * size})
            status = crowded.post("/sync", body_of(advice), NDJSON)[0]
    status, _, page = visitor.press("/desk/do/make", day="2026-07-14")
    assert (status, "nearly full" in page) == (507, True), page
    status, _, page = visitor.ask("GET", "/desk?day=2026-07-14")
    assert (status, "Noor Halloran" in page) == (200, True)
    crowded.stop()
    crowded.command = LAYBY
    crowded.start()
    assert json.loads(crowded.get(f"/receipts?device={phone.device}")[2])["receipts"]
