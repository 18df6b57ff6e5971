"""A disk without room, and one without inodes, under the real service and commands, on a real file system.

Linux gives an ordinary process a file system of its own size if it may have its own namespaces; elsewhere these tests
are skipped.
"""

from __future__ import annotations

import sys
import textwrap
from pathlib import Path
from typing import Any

import pytest

from sync.records.logbook import Logbook
from sync.work import intake
from tests.support import children
from tests.support.ops import JUNE_12, Phone, body_of
from tests.support.service import LAYBY, ROOT, free_port

UNSHARED = ["unshare", "--map-root-user", "--mount", sys.executable, "-c"]

# Copies a folder onto a small file system, fills it up, and works on it there; prints what it found.
INSIDE = """
    import os, shutil, subprocess, sys, time, urllib.request
    from pathlib import Path
    place, folder, layby, lack = Path(sys.argv[1]), sys.argv[2], sys.argv[3], sys.argv[4]
    options = "size=96m" if lack == "room" else "size=200m,nr_inodes=300"
    subprocess.run(["mount", "-t", "tmpfs", "-o", options, "none", str(place)], check=True)
    shutil.copytree(folder, place / "layby", ignore=shutil.ignore_patterns("*.lock", "service.json"))
    (place / "layby" / "layby.lock").touch()
    filler = place / "filler"
    filler.mkdir()
    try:
        for number in range(10_000):
            with (filler / str(number)).open("wb") as file:
                file.write(bytes(1 << 20 if lack == "room" else 0))
    except OSError:
        pass
    environment = {**os.environ, "TMPDIR": "/tmp"}
    for words in (["find", "ALD"], ["backup", str(place / "b.zip")], ["day", "--day", "2026-06-12"], ["evening"],
                  ["export", "N. Example", "--to", str(place / "e.zip")], ["erase", "N. Example", "--yes"],
                  ["pair"], ["rebuild"], ["check"]):
        done = subprocess.run([layby, "--folder", str(place / "layby"), *words], capture_output=True, text=True,
                              env=environment, timeout=120)
        print(f"{words[0]} {done.returncode}", " ".join((done.stdout + done.stderr).split()), flush=True)
    port = sys.argv[5]
    service = subprocess.Popen([layby, "--folder", str(place / "layby"), "serve", "--port", port], env=environment,
                               stdout=subprocess.PIPE, text=True)
    print("serve", service.stdout.readline().strip(), flush=True)
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/") as page:
        print("page", page.status, flush=True)
    service.terminate()
    service.wait(20)
    for file in filler.iterdir():
        file.unlink()
    done = subprocess.run([layby, "--folder", str(place / "layby"), "find", "ALD"], capture_output=True, text=True)
    print("afterwards", done.returncode, " ".join(done.stdout.split()), flush=True)
"""


def may_mount() -> bool:
    """Whether this system lets a process have its own file system."""
    try:
        command = ["unshare", "--map-root-user", "--mount", "mount", "-t", "tmpfs", "none", "/mnt"]
        return children.run(command).returncode == 0
    except FileNotFoundError:
        return False


@pytest.mark.skipif(not may_mount(), reason="this system lets no ordinary process mount a file system")
@pytest.mark.parametrize("lack", ["room", "files"])
def test_every_command_says_what_the_disk_lacks(
    folder: Path, tmp_path: Path, rulebook: dict[str, Any], lack: str
) -> None:
    """With a sentence and without a traceback; what only reads still works, the service starts, and nothing is lost."""
    phone = Phone()
    visit = phone.new_id()
    named = phone.op(visit, "visit.set", {"customer": {"name": "N. Example"}}, {"/customer/name": None})
    with Logbook(folder, rulebook, floor_bytes=0) as logbook:
        body = body_of(phone.opening(visit), phone.plate(visit, "ALD 4127"), named)
        intake.receive(logbook, body, JUNE_12)
    place = tmp_path / "small"
    place.mkdir()
    done = children.run([*UNSHARED, textwrap.dedent(INSIDE), place, folder, LAYBY, lack, str(free_port())], cwd=ROOT)
    said = {line.split(" ")[0]: line for line in done.stdout.splitlines()}
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Traceback" not in done.stdout
    lacking = "nearly full" if lack == "room" else "so many files"
    for name in ("backup", "day", "export", "erase", "pair"):
        assert said[name].startswith(f"{name} 2 ") or said[name].startswith(f"{name} 1 "), said[name]
        assert lacking in said[name], said[name]
    assert "ALD 4127" in said["find"]
    assert said["serve"].startswith("serve Layby is ready")
    assert said["page"] == "page 200"
    assert said["afterwards"].startswith("afterwards 0")
    assert "ALD 4127" in said["afterwards"]
