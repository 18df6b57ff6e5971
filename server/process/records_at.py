"""Where the records of a desk are: in its folder, or in the database that LAYBY_DATABASE or a file in the folder names.

Nothing here reads a record, and nothing of a database is imported for a folder.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from server.settings import BadSettings
from sync.errors import LaybyError
from sync.records.embedded.folder_files import FolderFiles
from sync.records.store.files import Files

if TYPE_CHECKING:
    from sync.kernel.books import Rulebook
    from sync.records.logbook import Logbook
    from sync.records.store.interface import Store

VARIABLE = "LAYBY_DATABASE"
# A folder for the photos of a desk whose records are in a database, reached by all its services.
PHOTOS = "LAYBY_PHOTOS"
FILE = "database.txt"
SCHEMES = ("postgresql://", "postgres://")


class NoDriver(LaybyError):
    """The records are in a database, and what speaks to it isn't installed."""

    code = "no_driver"


def database_of(folder: Path) -> str | None:
    """The database that holds the records, as the environment or `keep` names it.

    Args:
        folder: the service's own folder [path]

    Returns:
        such as postgresql://user@host/name; None without one [text or None]

    Raises:
        BadSettings: it is no such address.
    """
    named = os.environ.get(VARIABLE) or _kept(folder)
    return _sound(named) if named else None


def _kept(folder: Path) -> str:
    try:
        return FolderFiles(folder).read(FILE).decode("utf-8", "replace").strip()
    except FileNotFoundError:
        return ""


def _sound(place: str) -> str:
    url = as_database(place)
    if url is None:
        # It may hold a password.
        raise BadSettings(setting=VARIABLE, value=place.partition(":")[0][:40])
    return url


def keep(folder: Path, place: str) -> None:
    """Keep the address of the database in the folder, readable by its owner alone.

    It has a file of its own, so that settings that can't be read never lead to other records.

    Args:
        folder: the service's own folder [path]
        place: such as postgresql://user@host/name [text]

    Raises:
        BadSettings: it is no such address, and the one before stays.
    """
    FolderFiles(folder).write(FILE, f"{_sound(place)}\n".encode())


def forget(folder: Path) -> None:
    """Keep no address in the folder any more; harmless if there is none."""
    FolderFiles(folder).remove(FILE)


def as_database(place: str) -> str | None:
    """The address of a database as libpq reads it; None if it isn't one [text or None]."""
    return f"postgresql://{place.partition('://')[2]}" if place.startswith(SCHEMES) else None


def has_records(folder: Path) -> bool:
    """Whether there are records: a journal in the folder, or a database that is named."""
    return (folder / "journal.log").exists() or database_of(folder) is not None


def prepare(url: str) -> None:
    """Bring the tables of a database to this version.

    Raises:
        NoDriver: what is needed isn't installed.
        DatabaseAway: it can't be reached.
    """
    with _driver():
        from sync.records.postgres import schema

        schema.prepare(url)


def open_logbook(folder: Path, rulebook: Rulebook, patience_s: float = 0) -> Logbook:
    """The logbook of a desk, to be entered.

    Args:
        folder: the service's own folder, which holds the records unless a database does [path]
        rulebook: all books [Rulebook]
        patience_s: how long to wait for another holder of the folder [s]

    Returns:
        the logbook [Logbook]

    Raises:
        BadSettings, NoDriver: the database that is named can't be used.
    """
    from sync.records.logbook import Logbook

    url = database_of(folder)
    return Logbook(folder, rulebook, patience_s=patience_s, open_store=None if url is None else lambda: _store(url))


def _store(url: str) -> Store:
    with _driver():
        from sync.records.postgres.database import Database
        from sync.records.postgres.store import PostgresStore
    database = Database(url)
    try:
        named = os.environ.get(PHOTOS)
        return PostgresStore(database, FolderFiles(Path(named).expanduser()) if named else None)
    except BaseException:
        database.close()
        raise


@contextmanager
def _driver() -> Iterator[None]:
    """What speaks to a database is an optional part of Layby."""
    try:
        yield
    except ImportError as error:
        raise NoDriver(why=str(error)) from error


@contextmanager
def opened_at(place: str) -> Iterator[Store]:
    """The store at a place, without a logbook over it.

    Args:
        place: a database or a folder, which is made if there is none [text]

    Yields:
        the store [Store]

    Raises:
        NoDriver, DatabaseAway, SchemaBehind, SchemaAhead, FolderBusy: it can't be opened.
    """
    from sync.records.embedded.store import EmbeddedStore

    url = as_database(place)
    store: Store = EmbeddedStore(Path(place).expanduser()) if url is None else _store(url)
    try:
        yield store
    finally:
        store.close(clean=True)


@contextmanager
def files_at(folder: Path) -> Iterator[Files]:
    """What lies beside the records, to be read without the logbook.

    Args:
        folder: the service's own folder [path]

    Yields:
        the files [Files]

    Raises:
        BadSettings, NoDriver: the database that is named can't be used.
    """
    url = database_of(folder)
    if url is None:
        yield FolderFiles(folder)
        return
    with opened_at(url) as store:
        yield store.files
