"""The service: one worker process that holds the folder and answers on one port, until it is told to stop.

Nothing here knows a route; `app` does.
"""

from __future__ import annotations

import functools
import logging
import multiprocessing
import multiprocessing.connection
import os
import secrets
import sys
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from granian.constants import HTTPModes, Interfaces
from granian.http import HTTP1Settings
from granian.log import LogLevels
from granian.server import Server

from server.home.service import Home, HomeService
from server.process import public_url, remote
from server.process.endpoint import Endpoint, certificate_hash
from server.process.folder_mode import command_to_shut
from server.process.port import PATIENCE_S, check_port, hold_port
from sync import rulebook
from sync.disk.folder_lock import FolderLock
from sync.errors import LaybyError
from sync.language.reader import language, reading
from sync.language.words import Words
from sync.records.passphrase import Passphrase

if TYPE_CHECKING:
    from sync.records.logbook import Logbook

PORT = 8765
HOST = "127.0.0.1"
# Many connections are held, because a silent one costs only a file and a few kB. The gate counts requests, because it
# sees who sends them. Further connections wait in the system's queue.
CONNECTIONS_MOST = 2048
BACKLOG = 1024
# The longest time for the head of a request; well below the time in which a service must have stopped.
HEAD_WITHIN_MS = 5_000
# What is read ahead from a connection, and so the largest head: a browser's are under 8 kB [bytes].
READ_AHEAD_MOST = 64 * 1024
END_WITHIN_S = 10
# The library of refrigerants blocks the whole process while it loads. It loads this long after the start, when nobody
# is waiting for it yet, and not in the middle of the first evening [s].
LOAD_AFTER_S = 10

log = logging.getLogger("layby.service")


class NotStarted(LaybyError):
    """The worker ended before or while it served."""

    code = "not_started"


class FolderOpen(LaybyError):
    """Others than its owner can look into the folder; `command` shuts them out."""

    code = "folder_open"


class Orphaned(LaybyError):
    """The process that started the worker is gone."""

    code = "orphaned"


def _load(folder: Path, listening: Endpoint, serving: Serving, spoken: str) -> Any:
    """In the worker: the application over the folder, which this process holds from here on.

    `spoken` is the language of the person who started the service; each request is answered in its own.
    """
    with reading(spoken):
        return _begun(folder, listening, serving)


def _begun(folder: Path, listening: Endpoint, serving: Serving) -> Any:
    books = serving.books
    _end_with_parent(folder, books)
    # Slow, and useful only to the worker: the parent only watches over it.
    from server.app import create_app
    from server.body_limits import admitting
    from server.http import body_reader
    from server.long_routes import is_long

    key, address = secrets.token_hex(32), _address(folder, books)
    try:
        app = create_app({
            "FOLDER": folder, "RULEBOOK": books, "ADDRESS": address, "DESK_KEY": key, "PATIENCE_S": PATIENCE_S,
            "HOME": serving.home})
    except LaybyError as error:
        print(_sentence(error, books), file=sys.stderr, flush=True)
        raise SystemExit(2) from error
    logbook = app.extensions["layby"]["logbook"]
    try:
        remote.leave_note(folder, listening, key)
    except OSError as error:
        # What is on file can still be read; commands find the folder busy until the service is restarted.
        log.warning("where this service takes commands could not be noted: %s", error)
    # Not in the parent: a thread there while it forks this process can leave a lock held for ever in here.
    at_home = Home(folder, serving.home, listening.host) if serving.home else None
    if at_home is not None:
        at_home.start(app, books)
    address = public_url.shown(listening.address, address)
    lines = _first_lines(logbook, address, at_home, _words(books, "commands"))
    threading.Thread(target=_tell_when_ready, args=(listening, lines), name="layby-ready", daemon=True).start()
    threading.Thread(target=_load_later, name="layby-load", daemon=True).start()

    def at_end() -> None:
        if at_home is not None:
            at_home.stop()
        remote.remove_note(folder)
        logbook.close()

    return body_reader.Gate(app, body_reader.Rules(admitting(app), is_long), at_end)


def _load_later() -> None:
    time.sleep(LOAD_AFTER_S)
    from sync.physics import refrigerant

    refrigerant.critical_point("Water")  # any question loads it


def _connections() -> int:
    """How many connections may be held: as many as make sense, within the files this process may open [count].

    The server asks for as many files as the system allows. If it runs out of them it accepts nobody, and over TLS never
    again (tried with granian 2.8.7), so a good part is left free.
    """
    if sys.platform == "win32":
        return CONNECTIONS_MOST
    import resource

    files = resource.getrlimit(resource.RLIMIT_NOFILE)[1]
    return CONNECTIONS_MOST if files == resource.RLIM_INFINITY else max(1, min(CONNECTIONS_MOST, files // 2))


def _address(folder: Path, books: Path | None) -> str | None:
    """The address that the owner set. Settings that can't be used are reported; entries are taken in without them."""
    try:
        return public_url.chosen_at(folder)
    except LaybyError as error:
        print(_sentence(error, books), file=sys.stderr, flush=True)
        return None


def _first_key(logbook: Logbook) -> str | None:
    """The key for setting the passphrase of the desk's pages, where none was ever set [text or None].
    """
    passphrase, now_ms = Passphrase(logbook.files), time.time_ns() // 1_000_000
    try:
        # Another service over the same records may have shown one that still works.
        is_shown = logbook.store.is_shared and passphrase.is_setting_open(now_ms)
        return passphrase.open_setting(now_ms) if passphrase.edition is None and not is_shown else None
    except OSError as error:
        log.warning("no key for setting the passphrase could be made: %s", error)
    return None


def _end_with_parent(folder: Path, books: Path | None) -> None:
    """Watch the parent process and leave at once when it is gone: an orphan would keep port and folder for itself.

    Leaving at once loses nothing that was acknowledged: that is in the journal.
    """
    parent = multiprocessing.parent_process()
    if parent is None:
        return

    text = _sentence(Orphaned(folder=str(folder)), books)

    def watch() -> None:
        multiprocessing.connection.wait([parent.sentinel])
        try:
            print(text, file=sys.stderr, flush=True)
        finally:
            # Even if the error stream went with the parent.
            os._exit(1)

    threading.Thread(target=watch, name="layby-parent", daemon=True).start()


def _warn_where_open(folder: Path, books: Path | None) -> None:
    """Say on the error stream that others can look into the folder; the service starts anyway."""
    command = command_to_shut(folder)
    if command is not None:
        print(_sentence(FolderOpen(folder=str(folder), command=command), books), file=sys.stderr, flush=True)


def _sentence(error: LaybyError, books: Path | None) -> str:
    return _words(books, "errors").error(error)


def _words(books: Path | None, book: str) -> Words:
    """One book of words in the language of the person who started the service [Words]."""
    return Words(rulebook.some_words((book,), language(), books), language())


def _first_lines(logbook: Logbook, address: str, at_home: Home | None, words: Words) -> list[str]:
    """What there is to know once the service answers; where the passphrase is set, while there is none [lines]."""
    lines = [words.say("commands.serve.ready", address=address), *(at_home.lines(words) if at_home else [])]
    key = _first_key(logbook)
    if key is not None:
        here = at_home.home.desk_url if at_home else address
        lines += [words.say("commands.serve.passphrase"), f"  {here}/desk/passphrase?key={key}"]
    return lines


def _tell_when_ready(listening: Endpoint, lines: list[str]) -> None:
    """Print what there is to know once the service answers."""
    while not _answers(listening):
        time.sleep(0.02)
    print("\n".join(lines), flush=True)


def _answers(listening: Endpoint) -> bool:
    try:
        connection = listening.connection(5)
    except OSError:
        return False
    try:
        connection.request("GET", "/manifest.webmanifest", headers={"Host": "localhost"})
        connection.getresponse().read()
    except OSError:
        return False
    finally:
        connection.close()
    return True


@dataclass(frozen=True)
class Serving:
    """What a service serves with, besides its folder and where it listens.

    books: the rulebook's folder, the package's own when None [path]
    tls: certificate and key, to be served over TLS; plainly when None [PEM files]
    home: the address at home and what it needs [HomeService or None]
    """

    books: Path | None = None
    tls: tuple[Path, Path] | None = None
    home: HomeService | None = None


def serve(folder: Path, host: str = HOST, port: int = PORT, serving: Serving | None = None) -> None:
    """Serve a folder until SIGINT or SIGTERM.

    Args:
        folder: the records; created if missing [path]
        host: the address to listen on [text]
        port: the port [number]
        serving: what it is served with [Serving]

    Raises:
        BadCertificate: certificate and key can't be used.
        PortTaken, FolderBusy: somebody else has the port, the folder.
        NotStarted: the worker ended by itself; its message is on the error stream.
    """
    folder, with_all = Path(folder).resolve(), serving or Serving()
    claim = hold_port(port)
    try:
        _serve_once(folder, host, port, with_all)
        while with_all.home is not None and with_all.home.renewed(folder):
            _serve_once(folder, host, port, with_all)
    finally:
        if claim is not None:
            claim.release()


def _serve_once(folder: Path, host: str, port: int, serving: Serving) -> None:
    tls = serving.tls
    listening = Endpoint(host, port, certificate_hash(*tls) if tls else None)
    check_port(host, port)
    lock = FolderLock(folder)
    lock.take(PATIENCE_S)
    lock.give_back()
    _warn_where_open(folder, serving.books)
    server = Server(
        "server.http.body_reader",
        address=host,
        port=port,
        interface=Interfaces.RSGI,
        workers=1,
        backpressure=_connections(),
        http=HTTPModes.http1,
        http1_settings=HTTP1Settings(header_read_timeout=HEAD_WITHIN_MS, max_buffer_size=READ_AHEAD_MOST),
        websockets=False,
        backlog=BACKLOG,
        log_level=LogLevels.warning,
        workers_kill_timeout=END_WITHIN_S,
        ssl_cert=tls[0] if tls else None,
        ssl_key=tls[1] if tls else None,
    )
    try:
        server.serve(target_loader=functools.partial(_load, folder, listening, serving, language()), wrap_loader=False)
    except SystemExit as error:
        if error.code:
            raise NotStarted(folder=str(folder), port=port) from error
