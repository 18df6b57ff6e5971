"""The gate: takes each request off the network whole, then lets one of a few threads work on it.

Nothing here knows a route; the application behind it is any WSGI application. The server's own way of running one gives
a thread to a request before its body is there, and one phone that drives out of reach in the middle of a body then
stops all others (tried with granian 2.8). Here a body is waited for without a thread, not for ever, and not beyond the
end of the service; it is held only for who has shown in the request's head that they may send one.
"""

from __future__ import annotations

import asyncio
import io
import signal
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any
from urllib.parse import unquote_to_bytes

Wsgi = Callable[["Environ", Callable[..., Any]], Any]
Environ = dict[str, Any]
Headers = list[tuple[str, str]]

THREADS = 4
# The longest silence within a body.
SILENCE_S = 10.0
# The slowest a whole body may come, slower than any mobile network that still carries data; else a few senders of a
# byte now and then would keep everybody out [bytes/s].
LEAST_RATE = 2000
# Bodies up to here are read to their end even where they are too large to be used, so that the sender, still sending,
# gets to read the answer.
READ_OUT_MOST = 16 * 1024 * 1024
# Once the service is told to end, a body that is nearly there may still come so long.
AT_END_S = 1.0


class Body:
    """A request's body as far as it came; one that is larger than `most` is read and let go."""

    def __init__(self, length: int | None) -> None:
        self.length = length
        self.most = 0
        self.came = 0
        self.pieces: list[bytes] = []

    def add(self, piece: bytes) -> None:
        """One more piece; what is over the limit is counted and let go."""
        self.came += len(piece)
        if self.length is not None and self.length <= self.most:
            self.pieces.append(piece)

    @property
    def worth(self) -> int:
        """How much of it may be waited for [bytes]."""
        return min(self.length or 0, self.most)

    @property
    def silent(self) -> bool:
        """Whether less came than was announced."""
        return self.length is not None and self.length <= READ_OUT_MOST and self.came < self.length


class Gate:
    """A WSGI application under granian's own interface, RSGI.

    Args of the constructor:
        app: the application [WSGI]
        most_for: the largest body that a request may send, by its head, 0 where it may send none [function from its
            environment as PEP 3333 has it to bytes]
        at_end: called once when the server has ended [function]
    """

    def __init__(self, app: Wsgi, most_for: Callable[[Environ], int], at_end: Callable[[], None]) -> None:
        self.app = app
        self.most_for = most_for
        self.at_end = at_end
        self.threads = ThreadPoolExecutor(THREADS, thread_name_prefix="layby-request")
        self.ending = asyncio.Event()

    def __rsgi_init__(self, loop: asyncio.AbstractEventLoop) -> None:
        """Hear of the end as well as the server does, which then waits for every request under way."""
        for which in (signal.SIGINT, signal.SIGTERM):
            before = signal.getsignal(which)

            def note_end(number: int, frame: Any, before: Any = before) -> None:
                loop.call_soon_threadsafe(self.ending.set)
                if callable(before):
                    before(number, frame)

            signal.signal(which, note_end)

    def __rsgi_del__(self, loop: asyncio.AbstractEventLoop) -> None:
        self.threads.shutdown(wait=True)
        self.at_end()

    async def __rsgi__(self, scope: Any, protocol: Any) -> None:
        loop = asyncio.get_running_loop()
        environ = _head(scope)
        announced = scope.headers.get("content-length")
        body = Body(int(announced) if announced is not None else None)
        if body.length and body.length <= READ_OUT_MOST:
            body.most = await loop.run_in_executor(self.threads, self.most_for, environ)
            await self._take(body, protocol)
        environ |= {"wsgi.input": io.BytesIO(b"".join(body.pieces)), "layby.silent": body.silent}
        status, headers, content = await loop.run_in_executor(self.threads, _answer, self.app, environ)
        if scope.method == "HEAD" or not content:
            protocol.response_empty(status, headers)
        else:
            protocol.response_bytes(status, headers, content)

    async def _take(self, body: Body, protocol: Any) -> None:
        """The body, or as much of it as comes before the sender falls silent or the service has to end."""

        async def read() -> None:
            async for piece in protocol:
                body.add(piece)

        loop = asyncio.get_running_loop()
        # A task of its own: the server's own kind of task cannot be cancelled.
        reading, ending = loop.create_task(read()), loop.create_task(self.ending.wait())
        before, until = -1, loop.time() + SILENCE_S + body.worth / LEAST_RATE
        while not reading.done() and not ending.done() and body.came > before and loop.time() < until:
            before = body.came
            await asyncio.wait({reading, ending}, timeout=SILENCE_S, return_when=asyncio.FIRST_COMPLETED)
        if ending.done():
            await asyncio.wait({reading}, timeout=AT_END_S)
        ending.cancel()
        if reading.done():
            reading.exception()
        else:
            reading.cancel()


def _head(scope: Any) -> Environ:
    """The request's head as PEP 3333 wants it, with an empty body."""
    server, _, port = scope.server.rpartition(":")
    environ: Environ = {
        "REQUEST_METHOD": scope.method,
        "SCRIPT_NAME": "",
        "PATH_INFO": unquote_to_bytes(scope.path).decode("latin-1"),
        "QUERY_STRING": scope.query_string,
        "SERVER_NAME": server,
        "SERVER_PORT": port,
        "SERVER_PROTOCOL": "HTTP/1.1",
        "REMOTE_ADDR": scope.client.rpartition(":")[0],
        "wsgi.version": (1, 0),
        "wsgi.url_scheme": scope.scheme,
        "wsgi.input": io.BytesIO(),
        "wsgi.errors": sys.stderr,
        "wsgi.multithread": True,
        "wsgi.multiprocess": False,
        "wsgi.run_once": False,
    }
    for name, value in scope.headers.items():
        key = name.upper().replace("-", "_")
        if key not in ("CONTENT_TYPE", "CONTENT_LENGTH"):
            key = f"HTTP_{key}"
        environ[key] = f"{environ[key]},{value}" if key in environ else value
    return environ


def _answer(app: Wsgi, environ: Environ) -> tuple[int, Headers, bytes]:
    """What the application answers: status, headers, content."""
    head: list[tuple[int, Headers]] = []

    def start(status: str, headers: Headers, failure: Any = None) -> Callable[[bytes], None]:
        head[:] = [(int(status.split(" ", 1)[0]), headers)]
        return lambda content: None

    pieces = app(environ, start)
    try:
        content = b"".join(pieces)
    finally:
        if hasattr(pieces, "close"):
            pieces.close()
    [(status, headers)] = head
    return status, headers, content
