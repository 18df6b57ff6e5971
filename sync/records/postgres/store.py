"""The PostgreSQL store: numbered records as rows, appended by one service at a time, behind the store's interface.

Any number of services may have it open. The database says who appends and in which order.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from typing import Any, cast

import psycopg

from sync.errors import LaybyError
from sync.records.postgres import schema
from sync.records.postgres.database import Connection, Database, DatabaseAway
from sync.records.postgres.files import PostgresFiles
from sync.records.postgres.views import BESIDE, PostgresViews, say_changed
from sync.records.store.files import Files, Holds
from sync.records.store.interface import NONE, Damage, Entry, Record, RecordDamaged, Views, Watch
from sync.records.store.split_files import with_photos
from sync.wire.results import Result

# So many records are read at a time.
_AT_A_TIME = 500
_FIELDS = 'number, received_ms, result, line, "check", is_blank'
_READ = f"SELECT {_FIELDS} FROM records WHERE number = %s"
_NEXT = f"SELECT {_FIELDS} FROM records WHERE number > %s ORDER BY number LIMIT %s"
# The results under which an operation counts: it may have one of them only once.
_COUNTING = ("accepted", "conflict")
_EMPTY = b"0" * 64 + b" {}"
NO_CHECK = "0" * 8
# All rows in one statement, which takes one message each way however many there are.
_APPEND = ('INSERT INTO records (number, received_ms, result, line, "check", counted)'
           " SELECT * FROM unnest(%b::bigint[], %b::bigint[], %b::text[], %b::bytea[], %b::text[], %b::text[])")

Row = tuple[int, int, str, bytes, str, bool]


class PostgresStore:
    """The store of one database, open until `close`.

    Args of the constructor:
        database: an open database, closed with the store [Database]
        photos: a folder that keeps the photos instead; None for the database [Files or None]

    Raises:
        PhotosAway: the folder isn't the one in which this desk's photos are.
        SchemaBehind, SchemaAhead: its tables aren't this version's.
        DatabaseAway: it doesn't answer.
    """

    # In records.
    stretch = 4096
    is_shared = True

    def __init__(self, database: Database, photos: Files | None = None) -> None:
        self.database = database
        schema.check(database)
        self.files = with_photos(PostgresFiles(database), photos)
        self._views = PostgresViews(database, lambda: self._generation)
        self._damage: list[Damage] = []
        self._last, self._generation, self._depth = NONE, -1, 0
        # Whether `last` was looked up since nobody else may append.
        self._is_sure = False
        self.look()

    # The store's interface ------------------------------------------------------------------------------------------

    @property
    def views(self) -> PostgresViews:
        """The views of these records."""
        return self._views

    @property
    def last(self) -> int:
        """The number of the latest record, as of the last `look` or `append`; NONE before the first."""
        return self._last

    @property
    def refusal(self) -> LaybyError | None:
        """A database that is away comes back: each call says so for itself."""
        return None

    @property
    def damage(self) -> list[Damage]:
        """What is known not to read back, in order."""
        return list(self._damage)

    @property
    def aside(self) -> list[str]:
        """The names under which something was set aside because it can't be used."""
        rows = self.database.ask("SELECT name FROM set_aside")
        return sorted(str(name) for (name,) in rows)

    def look(self) -> bool:
        """Look what other services did; see `Store.look`."""
        if self._is_sure:
            return False
        last, generation = self._state()
        is_other = generation != self._generation
        self._last, self._generation, self._is_sure = last, generation, self._depth > 0
        if is_other:
            # What another service gave up is damage no more; what still is will be come upon again.
            self._damage.clear()
        return is_other

    def _state(self) -> tuple[int, int]:
        """The number of the latest record, and how often views were replaced [counts]."""
        [row] = self.database.ask(
            "SELECT (SELECT coalesce(max(number), -1) FROM records), (SELECT generation FROM desk)")
        return cast(tuple[int, int], row)

    def alone(self) -> AbstractContextManager[None]:
        """Nobody else appends meanwhile, in any service; see `Store.alone`."""
        return self._again() if self._depth else self._first()

    @contextmanager
    def _again(self) -> Iterator[None]:
        self._depth += 1
        try:
            yield
        finally:
            self._depth -= 1

    @contextmanager
    def _first(self) -> Iterator[None]:
        with self.database.claim("records"), self._again():
            try:
                yield
            finally:
                self._is_sure = False

    def claim(self, name: str, is_shared: bool = False) -> AbstractContextManager[Holds]:
        """Only one holder at a time, in any service; see `Store.claim`."""
        return self.database.claim(name, is_shared)

    def append(self, entries: Sequence[Entry]) -> list[Record]:
        """Append records, all of them or none; see `Store.append`."""
        if not entries:
            return []
        with self.alone():
            try:
                records = self._append(entries)
            except psycopg.errors.UniqueViolation as error:
                # The claim was lost, and another service appended: nothing was filed, and the sender tries again.
                raise DatabaseAway(why=str(error).splitlines()[0]) from error
            self._last = records[-1].number
        return records

    def _append(self, entries: Sequence[Entry]) -> list[Record]:
        first = (self._last if self._is_sure else self._state()[0]) + 1
        records = []
        for number, entry in enumerate(entries, first):
            check = _check(number, entry.received_ms, _text(entry.result), entry.line)
            records.append(Record(number, entry.received_ms, entry.result, entry.line, check))
        rows = [(one.number, one.received_ms, _text(one.result), one.line, one.check, _counted(one.result))
                for one in records]
        columns = list(map(list, zip(*rows, strict=True)))
        if self._damage:
            self.database.run(lambda connection: self._append_anew(connection, columns))
        else:
            self.database.change(_APPEND, *columns)
        return records

    def _append_anew(self, connection: Connection, columns: list[list[Any]]) -> None:
        """Append what may stand for operations whose records don't read back."""
        broken = [number for damage in self._damage for number in range(damage.first, damage.end)]
        connection.execute("UPDATE records SET counted = NULL WHERE number = ANY(%s) AND counted = ANY(%s)",
                           (broken, [name for name in columns[-1] if name]))
        connection.execute(_APPEND, columns)

    def read(self, number: int) -> Record:
        """One record; see `Store.read`."""
        rows = self.database.ask(_READ, number)
        record = _record(cast(Row, rows[0])) if rows else None
        if record is None:
            raise RecordDamaged(number=number)
        return record

    def check_of(self, number: int) -> str:
        """The check of a record, zeros if none has that number; see `Store.check_of`."""
        rows = self.database.ask('SELECT "check" FROM records WHERE number = %s', number)
        return str(rows[0][0]) if rows else NO_CHECK

    def records(self, after: int = NONE, watch: Watch | None = None) -> Iterator[Record]:
        """Every record that reads back, in order; see `Store.records`."""
        while rows := self.database.ask(_NEXT, after, _AT_A_TIME):
            for row in cast(list[Row], rows):
                after = row[0]
                record = _record(row)
                if record is None:
                    self._come_upon(after)
                    continue
                yield record
                if watch is not None:
                    watch(after, max(after, self._last))

    def _come_upon(self, number: int) -> None:
        found = Damage(number, number + 1)
        if found not in self._damage:
            self._damage = sorted([*self._damage, found])

    def settle_end(self) -> None:
        """The database leaves nothing unfinished."""

    def note_end(self) -> None:
        """A start is quick anyway."""

    def check_room(self) -> None:
        """Room is the database's own matter."""

    def blank(self, numbers: Sequence[int], marks: Sequence[bytes] = ()) -> None:
        """Empty records; see `Store.blank`."""
        with self.alone():
            self._is_sure = False
            self.database.run(lambda connection: self._blank(connection, numbers, marks))

    def _blank(self, connection: Connection, numbers: Sequence[int], marks: Sequence[bytes]) -> None:
        scars = [row[0] for row in self._broken(connection) if any(mark in row[3] for mark in marks)]
        for number, check in connection.execute(
                'SELECT number, "check" FROM records WHERE number = ANY(%s)', ([*numbers, *scars],)).fetchall():
            _empty(connection, number, check, "erased")
        self._damage = [one for one in self._damage if one.first not in scars]
        say_changed(connection)

    def _broken(self, connection: Connection) -> list[Row]:
        rows = connection.execute(f"SELECT {_FIELDS} FROM records WHERE number = ANY(%s)".encode(),
                                  ([damage.first for damage in self._damage],)).fetchall()
        return cast(list[Row], rows)

    def give_up(self) -> list[str]:
        """Set damage aside and put blanks in its place; see `Store.give_up`."""
        if not self._damage:
            return []
        with self.alone():
            self._is_sure = False
            names = self.database.run(self._give_up)
            self._damage.clear()
        return names

    def _give_up(self, connection: Connection) -> list[str]:
        names = []
        for row in self._broken(connection):
            names.append(f"record {row[0]}")
            connection.execute("INSERT INTO set_aside (name, content) VALUES (%s, %s) ON CONFLICT (name) DO NOTHING",
                               (names[-1], row[3]))
            _empty(connection, row[0], NO_CHECK, "lost")
        say_changed(connection)
        return names

    def scratch_views(self) -> PostgresViews:
        """Empty views, to be filled beside those in use."""
        generation = self._state()[1]
        views = PostgresViews(self.database, lambda: generation, BESIDE)
        views.clear()
        return views

    def adopt(self, views: Views) -> None:
        """Let such views replace those in use."""
        if not isinstance(views, PostgresViews):
            raise TypeError("these views are another store's")
        with self.alone():
            self._is_sure = False
            views.put_in_place_of(self._views)

    def close(self, clean: bool) -> None:
        """Release everything."""
        self.database.close()


# Rows ----------------------------------------------------------------------------------------------------------------


def _record(row: Row) -> Record | None:
    """The record in a row; None if it isn't what was written."""
    number, received_ms, result, line, check, is_blank = row
    if not is_blank and _check(number, received_ms, result, line) != check:
        return None
    try:
        parsed: Any = json.loads(result)
    except ValueError:
        return None
    return Record(number, received_ms, cast(Result, parsed), line, check)


def _check(number: int, received_ms: int, result: str, line: bytes) -> str:
    """What identifies a record [8 hex digits]."""
    return f"{zlib.crc32(line, zlib.crc32(f'{number} {received_ms} {result} '.encode())):08x}"


def _text(result: Result) -> str:
    """A result as it is kept: ASCII, because a column of text takes neither NUL nor half a character."""
    return json.dumps(result, ensure_ascii=True, separators=(",", ":"))


def _counted(result: Result) -> str | None:
    """The id that may count only once; None for what doesn't count."""
    return result["id"] if result["status"] in _COUNTING else None


def _empty(connection: Connection, number: int, check: str, status: str) -> None:
    result = _text(cast(Result, {"id": None, "status": status, "digest": check}))
    connection.execute(
        'UPDATE records SET received_ms = 0, result = %s, line = %s, "check" = %s, counted = NULL, is_blank = true'
        " WHERE number = %s", (result, _EMPTY, check, number))
