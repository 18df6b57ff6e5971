"""The backups in one folder: what the next is called, which are there, and which are too old to keep.

Nothing here writes a backup; whatever else lies in the folder stays.
"""

from __future__ import annotations

import json
import zipfile
from datetime import datetime
from pathlib import Path
from typing import TypedDict

from sync.disk.safe_files import remove
from sync.errors import LaybyError

# A backup of the dated ones, by its name.
DATED = "layby-????-??-??-????.zip"


class LittleKept(LaybyError):
    """Less than one backup cannot be kept."""

    code = "little_kept"


class NoSuchBackup(LaybyError):
    """A folder of backups holds none of this name."""

    code = "no_such_backup"


class DatedBackup(TypedDict):
    """A backup in its folder: made at [ms since 1970], its size [bytes], its visits, None if it doesn't say."""

    name: str
    at_ms: int
    bytes: int
    visits: int | None


def dated_file(folder: Path) -> Path:
    """Where the backup of this minute goes [path]."""
    return folder / f"layby-{datetime.now().astimezone():%Y-%m-%d-%H%M}.zip"


def drop_old(folder: Path, keep: int) -> list[Path]:
    """Remove the oldest dated backups of a folder beyond so many.

    Args:
        folder: where they are [path]
        keep: how many stay, at least one [count]

    Returns:
        what went [paths]

    Raises:
        LittleKept: none would stay.
    """
    if keep < 1:
        raise LittleKept
    gone = sorted(folder.glob(DATED))[:-keep]
    for path in gone:
        remove(path)
    return gone


def dated_backups(folder: Path) -> list[DatedBackup]:
    """The dated backups of a folder, newest first; none where the folder can't be read [DatedBackup each]."""
    try:
        paths = sorted(folder.glob(DATED), reverse=True)
        return [_described(path) for path in paths if path.is_file()]
    except OSError:
        return []


def backup_called(folder: Path, name: str) -> Path:
    """The path of a dated backup of a folder.

    Args:
        folder: where it is [path]
        name: its name, without any folder [text]

    Raises:
        NoSuchBackup: none of this name is there.
    """
    found = next((path for path in folder.glob(DATED) if path.name == name and path.is_file()), None)
    if found is None:
        raise NoSuchBackup(name=name[:80], folder=str(folder))
    return found


def _described(path: Path) -> DatedBackup:
    # Not at the top: `layby check` asks for names alone, where the packages behind it may be missing.
    from sync.work.restore import MANIFEST, MANIFEST_MOST

    made, visits = path.stat().st_mtime, None
    try:
        with zipfile.ZipFile(path) as archive:
            if archive.getinfo(MANIFEST).file_size <= MANIFEST_MOST:
                manifest = json.loads(archive.read(MANIFEST))
                made = datetime.fromisoformat(str(manifest["made_at"])).timestamp()
                visits = int(manifest["visits"]) if "visits" in manifest else None
    except (zipfile.BadZipFile, NotImplementedError, EOFError, KeyError, ValueError, TypeError):
        # What is wrong with it is said where it is read back.
        visits = None
    return {"name": path.name, "at_ms": int(made * 1000), "bytes": path.stat().st_size, "visits": visits}
