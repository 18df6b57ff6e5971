"""What makes the service start by itself, and the nightly backup run: the files that each system reads for its user.

It writes and removes those files and names the commands that make the system read them; it starts nothing.
"""

from __future__ import annotations

import json
import os
import plistlib
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from xml.etree import ElementTree

from sync.disk.safe_files import remove, write_whole

# When the backup runs: at night, and by then the day's sheets are out.
HOUR, MINUTE = 2, 30
SERVE, BACKUP = "layby-desk", "layby-backup"
TASKS = "http://schemas.microsoft.com/windows/2004/02/mit/task"
# What systemd reads as special in a command line (systemd.service(5), "Command lines").
SPECIAL = {"%": "%%", "$": "$$", "\\": "\\\\", '"': '\\"'}


# Kept in the logbook's folder, for `layby check`.
NOTE = "autostart.json"


@dataclass(frozen=True)
class Note:
    """What was set up: the files of the system, and the folder of the nightly backups [texts, text or None]."""

    files: list[str]
    backup_to: str | None


def leave_note(folder: Path, note: Note) -> None:
    """Say in the logbook's folder what was set up; the folder is there."""
    write_whole(folder / NOTE, json.dumps(asdict(note)).encode("utf-8"))


def read_note(folder: Path) -> Note | None:
    """What was set up, None where nothing was or the note cannot be read [Note or None]."""
    try:
        content = json.loads((folder / NOTE).read_bytes())
        return Note([str(name) for name in content["files"]], content["backup_to"] and str(content["backup_to"]))
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None


@dataclass(frozen=True)
class Plan:
    """What a system is to be told.

    files: what to write where, by path [texts or bytes]
    begin: commands that make the system read and start it [lists of words]
    end: commands that make it stop and forget it [lists of words]
    """

    files: dict[Path, bytes]
    begin: list[list[str]]
    end: list[list[str]]


def plan(serve: Sequence[str], backup: Sequence[str] | None, home: Path, kind: str = sys.platform) -> Plan:
    """What makes the two commands run by themselves for this user.

    Args:
        serve: the command that serves, each word by itself [words]
        backup: the command that backs up once, None for no backups [words or None]
        home: the user's own folder [path]
        kind: of the system, as `sys.platform` names it [text]

    Returns:
        the plan, for systemd on anything that is neither macOS nor Windows [Plan]
    """
    if kind == "darwin":
        return _launchd(serve, backup, home / "Library" / "LaunchAgents")
    if kind == "win32":
        return _task_scheduler(serve, backup, home / "AppData" / "Local" / "Layby")
    return _systemd(serve, backup, home / ".config" / "systemd" / "user")


def clear(files: Plan) -> list[Path]:
    """Remove the files of a plan that are there.

    Args:
        files: the plan [Plan]

    Returns:
        what went [paths]
    """
    here = [path for path in files.files if path.exists()]
    for path in here:
        remove(path)
    return here


def _systemd(serve: Sequence[str], backup: Sequence[str] | None, folder: Path) -> Plan:
    """User units (systemd.unit(5), systemd.service(5), systemd.timer(5))."""
    units = {f"{SERVE}.service": _unit(
        {"Unit": {"Description": "Layby, the desk"},
         "Service": {"ExecStart": _systemd_line(serve), "Restart": "on-failure", "RestartSec": "5"},
         "Install": {"WantedBy": "default.target"}})}
    started = [f"{SERVE}.service"]
    if backup is not None:
        units[f"{BACKUP}.service"] = _unit(
            {"Unit": {"Description": "Layby, the nightly backup"},
             "Service": {"Type": "oneshot", "ExecStart": _systemd_line(backup)}})
        units[f"{BACKUP}.timer"] = _unit(
            {"Unit": {"Description": "Layby, the nightly backup"},
             "Timer": {"OnCalendar": f"*-*-* {HOUR:02}:{MINUTE:02}:00", "Persistent": "true"},
             "Install": {"WantedBy": "timers.target"}})
        started.append(f"{BACKUP}.timer")
    control = ["systemctl", "--user"]
    return Plan({folder / name: text for name, text in units.items()},
                [[*control, "daemon-reload"], [*control, "enable", "--now", *started]],
                [[*control, "disable", "--now", f"{SERVE}.service", f"{BACKUP}.timer"], [*control, "daemon-reload"]])


def _unit(sections: dict[str, dict[str, str]]) -> bytes:
    parts = [f"[{name}]\n" + "".join(f"{key}={value}\n" for key, value in keys.items())
             for name, keys in sections.items()]
    return "\n".join(parts).encode("utf-8")


def _systemd_line(words: Sequence[str]) -> str:
    return " ".join('"' + "".join(SPECIAL.get(letter, letter) for letter in word) + '"' for word in words)


def _launchd(serve: Sequence[str], backup: Sequence[str] | None, folder: Path) -> Plan:
    """Launch agents (launchd.plist(5))."""
    agents = {SERVE: {"ProgramArguments": [*serve], "RunAtLoad": True, "KeepAlive": {"SuccessfulExit": False}}}
    if backup is not None:
        agents[BACKUP] = {"ProgramArguments": [*backup], "StartCalendarInterval": {"Hour": HOUR, "Minute": MINUTE}}
    files = {folder / f"{name}.plist": plistlib.dumps({"Label": name, **keys}) for name, keys in agents.items()}
    user = f"gui/{os.getuid()}" if hasattr(os, "getuid") else "gui"
    return Plan(files, [["launchctl", "bootstrap", user, str(path)] for path in files],
                [["launchctl", "bootout", f"{user}/{name}"] for name in (SERVE, BACKUP)])


def _task_scheduler(serve: Sequence[str], backup: Sequence[str] | None, folder: Path) -> Plan:
    """Scheduled tasks (Microsoft, "Task Scheduler Schema")."""
    files = {folder / f"{SERVE}.xml": _task(serve, {"LogonTrigger": {"Enabled": "true"}})}
    if backup is not None:
        daily = {"StartBoundary": f"2026-01-01T{HOUR:02}:{MINUTE:02}:00", "ScheduleByDay": {"DaysInterval": "1"}}
        files[folder / f"{BACKUP}.xml"] = _task(backup, {"CalendarTrigger": daily})
    begin = [["schtasks", "/Create", "/F", "/TN", path.stem, "/XML", str(path)] for path in files]
    return Plan(files, [*begin, ["schtasks", "/Run", "/TN", SERVE]],
                [["schtasks", "/Delete", "/F", "/TN", name] for name in (SERVE, BACKUP)])


def _task(words: Sequence[str], triggers: dict[str, object]) -> bytes:
    root = ElementTree.Element("Task", {"version": "1.2", "xmlns": TASKS})
    settings = {"ExecutionTimeLimit": "PT0S", "StartWhenAvailable": "true", "DisallowStartIfOnBatteries": "false",
                "StopIfGoingOnBatteries": "false"}
    arguments = subprocess.list2cmdline(words[1:])
    _fill(root, {"Triggers": triggers, "Settings": settings,
                 "Actions": {"Exec": {"Command": words[0], "Arguments": arguments}}})
    return bytes(ElementTree.tostring(root, encoding="utf-16", xml_declaration=True))


def _fill(parent: ElementTree.Element, content: dict[str, object]) -> None:
    for name, value in content.items():
        child = ElementTree.SubElement(parent, name)
        if isinstance(value, dict):
            _fill(child, value)
        else:
            child.text = str(value)
