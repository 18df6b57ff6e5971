"""One PostgreSQL database: its connections, one claim at a time across all services, and what is said when it is away.

Nothing here knows a table of records or of views.
"""

from __future__ import annotations

import logging
import select
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

import psycopg
from psycopg import sql
from psycopg_pool import ConnectionPool, PoolTimeout

from sync.errors import Away

# A service has this many connections at most: one for each request at work, and one for each claim it holds.
CONNECTIONS_MOST = 12
# How long a request waits for a connection before it is told that the database is away.
PATIENCE_S = 5.0

Connection = psycopg.Connection[tuple[Any, ...]]
T = TypeVar("T")

log = logging.getLogger("layby.database")


class DatabaseAway(Away):
    """The database didn't answer, or broke off: nothing is promised of what was being written."""

    code = "database_away"


class Database:
    """The connections of one process to a database; any number of threads.

    Args of the constructor:
        url: where it is, as libpq reads it [postgresql://user@host/name]
        patience_s: how long to wait for a connection [s]
    """

    def __init__(self, url: str, patience_s: float = PATIENCE_S) -> None:
        self.url = url
        self._is_away = False
        self._pool = ConnectionPool(
            url, min_size=1, max_size=CONNECTIONS_MOST, timeout=patience_s, reconnect_timeout=patience_s, open=False,
            configure=_set_up, kwargs={"connect_timeout": int(patience_s) + 1, "autocommit": True},
        )  # fmt: skip
        self._pool.open()

    def run(self, work: Callable[[Connection], T]) -> T:
        """Do something in one transaction: all of it or nothing, durably before this returns.

        Args:
            work: what is done with the connection [function]

        Returns:
            what it returned

        Raises:
            DatabaseAway: the database can't be reached, or broke off; whether it took anything isn't known.
        """
        def whole(connection: Connection) -> T:
            with connection.transaction():
                return work(connection)

        return self._with(whole)

    def ask(self, query: str, *values: object) -> list[tuple[Any, ...]]:
        """Carry out one query that changes nothing, for one message each way.

        If the connection turns out to be dead, the query is asked again over one that lives.

        Args:
            query: the query, made of this room's own words alone [SQL]
            values: what its blanks stand for

        Returns:
            the rows

        Raises:
            DatabaseAway: the database can't be reached.
        """
        def rows(connection: Connection) -> list[tuple[Any, ...]]:
            return connection.execute(query.encode(), values or None).fetchall()

        try:
            return self._with(rows)
        except DatabaseAway as error:
            if isinstance(error.__cause__, PoolTimeout):
                raise
        return self.run(rows)

    def change(self, statement: str, *values: object) -> None:
        """Carry out one statement that changes something: a transaction of its own, so one message each way.

        Args:
            statement: made of this room's own words alone [SQL]
            values: what its blanks stand for

        Raises:
            DatabaseAway: as for `run`.
        """
        self._with(lambda connection: connection.execute(statement.encode(), values or None))

    def _with(self, work: Callable[[Connection], T]) -> T:
        try:
            connection = _living(self._pool)
            try:
                result = work(connection)
            finally:
                self._pool.putconn(connection)
            self._is_away = False
            return result
        except (psycopg.OperationalError, psycopg.InterfaceError, PoolTimeout) as error:
            raise self._away(error) from error

    @contextmanager
    def claim(self, name: str, is_shared: bool = False) -> Iterator[Callable[[], None]]:
        """Only one holder at a time, in any process; a holder that dies holds nothing any more.

        It is the lock on a row, for as long as its own connection lives.

        Args:
            name: what is claimed [one of the names in the table of claims]
            is_shared: whether others may hold it too, if they say the same [truth]

        Yields:
            raises DatabaseAway if the claim was lost meanwhile [function]

        Raises:
            DatabaseAway: it couldn't be claimed.
        """
        held = _Claim(self._pool)
        try:
            held.take(name, is_shared)
        except (psycopg.OperationalError, psycopg.InterfaceError, PoolTimeout) as error:
            held.give_back()
            raise self._away(error) from error

        def holds() -> None:
            try:
                held.check()
            except (psycopg.OperationalError, psycopg.InterfaceError) as error:
                raise self._away(error) from error

        try:
            yield holds
        finally:
            held.give_back()

    def close(self) -> None:
        """Close all connections."""
        self._pool.close()

    def _away(self, error: Exception) -> DatabaseAway:
        why = (str(error).strip() or type(error).__name__).splitlines()[0]
        if not self._is_away:
            # Once, however many ask until it is back.
            log.warning("the database is away: %s", why)
        self._is_away = True
        return DatabaseAway(why=why)


class _Claim:
    """A connection that holds a row's lock; `give_back` is harmless if nothing is held."""

    def __init__(self, pool: ConnectionPool[Connection]) -> None:
        self._pool = pool
        self._connection: Connection | None = None

    def take(self, name: str, is_shared: bool) -> None:
        self._connection = _living(self._pool)
        how = sql.SQL("SHARE" if is_shared else "UPDATE")
        # Both in one message: claims are made for each batch.
        query = sql.SQL("BEGIN; SELECT name FROM claims WHERE name = {} FOR {}").format(name, how)
        cursor = self._connection.execute(query)
        cursor.nextset()
        if cursor.fetchone() is None:
            raise LookupError(f"no claim is called {name}")

    def check(self) -> None:
        """Raises psycopg's error if the connection is gone, and the lock with it."""
        if self._connection is not None:
            self._connection.execute("SELECT 1")

    def give_back(self) -> None:
        connection, self._connection = self._connection, None
        if connection is None:
            return
        try:
            connection.rollback()
        except psycopg.Error as error:
            # Whoever came next may have begun already; the numbers of records keep both apart.
            log.warning("a claim was lost while it was held: %s", error)
        self._pool.putconn(connection)


def _set_up(connection: Connection) -> None:
    """An answer is a promise, whatever the server's own setting is."""
    connection.execute("SET synchronous_commit TO on")


def _living(pool: ConnectionPool[Connection]) -> Connection:
    """A connection that wasn't found dead. Dead ones go back to the pool, which makes others in their place at once;
    its own check would wait a second before it tries the next.

    Raises:
        PoolTimeout: there is none.
    """
    while True:
        connection = pool.getconn()
        try:
            _look_over(connection)
        except psycopg.Error:
            pool.putconn(connection)
        else:
            return connection


def _look_over(connection: Connection) -> None:
    """Raises psycopg's error if an idle connection is broken. A server that ended it has said so, and nothing else is
    said to one that is idle: so only a connection with something to read is tried.
    """
    if _has_to_read(connection.fileno()):
        ConnectionPool.check_connection(connection)


def _has_to_read(descriptor: int) -> bool:
    if not hasattr(select, "poll"):
        return bool(select.select([descriptor], [], [], 0)[0])
    # Of any number: `select` takes none above a thousand where both exist.
    asked = select.poll()
    asked.register(descriptor, select.POLLIN)
    return bool(asked.poll(0))
