"""The commands that keep records and carry them in and out: files from a phone, backup and restore.

Nothing is taken in or written into the logbook here; the tasks do that, wherever the folder is held.
"""

from __future__ import annotations

import argparse
from datetime import datetime
from pathlib import Path
from typing import Any

from server.process.dispatch import desk, folder_of
from server.tasks.bundle_words import faults_of, missing_parts, outcome_of
from server.tasks.messages import FileTally
from sync.errors import LaybyError


class NoLogbook(LaybyError):
    """There is no logbook in the folder."""

    code = "no_logbook"


Arguments = argparse.Namespace


def receive(arguments: Arguments) -> int:
    """Take in files carried over by hand and leave a receipt beside each."""
    from sync.disk.safe_files import write_whole

    paths = [Path(name).resolve() for name in arguments.files]
    for path in paths:
        path.open("rb").close()
    tallies: list[FileTally] = desk(arguments, "receive", files=[str(path) for path in paths])
    for path, tally in zip(paths, tallies, strict=True):
        receipt = path.with_name(f"{path.stem}-receipt.txt")
        write_whole(receipt, tally["receipt"].encode())
        print(f"{path.name}, part {tally['part'].replace('/', ' of ')}: {outcome_of(tally)}")
        for words in faults_of(tally):
            print(f"       {words}")
        print(f"       The receipt for the phone: {receipt}")
    missing = missing_parts(tallies)
    for words in missing:
        print(words)
    return 1 if missing or any(tally["faults"] for tally in tallies) else 0


def backup(arguments: Arguments) -> int:
    """Write everything the logbook holds into one file, also while the service runs."""
    _require_logbook(arguments)
    backup_file = desk(arguments, "backup", file=str(Path(arguments.file).absolute()))
    megabytes = f"{backup_file['bytes'] / 1e6:.1f} MB"
    print(f"{backup_file['file']}: {backup_file['members']} files, {megabytes}, read back and compared.")
    print(f"SHA-256 {backup_file['sha256']}")
    if backup_file["damaged"]:
        print(f"Damaged parts of the journal: {backup_file['damaged']}. They are in the backup as they are.")
        print("`layby rebuild` sets them aside, and phones bring what stood in them again.")
    for what in backup_file["left_out"]:
        print(f"Not in it, and to be set again after a restore: {what}.")
    return 0


def restore(arguments: Arguments) -> int:
    """Make the logbook's folder, which must be empty, from a backup."""
    from sync import rulebook
    from sync.records.logbook import Logbook
    from sync.work.restore import restore as put_back

    folder = folder_of(arguments)
    backup_file = put_back(Path(arguments.file), folder)
    with Logbook(folder, rulebook.load()) as logbook:
        logbook.look_through()
        damage = logbook.store.damage
    megabytes = f"{backup_file['bytes'] / 1e6:.1f} MB"
    print(f"{folder}: {backup_file['members']} files, {megabytes}, each compared with its hash.")
    print("Its views are made from the journal again; `layby serve` may start.")
    if damage:
        print(f"Parts of the journal that were damaged before the backup: {len(damage)}. The rest is sound.")
        print("`layby rebuild` sets them aside, and phones bring what stood in them again.")
    return 1 if damage else 0


def export(arguments: Arguments) -> int:
    """Write everything that is held about one customer into a zip file of readable files."""
    _require_logbook(arguments)
    file = Path(arguments.to or f"layby-customer-{datetime.now().astimezone():%Y-%m-%d}.zip").absolute()
    export_file = desk(arguments, "export", customer=arguments.customer, file=str(file))
    _list_visits(export_file["visits"])
    count = len(export_file["visits"])
    print(f"{export_file['file']}: {count} visits, {export_file['photos']} photos. It is not encrypted.")
    for name in export_file["links"]:
        print(f"Left out, since it is a link and not the file itself: {name}")
    return 1 if export_file["links"] else 0


def erase(arguments: Arguments) -> int:
    """Take everything that is held about one customer out of the logbook, for good."""
    _require_logbook(arguments)
    if not arguments.yes:
        _list_visits(desk(arguments, "held", customer=arguments.customer))
        print("Nothing was erased yet. These visits, their entries, sheets, letters and photos go for good with --yes.")
        print("Look whether all of them are this person's; a visit's id in place of the name erases that visit alone.")
        return 1
    counts = desk(arguments, "erase", customer=arguments.customer)
    print(f"Erased: {counts['visits']} visits with {counts['entries']} entries and {counts['photos']} photos.")
    print("Phones hear of it when they next send. Earlier backups and sent mail still hold the data; see to them.")
    return 0


def rebuild(arguments: Arguments) -> int:
    """Make the views, which the desk looks things up in, again from the journal."""
    _require_logbook(arguments)
    rebuilt = desk(arguments, "rebuild", page=arguments.page)
    if rebuilt is None:
        print(f"{arguments.page} is made again.")
        return 0
    print(f"{rebuilt['views']} views are made again from the journal.")
    for name in rebuilt["aside"]:
        print(f"A damaged stretch of the journal was set aside in {name}; phones bring what stood in it again.")
    return 0


def _list_visits(rows: list[dict[str, Any]]) -> None:
    for row in rows:
        named = " · ".join(str(row[key]) for key in ("name", "email", "phone", "vehicle") if row[key])
        print(f"{str(row['started_at'] or '')[:10]}  {named}\n            {row['visit']}")


def _require_logbook(arguments: Arguments) -> None:
    """A folder mistyped must not be taken for an empty logbook."""
    folder = folder_of(arguments)
    if not (folder / "journal.log").exists():
        raise NoLogbook(folder=str(folder))
