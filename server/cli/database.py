"""The commands for a desk whose records are in a database: its tables, and moving there or back.

No table is made and no record is copied here.
"""

from __future__ import annotations

import argparse

from server.cli.language import decimal, say
from server.cli.records import require_logbook
from server.process.dispatch import folder_of
from server.process.records_at import (
    VARIABLE,
    as_database,
    database_of,
    forget,
    keep,
    open_logbook,
    opened_at,
    prepare,
)
from sync.errors import LaybyError

Arguments = argparse.Namespace


class NoDatabase(LaybyError):
    """The records are in the folder; no database is named."""

    code = "no_database"


def database(arguments: Arguments) -> int:
    """Say whether the database has the tables that this version needs, bring them up to date, or keep its address."""
    folder = folder_of(arguments)
    if arguments.remove:
        forget(folder)
        print(say("database.removed", folder=str(folder)))
        return 0
    if arguments.use:
        keep(folder, arguments.use)
    url = database_of(folder)
    if url is None:
        raise NoDatabase(folder=str(folder))
    if arguments.prepare:
        prepare(url)
    with opened_at(url) as store:
        print(say("database.ready", place=store.files.place))
    return 0


def move(arguments: Arguments) -> int:
    """Copy all records to a database or an empty folder; where they come from everything stays as it is."""
    from sync import rulebook
    from sync.work import moving

    require_logbook(arguments)
    with open_logbook(folder_of(arguments), rulebook.load()) as logbook, opened_at(arguments.to) as store:
        moved, place = moving.move(logbook, store), store.files.place
    files, size = say("move.files", count=moved["files"]), decimal(moved["bytes"] / 1e6)
    print(say("move.done", place=place, records=say("move.records", count=moved["records"]),
              files=files, size=size))
    print(say("move.hash", hash=moved["sha256"]))
    is_database = as_database(arguments.to) is not None
    print(say("move.next_database" if is_database else "move.next_folder", variable=VARIABLE))
    return 0
