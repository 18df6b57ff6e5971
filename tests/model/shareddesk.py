"""The desk of the model as two services over one PostgreSQL database: whoever asks reaches either of them by chance.

Nothing here files or judges by itself. A service that crashes loses its connections and whatever it had in memory.
"""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import psycopg

from sync.records.logbook import Logbook
from sync.records.postgres.database import Database
from sync.records.postgres.store import PostgresStore
from sync.work.intake import receive
from tests.model.realdesk import RealDesk, writer_of
from tests.support.ops import JUNE_12
from tests.support.postgres import server

SERVICES = 2


class SharedDesk(RealDesk):
    """Both services over all their crashes."""

    def __init__(self, ground: Path, rulebook: dict[str, Any], dice: random.Random) -> None:
        self.url = server().fresh()
        self.others: list[Logbook] = []
        super().__init__(ground, rulebook, dice)
        self.others = [self._open() for _ in range(SERVICES - 1)]

    @property
    def logbook(self) -> Logbook:
        """One of them, by chance [Logbook]."""
        return self.dice.choice([self.running, *self.others])

    def _open(self) -> Logbook:
        self.folder.mkdir(parents=True, exist_ok=True)
        opened = Logbook(self.folder, self.rulebook, floor_bytes=0,
                         open_store=lambda: PostgresStore(Database(self.url)))
        return opened.__enter__()

    def count_of(self, line: bytes) -> int:
        """How many records hold a line."""
        with psycopg.connect(self.url) as connection:
            row = connection.execute("SELECT count(*) FROM records WHERE line = %s", (line,)).fetchone()
        assert row is not None
        return int(row[0])

    def crash(self, body: bytes | None = None) -> None:
        """One service is gone from one moment to the next; with a body, before it answered for it."""
        if body is not None:
            receive(self.running, body, JUNE_12, writer_of(body))
        self._abandon(self.running)
        self.running, self.others = self.others[0], [self._open(), *self.others[1:]]

    def _abandon(self, logbook: Logbook) -> None:
        # Without its connections it can't write what it has in memory.
        logbook.store.close(clean=False)
        logbook.close()

    def spoil(self) -> None:
        """While no service runs, views are overwritten, or it is forgotten how far they reach; the records stay."""
        self.end()
        with psycopg.connect(self.url) as connection:
            names = [name for (name,) in connection.execute("SELECT name FROM views ORDER BY name").fetchall()]
            for name in self.dice.sample(names, min(len(names), self.dice.randint(1, 3))):
                connection.execute("UPDATE views SET tables = left(tables, %s) WHERE name = %s",
                                   (self.dice.randint(0, 40), name))
            if self.dice.random() < 0.5:
                connection.execute("DELETE FROM reach")
        self.running, self.others = self._open(), [self._open() for _ in range(SERVICES - 1)]

    def end(self) -> None:
        """Close down as a person does; harmless if called twice."""
        for logbook in (self.running, *self.others):
            logbook.close()
