"""Photos over HTTP: a real service, pieces cut off on the way, resumed from the true offset, killed in the middle."""

from __future__ import annotations

import http.client
import json
import socket
from typing import Any

import pytest

from tests.records.test_photos import name_of, photo
from tests.server.test_sync_routes import problem, results
from tests.support.ops import Phone, line_of
from tests.support.service import PATIENCE_S, Service

TYPE = "application/offset+octet-stream"
Answer = tuple[int, Any, bytes]


def ask(service: Service, method: str, path: str, body: bytes | None = None, **headers: str) -> Answer:
    """One request: status, headers, body. Underscores in header names stand for hyphens."""
    connection = http.client.HTTPConnection("127.0.0.1", service.port, timeout=PATIENCE_S)
    try:
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        connection.request(method, path, body, {**service.bearer(), **sent})
        response = connection.getresponse()
        return response.status, response.headers, response.read()
    finally:
        connection.close()


def held(service: Service, sha: str) -> tuple[int, str | None, str | None]:
    """What HEAD says: status, Upload-Offset, Upload-Length."""
    status, headers, body = ask(service, "HEAD", f"/blobs/{sha}")
    assert body == b""
    return status, headers["Upload-Offset"], headers["Upload-Length"]


def send(service: Service, sha: str, place: tuple[int, int], chunk: bytes, kind: str = TYPE) -> Answer:
    """PATCH of one piece; `place` is where it begins and the length of the whole."""
    told = {"Upload_Offset": str(place[0]), "Upload_Length": str(place[1]), "Content_Type": kind}
    return ask(service, "PATCH", f"/blobs/{sha}", chunk, **told)


def test_a_photo_goes_up_in_pieces_and_comes_back(service: Service) -> None:
    """404 at first, then the offset, then complete; its bytes give its type."""
    content = photo()
    sha, total = name_of(content), len(content)
    assert held(service, sha)[0] == 404
    problem(ask(service, "GET", f"/blobs/{sha}"), 404, "no_photo")
    status, headers, _ = send(service, sha, (0, total), content[:1000])
    assert (status, headers["Upload-Offset"]) == (204, "1000")
    assert held(service, sha) == (200, "1000", str(total))
    problem(ask(service, "GET", f"/blobs/{sha}"), 404, "no_photo")
    status, headers, _ = send(service, sha, (1000, total), content[1000:])
    assert (status, headers["Upload-Offset"]) == (204, str(total))
    assert held(service, sha) == (200, str(total), str(total))
    status, headers, body = ask(service, "GET", f"/blobs/{sha}")
    assert (status, headers["Content-Type"], body) == (200, "image/jpeg", content)
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert send(service, sha, (total, total), b"")[0] == 204


def test_each_refusal_has_its_status_and_the_true_offset(service: Service) -> None:
    """409 wrong offset, 422 wrong hash, 415 not a photo, 413 too large, 400 and 411 for invalid requests."""
    content = photo()
    sha, total = name_of(content), len(content)
    send(service, sha, (0, total), content[:1000])
    answer = send(service, sha, (10, total), content[10:50])
    problem(answer, 409, "photo_wrong_offset")
    assert answer[1]["Upload-Offset"] == "1000"
    answer = send(service, sha, (1000, total), b"\x00" * (total - 1000))
    problem(answer, 422, "photo_altered")
    assert answer[1]["Upload-Offset"] == "0"
    assert held(service, sha)[0] == 404
    pdf = b"%PDF-1.7 of somebody's"
    problem(send(service, name_of(pdf), (0, len(pdf)), pdf), 415, "not_a_photo")
    problem(send(service, sha, (0, 2_000_001), content[:10]), 413, "photo_too_large")
    problem(send(service, sha, (0, 2_000_000), b"\x00" * 2_000_001), 413, "body_too_large")
    problem(send(service, sha, (0, total), content, "image/jpeg"), 415, "wrong_type")
    problem(ask(service, "PATCH", f"/blobs/{sha}", b"x", Content_Type=TYPE), 400, "bad_header")
    problem(send(service, "nonsense", (0, total), content), 400, "not_a_photo_name")
    problem(ask(service, "GET", "/blobs/..%2f..%2fjournal.log"), 404, "no_such_page")


def test_what_came_before_the_connection_broke_is_kept(service: Service) -> None:
    """A PATCH of the whole breaks off in the middle: the next HEAD says how much came, and only the rest is sent."""
    content = photo(size=(500, 400))
    sha, total = name_of(content), len(content)
    head = f"PATCH /blobs/{sha} HTTP/1.1\r\nHost: localhost\r\nContent-Type: {TYPE}\r\n"
    head += f"Authorization: {service.bearer()['Authorization']}\r\n"
    head += f"Upload-Offset: 0\r\nUpload-Length: {total}\r\nContent-Length: {total}\r\n\r\n"
    with socket.create_connection(("127.0.0.1", service.port)) as connection:
        connection.sendall(head.encode() + content[: total // 2])
        connection.shutdown(socket.SHUT_WR)
        connection.settimeout(20)
        while connection.recv(65536):
            pass
    status, offset, _ = held(service, sha)
    assert (status, int(offset or 0)) == (200, total // 2)
    assert send(service, sha, (total // 2, total), content[total // 2 :])[0] == 204
    assert ask(service, "GET", f"/blobs/{sha}")[2] == content


@pytest.mark.parametrize("kills", [3, pytest.param(60, marks=pytest.mark.long)])
def test_a_killed_service_resumes_a_photo_from_the_true_offset(service: Service, kills: int) -> None:
    """Killed with a piece in flight, several times: what was answered is held; photo and entries are completed."""
    content = photo(size=(1200, 900))
    sha, total, answered = name_of(content), len(content), 0
    step = total // (2 * kills) + 1
    for number in range(kills):
        offset = int(held(service, sha)[1] or 0)
        assert offset >= answered
        status, headers, _ = send(service, sha, (offset, total), content[offset : offset + step])
        assert status == 204
        answered = int(headers["Upload-Offset"])
        head = f"PATCH /blobs/{sha} HTTP/1.1\r\nHost: localhost\r\nContent-Type: {TYPE}\r\n"
        head += f"Authorization: {service.bearer()['Authorization']}\r\n"
        head += f"Upload-Offset: {answered}\r\nUpload-Length: {total}\r\nContent-Length: {step}\r\n\r\n"
        with socket.create_connection(("127.0.0.1", service.port)) as connection:
            connection.sendall(head.encode() + content[answered : answered + step // 2])
            service.kill()
        service.start()
        phone = Phone(f"{number + 4096:04x}")
        assert results(service, line_of(phone.opening(phone.new_id())))[0]["status"] == "accepted"
    offset = int(held(service, sha)[1] or 0)
    assert answered <= offset < total
    assert send(service, sha, (offset, total), content[offset:])[0] == 204
    assert ask(service, "GET", f"/blobs/{sha}")[2] == content


def test_an_entry_names_a_photo_that_is_not_here_yet(service: Service) -> None:
    """Text goes first: photo.add is accepted before a byte of the photo has come."""
    phone = Phone()
    visit, sha = phone.new_id(), name_of(photo())
    add = phone.op(visit, "photo.add", {"sha256": sha, "role": "before"})
    found = results(service, line_of(phone.opening(visit)) + line_of(add))
    assert [result["status"] for result in found] == ["accepted", "accepted"], json.dumps(found)
    assert held(service, sha)[0] == 404
