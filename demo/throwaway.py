"""A database server for the demo alone: started in a folder of its own, on loopback, and gone with all it held.

It knows nothing of Layby.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

from demo.ground import database_programs

MISSING = "PostgreSQL's server is not installed. On Debian and Ubuntu: apt-get install postgresql"


class NoServer(Exception):
    """The server isn't there or doesn't start; the text says what to do."""


@contextlib.contextmanager
def server() -> Iterator[str]:
    """A running server in a folder of the system's for temporary files; ended, and the folder removed, on the way out.

    The server may run as another user, who needn't be able to reach the checkout.

    Yields:
        the address of its only database [postgresql://...]

    Raises:
        NoServer: it isn't installed, or doesn't start.
    """
    bin_folder, user = database_programs(), server_user()
    if bin_folder is None:
        raise NoServer(MISSING)
    folder = Path(tempfile.mkdtemp(prefix="layby-demo-"))
    if user:
        shutil.chown(folder, user)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    data, options = str(folder / "data"), f"-c listen_addresses=127.0.0.1 -c port={port} -c unix_socket_directories="
    try:
        _run(user, bin_folder / "initdb", "-D", data, "-U", "layby", "-E", "UTF8", "--locale=C", "-A", "trust")
        _run(user, bin_folder / "pg_ctl", "start", "-w", "-D", data, "-o", options, "-l", str(folder / "log"))
        try:
            yield f"postgresql://layby@127.0.0.1:{port}/postgres"
        finally:
            _run(user, bin_folder / "pg_ctl", "stop", "-w", "-D", data, "-m", "fast")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def server_user() -> str | None:
    """As whom the server runs: it refuses to be root's."""
    return "postgres" if os.name != "nt" and os.geteuid() == 0 else None


def _run(user: str | None, program: Path, *arguments: str) -> None:
    # The server keeps what it inherits open, so its output goes nowhere rather than to a pipe that would never end.
    done = subprocess.run([str(program), *arguments], user=user, cwd="/", check=False, stdin=subprocess.DEVNULL,
                          stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    if done.returncode:
        raise NoServer(f"{program.name} {arguments[0]} failed with status {done.returncode}.")
