"""The gate before all routes, over a real port: whose bodies are held, and what happens to half-sent ones at the end.

Other tests cover what the routes then answer.
"""

from __future__ import annotations

import select
import signal
import socket
from contextlib import ExitStack
from pathlib import Path

import pytest

from server.http.body_reader import READ_OUT_MOST
from server.http.underway import EACH_MOST
from sync.work.intake import BODY_MOST
from tests.records.test_photos import name_of, photo
from tests.server.test_photo_routes import held
from tests.server.test_service import file_one, worker_of
from tests.support.service import PATIENCE_S, Service

CHUNK = b"x" * 65_536
FORM = "multipart/form-data; boundary=x"
KINDS = {"POST /pair": "application/json", "POST /desk/sign-in": "application/x-www-form-urlencoded"}


def begin(service: Service, head: str, length: int, **shown: str) -> socket.socket:
    """A connection on which a request's head was sent: method and path, and fields with underscores for hyphens."""
    fields = {"Host": "localhost", "Content_Length": str(length), **shown}
    lines = [f"{head} HTTP/1.1", *(f"{name.replace('_', '-')}: {value}" for name, value in fields.items())]
    connection = socket.create_connection(("127.0.0.1", service.port), timeout=60)
    connection.sendall("\r\n".join(lines).encode() + b"\r\n\r\n")
    return connection


def status_on(connection: socket.socket) -> int:
    """The status of the answer that comes back."""
    said = b""
    while b"\r\n" not in said:
        piece = connection.recv(65_536)
        assert piece, f"the connection ended before an answer: {said!r}"
        said += piece
    return int(said.split(b" ", 2)[1])


def holds_mb(service: Service) -> int:
    """The memory that the worker holds [MB]."""
    status = Path(f"/proc/{worker_of(service)}/status").read_text("ascii")
    return int(status.split("VmRSS:")[1].split()[0]) // 1000


@pytest.mark.parametrize(("head", "kind", "status"), [
    ("POST /sync", "text/plain", 401), ("POST /bundles", "text/plain", 401), ("POST /desk/do/receive", FORM, 303),
    ("POST /no/such", "text/plain", 405),
])  # fmt: skip
def test_what_nobody_may_send_is_read_as_far_as_a_phone_sends(
    desk: Service, head: str, kind: str, status: int
) -> None:
    """The largest batch of a revoked phone is read to its end, so that it gets to read why."""
    with begin(desk, head, BODY_MOST, Content_Type=kind) as sender:
        sender.sendall(b"x" * BODY_MOST)
        assert status_on(sender) == status


@pytest.mark.parametrize("head", ["POST /bundles", "POST /desk/do/receive", "POST /no/such"])
def test_what_nobody_may_send_is_not_held(desk: Service, head: str) -> None:
    """Eight bodies of 16 MiB at once, sent while they are accepted: not to their end, and the worker holds none."""
    before = holds_mb(desk)
    with ExitStack() as ends:
        senders = [ends.enter_context(begin(desk, head, READ_OUT_MOST, Content_Type="text/plain")) for _ in range(8)]
        assert [taken(sender) < READ_OUT_MOST // 2 for sender in senders] == [True] * 8
        assert holds_mb(desk) - before < 64


def taken(sender: socket.socket) -> int:
    """How much of a body could be sent before the connection was ended [bytes]."""
    sent = 0
    try:
        while sent < READ_OUT_MOST:
            sender.sendall(CHUNK)
            sent += len(CHUNK)
    except ConnectionError:
        return sent
    return sent


def test_a_stranger_is_not_waited_for_as_a_phone_is(desk: Service) -> None:
    """Both send three bytes and no more: the stranger, who came later, gets an answer while the phone is waited for."""
    shown = desk.bearer()["Authorization"]
    with ExitStack() as ends:
        phone = ends.enter_context(begin(desk, "POST /sync", 1000, Content_Type="text/plain", Authorization=shown))
        phone.sendall(b"abc")
        for head, status in (("POST /sync", 401), ("POST /pair", 408), ("POST /desk/sign-in", 408)):
            stranger = ends.enter_context(begin(desk, head, 1000, Content_Type=KINDS.get(head, "text/plain")))
            stranger.sendall(b"abc")
            assert status_on(stranger) == status
        assert status_on(phone) == 408


def test_one_caller_does_not_take_the_places_of_all(desk: Service) -> None:
    """Behind a proxy on this machine: an address has a limit of requests, one more is sent away, another is served."""
    shown = {**desk.bearer(), "Content-Type": "text/plain"}
    head = {name.replace("-", "_"): value for name, value in shown.items()}
    with ExitStack() as ends:
        near = {**head, "X_Forwarded_For": "203.0.113.9, 198.51.100.7"}
        senders = [ends.enter_context(begin(desk, "POST /sync", 1000, **near)) for _ in range(EACH_MOST + 1)]
        [one], _, _ = select.select(senders, [], [], PATIENCE_S)
        said = one.recv(65_536)
        assert b" 503 " in said.splitlines()[0]
        assert b"too_many_at_once" in said
        assert b"retry-after: " in said.lower()
        for other in ("203.0.113.9", "198.51.100.7, 203.0.113.10", ""):
            with begin(desk, "GET /receipts", 0, **{**head, "X_Forwarded_For": other}) as asking:
                assert status_on(asking) == 200
        with begin(desk, "GET /receipts", 0, **near) as asking:
            assert status_on(asking) == 503


def test_who_is_paired_sends_a_large_body_as_before(desk: Service) -> None:
    """A part of 16 MiB that isn't one of our files is read and named as such."""
    shown = desk.bearer()["Authorization"]
    with begin(desk, "POST /bundles", READ_OUT_MOST, Content_Type="text/plain", Authorization=shown) as sender:
        for _ in range(READ_OUT_MOST // len(CHUNK)):
            sender.sendall(CHUNK)
        assert status_on(sender) == 200


@pytest.mark.long
@pytest.mark.parametrize(("head", "status"), [("POST /bundles", 401), ("POST /pair", 413)])
def test_who_is_not_let_in_keeps_no_connection(desk: Service, head: str, status: int) -> None:
    """A byte now and then of a body announced as large: the answer comes while it is still being sent."""
    with begin(desk, head, READ_OUT_MOST, Content_Type="text/plain") as sender:
        sender.settimeout(3)
        for _ in range(20):
            sender.sendall(b"a")
            try:
                assert status_on(sender) == status
                return
            except TimeoutError:
                continue
    pytest.fail("no answer within a minute")


@pytest.mark.parametrize("which", [signal.SIGTERM, signal.SIGINT])
def test_half_sent_requests_do_not_hold_up_the_end(service: Service, which: signal.Signals) -> None:
    """The service ends by itself and its note is removed; each sender is told, and a photo's piece is kept."""
    file_one(service)
    shown = service.bearer()["Authorization"]
    content = photo(size=(500, 400))
    total, half = len(content), len(content) // 2
    piece = {"Content_Type": "application/offset+octet-stream", "Upload_Offset": "0", "Upload_Length": str(total)}
    with ExitStack() as ends:
        batch = ends.enter_context(begin(service, "POST /sync", 1000, Content_Type="text/plain", Authorization=shown))
        batch.sendall(b"abc")
        stranger = ends.enter_context(begin(service, "POST /bundles", 1000, Content_Type="text/plain"))
        stranger.sendall(b"abc")
        sending = begin(service, f"PATCH /blobs/{name_of(content)}", total, Authorization=shown, **piece)
        ends.enter_context(sending).sendall(content[:half])
        beginning = ends.enter_context(socket.create_connection(("127.0.0.1", service.port), timeout=60))
        beginning.sendall(b"POST /sync HTTP/1.1\r\nHost:")
        assert service.get("/changes")[0] == 200, "a later request shows that the earlier heads have been read"
        assert service.child is not None
        service.child.send_signal(which)
        assert service.child.wait() == 0
        assert [status_on(one) for one in (batch, stranger, sending)] == [408, 401, 400]
    assert not (service.folder / "service.json").exists(), "the worker was killed before it had ended"
    service.start()
    status, offset, length = held(service, name_of(content))
    assert (status, int(offset or 0), int(length or 0)) == (200, half, total)
