"""What starts by itself: files as each system reads them, their command lines run for real, backups that are kept.

macOS and Windows were not at hand: their files are read back by rules that their makers published.
"""

from __future__ import annotations

import os
import plistlib
import re
import shutil
import sys
import time
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from server.process import autostart
from tests.support import children
from tests.support.service import LAYBY, ROOT, Service, free_port

# All that a system's own notation might take for something else.
ODD = 'log book 50% $HOME "a"'
WORDS = ["/opt/lay by/layby", "--folder", f"/srv/{ODD}", "serve", "--port", "8765"]
BACKUP = ["/opt/lay by/layby", "--folder", f"/srv/{ODD}", "backup", "--into", "/srv/kept", "--keep", "7"]


def words_of_unit(unit: str) -> list[str]:
    """The words of a unit's command line, by systemd.service(5), "Command lines"."""
    line = re.search(r"^ExecStart=(.*)$", unit, re.MULTILINE)
    assert line is not None
    quoted = re.findall(r'"((?:[^"\\]|\\.)*)"', line[1])
    return [re.sub(r"\\(.)", r"\1", word).replace("%%", "%").replace("$$", "$") for word in quoted]


def windows_words(line: str) -> list[str]:
    """The words of a command line, by Microsoft, "Parsing C command-line arguments"."""
    found, word, inside, slashes = [], "", False, 0
    for letter in f"{line} ":
        if letter == "\\":
            slashes += 1
            continue
        if letter == '"':
            word += "\\" * (slashes // 2)
            if slashes % 2:
                word += '"'
            else:
                inside = not inside
            slashes = 0
            continue
        word += "\\" * slashes
        slashes = 0
        if letter == " " and not inside:
            found += [word] if word else []
            word = ""
        else:
            word += letter
    return found


def test_systemd_reads_the_units(tmp_path: Path) -> None:
    """Every word comes back as it was; systemd itself finds no fault where it is here."""
    plan = autostart.plan(WORDS, BACKUP, tmp_path, "linux")
    texts = {path.name: content.decode() for path, content in plan.files.items()}
    assert words_of_unit(texts["layby-desk.service"]) == WORDS
    assert words_of_unit(texts["layby-backup.service"]) == BACKUP
    assert "OnCalendar=*-*-* 02:30:00\nPersistent=true" in texts["layby-backup.timer"]
    analyzer = shutil.which("systemd-analyze")
    if analyzer is not None:
        assert faults_by(analyzer, autostart.plan([sys.executable, ODD], [sys.executable], tmp_path, "linux"),
                         tmp_path) == ""


def faults_by(analyzer: str, plan: autostart.Plan, place: Path) -> str:
    """What systemd says of the units of a plan."""
    for path, content in plan.files.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    environment = {**os.environ, "XDG_RUNTIME_DIR": str(place)}
    return str(children.run([analyzer, "verify", "--user", *plan.files], env=environment).stderr)


def test_launchd_reads_the_agents(tmp_path: Path) -> None:
    """Property lists with the words as they are (launchd.plist(5))."""
    plan = autostart.plan(WORDS, BACKUP, tmp_path, "darwin")
    agents = {path.stem: plistlib.loads(content) for path, content in plan.files.items()}
    assert agents["layby-desk"]["ProgramArguments"] == WORDS
    assert agents["layby-backup"]["ProgramArguments"] == BACKUP
    assert agents["layby-backup"]["StartCalendarInterval"] == {"Hour": 2, "Minute": 30}
    assert {agent["Label"] for agent in agents.values()} == set(agents)


def test_the_task_scheduler_reads_the_tasks(tmp_path: Path) -> None:
    """XML of its schema; the program parses its line by the rules of the C runtime."""
    words = [r"C:\Users\I. Varga\layby.exe", "--folder", "C:\\Log book\\", "serve", 'say "so"']
    plan = autostart.plan(words, BACKUP, tmp_path, "win32")
    space = {"t": "http://schemas.microsoft.com/windows/2004/02/mit/task"}
    for path, expected, trigger in zip(plan.files, (words, BACKUP), ("LogonTrigger", "CalendarTrigger"), strict=True):
        root = ElementTree.fromstring(plan.files[path])
        command = root.find("t:Actions/t:Exec/t:Command", space)
        arguments = root.find("t:Actions/t:Exec/t:Arguments", space)
        assert command is not None
        assert arguments is not None
        assert [command.text, *windows_words(arguments.text or "")] == expected
        assert root.find(f"t:Triggers/t:{trigger}", space) is not None


def asked(folder: Path, owner: Path, *words: str) -> Any:
    """A command of somebody whose system takes no orders."""
    owner.mkdir(exist_ok=True)
    environment = {**os.environ, "HOME": str(owner), "PATH": str(owner), "LAYBY_LANGUAGE": "en"}
    return children.run([str(LAYBY), "--folder", str(folder), *words], cwd=ROOT, env=environment)


@pytest.mark.skipif(sys.platform != "linux", reason="systemd is Linux's")
def test_what_was_set_up_serves_and_backs_up(tmp_path: Path) -> None:
    """The very lines of the written files, run: the service answers, the backup is there; then all is taken away."""
    folder, owner, kept = tmp_path / ODD, tmp_path / "owner", tmp_path / "kept"
    service = Service(folder)
    done = asked(folder, owner, "autostart", "--port", str(service.port), "--backup-to", str(kept), "--keep", "2")
    units = owner / ".config" / "systemd" / "user"
    assert done.returncode == 2
    assert "systemctl --user daemon-reload" in done.stderr
    assert "Run it yourself" in done.stderr
    serve = words_of_unit((units / "layby-desk.service").read_text())
    with children.beside(serve, log=tmp_path / "service.log", cwd=ROOT) as child:
        child.until(service.answers, "the service that systemd would start")
        for day in ("2026-06-10", "2026-06-11"):
            kept.mkdir(exist_ok=True)
            (kept / f"layby-{day}-0230.zip").write_bytes(b"older")
        (kept / "own notes.zip").write_bytes(b"not ours")
        backup = words_of_unit((units / "layby-backup.service").read_text())
        children.run(backup, cwd=ROOT, check=True)
    names = sorted(path.name for path in kept.iterdir())
    assert len(names) == 3
    assert names[0] == "layby-2026-06-11-0230.zip"
    assert names[2] == "own notes.zip"
    checked = asked(folder, owner, "check").stdout
    assert "Starting by itself: found" in checked
    assert "newest 0 days old" in checked
    gone = asked(folder, owner, "autostart", "--remove")
    assert (gone.returncode, gone.stdout.count("Removed: ")) == (0, 3)
    assert list(units.glob("layby*")) == []
    assert "nothing to remove" in asked(folder, owner, "autostart", "--remove").stdout
    assert "Starting by itself" not in asked(folder, owner, "check").stdout


@pytest.mark.skipif(sys.platform != "linux", reason="systemd is Linux's")
def test_check_tells_what_has_stopped(tmp_path: Path) -> None:
    """A unit that somebody removed, and backups that no longer come."""
    folder, owner, kept = tmp_path / "logbook", tmp_path / "owner", tmp_path / "kept"
    asked(folder, owner, "autostart", "--port", str(free_port()), "--backup-to", str(kept))
    assert "Nightly backup" in asked(folder, owner, "check").stdout
    assert "none yet" in asked(folder, owner, "check").stdout
    kept.mkdir()
    stale = kept / "layby-2026-06-10-0230.zip"
    stale.write_bytes(b"older")
    os.utime(stale, (time.time() - 5 * 86_400,) * 2)
    (owner / ".config" / "systemd" / "user" / "layby-desk.service").unlink()
    checked = asked(folder, owner, "check")
    assert checked.returncode == 1
    assert "newest 5 days old" in checked.stdout
    assert "layby-desk.service" in checked.stdout


def test_a_failed_backup_removes_no_old_one(tmp_path: Path) -> None:
    """No logbook, so no new backup: the old ones stay."""
    kept = tmp_path / "kept"
    kept.mkdir()
    (kept / "layby-2026-06-10-0230.zip").write_bytes(b"older")
    done = asked(tmp_path / "none", tmp_path / "owner", "backup", "--into", str(kept), "--keep", "1")
    assert done.returncode == 2
    assert [path.name for path in kept.iterdir()] == ["layby-2026-06-10-0230.zip"]


@pytest.mark.parametrize("words", [["backup"], ["backup", "a.zip", "--into", "b"],
                                   ["backup", "--into", "b", "--keep", "0"], ["autostart", "--keep", "0"]])
def test_what_makes_no_sense_is_said(tmp_path: Path, words: list[str]) -> None:
    """In a sentence, and nothing is written."""
    folder = tmp_path / "logbook"
    folder.mkdir()
    (folder / "journal.log").write_bytes(b"")
    done = asked(folder, tmp_path / "owner", *words)
    assert (done.returncode, "Traceback" in done.stderr) == (2, False)
    assert list((tmp_path / "owner").iterdir()) == []
