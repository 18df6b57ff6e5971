"""The command that lets the service start by itself, and the one backup that it then runs every night.

What each system needs for it is `server.process.autostart`'s.
"""

from __future__ import annotations

import argparse
import shlex
import subprocess
import sys
from pathlib import Path

from server.cli.language import error, say
from server.process import autostart as system
from server.process.dispatch import folder_of
from sync.disk.safe_files import make_folder, remove, write_whole
from sync.errors import LaybyError
from sync.work.backup_folder import LittleKept

Arguments = argparse.Namespace


class NotTaken(LaybyError):
    """The system did not take a command; `command` and `why` tell."""

    code = "autostart_not_taken"


def autostart(arguments: Arguments) -> int:
    """Let the service start with this user's session, and back up every night; or no longer."""
    if arguments.keep < 1:
        raise LittleKept
    serve, backup = _commands(arguments)
    if arguments.remove:
        # Whether there are backups or not, all files of both go.
        remove(folder_of(arguments) / system.NOTE)
        return _remove(system.plan(serve, backup or ["layby"], Path.home()))
    plan = system.plan(serve, backup, Path.home())
    for path, content in plan.files.items():
        make_folder(path.parent)
        write_whole(path, content)
        print(say("autostart.written", file=str(path)))
    make_folder(folder_of(arguments))
    into = str(Path(arguments.backup_to).absolute()) if arguments.backup_to else None
    system.leave_note(folder_of(arguments), system.Note([str(path) for path in plan.files], into))
    faults = [fault for command in plan.begin if (fault := _run(command)) is not None]
    if not faults:
        print(say("autostart.begun"))
    for fault in faults:
        print(say("fault", text=error(fault)), file=sys.stderr)
    return 2 if faults else 0


def _remove(plan: system.Plan) -> int:
    for command in plan.end:
        fault = _run(command)
        if fault is not None:
            # The system may know nothing of it; the files go all the same.
            print(say("fault", text=error(fault)), file=sys.stderr)
    gone = system.clear(plan)
    for path in gone:
        print(say("autostart.removed", file=str(path)))
    if not gone:
        print(say("autostart.nothing"))
    return 0


def _run(command: list[str]) -> NotTaken | None:
    """Ask the system for something; what kept it from it."""
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    except (OSError, subprocess.TimeoutExpired) as fault:
        return NotTaken(command=shlex.join(command), why=getattr(fault, "strerror", None) or str(fault))
    if done.returncode == 0:
        return None
    why = (done.stderr or done.stdout).strip().splitlines()
    return NotTaken(command=shlex.join(command), why=why[-1] if why else str(done.returncode))


def _commands(arguments: Arguments) -> tuple[list[str], list[str] | None]:
    """What serves and what backs up, word by word."""
    layby = [*_layby(), "--folder", str(folder_of(arguments).absolute())]
    serve = [*layby, "serve", "--port", str(arguments.port)]
    for name in ("host", "certificate", "key", "page_port", "desk_port"):
        value = getattr(arguments, name)
        if value:
            path = str(Path(value).absolute()) if name in ("certificate", "key") else str(value)
            serve += [f"--{name.replace('_', '-')}", path]
    if arguments.home is not None:
        serve += ["--home", *([arguments.home] if arguments.home else [])]
    if not arguments.backup_to:
        return serve, None
    into = str(Path(arguments.backup_to).absolute())
    return serve, [*layby, "backup", "--into", into, "--keep", str(arguments.keep)]


def _layby() -> list[str]:
    """How this very installation is called, wherever it is."""
    command = Path(sys.executable).with_name("layby.exe" if sys.platform == "win32" else "layby")
    return [str(command)] if command.exists() else [sys.executable, "-P", "-m", "server.cli.main"]
