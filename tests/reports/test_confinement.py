"""The walls around the child that prints: what it may not reach is tried from inside it, once it is ready.

A real child with its real walls; the same child and the press show that it still prints.
"""

from __future__ import annotations

import json
import os
import socket
import sys
from pathlib import Path
from typing import Any

import pytest

from reports.confinement import offered
from reports.print_pool import Press
from server.cli import check
from sync.sheet.jobsheet import jobsheet
from tests.support import children
from tests.support.service import ROOT
from tests.support.sheet_visits import PAIR, judged

WALLED = "Isolation of the process that draws sheets"
# The attempts by name, each given the journal's path and a port where somebody listens.
TRIED = {
    "users": "open('/etc/passwd').read()",
    "journal": "open(journal).read()",
    "folder": "os.listdir(os.path.dirname(journal))",
    "processes": "os.listdir('/proc')",
    "write": "open('/tmp/layby-was-here', 'w')",
    "own folder": "open(os.path.join(tempfile.gettempdir(), 'layby-was-here'), 'w')",
    "append": "open(journal, 'a')",
    "remove": "os.unlink(journal)",
    "shorten": "os.truncate(journal, 0)",
    "rights": "os.chmod(journal, 0o777)",
    "times": "os.utime(journal)",
    "rename": "os.rename(journal, journal + '.old')",
    "connect": "socket.create_connection(('127.0.0.1', port), timeout=5)",
    "datagram": "socket.socket(socket.AF_INET, socket.SOCK_DGRAM).sendto(b'x', ('127.0.0.1', port))",
    "local socket": "socket.socket(socket.AF_UNIX)",
    "fork": "os.fork()",
    "program": "subprocess.run(['/bin/true'], check=True)",
    "become": "os.execv('/bin/true', ['true'])",
    "signal": "os.kill(os.getppid(), 0)",
}
INSIDE = f"""
import json, os, socket, subprocess, sys, tempfile
from reports import print_worker
journal, port, data = sys.argv[1], int(sys.argv[2]), json.loads(sys.stdin.read())
print_worker.limit(print_worker.LIMITS)
assert print_worker.ready() is None
told = dict()
for name, line in {TRIED!r}.items():
    try:
        exec(line)
    except OSError as error:
        told[name] = type(error).__name__
    else:
        told[name] = "done"
kind, content = print_worker.printed(data, dict())
told["sheet"] = kind.decode() + content[:4].decode()
print(json.dumps(told))
"""


@pytest.fixture
def data(rulebook: dict[str, Any]) -> dict[str, Any]:
    """A sheet of two pages."""
    return jobsheet(PAIR, judged(PAIR, rulebook), rulebook)


def test_the_child_reaches_nothing_and_prints(data: dict[str, Any], tmp_path: Path) -> None:
    """The system refuses every attempt, everything outside stays as it was, and the sheet is drawn."""
    assert offered() == (True, True), "these tests need a Linux with Landlock, and libseccomp"
    journal, own = tmp_path / "journal.log", tmp_path / "own"
    journal.write_text("a record", "utf-8")
    own.mkdir()
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "TMPDIR": str(own)}
    with socket.create_server(("127.0.0.1", 0)) as listening:
        command = [sys.executable, "-c", INSIDE, str(journal), str(listening.getsockname()[1])]
        done = children.run(command, json.dumps(data), check=True, env=environment, cwd=ROOT)
        listening.setblocking(False)
        with pytest.raises(BlockingIOError):
            listening.accept()
    told = json.loads(done.stdout.splitlines()[-1])
    assert told.pop("sheet") == "P%PDF"
    assert told == dict.fromkeys(TRIED, "PermissionError")
    assert journal.read_text("utf-8") == "a record"


def test_where_the_system_offers_less_it_is_said_and_sheets_are_printed(
    data: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without the library for calls: files stay shut, the sheet is drawn, and `layby check` has a sentence for it."""
    own = tmp_path / "own"
    own.mkdir()
    lacking = "import reports.confinement; reports.confinement.SECCOMP = 'libnone.so.2'\n"
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "TMPDIR": str(own)}
    program = lacking + INSIDE.replace(repr(TRIED), repr({name: TRIED[name] for name in ("users", "write", "program")}))
    command = [sys.executable, "-c", program, "none", "0"]
    told = json.loads(children.run(command, json.dumps(data), check=True, env=environment, cwd=ROOT).stdout)
    assert told == {**dict.fromkeys(("users", "write", "program"), "PermissionError"), "sheet": "P%PDF"}
    assert [finding.seen for finding in check.check(tmp_path) if finding.what == WALLED] == ["it reaches nothing else"]
    monkeypatch.setattr("reports.confinement.SECCOMP", "libnone.so.2")
    [finding] = [finding for finding in check.check(tmp_path) if finding.what == WALLED]
    assert (finding.met, "libseccomp" in finding.seen, "Landlock" in finding.seen) == (True, True, False)


def test_the_child_is_told_no_secret(data: dict[str, Any], monkeypatch: pytest.MonkeyPatch) -> None:
    """The mail password is in the service's environment, not in the child's."""
    monkeypatch.setenv("LAYBY_SMTP_PASSWORD", "harbour-lamp")
    with Press() as press:
        assert press.sheet(data).startswith(b"%PDF")
        [child] = [place for place in Path("/proc").glob("[0-9]*") if is_our_press(place)]
        told = (child / "environ").read_bytes()
    assert b"TMPDIR=" in told
    assert b"harbour-lamp" not in told


def is_our_press(place: Path) -> bool:
    """Whether an entry of /proc is a child of this process that prints."""
    try:
        parent = int((place / "stat").read_text().rpartition(")")[2].split()[1])
        return parent == os.getpid() and b"print_worker" in (place / "cmdline").read_bytes()
    except (FileNotFoundError, ProcessLookupError):
        return False
