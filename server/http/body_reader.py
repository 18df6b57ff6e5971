"""The gate: takes each request off the network whole, then lets one of a few threads work on it.

Nothing here knows a route; the application behind it is any WSGI application. The server's own way of running one gives
a thread to a request before its body has arrived, so one phone that drives out of reach in the middle of a body stops
all others (tried with granian 2.8). Here a body is waited for without a thread, not for ever, and not beyond the end of
the service; it is held only if the request's head shows that the sender may send one. Long work has its own threads.
"""

from __future__ import annotations

import asyncio
import io
import signal
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any, NamedTuple, TypeVar

from server.http.underway import Underway, sender_of
from server.http.wsgi import Answer, Environ, Wsgi, answer_of, head_of

Result = TypeVar("Result")

THREADS = 4
# Long work, such as an evening beside the sending of letters; further such work waits, and beyond that is turned away.
LONG_THREADS = 3
LONG_WAITING = 6
# When to try again: a day's sheets take about this long, a place among the requests is free at once [s].
LONG_RETRY_S = 10
RETRY_S = 1
# The longest silence within a body.
SILENCE_S = 10.0
# The slowest rate for a whole body, below that of any mobile network that still carries data; otherwise a few senders
# of a byte now and then would keep everybody out [bytes/s].
LEAST_RATE = 2000
# Bodies up to this size are read to their end even if they are too large to be used, so that a sender who is still
# sending gets to read the answer.
READ_OUT_MOST = 16 * 1024 * 1024
# A body from a sender without the right to send one is waited for this long and read this far: enough for what a phone
# sends that was revoked and doesn't know it. This many of them at once; further ones not at all.
STRANGER_S = 2.0
STRANGER_MOST = 512 * 1024
STRANGERS_MOST = 256
# Once the service is told to stop, a body that has nearly arrived may still take this long.
AT_END_S = 1.0


class Body:
    """A request's body as far as it has arrived; one that is larger than `most` is read and dropped."""

    def __init__(self, length: int | None) -> None:
        self.length = length
        self.most = 0
        self.came = 0
        self.pieces: list[bytes] = []

    def add(self, piece: bytes) -> None:
        """One more piece; anything over the limit is counted and dropped."""
        self.came += len(piece)
        if self.length is not None and self.length <= self.most:
            self.pieces.append(piece)

    @property
    def worth(self) -> int:
        """How much of it may be waited for [bytes]."""
        return min(self.length or 0, self.most)

    @property
    def silent(self) -> bool:
        """Whether less arrived than was announced."""
        return self.length is not None and self.length <= READ_OUT_MOST and self.came < self.length


class Admission(NamedTuple):
    """What the head of a request shows: the largest body it may send [bytes], and whether it shows a right to ask."""

    most: int
    known: bool


NOBODY = Admission(0, known=False)


class Rules(NamedTuple):
    """What is known about requests from their heads, with environments as in PEP 3333.

    admit: what a head shows; may read files [function from environment]
    is_long: whether a path requests long work; looks at nothing else [function from text]
    """

    admit: Callable[[Environ], Admission]
    is_long: Callable[[str], bool]


class Gate:
    """A WSGI application under granian's own interface, RSGI.

    An application that finds `layby.busy` in the environment has to turn the request away: the problem's code, and in
    how many seconds to try again.

    Args of the constructor:
        app: the application [WSGI]
        rules: what requests may do, by their heads [Rules]
        at_end: called once when the server has stopped [function]
    """

    def __init__(self, app: Wsgi, rules: Rules, at_end: Callable[[], None]) -> None:
        self.app = app
        self.rules = rules
        self.at_end = at_end
        self.threads = ThreadPoolExecutor(THREADS, thread_name_prefix="layby-request")
        self.long_threads = ThreadPoolExecutor(LONG_THREADS, thread_name_prefix="layby-long")
        self.underway = Underway()
        self.strangers = 0
        self.long = 0
        self.ending = asyncio.Event()

    def __rsgi_init__(self, loop: asyncio.AbstractEventLoop) -> None:
        """Hear of the end as well as the server does, which then waits for every request in progress."""
        for which in (signal.SIGINT, signal.SIGTERM):
            before = signal.getsignal(which)

            def note_end(number: int, frame: Any, before: Any = before) -> None:
                loop.call_soon_threadsafe(self.ending.set)
                if callable(before):
                    before(number, frame)

            signal.signal(which, note_end)

    def __rsgi_del__(self, loop: asyncio.AbstractEventLoop) -> None:
        self.threads.shutdown(wait=True)
        self.long_threads.shutdown(wait=True)
        self.at_end()

    async def __rsgi__(self, scope: Any, protocol: Any) -> None:
        environ = head_of(scope)
        caller = sender_of(environ)
        try:
            if self.underway.enter(caller):
                status, headers, content = await self._work(scope, protocol, environ)
            else:
                status, headers, content = await self._turned_away(environ, "too_many_at_once", RETRY_S)
        finally:
            self.underway.leave(caller)
        if scope.method == "HEAD" or not content:
            protocol.response_empty(status, headers)
        else:
            protocol.response_bytes(status, headers, content)

    async def _work(self, scope: Any, protocol: Any, environ: Environ) -> Answer:
        """The application's answer to a request, once its body has been read."""
        announced = scope.headers.get("content-length")
        body = Body(int(announced) if announced is not None else None)
        is_long, has_body = self.rules.is_long(environ["PATH_INFO"]), 0 < (body.length or 0) <= READ_OUT_MOST
        admission = await self._in_thread(self.rules.admit, environ) if is_long or has_body else NOBODY
        if has_body:
            body.most = admission.most
            await self._take(body, protocol, admission.known)
        environ |= {"wsgi.input": io.BytesIO(b"".join(body.pieces)), "layby.silent": body.silent}
        if is_long and admission.known:
            return await self._long_work(environ)
        return await self._in_thread(answer_of, self.app, environ)

    async def _long_work(self, environ: Environ) -> Answer:
        """An answer that takes time, on its own threads, so that it keeps no other request waiting for a thread."""
        if self.long >= LONG_THREADS + LONG_WAITING:
            return await self._turned_away(environ, "long_work_waits", LONG_RETRY_S)
        self.long += 1
        try:
            return await asyncio.get_running_loop().run_in_executor(self.long_threads, answer_of, self.app, environ)
        finally:
            self.long -= 1

    async def _turned_away(self, environ: Environ, code: str, wait_s: int) -> Answer:
        return await self._in_thread(answer_of, self.app, environ | {"layby.busy": (code, wait_s)})

    async def _in_thread(self, work: Callable[..., Result], *arguments: Any) -> Result:
        return await asyncio.get_running_loop().run_in_executor(self.threads, work, *arguments)

    async def _take(self, body: Body, protocol: Any, known: bool) -> None:
        """The body, or as much of it as may be waited for."""
        if known:
            await self._wait_for(body, protocol, READ_OUT_MOST, SILENCE_S + body.worth / LEAST_RATE)
        elif self.strangers < STRANGERS_MOST:
            self.strangers += 1
            try:
                await self._wait_for(body, protocol, STRANGER_MOST, STRANGER_S)
            finally:
                self.strangers -= 1

    async def _wait_for(self, body: Body, protocol: Any, most: int, patience_s: float) -> None:
        """As much of a body as arrives before the sender falls silent, sends too much, or the service has to stop."""

        async def read() -> None:
            async for piece in protocol:
                body.add(piece)
                if body.came >= most:
                    return

        loop = asyncio.get_running_loop()
        # A separate task: the server's own kind of task can't be cancelled.
        reading, ending = loop.create_task(read()), loop.create_task(self.ending.wait())
        before, until = -1, loop.time() + patience_s
        while not reading.done() and not ending.done() and body.came > before and loop.time() < until:
            before = body.came
            patience = min(SILENCE_S, until - loop.time())
            await asyncio.wait({reading, ending}, timeout=patience, return_when=asyncio.FIRST_COMPLETED)
        if ending.done():
            await asyncio.wait({reading}, timeout=AT_END_S)
        ending.cancel()
        if reading.done():
            reading.exception()
        else:
            reading.cancel()
