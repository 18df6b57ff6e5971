"""The register of several services: the tables of visits and of the words that find them.

Nothing here knows how a row is made or what a text asks for. A word is found by its beginning, as one stretch of an
index; the rows have all that is left of a word from any sign on, so that this finds its middle too.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterable, Sequence
from typing import cast

from sync.records.postgres.database import Connection, Database
from sync.records.store.register import RegisterRow, Ways
from sync.wire.results import VisitRow

# Its row among those that say how far something reaches.
AREA = "register"
# After every text that begins as another: the largest character.
_LAST = chr(0x10FFFF)
_FIELDS = "visit, place, vehicle, customer, called, words, shown"
_COLUMNS = {"vehicle": "vehicle", "customer": "customer"}
_STRETCH = "SELECT place FROM words WHERE word >= %s AND word < %s"
_ONE_STRETCH = _STRETCH.replace("SELECT", "SELECT DISTINCT")

# A row as it is kept, its fields in the order of _FIELDS.
_Kept = tuple[str, str, str | None, str | None, str, str, str]


class PostgresRegister:
    """The register of one database.

    Args of the constructor:
        database: where it is [Database]
        is_of_now: whether no views were replaced since this service looked; none are until the transaction ends
            [function of a connection to bool]
    """

    def __init__(self, database: Database, is_of_now: Callable[[Connection], bool]) -> None:
        self.database = database
        self._is_of_now = is_of_now

    # Kept -----------------------------------------------------------------------------------------------------------

    def reach(self) -> int | None:
        """The number of the latest record that it has; see `Register.reach`."""
        rows = self.database.ask("SELECT number FROM reach WHERE area = %s", AREA)
        return int(rows[0][0]) if rows else None

    def put(self, rows: Sequence[tuple[int, RegisterRow]]) -> bool:
        """Put in what records changed; see `Register.put`."""
        return self.database.run(lambda connection: self._put(connection, rows))

    def _put(self, connection: Connection, rows: Sequence[tuple[int, RegisterRow]]) -> bool:
        # Held to the end: another service's older rows never come after newer ones.
        found = connection.execute("SELECT number FROM reach WHERE area = %s FOR UPDATE", (AREA,)).fetchone()
        if found is None:
            return False
        late = {number: row for number, row in rows if number > found[0]}
        if late:
            _write(connection, late.values())
            connection.execute("UPDATE reach SET number = %s WHERE area = %s", (max(late), AREA))
        return True

    def fill(self, month: str, rows: Sequence[RegisterRow]) -> bool:
        """Let a month have these visits and no others; see `Register.fill`."""
        visits = {row.visit for row in rows}

        def fill(connection: Connection) -> bool:
            if not self._is_of_now(connection):
                return False
            found = connection.execute("SELECT visit FROM visits WHERE place >= %s AND place < %s",
                                       (month, month + _LAST)).fetchall()
            _remove(connection, [visit for (visit,) in found if visit not in visits])
            _write(connection, rows)
            return True

        return self.database.run(fill)

    def filled(self, months: Collection[str], number: int) -> bool:
        """Note that every month was filled; see `Register.filled`."""
        def note(connection: Connection) -> bool:
            if not self._is_of_now(connection):
                return False
            found = connection.execute("SELECT visit, place FROM visits WHERE substr(place, 1, 7) <> ALL(%s)",
                                       (list(months),)).fetchall()
            _remove(connection, [visit for visit, _ in found])
            connection.execute(
                'INSERT INTO reach (area, number, "check") VALUES (%s, %s, %s)'
                " ON CONFLICT (area) DO UPDATE SET number = excluded.number", (AREA, number, "0" * 8))
            return True

        return self.database.run(note)

    def remove(self, visits: Collection[str]) -> None:
        """Remove visits and their words; see `Register.remove`."""
        self.database.run(lambda connection: _remove(connection, visits))

    # Asked ----------------------------------------------------------------------------------------------------------

    def find(self, ways: Ways, most: int) -> list[VisitRow]:
        """The visits that are found in any of these ways; see `Register.find`."""
        found, values = _query(ways)
        return self._shown(f"WHERE place IN (SELECT place FROM ({found}) AS found ORDER BY place DESC LIMIT %s)"
                           " ORDER BY place DESC", *values, most)

    def newest(self, most: int) -> list[VisitRow]:
        """The newest visits; see `Register.newest`."""
        return self._shown("ORDER BY place DESC LIMIT %s", most)

    def _shown(self, which: str, *values: str | int) -> list[VisitRow]:
        rows = self.database.ask(f"SELECT shown FROM visits {which}", *values)
        return [cast(VisitRow, json.loads(shown)) for (shown,) in rows]

    def count(self) -> int:
        """How many visits there are [count]."""
        return int(self.database.ask("SELECT count(*) FROM visits")[0][0])

    def visits_of(self, what: str, identifiers: Collection[str]) -> list[tuple[str, str]]:
        """The visits of vehicles or of customers; see `Register.visits_of`."""
        column = _COLUMNS[what]
        rows = self.database.ask(f"SELECT visit, {column} FROM visits WHERE {column} = ANY(%s) ORDER BY place DESC",
                                 list(identifiers))
        return [(str(visit), str(identifier)) for visit, identifier in rows]

    def vehicles_called(self, called: str) -> list[str]:
        """The vehicles of visits with this make and model; see `Register.vehicles_called`."""
        rows = self.database.ask("SELECT vehicle FROM visits WHERE called = %s AND vehicle IS NOT NULL"
                                 " GROUP BY vehicle ORDER BY max(place) DESC", called)
        return [str(vehicle) for (vehicle,) in rows]


def _query(ways: Ways) -> tuple[str, list[str]]:
    """The places that are found in any of these ways, each once, and the values of the query."""
    values = [end for way in ways for word in way for end in (word, word + _LAST)]
    each = [" INTERSECT ".join([_STRETCH] * len(way)) for way in ways]
    # A word is found several times in a number that repeats it; what is made of sets has no repeats.
    return (each[0] if len(values) > 2 else _ONE_STRETCH) + "".join(f" UNION ({one})" for one in each[1:]), values


def _write(connection: Connection, rows: Iterable[RegisterRow]) -> None:
    """Let visits have these rows; only what differs is written."""
    wanted = {row.visit: _kept(row) for row in rows}
    before = {row[0]: row for row in _rows_of(connection, list(wanted))}
    changed = [row for visit, row in wanted.items() if before.get(visit) != row]
    if not changed:
        return
    old = _words_of(before[row[0]] for row in changed if row[0] in before)
    new = _words_of(changed)
    _drop_words(connection, old - new)
    connection.execute("DELETE FROM visits WHERE visit = ANY(%s)", ([row[0] for row in changed],))
    columns = [list(column) for column in zip(*changed, strict=True)]
    arrays = ", ".join(["%b::text[]"] * len(columns))
    connection.execute(f"INSERT INTO visits ({_FIELDS}) SELECT * FROM unnest({arrays})".encode(), columns)
    added = sorted(new - old)
    connection.execute("INSERT INTO words (word, place) SELECT * FROM unnest(%b::text[], %b::text[])",
                       ([word for word, _ in added], [place for _, place in added]))


def _remove(connection: Connection, visits: Collection[str]) -> None:
    if visits:
        _drop_words(connection, _words_of(_rows_of(connection, list(visits))))
        connection.execute("DELETE FROM visits WHERE visit = ANY(%s)", (list(visits),))


def _rows_of(connection: Connection, visits: list[str]) -> list[_Kept]:
    found = connection.execute(f"SELECT {_FIELDS} FROM visits WHERE visit = ANY(%s)".encode(), (visits,)).fetchall()
    return cast(list[_Kept], found)


def _kept(row: RegisterRow) -> _Kept:
    # ASCII, because a column of text takes neither NUL nor half a character.
    words, shown = (json.dumps(value, separators=(",", ":")) for value in (row.words, row.shown))
    return row.visit, row.place, row.vehicle, row.customer, row.called, words, shown


def _words_of(rows: Iterable[_Kept]) -> set[tuple[str, str]]:
    """The rows of words that belong to visits [(word, place) each]."""
    return {(word, row[1]) for row in rows for word in json.loads(row[5])}


def _drop_words(connection: Connection, gone: set[tuple[str, str]]) -> None:
    if gone:
        connection.execute(
            "DELETE FROM words USING unnest(%b::text[], %b::text[]) AS gone (word, place)"
            " WHERE words.word = gone.word AND words.place = gone.place",
            ([word for word, _ in gone], [place for _, place in gone]))
