"""Hostile requests over real HTTP: to anything sent to any route, the answer is a named fault and no crash.

Seeded, so that every run sends the same; nothing here looks into the service, only at its answers and its log.
"""

from __future__ import annotations

import contextlib
import copy
import hashlib
import http.client
import json
import random
import socket
from collections.abc import Iterator
from typing import Any
from urllib.parse import quote, quote_from_bytes, urlencode

import pytest

from tests.support.ops import JUNE_12, Phone, body_of, framed
from tests.support.service import PATIENCE_S, Service
from tests.support.visitor import Visitor, running_desk

# The longest an answer may take; the test looks for hangs, not slowness.
# JSON texts that a reader may stumble over (RFC 8259 says nothing about most of them), for any place.
HOSTILE = (
    "NaN", "Infinity", "-Infinity", "1e400", "-1e400", "1e-400", "9" * 5000, "-0", "1" + "0" * 400 + ".5", "0.1e1",
    '"\\ud800"', '"\\udfff\\ud800"', '"\\u0000"', '"' + "x" * 70_000 + '"', '""', '"  "', "null", "true", "[]", "{}",
    "[" * 40 + "]" * 40, "[" * 5000, '{"a":' * 40 + "1" + "}" * 40, '{"id":1,"id":2}', '{"__proto__":{"x":1}}',
    '{"\\ud800":1}', '"2026-02-30T25:61:00+99:99"', '"0001-01-01T00:00:00+14:00"', '"9999-12-31T23:59:59-14:00"',
    '"../../etc/passwd"', "12.7", '"12.5"', "1e308", "-9007199254740992", "9007199254740993", "[[[[1]]]]", "/**/1",
)  # fmt: skip
WORDS = (
    "", "0", "-1", "²", "٣", "1e400", "NaN", "9" * 5000, "a" * 5000, "../..", "%", "\x00", "\ud800", "'\"<script>",
    "-1.0.00000000.0", "-1.", "-1.²", "0.0.00000000.0", "0.19.00000000.1", "1.2.3.4", "0001-01-01", "9999-12-31",
    "2026-02-30", "019ebcb4-8d7c-7000-8000-000000000001", "de5c", "7e57",
)  # fmt: skip


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """A real service for all tests here; at the end its log is free of crashes, and it still files."""
    with running_desk(tmp_path_factory.mktemp("desk")) as running:
        yield running
        phone = Phone("7e57", JUNE_12 + 9_000_000)
        status, _, content = running.post("/sync", body_of(phone.opening(phone.new_id())))
        assert (status, json.loads(content)["results"][0]["status"]) == (200, "accepted")


def answered(desk: Service, method: str, path: str, body: bytes | None, headers: dict[str, str]) -> tuple[int, bytes]:
    """Status and body of one request; every fault must be a problem that names its code."""
    connection = http.client.HTTPConnection("127.0.0.1", desk.port, timeout=PATIENCE_S)
    try:
        connection.request(method, path, body, headers)
        answer = connection.getresponse()
        content = answer.read()
    finally:
        connection.close()
    about = (method, path[:120], (body or b"")[:200], answer.status, content[:300])
    assert answer.status < 500, about
    if answer.status >= 400 and method != "HEAD" and answer.headers.get_content_type() != "text/html":
        assert answer.headers.get_content_type() == "application/problem+json", about
        assert json.loads(content)["code"], about
    return answer.status, content


def mutants(dice: random.Random, count: int) -> Iterator[bytes]:
    """Operations with something hostile in one place, as JSON texts; some have only their bytes disturbed."""
    phone = Phone("7e57")
    for number in range(count):
        visit = phone.new_id()
        body = {"id": "b1", "role": "before", "at": "2026-06-12T09:05:00-07:00", "readings": {"vent_c": 7.0}}
        op = dice.choice((
            phone.opening(visit), phone.op(visit, "test.add", body), phone.plate(visit, "ALD 4127"),
            phone.op(visit, "op.mend", {"replaces": visit, "kind": "test.add", "body": body}),
            phone.op(visit, "conflict.settle", {"of": [visit], "set": {"complaint": "warm"}}),
            phone.beside("customer.merge", keep="c1", drop="c2"), phone.beside("vehicle.set", id="v1", plate="A"),
            phone.beside("baseline.mark", vehicle="v1", visit=visit, test="b1", healthy=True),
        ))  # fmt: skip
        text = json.dumps(struck(copy.deepcopy(op), dice)).replace('"HOSTILE"', dice.choice(HOSTILE))
        if number % 5:
            yield text.encode()
        else:
            disturbed = bytearray(text.encode())
            for _ in range(dice.randint(1, 4)):
                disturbed[dice.randrange(len(disturbed))] = dice.choice((0x00, 0x22, 0x5C, 0x7B, 0x80, 0xFF, 0x0D))
            yield bytes(disturbed).replace(b"\n", b" ")


def struck(op: dict[str, Any], dice: random.Random) -> dict[str, Any]:
    """The operation with a mark in one place, at any depth, or with a member that doesn't belong there."""
    here: Any = op
    while True:
        name = dice.choice([*here, "__proto__"])
        if dice.random() < 0.5 or not isinstance(here.get(name), dict) or not here[name]:
            here[name] = "HOSTILE"
            return op
        here = here[name]


def test_no_operation_crashes_the_desk(desk: Service) -> None:
    """Four hundred hostile operations, each with a correct hash: one result per line, and a repeat gets the same."""
    dice = random.Random(4)
    ops = list(mutants(dice, 400))
    headers = {"Content-Type": "text/plain", **desk.bearer("7e57")}
    for start in range(0, len(ops), 5):
        lines = b"".join(framed(op) for op in ops[start : start + 5])
        told = []
        for _ in range(2):
            status, content = answered(desk, "POST", "/sync", lines, headers)
            assert status == 200, (content, lines[:500])
            told.append(json.loads(content)["results"])
        assert [one["status"] for one in told[0]] == [one["status"] for one in told[1]]
        stored = [one for one in told[1] if one["status"] != "deferred"]
        assert all(one["repeat"] for one in stored)
        assert all(one["problem"]["errors"] for one in told[1] if one["status"] == "rejected")


def test_no_body_crashes_a_route(desk: Service) -> None:
    """Random bytes, broken frames and hostile JSON to every route that takes a body, from any caller."""
    dice = random.Random(5)
    key = json.loads((desk.folder / "service.json").read_text())["key"]
    places = [("/sync", "text/plain"), ("/bundles", "text/plain"), ("/pair", "application/json"),
              ("/desk/find", "application/json"), ("/desk/card", "application/json"), ("/desk/no", "application/json")]
    keys = [{}, desk.bearer("7e57"), {"Authorization": f"Bearer {key}"}, {"Authorization": "Bearer \xe4"}]
    for _ in range(60):
        path, kind = dice.choice(places)
        kind = dice.choice((kind, kind, "text/html", "\xe4", ""))
        answered(desk, "POST", path, hostile_body(dice), {"Content-Type": kind, **dice.choice(keys)})
    for path, kind in places[2:]:
        for text in HOSTILE:
            code = text if path == "/pair" else f'{{"text":{text},"what":"vehicle","id":{text}}}'
            if text in ("null", "true", "[]", "{}") or path != "/desk/find":
                answered(desk, "POST", path, code.encode(), {"Content-Type": kind, **keys[2]})


def hostile_body(dice: random.Random) -> bytes:
    """Bytes that aren't a batch or a part, or nearly one."""
    noise = dice.randbytes(dice.choice((0, 1, 64, 70, 5000)))
    text = dice.choice(HOSTILE).encode()
    part = b"\n".join((b"layby-bundle 1 7e57 1/1", framed(text).rstrip(b"\n"), noise.replace(b"\n", b" "),
                       b"blob " + b"0" * 64 + b" 999999999 AAAA",
                       b"blob " + b"0" * 64 + b" 0 ====", b"end 4 " + b"0" * 64))
    return dice.choice((noise, text, framed(text), framed(noise.replace(b"\n", b"")), part, b"0" * 64 + b" " + noise,
                        b"\n" * 60, framed(b"{}") * 51, b"\xef\xbb\xbf" + part))


def test_no_query_crashes_a_route(desk: Service, visitor: Visitor) -> None:
    """Every word in every query and path that takes one, at the phones' routes and the desk's."""
    bearer = desk.bearer("7e57")
    for word in WORDS:
        said = quote(word, safe="", errors="surrogatepass")
        for path in (f"/changes?after={said}", f"/receipts?after={said}", f"/receipts?limit={said}",
                     f"/changes?device={said}", f"/blobs/{said}", f"/visit/{said}", f"/{said}", f"/sheets/{said}.pdf"):
            answered(desk, "GET", path, None, bearer)
        answered(desk, "HEAD", f"/blobs/{said}", None, bearer)
        cookie = {"Cookie": visitor.cookie}
        for path in (f"/desk?day={said}", f"/desk?done={said}", f"/desk/search?text={said}", f"/desk/find?text={said}",
                     f"/desk/passphrase?key={said}", f"/sheets/{said}.pdf"):
            answered(desk, "GET", path, None, cookie)
        form = urlencode({"day": word, "sheet": word, "device": word, "form_token": visitor.token()}, errors="replace")
        for act in ("make", "approve", "revoke"):
            if (act, word) != ("revoke", "7e57"):
                kind = {"Content-Type": "application/x-www-form-urlencoded", **cookie}
                answered(desk, "POST", f"/desk/do/{act}", form.encode(), kind)


def test_no_piece_of_a_photo_crashes_the_desk(desk: Service) -> None:
    """Hostile offsets, lengths and heads of pictures: refused with a name, and nothing of them is kept."""
    dice = random.Random(6)
    heads = (b"\xff\xd8\xff", b"\xff\xd8\xff\xe0\x00\x00" * 9, b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + b"\xff" * 8,
             b"RIFF\x00\x00\x00\x00WEBPVP8X" + b"\xff" * 14, b"RIFF\x00\x00\x00\x00WEBPVP8L\x00\x00\x00\x00\x2f",
             b"\x00")
    for _ in range(80):
        content = dice.choice(heads) + dice.randbytes(dice.choice((0, 3, 400)))
        sha = dice.choice((hashlib.sha256(content).hexdigest(), "0" * 64, "A" * 64, quote_from_bytes(b"..%2f\x00")))
        told = {"Upload-Offset": dice.choice(("0", "0", "1", "-1", "9" * 12, "9" * 4000, "1e3", "\xb2")),
                "Upload-Length": dice.choice((str(len(content)), str(len(content)), "0", "2000001", "x"))}
        kind = {"Content-Type": "application/offset+octet-stream", **desk.bearer("7e57")}
        answered(desk, "PATCH", f"/blobs/{sha}", content, {**told, **kind})


@pytest.mark.parametrize("head", [
    b"GET / HTTP/1.1\r\n\r\n", b"GET / HTTP/1.1\r\nHost: evil.example\r\n\r\n",
    b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",
    b"POST /sync HTTP/1.1\r\nHost: localhost\r\nContent-Length: -5\r\n\r\n",
    b"POST /sync HTTP/1.1\r\nHost: localhost\r\nContent-Length: 99999999999999999999999\r\n\r\n",
    b"POST /sync HTTP/1.1\r\nHost: localhost\r\nContent-Length: abc\r\n\r\n",
    b"POST /sync HTTP/1.1\r\nHost: localhost\r\nContent-Length: +4\r\n\r\nabcd",
    b"POST /sync HTTP/1.1\r\nHost: localhost\r\nContent-Length: 4, 4\r\n\r\nabcd",
    b"POST /sync HTTP/1.1\r\nHost: localhost\r\nContent-Length: \xd9\xa3\r\n\r\nabc",
    b"POST /sync HTTP/1.1\r\nHost: localhost\r\nContent-Length: 4_0\r\n\r\nabc",
    b"GET /sync HTTP/1.1\r\nHost: localhost\r\nContent-Length:\r\n\r\nabc",
    b"HEAD / HTTP/1.1\r\nHost: localhost\r\nContent-Length: " + b"9" * 300 + b"\r\n\r\n",
    b"POST /sync HTTP/1.1\r\nHost: localhost\r\nContent-Length: 4\r\nContent-Length: 5\r\n\r\nabcd",
    b"POST /sync HTTP/1.1\r\nHost: localhost\r\nContent_Length: 4\r\nContent-Length: 1\r\n\r\na",
    b"POST /sync HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\nContent-Length: 1\r\n\r\n0\r\n\r\n",
    b"GET /changes HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer \xff\xfe\r\n\r\n",
    b"GET /%c3%28?x=%ff HTTP/1.1\r\nHost: localhost\r\nCookie: layby_desk=\xff; layby_desk=\"\\777\"\r\n\r\n",
    b"GET /\xff\xfe HTTP/1.1\r\nHost: localhost\r\n\r\n", b"BREW /sync HTTP/1.1\r\nHost: localhost\r\n\r\n",
    b"OPTIONS * HTTP/1.1\r\nHost: localhost\r\n\r\n", b"GET http://localhost/sync HTTP/1.1\r\nHost: localhost\r\n\r\n",
    b"TRACE / HTTP/1.0\r\nHost: [::1]:99999999\r\n\r\n",
])  # fmt: skip
def test_no_head_of_a_request_crashes_the_desk(desk: Service, head: bytes) -> None:
    """Heads that no browser sends get a fault or end the connection; nothing else."""
    with socket.create_connection(("127.0.0.1", desk.port), PATIENCE_S) as line:
        said = b""
        with contextlib.suppress(ConnectionError):  # so a connection ends where not all of the request was read
            line.sendall(head)
            with contextlib.suppress(OSError):  # it has ended already
                line.shutdown(socket.SHUT_WR)
            while piece := line.recv(65536):
                said += piece
    assert not said.startswith(b"HTTP/1.1 5"), said[:300]
