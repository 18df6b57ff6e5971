"""The desk's page of backups: one made now, each read back, one restored into a folder of its own.

The logbook in use is never overwritten: a restored one is taken up by starting the service on its folder.
"""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TypedDict

from flask import Response, g

from server.desk.forms import one
from server.desk.login import page, pages
from server.desk.settings_state import when_words
from server.http.sync_routes import logbook
from server.process import autostart
from server.tasks.backup_place import Place, place_of
from server.tasks.catalogue import carry_out
from server.tasks.restore_apart import restore_apart
from sync.disk.safe_files import make_folder
from sync.errors import LaybyError
from sync.language.formats import Formats
from sync.language.reader import language, words_of
from sync.language.words import Words
from sync.work.backup import Backup, BackupFailed
from sync.work.backup_folder import backup_called, dated_backups, dated_file, drop_old
from sync.work.restore import FolderNotEmpty, verify

PATH_MOST = 1000
NAME_MOST = 80
MEGABYTE = 1_000_000
# What is said about the settings that a backup leaves out.
LEFT_OUT = {"settings.json": "settings", "smtp.password": "password"}


class NoBackupFolder(LaybyError):
    """No folder for backups is chosen in the settings."""

    code = "no_backup_folder"


class FolderRelative(LaybyError):
    """A folder that isn't named from the root of its disk: nobody could say where it is."""

    code = "folder_relative"


class BackupLine(TypedDict):
    """A backup on the page, in words."""

    name: str
    when: str
    holds: str


@pages.get("/desk/backup")
def backup() -> Response:
    """GET /desk/backup: the backups in the chosen folder."""
    return _page()


@pages.post("/desk/do/backup")
def back_up() -> Response:
    """POST /desk/do/backup: one made now, read back; those beyond the number that is kept go."""
    place = chosen_place()
    into = _chosen(place)
    try:
        make_folder(into)
    except OSError as error:
        raise BackupFailed(file=str(into), why=error.strerror or str(error)) from error
    made: Backup = carry_out(logbook(), "backup", {"file": str(dated_file(into))})
    # Only now: an old backup is worth more than a new one that failed.
    dropped = drop_old(into, place.keep)
    words, formats = words_of(logbook().rulebook), Formats(language())
    said = [words.say("settings.backup.made", name=Path(made["file"]).name, count=made["members"],
                      size=_size(made["bytes"], words, formats))]
    said += [words.say("settings.backup.dropped", count=len(dropped))] if dropped else []
    said += [words.say("settings.backup.damaged", count=made["damaged"])] if made["damaged"] else []
    said += [words.say(f"settings.backup.without_{LEFT_OUT[what]}") for what in made["left_out"]]
    return _page(said)


@pages.post("/desk/do/read-back")
def read_back() -> Response:
    """POST /desk/do/read-back: every file of one backup compared with what was written."""
    name = one(g.form, "name")[:NAME_MOST]
    words, formats = words_of(logbook().rulebook), Formats(language())
    members = verify(backup_called(_chosen(chosen_place()), name))
    size = _size(sum(member["bytes"] for member in members.values()), words, formats)
    return _page([words.say("settings.backup.read_back", name=name, count=len(members), size=size)])


@pages.post("/desk/do/restore")
def restore() -> Response:
    """POST /desk/do/restore: one backup made into the logbook of another folder, and how that is taken up."""
    name, typed = one(g.form, "name")[:NAME_MOST], one(g.form, "folder").strip()[:PATH_MOST]
    words = words_of(logbook().rulebook)
    try:
        folder = Path(typed).expanduser()
        if not typed or not folder.is_absolute():
            raise FolderRelative(folder=typed)
        restored = restore_apart(backup_called(_chosen(chosen_place()), name), folder, logbook().rulebook)
    except FolderNotEmpty:
        return _page(fault=words.say("settings.backup.not_empty", folder=typed), typed=(name, typed), status=422)
    except LaybyError as error:
        return _page(fault=words.error(error), typed=(name, typed), status=422)
    except OSError as error:
        said = words.say("settings.backup.not_restored", folder=typed, why=error.strerror or str(error))
        return _page(fault=said, typed=(name, typed), status=422)
    said = words.say("settings.backup.restored", folder=str(folder), count=restored["members"])
    more = words.say("settings.backup.restored_damaged", count=restored["damaged"]) if restored["damaged"] else ""
    return _page([said, words.say("settings.backup.take_up"), *([more] if more else [])],
                 command=f"layby --folder {shlex.quote(str(folder))} serve")


def chosen_place() -> Place:
    """Where backups go: as the settings say, else where the nightly ones do."""
    place, note = place_of(logbook().files), autostart.read_note(logbook().folder)
    if place.into is None and note is not None and note.backup_to:
        return Place(Path(note.backup_to), place.keep)
    return place


def _chosen(place: Place) -> Path:
    if place.into is None:
        raise NoBackupFolder
    return place.into


def _size(count: int, words: Words, formats: Formats) -> str:
    """A size as people write it [text]."""
    if count < MEGABYTE:
        return words.say("settings.size.kb", size=formats.number(max(1, count / 1000), 0))
    return words.say("settings.size.mb", size=formats.number(count / MEGABYTE, 1))


def _page(
    said: list[str] | None = None, fault: str | None = None, command: str = "", typed: tuple[str, str] = ("", ""),
    status: int = 200,
) -> Response:
    place, words, formats = chosen_place(), words_of(logbook().rulebook), Formats(language())
    lines: list[BackupLine] = []
    for each in dated_backups(place.into) if place.into else []:
        size = _size(each["bytes"], words, formats)
        holds = size if each["visits"] is None else words.say("settings.backup.holds", count=each["visits"], size=size)
        lines.append({"name": each["name"], "when": when_words(each["at_ms"], words, formats), "holds": holds})
    note = autostart.read_note(logbook().folder)
    return page("backup", status, here="settings", place=place, lines=lines, said=said or [], fault=fault,
                command=command, typed=typed, nightly=note.backup_to if note else None,
                folder=shlex.quote(str(logbook().folder)))
