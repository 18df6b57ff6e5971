"""Backup: a folder's records as one file that proves itself, written while the logbook goes on filing.

Nothing here knows what is in a record. It leaves out what can be made again from the journal (the views), and what must
not lie about in copies: the mail password and the key of the running service.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, TypedDict

from sync.disk import calls
from sync.disk.safe_files import check_room, disk_full, is_full, make_folder, new_file, remove_tree
from sync.errors import LaybyError
from sync.records.embedded import journal
from sync.records.embedded.store import EmbeddedStore
from sync.records.locks import ALONE
from sync.records.logbook import Logbook
from sync.work.moving import move
from sync.work.restore import FORMAT, LEFT_OUT, MANIFEST, NAME, VERSION, Member, blocks, verify

SETTINGS = "settings.json"
# A picture, which doesn't get smaller.
LOGO = "logo"
# The mail password's name in the settings.
PASSWORD = "smtp.password"
# A sent letter disappears from here, so waiting letters are copied together with the end of the journal that mentions
# them.
SPOOL = "spool"


class BackupInside(LaybyError):
    """The backup would be inside the folder that it backs up."""

    code = "backup_inside"


class BackupFailed(LaybyError):
    """The backup couldn't be written; `why` is the system's word. An earlier file of that name stays."""

    code = "backup_failed"


class Backup(TypedDict):
    """A written backup: the file and its size [bytes], number of members, what was left out, its SHA-256.

    `damaged` is how many stretches of the journal don't read back.
    """

    file: str
    bytes: int
    members: int
    left_out: list[str]
    damaged: int
    sha256: str


@dataclass(frozen=True)
class _Source:
    """One future member: its name in the backup, where it is, or its content if that differs from the disk's."""

    name: str
    path: Path
    content: bytes | None = None
    size: int | None = None


def back_up(logbook: Logbook, file: Path, now_ms: int) -> Backup:
    """Write a backup while the logbook goes on filing.

    It is of one moment: the journal up to its durable end, and with it the letters that wait. Everything else that the
    journal refers to was safe on the disk before. The file is replaced whole, after being read back and compared. Parts
    of the journal that don't read back are copied as they are and named.

    Args:
        logbook: the open logbook [Logbook]
        file: where to write, outside the logbook's folder [path]
        now_ms: the time to note [ms since 1970]

    Returns:
        {file, bytes, members, left_out, damaged, sha256}: sizes in bytes, sha256 of the whole file [Backup]

    Raises:
        BackupInside: the file lies in the folder itself.
        BackupFailed: the disk didn't take it.
        DiskFull: there is too little room at the file's place for everything to be kept.
    """
    file = file.resolve()
    if file.is_relative_to(logbook.folder.resolve()):
        raise BackupInside(file=str(file), folder=str(logbook.folder))
    if logbook.store.is_shared:
        return _of_database(logbook, file, now_ms)
    beside = file.with_name(f".{file.name}.new")
    with logbook.claim(ALONE):
        logbook.look_through()
        try:
            with new_file(beside) as output:
                left_out = _write(logbook, output, file.parent, now_ms)
            members = verify(beside)
            result: Backup = {
                "file": str(file), "bytes": beside.stat().st_size, "members": len(members), "left_out": left_out,
                "damaged": len(logbook.store.damage), "sha256": _file_digest(beside),
            }
            calls.replace(beside, file)
            calls.sync_folder(file.parent)
        except (OSError, zipfile.BadZipFile) as error:
            if isinstance(error, OSError) and is_full(error):
                raise disk_full(file.parent) from error
            raise BackupFailed(file=str(file), why=getattr(error, "strerror", None) or str(error)) from error
        finally:
            if beside.is_file():
                calls.remove(beside)
    return result


def _of_database(logbook: Logbook, file: Path, now_ms: int) -> Backup:
    """Everything is copied into a folder, and that is backed up: so a backup can be restored without the database."""
    folder = file.with_name(f".{file.name}.folder")
    remove_tree(folder)
    try:
        make_folder(folder)
        store = EmbeddedStore(folder, logbook.floor_bytes)
        try:
            move(logbook, store)
        finally:
            store.close(clean=True)
        with Logbook(folder, logbook.rulebook, logbook.floor_bytes) as copied:
            return back_up(copied, file, now_ms)
    finally:
        remove_tree(folder)


def _write(logbook: Logbook, output: IO[bytes], place: Path, now_ms: int) -> list[str]:
    sums: dict[str, Member] = {}
    with zipfile.ZipFile(output, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive:
        with logbook.lock:
            for source in _files(logbook.folder, [SPOOL]):
                _put(archive, source, sums)
            size = (logbook.folder / journal.NAME).stat().st_size
        settings, left_out = _settings(logbook.folder)
        others = sorted({path.name for path in logbook.folder.iterdir()} - LEFT_OUT - {SPOOL})
        _check_size(place, logbook.folder, size)
        _put(archive, _Source(journal.NAME, logbook.folder / journal.NAME, None, size), sums)
        for source in _files(logbook.folder, [name for name in others if name not in (journal.NAME, SETTINGS)]):
            _put(archive, source, sums)
        if settings is not None:
            _put(archive, _Source(SETTINGS, logbook.folder / SETTINGS, settings), sums)
        at = datetime.fromtimestamp(now_ms / 1000, UTC).isoformat()
        manifest = {"format": FORMAT, "version": VERSION, "made_at": at, "visits": logbook.search.count(),
                    "left_out": left_out, "members": sums}
        archive.writestr(_info(MANIFEST), json.dumps(manifest, indent=1).encode("utf-8"))
    return left_out


def _check_size(place: Path, folder: Path, journal_size: int) -> None:
    """Text compresses to a third; photos and sheets don't, and make up most of a large folder."""
    needed = journal_size // 3
    needed += sum(path.stat().st_size for name in ("photos", "sheets") for path in (folder / name).rglob("*.*"))
    check_room(place, needed)


def _files(folder: Path, names: tuple[str, ...] | list[str]) -> Iterator[_Source]:
    """The files under some names of a folder, except unfinished ones and links."""
    for name in names:
        top = folder / name
        for path in [top] if top.is_file() else sorted(top.rglob("*")):
            relative = path.relative_to(folder).as_posix()
            unfinished = path.name.endswith((".part", ".new"))
            if path.is_file() and not path.is_symlink() and not unfinished and NAME.fullmatch(relative):
                yield _Source(relative, path)


def _settings(folder: Path) -> tuple[bytes | None, list[str]]:
    """The settings without the mail password, and what was left out: SETTINGS or PASSWORD.

    Settings that can't be read may hold a password anywhere, so they are left out whole.
    """
    try:
        content = (folder / SETTINGS).read_bytes()
        settings = json.loads(content)
    except FileNotFoundError:
        return None, []
    except ValueError:
        return None, [SETTINGS]
    smtp = settings.get("smtp") if isinstance(settings, dict) else None
    if not isinstance(smtp, dict) or smtp.pop("password", None) is None:
        left_out = []
    else:
        left_out = [PASSWORD]
    # Always written again: a name that occurs twice in the JSON would be in the bytes but not in what was read.
    return json.dumps(settings, indent=2).encode("ascii"), left_out


def _info(name: str) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name)
    info.external_attr = 0o600 << 16
    packed = name.startswith(("photos/", "sheets/", "spool/")) or name == LOGO
    info.compress_type = zipfile.ZIP_STORED if packed else zipfile.ZIP_DEFLATED
    return info


def _put(archive: zipfile.ZipFile, source: _Source, sums: dict[str, Member]) -> None:
    """Add one member and note its hash; skip a file that went meanwhile, as a sent letter does."""
    running, count = hashlib.sha256(), 0
    try:
        opened: IO[bytes] | None = None if source.content is not None else source.path.open("rb")
    except FileNotFoundError:
        return
    with contextlib.ExitStack() as open_ones:
        member = open_ones.enter_context(archive.open(_info(source.name), "w", force_zip64=True))
        content = [source.content or b""] if opened is None else blocks(open_ones.enter_context(opened), source.size)
        for block in content:
            member.write(block)
            running.update(block)
            count += len(block)
    sums[source.name] = {"sha256": running.hexdigest(), "bytes": count}


def _file_digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
