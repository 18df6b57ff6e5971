"""Filing over HTTP: a real service on a real port, used as a phone uses it and as a phone never should."""

from __future__ import annotations

import http.client
import json
import re
import socket
import threading
import time
from pathlib import Path
from typing import Any

import pytest

from tests.support import children
from tests.support.ops import JUNE_12, Phone, body_of, framed, line_of, uuid7
from tests.support.service import PATIENCE_S, Service
from tests.support.threads import join

NDJSON = "application/x-ndjson"


def problem(answer: tuple[int, Any, bytes], status: int, code: str) -> dict[str, Any]:
    """The one shape of every error (RFC 9457): media type, members, the sentence; its content."""
    found, headers, body = answer
    told: dict[str, Any] = json.loads(body)
    assert headers["Content-Type"] == "application/problem+json"
    assert set(told) - {"errors"} == {"type", "title", "status", "code", "detail"}
    assert (found, told["status"], told["code"]) == (status, status, code), told
    assert told["detail"].endswith("."), told
    guarded(headers)
    return told


def guarded(headers: Any) -> None:
    """The headers that every answer carries."""
    assert "default-src 'none'" in headers["Content-Security-Policy"]
    assert "unsafe" not in headers["Content-Security-Policy"]
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Cache-Control"] in ("no-store", "no-cache")


def results(service: Service, body: bytes) -> list[dict[str, Any]]:
    """The answer to a batch."""
    status, headers, content = service.post("/sync", body, NDJSON)
    assert status == 200, content
    guarded(headers)
    found: list[dict[str, Any]] = json.loads(content)["results"]
    return found


def raw(service: Service, *pieces: bytes) -> bytes:
    """Bytes over a plain socket, and the answer that comes back, with the body that its head announces."""
    with socket.create_connection(("127.0.0.1", service.port), timeout=PATIENCE_S) as connection:
        for piece in pieces:
            connection.sendall(piece)
        found = b""
        while not whole(found) and (piece := connection.recv(65536)):
            found += piece
        return found


def whole(answer: bytes) -> bool:
    """Whether all of an answer is there."""
    head, ended, body = answer.partition(b"\r\n\r\n")
    announced = re.search(rb"(?im)^content-length:\s*(\d+)", head)
    return bool(ended) and len(body) >= (int(announced[1]) if announced else 0)


def head_of(service: Service) -> bytes:
    """The beginning of a paired phone's POST /sync, to be continued."""
    shown = service.bearer()["Authorization"].encode()
    return b"POST /sync HTTP/1.1\r\nHost: localhost\r\nContent-Type: text/plain\r\nAuthorization: " + shown + b"\r\n"


def test_a_batch_is_filed_and_its_receipts_are_told(service: Service) -> None:
    """Once, again as a repeat, and as receipts of the device from any seq on."""
    phone = Phone()
    visit = phone.new_id()
    ops = [phone.opening(visit), phone.plate(visit, "A"), phone.test(visit, vent_c=400)]
    first = results(service, body_of(*ops))
    assert [(result["status"], result["repeat"]) for result in first] == [("accepted", False)] * 3
    status, _, _ = service.post("/sync", body_of(*ops), "text/plain; charset=utf-8")
    assert status == 200
    assert results(service, body_of(*ops)) == [{**result, "repeat": True} for result in first]
    _, _, content = service.get(f"/receipts?device={phone.device}&after=1")
    told = json.loads(content)["receipts"]
    assert [(receipt["seq"], receipt["id"], receipt["status"]) for receipt in told] == [
        (2, ops[1]["id"], "accepted"),
        (3, ops[2]["id"], "accepted"),
    ]
    assert told[0]["digest"] == line_of(ops[1])[:64].decode()


def test_receipts_come_in_parts(service: Service) -> None:
    """`next` leads on to the end without a gap; the last part has none."""
    phone = Phone()
    visit = phone.new_id()
    ops = [phone.opening(visit), *(phone.test(visit, f"t{number}") for number in range(24))]
    results(service, body_of(*ops))
    told, after, parts = [], 0, 0
    while after is not None:
        _, _, content = service.get(f"/receipts?device={phone.device}&after={after}&limit=10")
        part = json.loads(content)
        told += [receipt["id"] for receipt in part["receipts"]]
        after, parts = part["next"], parts + 1
    assert (told, parts) == ([op["id"] for op in ops], 3)


def test_changes_are_told_over_http(service: Service) -> None:
    """Another's operation on this device's visit, as journalled; nothing new after the cursor."""
    one, other = Phone("aaaa"), Phone("bbbb", ms=JUNE_12 + 50)
    visit = one.new_id()
    test = other.test(visit, vent_c=7)
    results(service, body_of(one.opening(visit)))
    results(service, body_of(test))
    status, headers, content = service.get("/changes?device=aaaa")
    guarded(headers)
    told = json.loads(content)
    assert (status, told["more"]) == (200, False)
    assert told["changes"] == [{"kind": "op", "line": line_of(test).decode().removesuffix("\n")}]
    _, _, content = service.get(f"/changes?device=aaaa&after={told['cursor']}")
    assert json.loads(content) == {"cursor": told["cursor"], "changes": [], "more": False, "person": None}


def test_an_entry_of_a_newer_form_waits_whole(service: Service) -> None:
    """The next schema: nothing of it is read or stored, what builds on it waits too, all others are filed."""
    phone = Phone()
    visit = phone.new_id()
    opening = phone.opening(visit)
    newer = {**phone.plate(visit, "A"), "schema": 2, "kind": "visit.dream", "body": {"moon": [1]}, "wave": 7}
    after = phone.plate(visit, "B", newer["id"])
    beside = phone.test(visit, vent_c=7)
    for repeat in (False, True):
        found = results(service, body_of(opening, newer, after, beside))
        assert [result["status"] for result in found] == ["accepted", "deferred", "deferred", "accepted"]
        assert [result["repeat"] for result in found] == [repeat, False, False, repeat]
        assert [found[at]["problem"]["code"] for at in (1, 2)] == ["newer_schema", "base_not_seen"]
        assert b"visit.dream" not in (service.folder / "journal.log").read_bytes()
    older = {**phone.test(visit, "t2"), "schema": 0}
    assert results(service, body_of(older))[0]["problem"]["errors"][0]["pointer"] == "/schema"


def test_faults_of_shape_are_rejected_and_the_service_stays_up(service: Service) -> None:
    """Hostile lines among good ones: each gets its answer, the good ones are filed, and so is the next batch."""
    phone = Phone()
    visit = phone.new_id()
    good = [phone.opening(visit), phone.plate(visit, "A")]
    hostile = [b"[" * 100_000, b'{"id":NaN}', b'{"a":1e400}', b'"\\ud800"', b"{}", b"null", b'{"a":' * 5000, b"\xff"]
    lines = [line_of(good[0]), *(framed(json_bytes) for json_bytes in hostile), line_of(good[1])]
    found = results(service, b"".join(lines))
    assert [result["status"] for result in found] == ["accepted"] + ["rejected"] * len(hostile) + ["accepted"]
    assert all(result["problem"]["errors"] for result in found[1:-1])
    assert all(result["repeat"] for result in results(service, body_of(*good)))


@pytest.mark.parametrize(
    ("body", "content_type", "status", "code"),
    [
        (b"hello", NDJSON, 400, "not_lines"),
        (b"", NDJSON, 400, "not_lines"),
        (b"0" * 64 + b" ", NDJSON, 400, "not_lines"),
        (b'{"results": []}', NDJSON, 400, "not_lines"),
        (framed(b"{}") * 51, NDJSON, 400, "too_many_lines"),
        (framed(b"{}"), "application/json", 415, "wrong_type"),
        (framed(b"{}"), "multipart/form-data; boundary=x", 415, "wrong_type"),
        (framed(b'"' + b"x" * 512_000 + b'"'), NDJSON, 413, "body_too_large"),
        (b"x" * 5_000_000, NDJSON, 413, "body_too_large"),
    ],
)
def test_an_envelope_fault_teaches_nothing(
    desk: Service, body: bytes, content_type: str, status: int, code: str
) -> None:
    """4xx with its code; none of it is filed."""
    before = (desk.folder / "journal.log").read_bytes()
    problem(desk.post("/sync", body, content_type), status, code)
    assert (desk.folder / "journal.log").read_bytes() == before
    assert desk.answers()


def test_a_full_batch_is_taken(service: Service) -> None:
    """50 lines, together just under 512,000 bytes."""
    phone = Phone()
    visit = phone.new_id()
    ops = [phone.opening(visit)]
    for number in range(49):
        ops.append(phone.test(visit, f"t{number}"))
        ops[-1]["body"]["note"] = "ä" * 4000
    body = body_of(*ops)
    assert 380_000 < len(body) <= 512_000
    assert {result["status"] for result in results(service, body)} == {"accepted"}


def test_a_body_without_its_length_is_refused(service: Service) -> None:
    """A chunked body, whole and cut short, and none announced at all: 411."""
    head = head_of(service)
    line = framed(b"{}")
    chunk = b"%x\r\n%b\r\n" % (len(line), line)
    for rest in (b"Transfer-Encoding: chunked\r\n\r\n" + chunk + b"0\r\n\r\n", b"\r\n"):
        answer = raw(service, head + rest)
        assert answer.startswith(b"HTTP/1.1 411 "), answer
        assert b"application/problem+json" in answer
        assert b'"no_length"' in answer
    assert (service.folder / "journal.log").read_bytes() == b""


def test_phones_that_fall_silent_do_not_hold_up_the_others(service: Service) -> None:
    """Twenty requests whose bodies stop in the middle, twenty that send nothing: a good batch is filed meanwhile."""
    head = head_of(service) + b"Content-Length: 1000\r\n\r\nabc"
    silent = [socket.create_connection(("127.0.0.1", service.port)) for _ in range(40)]
    try:
        for connection in silent[:20]:
            connection.sendall(head)
        phone = Phone()
        body = body_of(phone.opening(phone.new_id()))
        answered: list[list[dict[str, Any]]] = []
        work = threading.Thread(target=lambda: answered.append(results(service, body)), daemon=True)
        work.start()
        join(work)  # which ends while the others are silent
        assert answered[0][0]["status"] == "accepted"
    finally:
        for connection in silent:
            connection.close()
    assert service.answers()


@pytest.mark.long
def test_a_body_that_stops_coming_is_given_up(desk: Service) -> None:
    """408 after a while, though the connection is still open."""
    head = head_of(desk) + b"Content-Length: 1000\r\n\r\nabc"
    with socket.create_connection(("127.0.0.1", desk.port), timeout=PATIENCE_S) as connection:
        connection.sendall(head)
        assert connection.recv(65536).startswith(b"HTTP/1.1 408 ")


@pytest.mark.long
def test_a_body_that_comes_drop_by_drop_is_given_up(desk: Service) -> None:
    """408 after a while, although a byte came every few seconds."""
    head = head_of(desk) + b"Content-Length: 1000\r\n\r\n"
    with socket.create_connection(("127.0.0.1", desk.port), timeout=3) as connection:
        connection.sendall(head)
        for _ in range(20):
            connection.sendall(b"a")
            try:
                answer = connection.recv(65536)
            except TimeoutError:
                continue
            break
        assert answer.startswith(b"HTTP/1.1 408 ")


def test_a_body_that_ends_early_is_not_filed(service: Service) -> None:
    """One complete line of two announced ones arrived, then the phone was gone."""
    phone = Phone()
    visit = phone.new_id()
    line = line_of(phone.opening(visit))
    head = head_of(service) + b"Content-Length: %d\r\n\r\n" % (len(line) * 2)
    with socket.create_connection(("127.0.0.1", service.port)) as connection:
        connection.sendall(head + line)
    time.sleep(0.3)
    assert (service.folder / "journal.log").read_bytes() == b""
    assert results(service, line)[0]["repeat"] is False


@pytest.mark.parametrize(
    ("path", "status", "code"),
    [
        ("/receipts?limit=x", 400, "bad_query"),
        ("/receipts?device=XYZ", 400, "bad_query"),
        ("/receipts?device=abcd&after=-1", 400, "bad_query"),
        ("/receipts?device=abcd&after=1.5", 400, "bad_query"),
        ("/receipts?device=../../etc", 400, "bad_query"),
        ("/receipts?device=abcd&limit=0", 400, "bad_query"),
        ("/changes?device=zz", 400, "bad_query"),
        ("/changes?device=abcd&after=nonsense", 400, "bad_cursor"),
        ("/no-such-file.js", 404, "no_such_page"),
        ("/form/", 404, "no_such_page"),
        ("/../sync/errors.py", 404, "no_such_page"),
        ("/%2e%2e/%2e%2e/etc/passwd", 404, "no_such_page"),
        ("/__init__.py", 404, "no_such_page"),
        ("/rulebook/none.json", 404, "no_such_page"),
        ("/visit/5", 404, "no_such_page"),
        ("/visit/a%0D%0Ab", 404, "not_found"),
        ("/a%0Ab", 404, "not_found"),
        ("/sheets/5.pdf", 404, "no_such_page"),
        (f"/sheets/{uuid7(5, 5)}.pdf", 404, "unknown_visit"),
    ],
)
def test_every_error_has_the_one_shape(desk: Service, path: str, status: int, code: str) -> None:
    """Problem details with a sentence, from any part of the desk."""
    problem(desk.get(path), status, code)


def test_another_protocol_is_told(desk: Service) -> None:
    """A request for a web socket gets a sentence; a program's own code doesn't count as one."""
    connection = http.client.HTTPConnection("127.0.0.1", desk.port, timeout=PATIENCE_S)
    connection.request("GET", "/visit/5", headers={"Connection": "upgrade", "Upgrade": "websocket"})
    response = connection.getresponse()
    problem((response.status, response.headers, response.read()), 400, "bad_request")
    connection.close()


def test_another_method_is_told(desk: Service) -> None:
    """405 names what the address accepts."""
    connection = http.client.HTTPConnection("127.0.0.1", desk.port, timeout=PATIENCE_S)
    connection.request("DELETE", "/sync")
    response = connection.getresponse()
    told = problem((response.status, response.headers, response.read()), 405, "method_not_allowed")
    assert told["title"] == "Method Not Allowed"
    assert "POST" in response.headers["Allow"]
    connection.close()


@pytest.mark.parametrize("host", ["evil.example", "localhost.evil.example", "127.0.0.1.evil:80", "", "10.0.0.1"])
def test_a_foreign_host_name_is_refused(desk: Service, host: str) -> None:
    """A page of another origin that points its name here gets nothing."""
    connection = http.client.HTTPConnection("127.0.0.1", desk.port, timeout=PATIENCE_S)
    connection.request("GET", "/rulebook.json", headers={"Host": host})
    response = connection.getresponse()
    problem((response.status, response.headers, response.read()), 421, "not_for_this_host")
    connection.close()


@pytest.mark.parametrize("host", ["localhost", "LOCALHOST:8765", "127.0.0.1:1", "[::1]", "[::1]:8765"])
def test_its_own_names_are_answered(desk: Service, host: str) -> None:
    """With and without a port."""
    connection = http.client.HTTPConnection("127.0.0.1", desk.port, timeout=PATIENCE_S)
    connection.request("GET", "/rulebook.json", headers={"Host": host})
    assert connection.getresponse().status == 200
    connection.close()


@pytest.mark.parametrize("shown", [None, "", "Bearer", "Bearer ", "Bearer 0", "Basic eDp5", "Bearer " + "x" * 4000])
@pytest.mark.parametrize(("method", "path"), [("POST", "/sync"), ("GET", "/receipts?device=beef")])
def test_a_phone_that_is_not_paired_learns_nothing(desk: Service, method: str, path: str, shown: str | None) -> None:
    """401 without a token, with a wrong one, with another kind; nothing is filed. The page itself is open."""
    phone = Phone()
    headers = {"Content-Type": NDJSON} if shown is None else {"Content-Type": NDJSON, "Authorization": shown}
    before = (desk.folder / "journal.log").read_bytes()
    connection = http.client.HTTPConnection("127.0.0.1", desk.port, timeout=PATIENCE_S)
    connection.request(method, path, line_of(phone.opening(phone.new_id())), headers)
    response = connection.getresponse()
    problem((response.status, response.headers, response.read()), 401, "not_paired")
    assert response.headers["WWW-Authenticate"] == "Bearer"
    connection.close()
    assert (desk.folder / "journal.log").read_bytes() == before
    assert {desk.get(open_to_all)[0] for open_to_all in ("/", "/pair", "/sw.js", "/rulebook.json")} == {200}


def test_a_phone_is_told_of_its_own_receipts_only(desk: Service) -> None:
    """Another device in the query is refused."""
    connection = http.client.HTTPConnection("127.0.0.1", desk.port, timeout=PATIENCE_S)
    connection.request("GET", "/receipts?device=beef", headers=desk.bearer("cafe"))
    response = connection.getresponse()
    problem((response.status, response.headers, response.read()), 400, "bad_query")
    connection.close()


def test_a_revoked_phone_is_shut_out_at_once(service: Service) -> None:
    """What it filed stays filed; paired again, it is let in."""
    phone = Phone()
    body = body_of(phone.opening(phone.new_id()))
    assert results(service, body)[0]["status"] == "accepted"
    command = [str(service.command), "--folder", str(service.folder), "devices", "--revoke", f"phone {phone.device}"]
    children.run(command, check=True)
    problem(service.post("/sync", body, NDJSON), 401, "not_paired")
    service.tokens.clear()
    assert results(service, body)[0]["repeat"] is True


def test_the_desk_needs_its_key(service: Service, tmp_path: Path) -> None:
    """Without, with a wrong one, and with the one beside the records, which only their owner can read."""
    for headers in ({}, {"Authorization": "Bearer 0"}, {"Authorization": "Basic x"}):
        connection = http.client.HTTPConnection("127.0.0.1", service.port, timeout=PATIENCE_S)
        connection.request("POST", "/desk/receive", b"{}", {"Content-Type": "application/json", **headers})
        response = connection.getresponse()
        problem((response.status, response.headers, response.read()), 401, "no_key")
        connection.close()
    note = service.folder / "service.json"
    assert note.stat().st_mode & 0o077 == 0
    key = json.loads(note.read_text())["key"]
    assert len(key) == 64
    carried = tmp_path / "nothing.txt"
    carried.write_bytes(b"nothing")
    connection = http.client.HTTPConnection("127.0.0.1", service.port, timeout=PATIENCE_S)
    headers = {"Content-Type": "application/json", "Authorization": f"Bearer {key}"}
    connection.request("POST", "/desk/receive", json.dumps({"files": [str(carried)]}), headers)
    response = connection.getresponse()
    told = json.loads(response.read())
    assert response.status == 200
    assert told["result"][0]["receipt"].startswith("layby-receipt 1 unknown 1/1\n")
    connection.request("POST", "/desk/format", b"{}", headers)
    response = connection.getresponse()
    problem((response.status, response.headers, response.read()), 404, "no_such_page")
    connection.close()
