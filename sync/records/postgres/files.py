"""The files of several services, as rows of their database, behind the interface of a store's files.

Nothing here knows what is in a file.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from contextlib import AbstractContextManager
from urllib.parse import urlsplit

from sync.errors import LaybyError
from sync.records.postgres.database import Connection, Database, DatabaseAway
from sync.records.store.files import Holds

# After every name that begins as another: the largest character.
_LAST = chr(0x10FFFF)


class PostgresFiles:
    """The files in one database, whole in each transaction.

    Args of the constructor:
        database: an open database [Database]
    """

    def __init__(self, database: Database) -> None:
        self.database = database

    @property
    def place(self) -> str:
        """The database without whoever opens it and how [text]."""
        url = urlsplit(self.database.url)
        return f"{url.scheme}://{url.hostname or ''}{url.path}"

    def read(self, name: str) -> bytes:
        """A content; see `Files.read`."""
        rows = self.database.ask("SELECT content FROM files WHERE name = %s", name)
        if not rows:
            raise FileNotFoundError(name)
        return bytes(rows[0][0])

    def size(self, name: str) -> int | None:
        """How long a content is; None if there is none [bytes]."""
        rows = self.database.ask("SELECT octet_length(content) FROM files WHERE name = %s", name)
        return int(rows[0][0]) if rows else None

    def names(self, folder: str, beginning: str = "") -> list[str]:
        """The names in a folder and below it, in order; see `Files.names`."""
        first = f"{folder}/{beginning}"
        rows = self.database.ask("SELECT name FROM files WHERE name >= %s AND name < %s ORDER BY name",
                                 first, first + _LAST)
        return [str(name) for (name,) in rows]

    def write(self, name: str, content: bytes) -> None:
        """Replace a content; see `Files.write`."""
        self.add(name, content, is_first=True)

    def add(self, name: str, content: bytes, is_first: bool) -> None:
        """Add to the end of a content; see `Files.add`."""
        self.database.change(
            "INSERT INTO files (name, content) VALUES (%s, %s) ON CONFLICT (name) DO UPDATE SET content ="
            " CASE WHEN %s THEN excluded.content ELSE files.content || excluded.content END",
            name, content, is_first)

    def remove(self, name: str, is_durable: bool = True) -> None:
        """Remove a content; see `Files.remove`."""
        self.database.change("DELETE FROM files WHERE name = %s", name)

    def set_aside(self, name: str) -> str:
        """Rename a content that can't be used [its new name]."""
        aside = f"{name}.unreadable-{time.time_ns() // 1_000_000}"

        def move(connection: Connection) -> None:
            connection.execute("INSERT INTO set_aside (name, content) SELECT %s, content FROM files WHERE name = %s",
                               (aside, name))
            connection.execute("DELETE FROM files WHERE name = %s", (name,))

        self.database.run(move)
        return aside

    def settle(self, name: str | None = None) -> None:
        """A transaction that ended stays so."""

    def check_room(self, count: int) -> None:
        """Room is the database's own matter."""

    def refused(self, error: OSError) -> LaybyError:
        """The database said no, or nothing."""
        return error if isinstance(error, LaybyError) else DatabaseAway(why=str(error))

    def clear(self, marks: Sequence[bytes]) -> None:
        """Remove what was set aside and holds one of these marks; nothing is ever unfinished."""
        def clear(connection: Connection) -> None:
            for mark in marks:
                connection.execute("DELETE FROM set_aside WHERE position(%s::bytea in content) > 0", (mark,))

        self.database.run(clear)

    def claim(self, name: str) -> AbstractContextManager[Holds]:
        """Only one holder at a time, in any service; see `Files.claim`."""
        return self.database.claim(name)
