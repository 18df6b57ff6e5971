"""The views of the embedded store: TinyDB's tables in small files, one per view, and the checkpoint beside them.

Nothing here knows what a view shows or how one is made.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Mapping
from pathlib import Path

from tinydb import TinyDB
from tinydb.storages import Storage

from sync.disk import calls
from sync.disk.safe_files import Unreadable, make_folder, remove, set_aside, write_whole
from sync.kernel.json_tree import Json, JsonObject
from sync.records.store.interface import START, ForeignView, Mark, StoredView, Tables

CHECKPOINT = "checkpoint.json"
FORMAT = 2

log = logging.getLogger("layby.views")


class SafeStorage(Storage):
    """TinyDB storage over one JSON file, replaced whole on each write.

    TinyDB's own storage rewrites in place and truncates last, which leaves unreadable files after a crash; its caching
    layer delays writes. Neither is used. One process and one thread at a time: the folder's lock and the owner's own
    lock ensure that.
    """

    def __init__(self, path: Path | str) -> None:
        super().__init__()
        self.path = Path(path)

    def read(self) -> dict[str, JsonObject] | None:
        """All tables, or None if there is no file yet.

        Raises:
            Unreadable: the file isn't a JSON object of objects.
        """
        try:
            content = self.path.read_bytes()
        except FileNotFoundError:
            return None
        try:
            tables = json.loads(content)
        except (ValueError, RecursionError) as error:
            raise Unreadable(file=str(self.path)) from error
        if not isinstance(tables, dict) or not all(isinstance(table, dict) for table in tables.values()):
            raise Unreadable(file=str(self.path))
        return tables

    def write(self, data: dict[str, JsonObject]) -> None:
        """Replace all tables."""
        make_folder(self.path.parent)
        write_whole(self.path, json.dumps(data, ensure_ascii=False, separators=(",", ":")).encode("utf-8"))


class ViewFiles:
    """The views below one folder. It has no lock of its own.

    Args of the constructor:
        folder: where the views are; created when the first is written [path]
        checkpoint: the file that says how far all of them reach [path]
    """

    # One service reads them, and searches them in memory.
    register = None

    def __init__(self, folder: Path, checkpoint: Path) -> None:
        self.folder = folder
        self.checkpoint = checkpoint
        self._files = sum(1 for _ in folder.rglob("*.json"))
        self._noted: JsonObject = {}

    def _path(self, name: str) -> Path:
        return self.folder / f"{name}.json"

    def names(self, folder: str) -> list[str]:
        """The names of all views in one of their folders, in order [texts]."""
        return sorted(f"{folder}/{path.stem}" for path in (self.folder / folder).glob("*.json"))

    def count(self) -> int:
        """How many views there are [count]."""
        return self._files

    def read(self, name: str) -> StoredView | None:
        """A view, None if there is none; see `Views.read`."""
        path = self._path(name)
        try:
            with TinyDB(path, storage=SafeStorage) as database:
                documents = database.storage.read()
            return None if documents is None else _view_of(name, documents)
        except (Unreadable, IsADirectoryError) as error:
            self.forget_complete()
            aside = set_aside(path)
            log.warning("view %s cannot be used; set aside as %s and made again", name, aside.name)
            raise ForeignView(view=name, file=aside.name) from error

    def write(self, name: str, view: StoredView) -> None:
        """Replace a view whole; see `Views.write`."""
        path = self._path(name)
        is_new = not path.exists()
        # All tables in one replacement of the file: TinyDB's own calls would write once per table.
        with TinyDB(path, storage=SafeStorage) as database:
            database.storage.write(_documents_of(name, view))
        self._files += is_new

    def replace(self, views: Mapping[str, StoredView]) -> None:
        """Replace some views; nobody else writes any. See `Views.replace`."""
        for name, view in views.items():
            self.write(name, view)

    def complete(self) -> Mark:
        """The latest record that all views have; START if that can't be told or a view is missing [Mark]."""
        try:
            noted = json.loads(self.checkpoint.read_bytes())
            mark, files = Mark(int(noted["number"]), str(noted["check"])), int(noted["views"])
        except FileNotFoundError:
            return START
        except IsADirectoryError:
            log.warning("a folder lies in the checkpoint's place; set aside as %s", set_aside(self.checkpoint).name)
            return START
        except (ValueError, KeyError, TypeError, RecursionError):
            log.warning("the checkpoint cannot be read; all views are compared with the journal")
            return START
        if files > self._files:
            log.warning("views are missing; they are made from the journal again")
            self.forget_complete()
            return START
        self._noted = noted
        return mark

    def set_complete(self, mark: Mark) -> None:
        """Note how far all views reach; see `Views.set_complete`."""
        noted: JsonObject = {"format": FORMAT, "number": mark.number, "check": mark.check, "views": self._files}
        if noted != self._noted:
            write_whole(self.checkpoint, json.dumps(noted).encode("ascii"))
            self._noted = noted

    def forget_complete(self) -> None:
        """Note that views may be missing.

        Until the next note a start compares all views: one that was made again isn't on the disk yet, and after a crash
        in between, with new views written, the old checkpoint would seem to fit.
        """
        remove(self.checkpoint)
        self._noted = {}

    def put_in_place_of(self, others: ViewFiles) -> None:
        """Let these views replace others: first the claim that all are there is removed, then they are swapped."""
        others.forget_complete()
        aside = others.folder.with_name(f".{others.folder.name}.old")
        if others.folder.exists():
            calls.replace(others.folder, aside)
        make_folder(self.folder)
        calls.replace(self.folder, others.folder)
        calls.sync_folder(others.folder.parent)
        others._files = self._files


def _documents_of(name: str, view: StoredView) -> dict[str, JsonObject]:
    """A view as TinyDB's tables of numbered documents [JSON objects by table]."""
    head: JsonObject = {"format": FORMAT, "name": name, "covers": view.covers.number, "check": view.covers.check}
    documents: dict[str, JsonObject] = {"page": {"1": head}}
    for table, rows in view.tables.items():
        documents[table] = {str(place): {"key": key, **row} for place, (key, row) in enumerate(rows.items(), 1)}
    return documents


def _view_of(name: str, documents: dict[str, JsonObject]) -> StoredView:
    """A view from TinyDB's tables, which are taken apart.

    Raises:
        Unreadable: it isn't of this form, or belongs to another view.
    """
    head = documents.pop("page", {}).get("1")
    if not isinstance(head, dict) or head.get("format") != FORMAT or head.get("name") != name:
        raise Unreadable(file=name)
    number, check = head.get("covers"), head.get("check")
    if not isinstance(number, int) or not isinstance(check, str):
        raise Unreadable(file=name)
    tables: Tables = {table: dict(_row(name, row) for row in rows.values()) for table, rows in documents.items()}
    return StoredView(Mark(number, check), tables)


def _row(name: str, document: Json) -> tuple[str, JsonObject]:
    """The key and the row of one document."""
    if not isinstance(document, dict) or "key" not in document:
        raise Unreadable(file=name)
    return str(document.pop("key")), document
