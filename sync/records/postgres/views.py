"""The views of the PostgreSQL store: one row each, with its tables as JSON.

Nothing here knows what a view shows or how one is made.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Callable, Mapping
from typing import cast

from sync.kernel.json_tree import JsonObject
from sync.records.postgres.database import Connection, Database
from sync.records.postgres.register import AREA, PostgresRegister
from sync.records.store.interface import START, ForeignView, Mark, StoredView, Tables

# The views that are read, and those that are made again to replace them.
IN_USE, BESIDE = "in use", "beside"
# One row if no views were replaced since this service looked, else none; none are until the statement has ended.
_OF_NOW = "WITH now AS (SELECT 1 FROM desk WHERE generation = %s FOR SHARE)"

log = logging.getLogger("layby.views")


class PostgresViews:
    """The views of one area of a database: those in use, or some that are filled beside them.

    Several services keep the same views. Each makes them from the same records in the same order, so of two versions
    the one that reaches further has everything of the other, and stays. What a service made before another one
    replaced or struck views is worth nothing: it isn't written.

    Args of the constructor:
        database: where they are [Database]
        generation: how often views had been replaced when this service last looked [function to count]
        area: which of them [text]
    """

    def __init__(self, database: Database, generation: Callable[[], int], area: str = IN_USE) -> None:
        self.database = database
        self.area = area
        self._generation = generation
        # Views that are filled beside are searched in memory until they are in use.
        self.register = PostgresRegister(database, self._is_of_now) if area == IN_USE else None

    def names(self, folder: str) -> list[str]:
        """The names of all views in one of their folders, in order [texts]."""
        rows = self.database.ask("SELECT name FROM views WHERE area = %s AND folder = %s", self.area, folder)
        return sorted(str(name) for (name,) in rows)

    def count(self) -> int:
        """How many views there are [count]."""
        return int(self.database.ask("SELECT count(*) FROM views WHERE area = %s", self.area)[0][0])

    def read(self, name: str) -> StoredView | None:
        """A view, None if there is none; see `Views.read`."""
        rows = self.database.ask('SELECT number, "check", tables FROM views WHERE area = %s AND name = %s',
                                 self.area, name)
        if not rows:
            return None
        number, check, content = rows[0]
        try:
            return StoredView(Mark(number, check), _tables_in(content))
        except (ValueError, RecursionError) as error:
            aside = f"view {name} {number}"
            self.database.run(lambda connection: self._set_aside(connection, name, aside))
            log.warning("view %s cannot be used; set aside as %s and made again", name, aside)
            raise ForeignView(view=name, file=aside) from error

    def _set_aside(self, connection: Connection, name: str, aside: str) -> None:
        connection.execute(
            "INSERT INTO set_aside (name, content) SELECT %s, convert_to(tables, 'UTF8') FROM views"
            " WHERE area = %s AND name = %s ON CONFLICT (name) DO NOTHING", (aside, self.area, name))
        connection.execute("DELETE FROM views WHERE area = %s AND name = %s", (self.area, name))
        self._forget(connection)

    def write(self, name: str, view: StoredView) -> None:
        """Replace a view whole, unless another service's reaches further already; see `Views.write`."""
        self.database.change(
            f"{_OF_NOW} INSERT INTO views (area, name, folder, number, \"check\", tables)"
            " SELECT %s, %s, %s, %s, %s, %s FROM now"
            ' ON CONFLICT (area, name) DO UPDATE SET number = excluded.number, "check" = excluded."check",'
            " tables = excluded.tables WHERE views.number <= excluded.number",
            self._generation(), self.area, name, name.rpartition("/")[0], view.covers.number, view.covers.check,
            _content(view))

    def replace(self, views: Mapping[str, StoredView]) -> None:
        """Replace some views in one transaction; see `Views.replace`."""
        rows = [(self.area, name, name.rpartition("/")[0], view.covers.number, view.covers.check, _content(view))
                for name, view in views.items()]

        def replace(connection: Connection) -> None:
            # First: a service about to write waits here, then finds that its version is out of date.
            say_changed(connection)
            for row in rows:
                connection.execute(
                    'INSERT INTO views (area, name, folder, number, "check", tables) VALUES (%s, %s, %s, %s, %s, %s)'
                    ' ON CONFLICT (area, name) DO UPDATE SET number = excluded.number, "check" = excluded."check",'
                    " tables = excluded.tables", row)

        self.database.run(replace)

    def _is_of_now(self, connection: Connection) -> bool:
        """Whether no views were replaced since this service looked; none are until the transaction ends."""
        row = connection.execute("SELECT generation FROM desk WHERE generation = %s FOR SHARE",
                                 (self._generation(),)).fetchone()
        return row is not None

    def complete(self) -> Mark:
        """The latest record that all views have; START if that can't be told [Mark]."""
        rows = self.database.ask('SELECT number, "check" FROM reach WHERE area = %s', self.area)
        return Mark(*rows[0]) if rows else START

    def set_complete(self, mark: Mark) -> None:
        """Note how far all views reach, unless another service noted more; see `Views.set_complete`."""
        self.database.change(
            f"{_OF_NOW} INSERT INTO reach (area, number, \"check\") SELECT %s, %s, %s FROM now"
            " ON CONFLICT (area) DO UPDATE SET number = excluded.number, \"check\" = excluded.\"check\""
            " WHERE reach.number < excluded.number",
            self._generation(), self.area, mark.number, mark.check)

    def forget_complete(self) -> None:
        """Note that views may be missing; every service reads all of them again."""
        self.database.run(self._forget)

    def _forget(self, connection: Connection) -> None:
        connection.execute("DELETE FROM reach WHERE area = %s", (self.area,))
        if self.area == IN_USE:
            say_changed(connection)

    def clear(self) -> None:
        """Nothing is in this area any more."""
        self.database.run(self._clear)

    def _clear(self, connection: Connection) -> None:
        connection.execute("DELETE FROM reach WHERE area = %s", (self.area,))
        connection.execute("DELETE FROM views WHERE area = %s", (self.area,))

    def put_in_place_of(self, others: PostgresViews) -> None:
        """Let these views replace others, all in one transaction."""
        self.database.run(lambda connection: self._replace(connection, others))

    def _replace(self, connection: Connection, others: PostgresViews) -> None:
        others._clear(connection)
        for table in ("views", "reach"):
            connection.execute(f"UPDATE {table} SET area = %s WHERE area = %s", (others.area, self.area))
        # The register is filled from the new ones.
        connection.execute("DELETE FROM reach WHERE area = %s", (AREA,))
        say_changed(connection)


def say_changed(connection: Connection) -> None:
    """What services have in memory of the views isn't to be trusted any more: each reads them again."""
    connection.execute("UPDATE desk SET generation = generation + 1")


def _content(view: StoredView) -> str:
    return json.dumps(view.tables, ensure_ascii=False, separators=(",", ":"))


def _tables_in(content: str) -> Tables:
    """A view's tables as they were written.

    Raises:
        ValueError: they aren't tables.
    """
    tables = json.loads(content)
    if not isinstance(tables, dict) or not all(isinstance(table, dict) for table in tables.values()):
        raise ValueError("no tables")
    return cast(dict[str, dict[str, JsonObject]], tables)
