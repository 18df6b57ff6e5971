"""Hundreds of connections that say little or nothing, with and without TLS: an honest phone is served meanwhile.

Real sockets on loopback; nothing is timed: the phone's answer comes while the others are still open.
"""

from __future__ import annotations

import select
import socket
import ssl
from contextlib import ExitStack
from pathlib import Path

import pytest

from tests.server.test_body_reader import begin
from tests.server.test_endpoint import NAME, SecureService, asked, authority, files, trusting  # noqa: F401 -- fixtures
from tests.support.service import PATIENCE_S, Service

SLOW = 300

def silent(service: Service) -> socket.socket:
    """A connection on which nothing is said."""
    return socket.create_connection(("127.0.0.1", service.port), timeout=PATIENCE_S)


def test_slow_bodies_and_heads_keep_no_phone_waiting(service: Service) -> None:
    """Three hundred in the middle of their bodies, as many in the middle of their heads: a phone gets its answer."""
    shown = service.bearer()["Authorization"]
    with ExitStack() as ends:
        heads = [ends.enter_context(silent(service)) for _ in range(SLOW)]
        for head in heads:
            head.sendall(b"POST /sync HTTP/1.1\r\nHost:")
        head = {"Content_Type": "text/plain", "Authorization": shown}
        bodies = [ends.enter_context(begin(service, "POST /sync", 1000, **head)) for _ in range(SLOW)]
        for body in bodies:
            body.sendall(b"abc")
        assert service.get("/receipts")[0] == 200
        assert select.select(bodies, [], [], 0)[0] == [], "a sender was given up, so it did not hang on meanwhile"


def test_silent_handshakes_keep_no_phone_waiting(
    folder: Path, files: tuple[Path, Path], trusting: ssl.SSLContext, monkeypatch: pytest.MonkeyPatch  # noqa: F811
) -> None:
    """The same over TLS, where nothing is known about a caller before the handshake is done."""
    service = SecureService(folder)
    monkeypatch.setenv("LAYBY_ADDRESS", f"https://{NAME}:{service.port}")
    service.start("--certificate", str(files[0]), "--key", str(files[1]))
    with ExitStack() as ends:
        handshakes = [ends.enter_context(silent(service)) for _ in range(SLOW)]
        assert asked(service, trusting, "/rulebook.json", "localhost")[0] == 200
        assert select.select(handshakes, [], [], 0)[0] == [], "a handshake was given up, so none hung on"
    service.stop()
