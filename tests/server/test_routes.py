"""Every route, walked by the application's own map: headers, names it answers to, who is let in, limits.

A new route is expected to be a paired phone's; if it is open, name it here and in `server/http/auth.py`.
"""

from __future__ import annotations

import http.client
import json
from pathlib import Path
from typing import Any

import pytest

from server.app import HEADERS, create_app
from server.body_limits import most_for
from server.desk import login
from server.http import auth
from server.http.body_reader import READ_OUT_MOST
from tests.support.service import PATIENCE_S, Service
from tests.support.visitor import Visitor

OPEN_TO_ALL = {"shell.index", "shell.file", "pairing.take_up", "openapi.document", "health.health"}
DOOR = {"deskpages.sign_in", "deskpages.signed_in", "deskpages.setting", "deskpages.set_it", "deskpages.look",
        "deskpages.passkey_script", "deskpages.signed_in_by_passkey"}
# The only pages of the desk with a script, which asks the browser for a passkey.
SCRIPTED = {"deskpages.sign_in", "deskpages.signed_in", "deskpages.passkeys", "deskpages.add_passkey",
            "deskpages.own_passphrase"}  # fmt: skip
# Open until a passphrase is set, which it is in these tests.
FIRST = "deskpages.first"
OF_THE_OWNER = {"desk.sheet", "desk.command"}  # and everything else in that part
SAMPLES = {"uuid": "019ebcb4-8d7c-7000-8000-000000000001", "path": "no/such", "default": "evening"}


@pytest.fixture(scope="module")
def routes(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[str, str, str]]:
    """(endpoint, method, path) of every rule and method, its placeholders filled."""
    app = create_app({"FOLDER": tmp_path_factory.mktemp("map") / "layby"})
    found = []
    for rule in app.url_map.iter_rules():
        path = "".join(
            SAMPLES.get(type(part).__name__.removesuffix("Converter").lower(), SAMPLES["default"]) if dynamic else text
            for dynamic, text, part in pieces(rule)
        )
        found += [(rule.endpoint, method, path) for method in sorted((rule.methods or set()) - {"OPTIONS"})]
    app.extensions["layby"]["logbook"].close()
    return found


def pieces(rule: Any) -> list[tuple[bool, str, Any]]:
    """The parts of a rule: (is a placeholder, its text or name, its converter)."""
    return [(dynamic, text, rule._converters.get(text) if dynamic else None) for dynamic, text in rule._trace[1:]]


def ask(desk: Service, method: str, path: str, size: int = 0, **headers: str) -> tuple[int, Any, bytes]:
    """A request with this many bytes of body; status, headers, content."""
    connection = http.client.HTTPConnection("127.0.0.1", desk.port, timeout=PATIENCE_S)
    sent = {name.replace("_", "-"): value for name, value in headers.items()}
    try:
        if size > READ_OUT_MOST:  # such a body isn't even read, so announcing it has to be enough
            connection.request(method, path, headers={**sent, "Content-Length": str(size)})
        else:
            connection.request(method, path, b"x" * size if size else None, sent)
        answer = connection.getresponse()
        return answer.status, answer.headers, answer.read()
    finally:
        connection.close()


def test_the_map_has_the_routes_that_are_spoken_of(routes: list[tuple[str, str, str]]) -> None:
    """The walk would prove little if it missed them; what is open to all is what this page and the code say."""
    walked = {(method, path) for _, method, path in routes}
    assert {("POST", "/sync"), ("GET", "/receipts"), ("POST", "/pair"), ("GET", "/"), ("GET", "/desk")} <= walked
    assert ("GET", "/sheets/evening.pdf") in walked
    assert ("POST", "/desk/do/approve") in walked
    assert set(auth.OPEN) == OPEN_TO_ALL
    assert set(login.OPEN) == DOOR | {FIRST}
    assert {endpoint for endpoint, _, _ in routes} >= OPEN_TO_ALL | DOOR | OF_THE_OWNER


def test_every_answer_carries_the_headers(desk: Service, visitor: Visitor, routes: list[tuple[str, str, str]]) -> None:
    """Let in or not: no script but the page's own, no sniffing, no framing, nothing cached without asking again."""
    for endpoint, method, path in routes:
        for shown in ({}, {"Cookie": visitor.cookie}, desk.bearer()):
            _, headers, _ = ask(desk, method, path, **shown)
            where = f"{method} {path} ({endpoint})"
            for name in set(HEADERS) - {"Content-Security-Policy"}:
                assert headers[name] == HEADERS[name], where
            policy = headers["Content-Security-Policy"]
            assert policy.startswith("default-src 'none'; "), where
            assert "unsafe" not in policy, where
            assert "frame-ancestors 'none'" in policy, where
            is_bare = endpoint.startswith("deskpages.") and endpoint not in SCRIPTED
            assert ("script-src" in policy) != is_bare, where
            assert headers["Cache-Control"] in ("no-store", "no-cache"), where
            assert "Server" not in headers or "granian" in headers["Server"].lower(), where
            assert "Access-Control-Allow-Origin" not in headers, where


def test_no_route_answers_to_a_foreign_name(desk: Service, routes: list[tuple[str, str, str]]) -> None:
    """421, before anything else is checked."""
    for _, method, path in routes:
        for host in ("evil.example", "127.0.0.1.evil.example", ""):
            assert ask(desk, method, path, Host=host, **desk.bearer())[0] == 421, f"{method} {path} as {host!r}"


@pytest.mark.usefixtures("visitor")
def test_who_shows_nothing_is_let_in_nowhere_else(desk: Service, routes: list[tuple[str, str, str]]) -> None:
    """Open routes answer, pages lead to their door, all others say 401; a phone's token opens nothing of the desk."""
    for endpoint, method, path in routes:
        where = f"{method} {path} ({endpoint})"
        status, headers, _ = ask(desk, method, path)
        part = endpoint.split(".")[0]
        if endpoint in OPEN_TO_ALL | DOOR:
            assert status not in (401, 303), where
        elif part == "deskpages":
            assert (status, headers["Location"]) == (303, "/desk/sign-in"), where
            assert ask(desk, method, path, **desk.bearer())[0] == 303, where
        else:
            assert status == 401, where
            if part == "desk":
                assert ask(desk, method, path, **desk.bearer())[0] == 401, where


def test_no_body_is_taken_beyond_its_limit(desk: Service, visitor: Visitor, routes: list[tuple[str, str, str]]) -> None:
    """413 for one byte more than the path accepts, for callers who are let in; what anybody may send is small."""
    key = {"Authorization": f"Bearer {key_of(desk)}"}
    for endpoint, method, path in routes:
        most = most_for(path)
        assert most <= READ_OUT_MOST
        if method not in ("POST", "PUT", "PATCH"):
            continue
        part = endpoint.split(".")[0]
        shown = {"deskpages": {"Cookie": visitor.cookie}, "desk": key}.get(part, desk.bearer())
        piece = {"Upload_Offset": "0", "Upload_Length": "1"}  # a photo's piece says this about itself
        assert ask(desk, method, path, most + 1, **shown, **piece)[0] == 413, f"{method} {path}"
        if endpoint in OPEN_TO_ALL | DOOR:
            assert most <= 32 * 1024


def key_of(desk: Service) -> str:
    """The owner's key to the running service, as the folder's owner reads it."""
    return str(json.loads((Path(desk.folder) / "service.json").read_text())["key"])
