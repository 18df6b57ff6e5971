"""The logbook: found again by visit, day and device; made again from the journal whatever happens to the views."""

from __future__ import annotations

import json
import random
import shutil
import threading
import time
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from sync.disk.folder_lock import FolderBusy
from sync.records import logbook as logbook_module
from sync.records.logbook import Logbook, UnknownVisit
from sync.records.receipts import next_seq, receipts
from sync.work.intake import receive
from tests.support.folders import is_on_views, records_at
from tests.support.ops import JUNE_12, Phone, body_of, uuid7
from tests.support.service import PATIENCE_S
from tests.support.threads import join

Books = dict[str, Any]
DAY_MS = 86_400_000


def opened(folder: Path, rulebook: Books) -> Logbook:
    """The logbook of a folder, not yet entered, on a disk of any size."""
    return Logbook(folder, rulebook, floor_bytes=0)


def one_visit(logbook: Logbook, ms: int, number: int, started_at: str = "2026-06-12T09:05:00-07:00") -> str:
    """File a visit of three operations; returns its id."""
    phone = Phone(f"{number:04x}", ms)
    visit = uuid7(ms, number)
    ops = [phone.opening(visit, started_at), phone.plate(visit, f"P{number}"), phone.test(visit, vent_c=number)]
    results = receive(logbook, body_of(*ops), ms)["results"]
    assert [result["status"] for result in results] == ["accepted"] * 3
    return visit


def picture(logbook: Logbook, visits: list[str]) -> Any:
    """Everything the logbook answers about some visits."""
    devices = [f"{number:04x}" for number in range(len(visits))]
    return (
        [logbook.visit(visit) for visit in visits],
        [logbook.visit_heads(visit) for visit in visits],
        [receipts(logbook, device, 0)["receipts"] for device in devices],
        [logbook.visits_on(date(2026, 6, day)) for day in range(1, 31)],
    )


def test_a_visit_is_found_by_its_local_day(folder: Path, rulebook: Books) -> None:
    """23:30 in Alder Coast is the next day in UTC, but belongs to that evening; the earlier start comes first."""
    with opened(folder, rulebook) as logbook:
        late = one_visit(logbook, JUNE_12 + 15 * 3_600_000, 1, "2026-06-12T23:30:00-07:00")
        early = one_visit(logbook, JUNE_12, 2, "2026-06-12T09:05:00-07:00")
        one_visit(logbook, JUNE_12, 3, "2026-06-13T00:10:00+09:00")
        assert logbook.visits_on(date(2026, 6, 12)) == [early, late]
        assert len(logbook.visits_on(date(2026, 6, 13))) == 1
        assert logbook.visits_on(date(2026, 6, 14)) == []


def test_phones_that_file_in_turn_leave_each_others_views_open(
    folder: Path, rulebook: Books, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A firm's hundred vans send one after another: no view is written, to be read again, until they rest."""
    monkeypatch.setattr(logbook_module, "IDLE_S", PATIENCE_S)
    with opened(folder, rulebook) as logbook:
        for number in range(100):
            one_visit(logbook, JUNE_12, number)
        assert list((folder / "pages").rglob("*.json")) == []
    assert len(list((folder / "pages" / "devices").rglob("*.json"))) == 100


def test_a_start_that_was_corrected_moves_the_visit(folder: Path, rulebook: Books) -> None:
    """The phone's clock was a year off; a person set it right."""
    with opened(folder, rulebook) as logbook:
        phone = Phone("aaaa")
        visit = phone.new_id()
        opening = phone.opening(visit, "2025-06-12T09:05:00-07:00")
        base = {"/started_at": opening["id"]}
        moved = phone.op(visit, "visit.set", {"started_at": "2026-06-12T09:05:00-07:00"}, base)
        receive(logbook, body_of(opening, moved), 5)
        assert logbook.visits_on(date(2025, 6, 12)) == []
        assert logbook.visits_on(date(2026, 6, 12)) == [visit]


@pytest.mark.parametrize("is_lost", [True, False])
def test_a_view_made_again_outlives_a_crash_before_it_is_written(folder: Path, rulebook: Books, is_lost: bool) -> None:
    """Lost or unreadable, made again in memory, and the power fails when only another day's view is written."""
    with opened(folder, rulebook) as logbook:
        visit = one_visit(logbook, JUNE_12, 1)
    [view] = (folder / "pages" / "days").glob("*.json")
    view.unlink() if is_lost else view.write_bytes(b"torn")
    picture = folder.with_name("picture")
    with opened(folder, rulebook) as logbook:
        assert logbook.visit(visit)["vehicle"] == {"plate": "P1"}
        later = one_visit(logbook, JUNE_12 + DAY_MS, 2, "2026-06-13T09:05:00-07:00")
        shutil.copytree(folder, picture, ignore=shutil.ignore_patterns("*.lock"))
        logbook.flush()
        written = {path.relative_to(folder) for path in (folder / "pages").rglob("*.json")} - {view.relative_to(folder)}
        for path in written:
            (picture / path).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(folder / path, picture / path)
    with opened(picture, rulebook) as logbook:
        assert logbook.visit(visit)["vehicle"] == {"plate": "P1"}
        assert logbook.visit(later)["vehicle"] == {"plate": "P2"}


def test_receipts_are_of_one_device_by_its_seq(folder: Path, rulebook: Books) -> None:
    """After any seq, across the borders of the views, including refused ones, but not another device's."""
    with opened(folder, rulebook) as logbook:
        phone, other = Phone("aaaa"), Phone("bbbb")
        visit = phone.new_id()
        ops = [phone.opening(visit), other.plate(visit, "X"), phone.op(visit, "visit.set", {"wheels": 4})]
        phone.seq = 498
        ops += [phone.test(visit, f"t{number}") for number in range(4)]
        receive(logbook, body_of(*ops), 5)
        answered = receipts(logbook, "aaaa", 0)["receipts"]
        assert [receipt["seq"] for receipt in answered] == [1, 2, 499, 500, 501, 502]
        assert [receipt["status"] for receipt in answered] == ["accepted", "rejected"] + ["accepted"] * 4
        assert [receipt["seq"] for receipt in receipts(logbook, "aaaa", 499)["receipts"]] == [500, 501, 502]
        assert receipts(logbook, "aaaa", 502)["receipts"] == []
        assert receipts(logbook, "cccc", 0)["receipts"] == []
        assert (next_seq(logbook, "aaaa"), next_seq(logbook, "cccc")) == (503, 1)


def test_an_unknown_visit_is_told(folder: Path, rulebook: Books) -> None:
    """Its id is in the error."""
    with opened(folder, rulebook) as logbook:
        with pytest.raises(UnknownVisit) as caught:
            logbook.visit(uuid7(5, 5))
        assert caught.value.values == {"visit": uuid7(5, 5)}


def test_a_second_logbook_on_the_folder_is_refused(folder: Path, rulebook: Books) -> None:
    """While the first is open, and not after."""
    with opened(folder, rulebook), pytest.raises(FolderBusy):
        opened(folder, rulebook).__enter__()
    with opened(folder, rulebook):
        pass


@pytest.fixture
def month(folder: Path, rulebook: Books) -> tuple[list[str], Any]:
    """Forty visits over twenty days, closed, and what the logbook answered about them."""
    with opened(folder, rulebook) as logbook:
        visits = [one_visit(logbook, JUNE_12 + number // 2 * DAY_MS, number) for number in range(40)]
        return visits, picture(logbook, visits)


def test_a_closed_logbook_answers_the_same(folder: Path, rulebook: Books, month: tuple[list[str], Any]) -> None:
    """Read back from the views alone, more of them than are kept open."""
    with opened(folder, rulebook) as logbook:
        assert picture(logbook, month[0]) == month[1]


@pytest.mark.parametrize("what", ["all views", "some views", "checkpoint", "damaged checkpoint", "both"])
def test_lost_views_are_made_again(folder: Path, rulebook: Books, month: tuple[list[str], Any], what: str) -> None:
    """The journal alone is enough."""
    views = sorted((folder / "pages").rglob("*.json"))
    lost = {"all views": views, "both": views, "some views": random.Random(5).sample(views, 7)}.get(what, [])
    for view in lost:
        view.unlink()
    if what in ("checkpoint", "both"):
        (folder / "checkpoint.json").unlink()
    if what == "damaged checkpoint":
        (folder / "checkpoint.json").write_text("{")
    with opened(folder, rulebook) as logbook:
        assert picture(logbook, month[0]) == month[1]


@pytest.mark.parametrize("content", [b"", b"{", b"null", b'{"page": {}}', b'{"page": {"1": {"covers": 99999999999}}}'])
def test_an_unreadable_view_is_set_aside_and_made_again(
    folder: Path, rulebook: Books, month: tuple[list[str], Any], content: bytes
) -> None:
    """A person can still look at its content."""
    view = folder / "pages" / "days" / "2026-06-14.json"
    view.write_bytes(content)
    with opened(folder, rulebook) as logbook:
        assert picture(logbook, month[0]) == month[1]
    [aside] = view.parent.glob("2026-06-14.json.unreadable-*")
    assert aside.read_bytes() == content
    with opened(folder, rulebook) as logbook:
        assert picture(logbook, month[0]) == month[1]


def test_a_crash_between_journal_and_views_loses_nothing(tmp_path: Path, rulebook: Books) -> None:
    """The folder as it is on disk while the logbook is still open, at many moments: each opens to the same picture."""
    folder = tmp_path / "live"
    with opened(folder, rulebook) as logbook:
        visits: list[str] = []
        for number in range(30):
            visits.append(one_visit(logbook, JUNE_12 + number * DAY_MS, number))
            copy = tmp_path / f"crash-{number}"
            shutil.copytree(folder, copy)
            with opened(copy, rulebook) as recovered:
                assert picture(recovered, visits) == picture(logbook, visits)
            shutil.rmtree(copy)


def test_a_journal_cut_at_any_byte_keeps_what_was_whole(tmp_path: Path, rulebook: Books) -> None:
    """Cut in the middle of a write, under views of an earlier moment: complete records stay, the phone sends more."""
    folder = tmp_path / "live"
    with opened(folder, rulebook) as logbook:
        visits = [one_visit(logbook, JUNE_12, 0)]
        logbook.flush()
        size = (folder / "journal.log").stat().st_size
        visits.append(one_visit(logbook, JUNE_12 + 5, 1))
        whole = (folder / "journal.log").read_bytes()
        expected = picture(logbook, visits)
        for cut in random.Random(6).sample(range(size, len(whole)), 25):
            copy = tmp_path / f"cut-{cut}"
            shutil.copytree(folder, copy)
            (copy / "journal.log").write_bytes(whole[:cut])
            with opened(copy, rulebook) as recovered:
                assert recovered.visit(visits[0]) == expected[0][0]
                one_visit_again = [json.loads(json.dumps(op)) for op in logbook.ops(visits[1])]
                receive(recovered, body_of(*one_visit_again), 7)
                assert recovered.visit(visits[1]) == expected[0][1]
                assert len(recovered.ops(visits[1])) == 3
            shutil.rmtree(copy)


def test_views_ahead_of_the_journal_are_not_believed(folder: Path, rulebook: Books) -> None:
    """An older copy of the journal under newer views: what it doesn't hold isn't reported as filed."""
    with opened(folder, rulebook) as logbook:
        first = one_visit(logbook, JUNE_12, 0)
    older = (folder / "journal.log").read_bytes()
    with opened(folder, rulebook) as logbook:
        second = one_visit(logbook, JUNE_12 + 5, 1)
    (folder / "journal.log").write_bytes(older)
    with opened(folder, rulebook) as logbook:
        assert logbook.visit(first)["id"] == first
        assert logbook.ops(second) == []


def test_a_disk_that_takes_no_view_stops_no_filing(folder: Path, rulebook: Books) -> None:
    """A folder is where the view's new content would go, so it can't be written: all is filed, and found later."""
    in_the_way = folder / "pages" / "days" / ".2026-06-12.json.new"
    in_the_way.mkdir(parents=True)
    with opened(folder, rulebook) as logbook:
        visits = [one_visit(logbook, JUNE_12, 0)]
        with pytest.raises(IsADirectoryError):
            logbook.flush()
        # More days than views are kept open, so that the one that can't be written would have to be closed.
        visits += [one_visit(logbook, JUNE_12 + number * DAY_MS, number) for number in range(1, 40)]
        visits.append(one_visit(logbook, JUNE_12 + 5, 40))
        assert [len(logbook.ops(visit)) for visit in visits] == [3] * 41
    in_the_way.rmdir()
    with opened(folder, rulebook) as logbook:
        assert [logbook.visit(visit)["vehicle"]["plate"] for visit in visits] == [f"P{number}" for number in range(41)]


def test_threads_file_side_by_side(folder: Path, rulebook: Books) -> None:
    """Eight threads, ten visits each, over days that make views come and go: every operation once."""
    visits: list[str] = []

    def work(thread: int) -> None:
        for number in range(10):
            place = thread * 10 + number
            visits.append(one_visit(logbook, JUNE_12 + place * DAY_MS, place))

    with opened(folder, rulebook) as logbook:
        threads = [threading.Thread(target=work, args=(thread,), daemon=True) for thread in range(8)]
        for thread in threads:
            thread.start()
        join(*threads)
        assert len(visits) == 80
        assert all(len(logbook.ops(visit)) == 3 for visit in visits)
    assert (folder / "journal.log").read_bytes().count(b"\n") == 240


def test_a_start_reads_only_what_the_views_do_not_hold(
    folder: Path, rulebook: Books, month: tuple[list[str], Any]
) -> None:
    """The checkpoint is at the journal's end, and nothing before it is looked at: it may even be unreadable."""
    journal = folder / "journal.log"
    assert is_on_views(folder)
    content, last = journal.read_bytes(), records_at(folder)[-1]
    journal.write_bytes(b"\x00" * last + content[last:])
    with opened(folder, rulebook) as logbook:
        assert logbook.visit_heads(month[0][0]) == month[1][1][0]
    journal.write_bytes(content)


def test_the_views_are_written_when_it_is_quiet(folder: Path, rulebook: Books) -> None:
    """A while after the last operation they are on disk, although nobody closed the logbook."""
    with opened(folder, rulebook) as logbook:
        one_visit(logbook, JUNE_12, 0)
        until = time.monotonic() + PATIENCE_S
        while not (folder / "checkpoint.json").exists():
            assert time.monotonic() < until
            time.sleep(logbook_module.IDLE_S / 10)
        assert is_on_views(folder)


def test_a_disk_that_takes_no_view_is_not_asked_at_every_filing(
    folder: Path, rulebook: Books, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """Reported once for many filings, all of which count; the next start has them, and the view then."""
    monkeypatch.setattr(logbook_module, "UNWRITTEN_MOST", 1)
    in_the_way = folder / "pages" / "days" / ".2026-06-12.json.new"
    in_the_way.mkdir(parents=True)
    with opened(folder, rulebook) as logbook:
        visits = [one_visit(logbook, JUNE_12 + number * 1000, number) for number in range(6)]
        warnings = [record for record in caplog.records if "could not be written now" in record.message]
        assert len(warnings) == 1
        assert not (folder / "pages" / "days" / "2026-06-12.json").exists()
    in_the_way.rmdir()
    with opened(folder, rulebook) as logbook:
        assert all(logbook.ops(visit) for visit in visits)
    assert (folder / "pages" / "days" / "2026-06-12.json").exists()
