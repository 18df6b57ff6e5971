"""The commands that keep records and move them in and out: files from a phone, backup and restore.

Nothing is taken in or written into the logbook here; the tasks do that, in whichever process holds the folder.
"""

from __future__ import annotations

import argparse
from datetime import datetime
from pathlib import Path
from typing import Any

from server.cli.language import DESK, decimal, say, words
from server.process.dispatch import desk, folder_of
from server.process.records_at import files_at, has_records
from server.tasks.backup_place import KEPT, place_of
from server.tasks.desk_words import faults_of, missing_parts, outcome_of
from server.tasks.messages import FileTally
from sync.disk.safe_files import make_folder
from sync.errors import LaybyError
from sync.work.backup_folder import LittleKept, dated_file, drop_old


class NoLogbook(LaybyError):
    """There is no logbook in the folder."""

    code = "no_logbook"


class BackupPlace(LaybyError):
    """A backup goes to a file, or into a folder; neither or both were named."""

    code = "backup_place"


Arguments = argparse.Namespace

# What is said about the settings that a backup leaves out.
LEFT_OUT = {"settings.json": "backup.without_settings", "smtp.password": "backup.without_password"}


def receive(arguments: Arguments) -> int:
    """Take in files carried by hand and leave a receipt beside each."""
    from sync.disk.safe_files import write_whole

    paths = [Path(name).resolve() for name in arguments.files]
    for path in paths:
        path.open("rb").close()
    tallies: list[FileTally] = desk(arguments, "receive", files=[str(path) for path in paths])
    desk_words = words(DESK)
    for path, tally in zip(paths, tallies, strict=True):
        receipt = path.with_name(f"{path.stem}-receipt.txt")
        write_whole(receipt, tally["receipt"].encode())
        part, _, parts = tally["part"].partition("/")
        print(say("receive.file", name=path.name, part=part, parts=parts, text=outcome_of(tally, desk_words)))
        for line in (*faults_of(tally, desk_words), say("receive.receipt", file=str(receipt))):
            print(f"       {line}")
    missing = missing_parts(tallies, desk_words)
    for line in missing:
        print(line)
    return 1 if missing or any(tally["faults"] for tally in tallies) else 0


def backup(arguments: Arguments) -> int:
    """Write everything in the logbook to one file, even while the service runs."""
    require_logbook(arguments)
    into, keep = _place_of(arguments)
    if into is not None:
        make_folder(into)
    file = Path(arguments.file).absolute() if into is None else dated_file(into)
    backup_file = desk(arguments, "backup", file=str(file))
    # Only now: an old backup is worth more than a new one that failed.
    for old in drop_old(into, keep) if into else []:
        print(say("backup.dropped", file=str(old)))
    size = decimal(backup_file["bytes"] / 1e6)
    files = say("backup.files", count=backup_file["members"])
    print(say("backup.done", file=backup_file["file"], files=files, size=size))
    print(say("backup.hash", hash=backup_file["sha256"]))
    if backup_file["damaged"]:
        print(say("backup.damaged", count=backup_file["damaged"]))
    for what in backup_file["left_out"]:
        print(say(LEFT_OUT[what]))
    return 0


def _place_of(arguments: Arguments) -> tuple[Path | None, int]:
    """The folder of dated backups, None for one file, and how many stay; without either, those of the settings."""
    if arguments.file is not None and arguments.into is not None:
        raise BackupPlace
    if arguments.keep is not None and arguments.keep < 1:
        raise LittleKept
    if arguments.file is not None or arguments.into is not None:
        return None if arguments.into is None else Path(arguments.into).absolute(), arguments.keep or KEPT
    # Only now: settings that can't be used must not keep anyone from a backup.
    with files_at(folder_of(arguments)) as files:
        own = place_of(files)
    if own.into is None:
        raise BackupPlace
    return own.into.absolute(), arguments.keep or own.keep


def restore(arguments: Arguments) -> int:
    """Make the logbook's folder, which must be empty, from a backup."""
    from server.tasks.restore_apart import restore_apart
    from sync import rulebook

    folder = folder_of(arguments)
    backup_file = restore_apart(Path(arguments.file), folder, rulebook.load())
    damage = backup_file["damaged"]
    size = decimal(backup_file["bytes"] / 1e6)
    print(say("restore.done", folder=str(folder), files=say("backup.files", count=backup_file["members"]), size=size))
    print(say("restore.next"))
    if damage:
        print(say("restore.damaged", count=damage))
    return 1 if damage else 0


def export(arguments: Arguments) -> int:
    """Write everything held about one customer into a zip file of readable files."""
    require_logbook(arguments)
    file = Path(arguments.to or f"layby-customer-{datetime.now().astimezone():%Y-%m-%d}.zip").absolute()
    export_file = desk(arguments, "export", customer=arguments.customer, file=str(file))
    _list_visits(export_file["visits"])
    visits = say("export.visits", count=len(export_file["visits"]))
    print(say("export.done", file=export_file["file"], visits=visits,
              photos=say("export.photos", count=export_file["photos"])))
    for name in export_file["links"]:
        print(say("export.link", name=name))
    return 1 if export_file["links"] else 0


def erase(arguments: Arguments) -> int:
    """Remove everything held about one customer from the logbook, for good."""
    require_logbook(arguments)
    if not arguments.yes:
        _list_visits(desk(arguments, "held", customer=arguments.customer))
        print(say("erase.nothing_yet"))
        print(say("erase.look"))
        return 1
    counts = desk(arguments, "erase", customer=arguments.customer)
    print(say("erase.done", visits=say("export.visits", count=counts["visits"]),
              entries=say("erase.entries", count=counts["entries"]),
              photos=say("export.photos", count=counts["photos"])))
    print(say("erase.elsewhere"))
    return 0


def rebuild(arguments: Arguments) -> int:
    """Make the views, in which the desk looks things up, again from the journal."""
    require_logbook(arguments)
    rebuilt = desk(arguments, "rebuild", page=arguments.page)
    if rebuilt is None:
        print(say("rebuild.one", view=arguments.page))
        return 0
    print(say("rebuild.all", count=rebuilt["views"]))
    for name in rebuilt["aside"]:
        print(say("rebuild.aside", name=name))
    return 0


def _list_visits(rows: list[dict[str, Any]]) -> None:
    for row in rows:
        named = " · ".join(str(row[key]) for key in ("name", "email", "phone", "vehicle") if row[key])
        print(f"{str(row['started_at'] or '')[:10]}  {named}\n            {row['visit']}")


def require_logbook(arguments: Arguments) -> None:
    """A mistyped folder must not be taken for an empty logbook."""
    folder = folder_of(arguments)
    if not has_records(folder):
        raise NoLogbook(folder=str(folder))
