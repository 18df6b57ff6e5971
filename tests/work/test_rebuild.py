"""Pages made again: all with progress, or one; the same answers afterwards, and after a kill at any moment."""

from __future__ import annotations

import json
import signal
import sys
import textwrap
import threading
from pathlib import Path
from typing import Any

import pytest

from sync import rulebook as books
from sync.records.logbook import Logbook
from sync.work.intake import receive
from sync.work.rebuild import NoSuchView, rebuild, rebuild_one
from tests.records.test_logbook import one_visit, opened, picture
from tests.support import children
from tests.support.folders import is_on_views
from tests.support.ops import JUNE_12, Phone, body_of
from tests.support.service import LAYBY, ROOT, Service
from tests.support.threads import join

Books = dict[str, Any]
DAY_MS = 86_400_000


def month(logbook: Logbook) -> list[str]:
    """Forty visits over forty days; returns their ids."""
    return [one_visit(logbook, JUNE_12 + number * DAY_MS, number) for number in range(40)]


def spoil(folder: Path) -> None:
    """Every page says that it covers the journal and holds nothing: readable, and wrong."""
    for path in (folder / "pages").rglob("*.json"):
        kept = json.loads(path.read_bytes())
        path.write_text(json.dumps({"page": kept["page"]}))


def test_wrong_pages_are_made_right(folder: Path, rulebook: Books) -> None:
    """Pages that lie are trusted until they are made again; progress is reported in steps that only grow."""
    with opened(folder, rulebook) as logbook:
        visits = month(logbook)
        expected = picture(logbook, visits)
    spoil(folder)
    told: list[tuple[int, int]] = []
    with opened(folder, rulebook) as logbook:
        assert logbook.ops(visits[0]) == []
        rebuilt = rebuild(logbook, lambda done, of: told.append((done, of)))
        assert picture(logbook, visits) == expected
        assert rebuilt["aside"] == []
        assert rebuilt["views"] == len(list((folder / "pages").rglob("*.json"))) > 40
    size = (folder / "journal.log").stat().st_size
    assert told[-1] == (size, size)
    assert 8 <= len(told) <= 12
    assert told == sorted(told)
    assert is_on_views(folder)
    with opened(folder, rulebook) as logbook:
        assert picture(logbook, visits) == expected


def test_one_page_is_made_right(folder: Path, rulebook: Books) -> None:
    """Only that one; a page that doesn't exist, or leads out of the folder, doesn't count."""
    with opened(folder, rulebook) as logbook:
        visits = month(logbook)
    spoil(folder)
    with opened(folder, rulebook) as logbook:
        rebuild_one(logbook, "days/2026-06-12")
        assert [len(logbook.ops(visit)) for visit in visits[:2]] == [3, 0]
        others = {path: path.read_bytes() for path in folder.glob("*.json")}
        for name in ("days/2020-01-01", "../journal", "../checkpoint", "days/../../checkpoint", "days", "", "days/"):
            with pytest.raises(NoSuchView):
                rebuild_one(logbook, name)
        assert {path: path.read_bytes() for path in folder.glob("*.json")} == others
    with opened(folder, rulebook) as logbook:
        assert [len(logbook.ops(visit)) for visit in visits[:2]] == [3, 0]


def test_nobody_who_files_meanwhile_is_lost(folder: Path, rulebook: Books) -> None:
    """Two phones file while the pages are made again, over and over: everything once, and found."""
    ended = threading.Event()
    filed: list[str] = []

    def file(number: int) -> None:
        phone = Phone(f"{number:04x}", JUNE_12 + number * DAY_MS)
        while not ended.is_set():
            opening = phone.opening(phone.new_id())
            receive(logbook, body_of(opening), JUNE_12)
            filed.append(opening["visit"])

    with opened(folder, rulebook) as logbook:
        month(logbook)
        threads = [threading.Thread(target=file, args=(number,), daemon=True) for number in (1, 2)]
        for thread in threads:
            thread.start()
        for _ in range(6):
            rebuild(logbook, lambda done, of: None)
        ended.set()
        join(*threads)
        assert all(len(logbook.ops(visit)) == 1 for visit in filed)
    assert filed
    with opened(folder, rulebook) as logbook:
        assert all(len(logbook.ops(visit)) == 1 for visit in filed)


KILLED = """
    import os, signal, sys
    from pathlib import Path
    from sync import rulebook
    from sync.records.logbook import Logbook
    from sync.work import rebuild
    left = int(sys.argv[2])
    def watch(event, arguments):
        global left
        if event in ("open", "os.rename", "os.remove", "os.rmdir") and sys.argv[1] in str(arguments[0]):
            left -= 1
            if left == 0:
                os.kill(os.getpid(), signal.SIGKILL)
    with Logbook(Path(sys.argv[1]), rulebook.load(), floor_bytes=0) as logbook:
        sys.addaudithook(watch)
        rebuild.rebuild(logbook, lambda done, of: None)
"""


def test_a_rebuild_killed_at_any_moment_loses_nothing(folder: Path, rulebook: Books) -> None:
    """Twenty kills on one folder, one after another: each start answers the same."""
    with opened(folder, rulebook) as logbook:
        visits = month(logbook)
        expected = picture(logbook, visits)
    for moment in (1, 2, 3, 5, 8, 13, 21, 34, 40, 45, 50, 55, 60, 70, 80, 90, 100, 120, 140, 160):
        command = [sys.executable, "-c", textwrap.dedent(KILLED), str(folder), str(moment)]
        assert children.run(command, cwd=ROOT).returncode == -signal.SIGKILL
        with opened(folder, rulebook) as logbook:
            assert picture(logbook, visits) == expected


@pytest.mark.parametrize("served", [True, False])
def test_the_command(folder: Path, served: bool) -> None:
    """With and without a running service; progress is shown on the terminal of the process that holds the folder."""
    with opened(folder, books.load()) as logbook:
        visits = month(logbook)
    spoil(folder)
    service = Service(folder)
    if served:
        service.start()
    command = [str(LAYBY), "--folder", str(folder), "rebuild"]
    done = children.run(command)
    assert done.returncode == 0, done.stderr
    assert "views were rebuilt from the journal" in done.stdout
    assert "Journal: " in (service.log.read_text() if served else done.stderr)
    one = children.run([*command, "days/1999-01-01"])
    assert (one.returncode, "Traceback" in one.stderr) == (2, False)
    assert "days/1999-01-01" in one.stderr
    service.stop()
    with opened(folder, books.load()) as logbook:
        assert all(len(logbook.ops(visit)) == 3 for visit in visits)
