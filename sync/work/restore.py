"""Restore: a backup is read completely and verified, and a folder is made from it, all or nothing.

Nothing here knows what is in a record; `backup` decides what a backup holds.
"""

from __future__ import annotations

import hashlib
import json
import re
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import IO, TypedDict

from sync.disk import calls
from sync.disk.folder_lock import LOCK_NAME, FolderLock
from sync.disk.safe_files import make_folder, new_file, remove_tree
from sync.errors import LaybyError

MANIFEST = "manifest.json"
FORMAT = "layby-backup"
VERSION = 1
MANIFEST_MOST = 64 * 1024 * 1024
# Plain relative names; a folder or file whose name begins with a dot isn't one of the desk's records.
NAME = re.compile(r"[A-Za-z0-9_-][A-Za-z0-9._-]*(/[A-Za-z0-9_-][A-Za-z0-9._-]*)*")
# Made again from the journal, or of use to a running process alone: no backup holds them; nor the keys of the desk's
# own authority, which whoever has the backup could pose as the desk with; nor a database's address with its password.
LEFT_OUT = {LOCK_NAME, "checkpoint.json", "journal.proved", "service.json", "autostart.json",
            "mail-tried.json", "pages", "home", "database.txt"}
_BLOCK = 1 << 20


class Member(TypedDict):
    """A file of a backup as the manifest describes it: 64 hex digits, bytes."""

    sha256: str
    bytes: int


class Restored(TypedDict):
    """How many files were restored, and their total size [bytes]."""

    members: int
    bytes: int


class BackupDamaged(LaybyError):
    """A file that isn't an intact backup; `what` names the members that differ from what was written."""

    code = "backup_damaged"


class BackupUnreadable(BackupDamaged):
    """A file that can't be read as a backup at all; `why` gives the reason."""

    code = "backup_unreadable"


class FolderNotEmpty(LaybyError):
    """The folder to restore into isn't empty."""

    code = "folder_not_empty"


def blocks(file: IO[bytes], most: int | None = None) -> Iterator[bytes]:
    """A file's content in pieces, up to `most` bytes if that is given [iterator of bytes]."""
    left = most
    while block := file.read(_BLOCK if left is None else min(_BLOCK, left)):
        left = None if left is None else left - len(block)
        yield block


def verify(file: Path) -> dict[str, Member]:
    """Read a whole backup and compare every member with the manifest; nothing is written.

    Args:
        file: the backup [path]

    Returns:
        the members by name [Member each]

    Raises:
        BackupUnreadable: it isn't such a file.
        BackupDamaged: some of it isn't as it was written; every such member is named.
        OSError: it can't be read at all.
    """
    try:
        with zipfile.ZipFile(file) as archive:
            members = _manifest(archive, file)
            bad = sorted(name for name in members if not _is_sound(archive, name, members[name]))
    except (zipfile.BadZipFile, NotImplementedError, EOFError) as error:
        raise BackupUnreadable(file=str(file), why=str(error)) from error
    if bad:
        raise BackupDamaged(file=str(file), what=", ".join(bad[:20]) + (", …" if len(bad) > 20 else ""))
    return members


def _manifest(archive: zipfile.ZipFile, file: Path) -> dict[str, Member]:
    """The members in the manifest, which must be those of the archive, with names that stay in a folder."""
    infos = {info.filename: info for info in archive.infolist()}
    try:
        if infos[MANIFEST].file_size > MANIFEST_MOST:
            raise ValueError
        manifest = json.loads(archive.read(MANIFEST))
        members: dict[str, Member] = {
            str(name): {"sha256": str(one["sha256"]), "bytes": int(one["bytes"])}
            for name, one in manifest["members"].items()
        }
        is_ours = manifest["format"] == FORMAT and manifest["version"] == VERSION
    except (KeyError, ValueError, TypeError, AttributeError, zipfile.BadZipFile, OSError) as error:
        raise BackupDamaged(file=str(file), what=MANIFEST) from error
    odd = sorted(name for name in members if not NAME.fullmatch(name) or name.split("/")[0] in LEFT_OUT)
    odd += sorted(infos.keys() ^ {MANIFEST, *members})
    if not is_ours or odd or len(infos) != len(archive.infolist()):
        raise BackupDamaged(file=str(file), what=", ".join(odd[:20]) or MANIFEST)
    return members


def _is_sound(archive: zipfile.ZipFile, name: str, claimed: Member) -> bool:
    if archive.getinfo(name).file_size != claimed["bytes"]:
        return False
    running = hashlib.sha256()
    try:
        with archive.open(name) as member:
            for block in blocks(member):
                running.update(block)
    except (zipfile.BadZipFile, OSError, EOFError, ValueError, zlib.error):
        return False
    return running.hexdigest() == claimed["sha256"]


def restore(file: Path, folder: Path) -> Restored:
    """Make a folder from a backup: all of it, compared by hash, or nothing.

    The files are written beside the folder and renamed together, so that a kill leaves no half-restored folder.

    Args:
        file: the backup [path]
        folder: where the logbook will be; must be empty or not exist [path]

    Returns:
        how many files and how large [Restored]

    Raises:
        BackupUnreadable, BackupDamaged: it isn't intact; nothing was written.
        FolderNotEmpty: there is something in the folder.
        FolderBusy: a Layby is using the folder.
        OSError: the disk didn't take it; the folder is as it was.
    """
    folder = folder.resolve()
    _check_empty(folder)
    members = verify(file)
    beside = folder.with_name(f".{folder.name}.restoring")
    remove_tree(beside)
    make_folder(beside)
    try:
        with zipfile.ZipFile(file) as archive:
            for name, claimed in members.items():
                _take_out(archive, name, beside / name, claimed)
        for place in [beside, *(path for path in beside.rglob("*") if path.is_dir())]:
            calls.sync_folder(place)
        _put_in_place(beside, folder)
    except BaseException:
        remove_tree(beside)
        raise
    return {"members": len(members), "bytes": sum(claimed["bytes"] for claimed in members.values())}


def _check_empty(folder: Path) -> None:
    if not folder.exists():
        return
    if not folder.is_dir() or {path.name for path in folder.iterdir()} - {LOCK_NAME}:
        raise FolderNotEmpty(folder=str(folder))
    lock = FolderLock(folder)
    lock.take()
    lock.give_back()


def _take_out(archive: zipfile.ZipFile, name: str, path: Path, claimed: Member) -> None:
    make_folder(path.parent)
    running = hashlib.sha256()
    with archive.open(name) as member, new_file(path) as out:
        for block in blocks(member):
            out.write(block)
            running.update(block)
    if running.hexdigest() != claimed["sha256"]:
        raise BackupDamaged(file=str(archive.filename), what=name)


def _put_in_place(beside: Path, folder: Path) -> None:
    if folder.exists():
        calls.remove(folder / LOCK_NAME)
        calls.remove_folder(folder)
    calls.replace(beside, folder)
    calls.sync_folder(folder.parent)
