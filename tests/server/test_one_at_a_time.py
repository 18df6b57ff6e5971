"""One at a time, over process boundaries: what a kill leaves behind stops nobody, and the second one is told why."""

from __future__ import annotations

import json
import os
import signal
import sys
import textwrap
from contextlib import AbstractContextManager
from pathlib import Path

import pytest

from server.process import remote
from sync import rulebook as books
from sync.disk.folder_lock import FolderBusy, FolderLock
from sync.records.logbook import Logbook
from tests.server.test_service import exists, file_one, soon, worker_of
from tests.support import children
from tests.support.children import Child
from tests.support.ops import Phone, line_of
from tests.support.service import LAYBY, PATIENCE_S, ROOT, Service


def begun(folder: Path, *words: str) -> AbstractContextManager[Child]:
    """A `layby` that is starting."""
    return children.beside([LAYBY, "--folder", folder, *words], cwd=ROOT)


def one_sentence(complaint: str, *named: str) -> None:
    """Nothing but the sentence of an error, which names what it is about."""
    assert "Traceback" not in complaint
    assert all(name in complaint for name in named)
    lines = [line for line in complaint.splitlines() if line.strip()]
    assert len(lines) <= 2, complaint


def the_one_that_gave_up(first: Child, second: Child) -> Child:
    """Of two that were started together, the one that ended; the other goes on."""
    soon(lambda: first.ended() or second.ended(), "one of the two to give up")
    ended, other = (first, second) if first.ended() else (second, first)
    assert not other.ended()
    return ended


@pytest.mark.parametrize("number", range(3))
def test_two_services_started_together_on_one_port(tmp_path: Path, number: int) -> None:
    """Each with its own folder: one serves, the other says that the port is taken."""
    service = Service(tmp_path / "one")
    words = ("serve", "--port", str(service.port))
    with begun(tmp_path / "one", *words) as first, begun(tmp_path / "two", *words) as second:
        ended = the_one_that_gave_up(first, second)
        assert ended.wait() == 2
        one_sentence(ended.stderr.decode(), f"Port {service.port}")
        soon(service.answers, "the other one to serve")


@pytest.mark.parametrize("number", range(3))
def test_two_services_started_together_on_one_folder(folder: Path, number: int) -> None:
    """Each on its own port: one serves, the other says that the folder is taken."""
    one, two = Service(folder), Service(folder)
    words = [("serve", "--port", str(service.port)) for service in (one, two)]
    with begun(folder, *words[0]) as first, begun(folder, *words[1]) as second:
        ended = the_one_that_gave_up(first, second)
        assert ended.wait() == 2
        one_sentence(ended.stderr.decode(), str(folder))
        serving = two if ended is first else one
        soon(serving.answers, "the other one to serve")


def test_an_orphaned_worker_says_why_it_ends(service: Service) -> None:
    """The parent is killed: one sentence, then folder and port are free for the next one."""
    worker = worker_of(service)
    service.kill()
    soon(lambda: not exists(worker), "the worker to end")
    told = service.log.read_text()
    assert str(service.folder) in told.splitlines()[-1]
    assert "is gone, so the service stops too" in told
    assert "Traceback" not in told
    service.start()
    file_one(service)


def test_what_a_killed_service_leaves_stops_no_command(service: Service, tmp_path: Path) -> None:
    """Parent and worker killed: lock, note and half-written files are still there, and `layby receive` works."""
    file_one(service)
    worker = worker_of(service)
    os.kill(worker, signal.SIGKILL)
    service.kill()
    soon(lambda: not exists(worker), "the worker to end")
    folder = service.folder
    assert (folder / "layby.lock").exists()
    assert (folder / "service.json").exists()
    for name in (".checkpoint.json.new", ".journal.log.new", "pages/days/.2026-06-12.json.new"):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(b"half")
    phone = Phone("b0b0")
    part = tmp_path / "part.txt"
    part.write_bytes(b"layby-bundle 1 b0b0 1/1\n" + line_of(phone.opening(phone.new_id())))
    done = children.run([str(LAYBY), "--folder", str(folder), "receive", str(part)])
    assert "Entries: 1 filed" in done.stdout, done.stderr
    service.start()
    file_one(service)


def test_a_command_beside_a_busy_one_is_told_so(folder: Path) -> None:
    """The folder is held by a process that accepts no commands, beside a stale note: one sentence, status 2."""
    with Logbook(folder, books.load()):
        done = children.run([LAYBY, "--folder", folder, "evening", "--day", "2026-06-12"], cwd=ROOT)
    assert done.returncode == 2
    one_sentence(done.stderr, str(folder))


def test_a_stale_note_that_leads_to_another_service_is_no_key(service: Service, tmp_path: Path) -> None:
    """The port of a service long gone is now another folder's: the folder is busy, and no more can be said."""
    other = tmp_path / "other"
    lock = FolderLock(other)
    lock.take()
    note = json.loads((service.folder / "service.json").read_text()) | {"key": "0" * 64}
    (other / "service.json").write_text(json.dumps(note))

    def busy() -> None:
        raise FolderBusy(folder=str(other))

    with pytest.raises(FolderBusy) as caught:
        remote.run_or_hand_over(other, "evening", {}, busy)
    assert caught.value.values["folder"] == str(other)
    lock.give_back()


def test_a_killed_command_leaves_a_folder_that_opens(folder: Path) -> None:
    """Killed with the folder open and entries not yet on their pages: the next one finds both lock and entries."""
    code = """
        import sys, time
        from pathlib import Path
        from sync import rulebook
        from sync.work.intake import receive
        from sync.records.logbook import Logbook
        from tests.support.ops import Phone, body_of
        with Logbook(Path(sys.argv[1]), rulebook.load()) as logbook:
            phone = Phone()
            opening = phone.opening(phone.new_id())
            receive(logbook, body_of(opening), 5)
            print(opening["visit"], flush=True)
            time.sleep(600)
    """
    command = [sys.executable, "-c", textwrap.dedent(code), str(folder)]
    with children.beside(command, cwd=ROOT) as holder:
        visit = holder.line()
        with pytest.raises(FolderBusy):
            Logbook(folder, books.load()).__enter__()
        holder.kill()
    with Logbook(folder, books.load(), patience_s=PATIENCE_S) as logbook:
        assert len(logbook.ops(visit)) == 1
