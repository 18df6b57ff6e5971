"""What this machine needs for Layby, whether it is there, and the exact remedy if it isn't.

Standard library only at import, because the set-up of the demo and of the tests reads it before anything else is
installed. Nothing is installed from here and no record is opened; it only looks and reports.
"""

from __future__ import annotations

import ctypes
import importlib.metadata
import os
import platform
import shutil
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

OLDEST_PYTHON = (3, 11)
STALE_DAYS = 3  # a computer that is off at night backs up when it starts; a weekend may pass
LITTLE_DISK = 500 * 1000 * 1000  # bytes; a season of text, sheets and photos of one technician stays far below

# Names under which each library may be found: Linux, macOS, Windows. All but the last are needed to draw any page; the
# last reduces embedded fonts to the letters used.
LIBRARIES: dict[str, tuple[str, ...]] = {
    "GObject": ("libgobject-2.0.so.0", "libgobject-2.0.0.dylib", "libgobject-2.0-0.dll"),
    "Pango": ("libpango-1.0.so.0", "libpango-1.0.0.dylib", "libpango-1.0-0.dll"),
    "Pango for FreeType": ("libpangoft2-1.0.so.0", "libpangoft2-1.0.0.dylib", "libpangoft2-1.0-0.dll"),
    "HarfBuzz": ("libharfbuzz.so.0", "libharfbuzz.0.dylib", "libharfbuzz-0.dll"),
    "Fontconfig": ("libfontconfig.so.1", "libfontconfig.1.dylib", "libfontconfig-1.dll"),
    "HarfBuzz subset": ("libharfbuzz-subset.so.0", "libharfbuzz-subset.0.dylib", "libharfbuzz-subset-0.dll"),
}
# What the program that drives the browser in the tests is linked against on Linux; small systems lack it.
DRIVER_LIBRARY = ("libatomic.so.1",)
LIBRARY_FOLDERS = ("", "/opt/homebrew/lib", "/usr/local/lib", "/opt/local/lib", r"C:\msys64\ucrt64\bin")

# Distributions that `layby` needs at run time, by their name on the package index.
PACKAGES = (
    "babel", "CoolProp", "cryptography", "filelock", "flask", "font-source-sans-pro", "font-source-serif-pro",
    "granian", "jinja2", "marshmallow", "pypdfium2", "tinydb", "tree-sitter", "tree-sitter-javascript", "waitress",
    "weasyprint", "zeroconf",
)  # fmt: skip

# What is said about the process that draws a sheet, by whether a system can keep it from files, and from connections
# and programs. If it can't, there is nothing to fix.
WALLS = {(True, True): "walled", (False, True): "no_files_wall", (True, False): "no_calls_wall",
         (False, False): "no_walls"}  # fmt: skip

APT = "apt-get install -y --no-install-recommends"
SYSTEMS = {"debian": "Debian, Ubuntu", "fedora": "Fedora", "macos": "macOS", "windows": "Windows"}

# What to type for each need, by system. For Debian these are only the packages' names, so that the set-up can install
# several at once; for the others, whole commands.
DEBIAN_PACKAGES = {
    "pango": ("libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0"),
    "venv": ("python3-venv",),
    "chromium": ("chromium", "fonts-dejavu-core", "libatomic1"),
}
# What a few tests need besides: further browsers, what installs an authority for Chromium, a database server; Debian's
# packages. Without them those tests are skipped, or slower without Chromium's build that has no windows.
FOR_SOME_TESTS = {
    "headless": ("chromium-headless-shell",),
    "firefox": ("firefox-esr",), "webkit": ("webkit2gtk-driver", "xvfb"), "certutil": ("libnss3-tools",),
    "postgresql": ("postgresql",),
}
COMMANDS = {
    "pango": {
        "fedora": "sudo dnf install pango harfbuzz",
        "macos": "brew install pango",
        "windows": "pacman -S mingw-w64-ucrt-x86_64-pango",  # in the UCRT64 window of MSYS2
    },
    "venv": {
        "fedora": "sudo dnf install python3",
        "macos": "brew install python",
        "windows": "winget install Python.Python.3.12",
    },
    "chromium": {
        "fedora": "sudo dnf install chromium libatomic",
        "macos": "brew install --cask chromium",
        "windows": r".venv\Scripts\python -m playwright install chromium",
    },
}
# Commands for a special window.
IN_MSYS2 = ("pango", "windows")


class Finding(NamedTuple):
    """One need: what it is, whether it is met, what was seen, and what to do if it isn't."""

    what: str
    met: bool
    seen: str
    remedy: tuple[str, ...] = ()


def system() -> str:
    """This kind of system: a key of SYSTEMS, or "other"."""
    named = {"Darwin": "macos", "Windows": "windows"}.get(platform.system())
    if named:
        return named
    try:
        release = platform.freedesktop_os_release()
    except OSError:
        return "other"
    kin = {release.get("ID", ""), *release.get("ID_LIKE", "").split()}
    if kin & {"debian", "ubuntu"}:
        return "debian"
    return "fedora" if kin & {"fedora", "rhel"} else "other"


def command(need: str, kind: str) -> str:
    """The one command that meets `need` (a key of DEBIAN_PACKAGES) on a system of this kind."""
    if kind == "debian":
        return f"sudo {APT} {' '.join(DEBIAN_PACKAGES[need])}"
    return COMMANDS[need][kind]


def remedy(need: str) -> tuple[str, ...]:
    """What to type to meet `need`: this system's command, or every system's if this one isn't known."""
    kind = system()
    if kind in SYSTEMS:
        return (_typed(need, kind),)
    return tuple(_say("on_system", system=name, command=_typed(need, kind)) for kind, name in SYSTEMS.items())


def _typed(need: str, kind: str) -> str:
    typed = command(need, kind)
    return _say("in_msys2", command=typed) if (need, kind) == IN_MSYS2 else typed


def _say(code: str, **values: str | float) -> str:
    # Not at the top, because the set-up has only this file.
    from server.cli.language import say

    return say(f"check.{code}", **values)


def loads(names: tuple[str, ...]) -> bool:
    """Whether the system's loader finds the library under one of its names."""
    for folder in LIBRARY_FOLDERS:
        for name in names:
            try:
                ctypes.CDLL(os.path.join(folder, name))
            except OSError:
                continue
            return True
    return False


def missing_libraries() -> list[str]:
    """The libraries for drawing pages that this machine can't load."""
    return [name for name, names in LIBRARIES.items() if not loads(names)]


def _python() -> Finding:
    seen = platform.python_version()
    oldest = ".".join(str(part) for part in OLDEST_PYTHON)
    new_enough = sys.version_info[:2] >= OLDEST_PYTHON
    advice = _say("install_python", version=oldest)
    return Finding(_say("python", version=oldest), new_enough, seen, (advice,))


def _libraries() -> Finding:
    missing = missing_libraries()
    seen = _say("not_found", names=", ".join(missing)) if missing else _say("found")
    return Finding(_say("libraries"), not missing, seen, remedy("pango"))


def _package(name: str) -> Finding:
    try:
        seen = importlib.metadata.version(name)
    except importlib.metadata.PackageNotFoundError:
        return Finding(name, False, _say("not_installed"), (f"{sys.executable} -m pip install {name}",))
    return Finding(name, True, seen)


def _writable(folder: Path) -> Finding:
    """Whether a file can be made, written through and removed where the logbook is or will be."""
    what = _say("folder", folder=str(folder))
    existing = next(place for place in (folder, *folder.parents) if place.exists())
    try:
        with tempfile.TemporaryFile(dir=existing) as trial:
            trial.write(b"layby")
            trial.flush()
            os.fsync(trial.fileno())
    except OSError as fault:
        advice = _say("make_writable", folder=str(existing))
        return Finding(what, False, fault.strerror or str(fault), (advice,))
    return Finding(what, True, _say("writable" if existing == folder else "will_be_made"))


def _shut(folder: Path) -> Finding:
    """Whether only the owner can open the logbook's folder, which they may have made themselves."""
    # Not at the top, because the set-up has only this file.
    from server.process.folder_mode import command_to_shut

    command = command_to_shut(folder)
    seen = _say("is_private" if command is None else "is_open")
    return Finding(_say("private"), command is None, seen, (command,) if command else ())


def _disk(folder: Path) -> Finding:
    existing = next(place for place in (folder, *folder.parents) if place.exists())
    free = shutil.disk_usage(existing).free
    from server.cli.language import decimal

    seen, advice = _say("free", size=decimal(free / 1e9)), _say("make_room", folder=str(existing))
    return Finding(_say("room"), free >= LITTLE_DISK, seen, (advice,))


def _home(folder: Path) -> list[Finding]:
    """Whether the certificate of a desk that is served at home still lasts; nothing for any other desk."""
    # Not at the top, since the set-up has this file alone.
    from server.cli.language import short_day
    from server.home import address

    try:
        home = address.known(folder)
    except address.BadHomeFile as fault:
        return [Finding(_say("home"), False, str(fault.values["why"]), (str(fault.values["file"]),))]
    if home is None:
        return []
    try:
        from server.home import authority
    except ImportError:
        # Named among the packages.
        return []
    ends = authority.ends_at(folder / address.FOLDER)
    is_valid = ends is not None and ends > datetime.now(UTC)
    seen = _say("home_until", address=home.url, day=short_day(ends.date())) if ends else home.url
    return [Finding(_say("home"), is_valid, seen, (_say("home_again"),))]


def _autostart(folder: Path) -> list[Finding]:
    """Whether what starts by itself is still set up and the nightly backups come; nothing where nobody asked for it."""
    # Not at the top, since the set-up has this file alone.
    from server.process.autostart import read_note
    from sync.work.backup_folder import DATED

    note = read_note(folder)
    if note is None:
        return []
    gone = [name for name in note.files if not Path(name).exists()]
    seen = _say("not_found", names=", ".join(gone)) if gone else _say("found")
    found = [Finding(_say("autostart"), not gone, seen, (_say("autostart_again"),))]
    if note.backup_to is None:
        return found
    newest = max((path.stat().st_mtime for path in Path(note.backup_to).glob(DATED)), default=None)
    days = None if newest is None else (time.time() - newest) / 86_400
    seen = _say("no_backup") if days is None else _say("backup_age", count=int(days))
    advice = _say("backup_now", folder=note.backup_to)
    return [*found, Finding(_say("nightly", folder=note.backup_to), days is not None and days < STALE_DAYS, seen,
                            (advice,))]


def _walls() -> Finding:
    """Whether the process that draws can be shut off; if a system offers nothing for it, there is nothing to fix."""
    from reports.confinement import offered

    files, calls = offered()
    return Finding(_say("walls"), True, _say(WALLS[files, calls]))


def check(folder: Path) -> list[Finding]:
    """Everything that Layby needs on this machine, met or not.

    Args:
        folder: where the logbook is or will be [path]

    Returns:
        One finding per need, in the order in which a person would fix them.
    """
    folder = folder.absolute()
    of_folder = [_writable(folder), _shut(folder), _disk(folder), *_home(folder), *_autostart(folder)]
    return [_python(), *(_package(name) for name in PACKAGES), _libraries(), _walls(), *of_folder]


def run(folder: Path) -> int:
    """Print every finding with its remedy; returns the exit status of `layby check`: 0 if all is there, else 1."""
    findings = check(folder)
    width = max(len(_say("ok")), len(_say("missing")))
    for finding in findings:
        mark = _say("ok" if finding.met else "missing")
        print(f"{mark:{width}}  {_say('finding', what=finding.what, seen=finding.seen)}")
        for line in () if finding.met else finding.remedy:
            print(f"{'':{width}}  {_say('fix', remedy=line)}")
    missing = sum(not finding.met for finding in findings)
    print(_say("everything") if not missing else _say("some", missing=missing, all=len(findings)))
    return 1 if missing else 0
