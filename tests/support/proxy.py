"""A TCP proxy between a phone and its desk: it cuts, delays and drops, but invents nothing.

It forwards bytes as they are, except for the host's name and for closing each connection after one answer; no test
lives here.
"""

from __future__ import annotations

import re
import socket
import struct
import threading
import time
from collections.abc import Callable
from types import TracebackType
from typing import NamedTuple

from tests.support.threads import join

CHUNK = 1 << 14


class Trouble(NamedTuple):
    """What happens to a request: its `way`, and an `amount` of seconds or bytes.

    cut: the request is taken from the phone and never reaches the desk. drop: the desk answers, the answer is lost.
    delay: the answer comes this many seconds late. cut_body: this many bytes of the body reach the desk, then both ends
    are cut off. damage: one bit of the body is changed, this many bytes from its end. cut_answer: the desk answers, and
    this share of the answer's body (of its head, if it has no body) reaches the phone before it is cut off; with a
    share of 0 nothing comes, not even the head.
    """

    way: str
    amount: float = 0


Rule = Callable[[str, str], "Trouble | None"]


class Proxy:
    """A proxy on its own loopback port. `rule` is asked for each request; `met` lists what was done to which.

    Args of the constructor:
        desk_port: where the desk listens [port]
    """

    def __init__(self, desk_port: int) -> None:
        self.desk_port = desk_port
        self.rule: Rule = lambda method, path: None
        self.met: list[tuple[str, str, str]] = []
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._listener.getsockname()[1])
        self.url = f"http://127.0.0.1:{self.port}"
        self._threads: list[threading.Thread] = []
        self._open: set[socket.socket] = set()
        self._ended = False

    def __enter__(self) -> Proxy:
        self._threads.append(threading.Thread(target=self._accept, daemon=True))
        self._threads[0].start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._ended = True
        self._listener.shutdown(socket.SHUT_RDWR)
        for side in list(self._open):
            reset(side)
        join(*self._threads)
        self._listener.close()

    def count(self, way: str) -> int:
        """How many requests met with trouble."""
        return sum(met == way for _, _, met in self.met)

    def met_a(self, method: str) -> bool:
        """Whether a request with this method has already come by."""
        return any(met == method for met, _, _ in self.met)

    def _accept(self) -> None:
        while not self._ended:
            try:
                phone, _ = self._listener.accept()
            except OSError:
                return
            thread = threading.Thread(target=self._serve, args=(phone,), daemon=True)
            self._threads.append(thread)
            thread.start()

    def _serve(self, phone: socket.socket) -> None:
        """One request and its answer; a side that goes away ends it."""
        self._open.add(phone)
        desk = socket.socket()
        self._open.add(desk)
        try:
            head, body = self._head(phone)
            if head:
                self._carry(phone, desk, head, body)
        except OSError:
            reset(phone)
        finally:
            for side in (phone, desk):
                self._open.discard(side)
                side.close()

    def _head(self, phone: socket.socket) -> tuple[bytes, bytes]:
        """The head of the request, and what arrived of the body with it; empty if the phone closed without asking."""
        got = b""
        while b"\r\n\r\n" not in got:
            piece = phone.recv(CHUNK)
            if not piece:
                return b"", b""
            got += piece
        head, _, body = got.partition(b"\r\n\r\n")
        return head, body

    def _carry(self, phone: socket.socket, desk: socket.socket, head: bytes, body: bytes) -> None:
        method, path = head.split(b" ", 2)[:2]
        trouble = self.rule(method.decode(), path.decode()) or Trouble("pass")
        self.met.append((method.decode(), path.decode(), trouble.way))
        length = re.search(rb"(?im)^content-length:\s*(\d+)", head)
        whole = int(length[1]) if length else 0
        if trouble.way == "cut":
            _read_on(phone, len(body), whole)
            return reset(phone)
        desk.connect(("127.0.0.1", self.desk_port))
        desk.sendall(self._renamed(head))
        sent = min(whole, int(trouble.amount)) if trouble.way == "cut_body" else whole
        _pass_on(phone, desk, body, sent, int(trouble.amount) if trouble.way == "damage" else 0)
        if trouble.way == "cut_body":
            desk.shutdown(socket.SHUT_WR)
            _read_all(desk)  # until it has seen that there is no more: the next one to ask is told how far it came
            reset(phone)
            return None
        answer = _read_all(desk)
        if trouble.way == "drop":
            return reset(phone)
        if trouble.way == "delay":
            time.sleep(trouble.amount)
        answer = answer.replace(b"\r\n", b"\r\nConnection: close\r\n", 1)
        if trouble.way == "cut_answer":
            return _cut_off(phone, answer, trouble.amount)
        phone.sendall(answer)
        phone.shutdown(socket.SHUT_WR)
        return None

    def _renamed(self, head: bytes) -> bytes:
        """The request's head as the desk expects it: its own name, and one answer per connection."""
        here, there = f"127.0.0.1:{self.port}".encode(), f"127.0.0.1:{self.desk_port}".encode()
        lines = [line.replace(here, there) for line in head.split(b"\r\n")]
        kept = [line for line in lines if not line.lower().startswith(b"connection:")]
        return b"\r\n".join([*kept, b"Connection: close", b"", b""])


def reset(side: socket.socket) -> None:
    """Cut a connection off, as a lost network does, instead of ending it properly."""
    try:
        side.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        side.close()
    except OSError:
        return


def _cut_off(phone: socket.socket, answer: bytes, share: float) -> None:
    """Send a share of an answer and cut the connection off once the phone has received it."""
    head, blank, body = answer.partition(b"\r\n\r\n")
    whole = len(head) + len(blank) if body else 0
    sent = 0 if share == 0 else whole + int(share * (len(answer) - whole))
    phone.sendall(answer[:sent])
    if sent == len(answer):
        phone.shutdown(socket.SHUT_WR)
        phone.recv(CHUNK)  # a reset would take back what the phone hasn't read yet
    reset(phone)


def _read_all(side: socket.socket) -> bytes:
    pieces = []
    while piece := side.recv(CHUNK):
        pieces.append(piece)
    return b"".join(pieces)


def _read_on(side: socket.socket, have: int, whole: int) -> None:
    while have < whole:
        piece = side.recv(CHUNK)
        if not piece:
            return
        have += len(piece)


def _pass_on(phone: socket.socket, desk: socket.socket, first: bytes, count: int, damaged: int) -> None:
    """Exactly `count` bytes of the body, the first of which are already there; one damaged, from the end, unless 0."""
    piece, sent = first[:count], 0
    while True:
        at = count - damaged - sent
        if damaged and 0 <= at < len(piece):
            piece = piece[:at] + bytes([piece[at] ^ 1]) + piece[at + 1 :]
        desk.sendall(piece)
        sent += len(piece)
        piece = phone.recv(min(CHUNK, count - sent)) if sent < count else b""
        if not piece:
            return
