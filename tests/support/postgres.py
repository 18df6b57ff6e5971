"""A real PostgreSQL server of the tests' own: one for each process that asks, with a fresh database at each call.

No test lives here. It listens on loopback alone, in a folder that goes when the process ends.
"""

from __future__ import annotations

import atexit
import os
import pwd
import random
import shutil
import signal
import socket
import tempfile
from functools import cache
from pathlib import Path

import psycopg
import pytest

from demo.ground import database_programs
from demo.throwaway import server_user
from sync.records.postgres import schema
from tests.support import children

MISSING = "PostgreSQL's server is not installed; `python3 tests` installs it on Debian and Ubuntu"
_TEMPLATE = "layby_template"


class Server:
    """The server; `url` is where its databases are."""

    def __init__(self, bin_folder: Path) -> None:
        self._bin = bin_folder
        self._folder = Path(tempfile.mkdtemp(prefix="layby-postgres-"))
        self._user = server_user()
        if self._user is not None:
            os.chown(self._folder, pwd.getpwnam(self._user).pw_uid, -1)
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self._data = str(self._folder / "data")
        self._made = 0
        self._run("initdb", "-D", self._data, "-U", "layby", "-E", "UTF8", "--locale=C", "-A", "trust", "--no-sync")
        self.start()

    @property
    def url(self) -> str:
        """Of the database for maintenance [postgresql://...]."""
        return self.url_of("postgres")

    def url_of(self, database: str) -> str:
        """Of one database [postgresql://...]."""
        return f"postgresql://layby@127.0.0.1:{self.port}/{database}"

    def start(self) -> None:
        """Start it; returns once it answers."""
        # What a killed process wrote is with the system; only a power cut needs fsync, which no test plays here.
        options = f"-c listen_addresses=127.0.0.1 -c port={self.port} -c unix_socket_directories= -c fsync=off"
        self._run("pg_ctl", "start", "-w", "-D", self._data, "-o", options, "-l", str(self._folder / "log"))

    def stop(self, how: str = "fast") -> None:
        """Stop it: "fast", or "immediate" as if it were killed."""
        self._run("pg_ctl", "stop", "-w", "-D", self._data, "-m", how)

    def kill_backend(self, url: str, chance: random.Random) -> None:
        """Kill -9 one of the processes that serve a database; the server then ends all of them and recovers."""
        name = url.rpartition("/")[2]
        with psycopg.connect(self.url, autocommit=True) as connection:
            rows = connection.execute("SELECT pid FROM pg_stat_activity WHERE datname = %s", (name,)).fetchall()
        if rows:
            os.kill(chance.choice(sorted(pid for (pid,) in rows)), signal.SIGKILL)

    def end(self) -> None:
        """Stop it, and nothing of it stays."""
        children.run(self._command("pg_ctl", "stop", "-w", "-D", self._data, "-m", "immediate"), user=self._user)
        shutil.rmtree(self._folder, ignore_errors=True)

    def fresh(self, like: str = _TEMPLATE) -> str:
        """A new database with the tables of this version [postgresql://...]."""
        with psycopg.connect(self.url, autocommit=True) as connection:
            if not connection.execute("SELECT 1 FROM pg_database WHERE datname = %s", (_TEMPLATE,)).fetchone():
                connection.execute(f"CREATE DATABASE {_TEMPLATE}".encode())
                schema.prepare(self.url_of(_TEMPLATE))
            self._made += 1
            connection.execute(f"CREATE DATABASE d{self._made} TEMPLATE {like}".encode())
        return self.url_of(f"d{self._made}")

    def empty(self) -> str:
        """A new database without any table [postgresql://...]."""
        return self.fresh("template1")

    def _command(self, name: str, *arguments: str) -> list[str]:
        return [str(self._bin / name), *arguments]

    def _run(self, name: str, *arguments: str) -> None:
        done = children.run(self._command(name, *arguments), user=self._user, cwd="/")
        assert done.returncode == 0, f"{name}: {done.stdout}{done.stderr}"


@cache
def server() -> Server:
    """This process's server; the test that asks is skipped where none is installed."""
    found = database_programs()
    if found is None:
        pytest.skip(MISSING)
    made = Server(found)
    atexit.register(made.end)
    return made
