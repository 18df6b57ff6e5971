"""Hostile requests to every route of the application, whatever its description says: drawn with a seed.

Nothing is sent from here; `Callers` says who is asking, and with which token, cookie or key.
"""

from __future__ import annotations

import hashlib
import json
import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

from werkzeug.routing import Rule

from server.app import create_app
from server.tasks.catalogue import TASKS
from tests.hostile.exchange import Request
from tests.hostile.words import JSON_TEXTS, WORDS, bundle, disturbed, hostile_json, multipart, op_lines, picture
from tests.support.service import Service
from tests.support.visitor import Visitor

DEVICE = "7e57"
QUERIES = ("device", "after", "limit", "day", "done", "text", "id", "use", "key", "x")
TYPES = ("text/plain", "application/x-ndjson", "application/json", "application/x-www-form-urlencoded",
         "multipart/form-data", "multipart/form-data; boundary=", "application/offset+octet-stream", "image/png",
         "text/plain; charset=utf-16", "text/plain; charset=no-such", "", "a" * 300, "\xe4/\xff")  # fmt: skip
METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "BREW", "get")
ODD_HEADERS = (
    ("Content-Encoding", "gzip"), ("Transfer-Encoding", "chunked"), ("Expect", "100-continue"), ("Range", "bytes=9-1"),
    ("If-None-Match", '"' + "x" * 3000 + '"'), ("Accept-Encoding", "gzip;q=x, *;q=-1"), ("Accept", "\xff"),
    ("If-Modified-Since", "Thu, 99 Foo 0000 99:99:99 GMT"), ("X-HTTP-Method-Override", "DELETE"),
    ("X-Forwarded-Host", "evil.example"), ("Forwarded", "for=_;host=evil.example"), ("Sec-Fetch-Site", "cross-site"),
    ("Cookie", "layby_desk=\xff; layby_desk=\"\\777\"; ;;=; a"), ("Origin", "null"), ("Upgrade", "websocket"),
    ("Connection", "close, upgrade"), ("Range", "bytes=0-" + "9" * 400), ("X-" + "n" * 200, "y" * 5000),
)  # fmt: skip
# The arguments of the tasks; files are named where the service was started, in a folder that the test throws away.
ARGUMENTS: dict[str, Any] = {
    "day": "2026-06-12", "first": "2026-06-01", "last": "2026-06-30", "visit": "019ebcb4-8d7c-7000-8000-000000000001",
    "visits": ["019ebcb4-8d7c-7000-8000-000000000001"], "all": False, "files": ["part.txt"], "file": "out/file.zip",
    "customer": "c-none", "page": "days/2026-06-12", "text": "ALD", "what": "vehicle", "id": "v1",
    "fields": {"plate": "B"}, "chart": None, "keep": "c1", "drop": "c2", "device": "beef",
}  # fmt: skip
PICTURES = {hashlib.sha256(content).hexdigest(): content for content in map(picture, map(random.Random, range(30)))}
SIGN_OUT = "/desk/sign-out"
# Routes where more can be said than at others are tried more often by this factor.
OFTEN = {"/desk/<name>": 12, "/sync": 6, "/bundles": 6, "/desk/do/receive": 4, "/blobs/<sha>": 3, "/desk/do/chart": 3,
         "/desk/vehicle": 2}  # fmt: skip
# Takes more than a minute of two cores for each: it reads the whole journal, and `carried` already draws such files.
RARE = ("rebuild", "ledger", "evening", "day")


@dataclass(frozen=True)
class Callers:
    """Who can ask: nobody, a paired phone, somebody signed in, the owner's commands; `token` belongs to a form."""

    bearers: dict[str, str]
    cookie: str
    token: str

    @classmethod
    def of(cls, service: Service, visitor: Visitor) -> Callers:
        """The callers of a running service."""
        key = json.loads((service.folder / "service.json").read_bytes())["key"]
        phone = service.bearer(DEVICE)["Authorization"]
        bearers = {"none": "", "phone": phone, "key": f"Bearer {key}", "wrong": "Bearer \xe4\xff"}
        return cls(bearers, visitor.cookie, visitor.token())


def rules_of(folder: Path) -> list[Rule]:
    """Every rule of the application's map, in one order; some of them several times."""
    app = create_app({"FOLDER": folder})
    try:
        rules = sorted(app.url_map.iter_rules(), key=lambda rule: (rule.rule, rule.endpoint))
        return [rule for rule in rules for _ in range(OFTEN.get(rule.rule, 1))]
    finally:
        app.extensions["layby"]["logbook"].close()


def requests_at(rules: list[Rule], callers: Callers, seed: int, count: int) -> Iterator[Request]:
    """This many requests, the routes in turn."""
    for number in range(count):
        dice = random.Random(f"{seed} {number}")
        yield _request(rules[number % len(rules)], callers, dice)


def _request(rule: Rule, callers: Callers, dice: random.Random) -> Request:
    methods = sorted((rule.methods or set()) - {"OPTIONS", "HEAD"})
    method = dice.choice(methods) if dice.random() < 0.85 else dice.choice(METHODS)
    theirs = "key" if rule.endpoint.startswith("desk.") else "phone"
    who = theirs if dice.random() < 0.75 else dice.choice(("none", "phone", "key", "wrong"))
    route = f"{method} {rule.rule}"
    path, asked = _path(rule, dice)
    kind, body = _body(rule.rule, asked, callers, dice) if method not in ("GET", "HEAD") else ("", b"")
    headers = [("Host", "localhost" if dice.random() < 0.97 else dice.choice(("", "evil.example", "\xff", "[::1]:x")))]
    headers += [("Authorization", callers.bearers[who])] if callers.bearers[who] else []
    # Signing out would end the attack on what lies behind the door.
    is_signed_in = rule.endpoint.startswith("deskpages.") and rule.rule != SIGN_OUT and dice.random() < 0.8
    headers += [("Cookie", callers.cookie)] if is_signed_in else []
    headers += [("Content-Type", kind)] if kind else []
    headers += dice.sample(ODD_HEADERS, dice.choice((0, 0, 0, 1, 2)))
    headers += _upload_headers(body, dice) if rule.rule.startswith("/blobs/") else []
    length, is_cut = _length(body, dice)
    headers += length if method not in ("GET", "HEAD") or dice.random() < 0.1 else []
    is_cut = is_cut or any(name == "Transfer-Encoding" for name, _ in headers)
    return Request(_kind(rule, method, who, is_signed_in), route, _head(method, path, headers), body, is_cut)


def _kind(rule: Rule, method: str, who: str, is_signed_in: bool) -> str:
    caller = "signed in" if is_signed_in else {"none": "nobody", "wrong": "wrong token"}.get(who, who)
    return f"{method if method in METHODS[:5] else 'other'} {rule.rule} ({caller})"


def _head(method: str, path: bytes, headers: list[tuple[str, str]]) -> bytes:
    lines = [f"{name}: {value}\r\n".encode("latin-1", "replace") for name, value in headers]
    return method.encode() + b" " + path + b" HTTP/1.1\r\n" + b"".join(lines) + b"\r\n"


def _path(rule: Rule, dice: random.Random) -> tuple[bytes, str]:
    """The path with hostile words in its parts and its query; and the value of the last part, as a text."""
    path, asked = rule.rule, ""
    for name in sorted(rule.arguments):
        asked = dice.choice(sorted(TASKS)) if name == "name" and dice.random() < 0.9 else dice.choice(WORDS)
        if asked in RARE and dice.random() < 0.8:
            asked = "find"
        if name == "sha" and dice.random() < 0.7:
            asked = dice.choice(("0" * 64, *PICTURES))
        start, end = path.index("<"), path.index(">") + 1
        path = path[:start] + quote(asked, safe="", errors="surrogatepass") + path[end:]
    raw = path.encode("latin-1", "replace")
    if dice.random() < 0.05:
        odd = (raw, b"%ff%fe", b"\xff\xfe" + raw, raw[1:] + b"/..", b"%2e%2e/" + raw[1:], b"/" + raw)
        raw = b"/" + dice.choice(odd)
    if dice.random() < 0.6:
        pairs = [(dice.choice(QUERIES), dice.choice(WORDS)) for _ in range(dice.choice((1, 1, 2, 40)))]
        pairs[:0] = [("id", "v1"), ("use", dice.choice(WORDS))] if rule.rule == "/desk/vehicle" else []
        query = urlencode(pairs, errors="surrogatepass").encode()
        raw += b"?" + dice.choice((query, query, b"&=&==%&%zz;", b"after=%ff%fe"))
    return raw, asked


def _body(path: str, asked: str, callers: Callers, dice: random.Random) -> tuple[str, bytes]:
    """A body and its type: mostly what the route takes, made hostile, otherwise that of another route."""
    if dice.random() < 0.15:
        return dice.choice(TYPES), dice.choice((b"", dice.randbytes(5000), dice.choice(JSON_TEXTS).encode(
            "utf-8", "surrogatepass"), op_lines(dice, DEVICE, 1), bundle(dice, DEVICE), b"\n" * 3000))
    if path == "/desk/do/receive":
        return multipart(dice, callers.token, bundle(dice, DEVICE))
    if path.startswith(("/desk/do/", "/desk/sign", "/desk/pass")):
        return "application/x-www-form-urlencoded", _form(callers, dice)
    if path == "/pair":
        return "application/json", hostile_json(dice, {"code": "00000000", "device": "cafe", "name": "somebody"})
    if path == "/desk/<name>":
        arguments = ARGUMENTS if dice.random() < 0.3 else {name: ARGUMENTS[name] for name in _named(asked)}
        return "application/json", hostile_json(dice, arguments) if dice.random() < 0.9 else json.dumps(
            arguments).encode()
    if path.startswith("/blobs/"):
        return "application/offset+octet-stream", PICTURES[asked] if asked in PICTURES else picture(dice)
    if path == "/bundles":
        return "text/plain", bundle(dice, DEVICE)
    lines = op_lines(dice, DEVICE, dice.choice((1, 2, 5, 50, 51)))
    return dice.choice(("text/plain", "application/x-ndjson")), dice.choice((lines, lines, disturbed(dice, lines)))


def _named(task: str) -> tuple[str, ...]:
    """The arguments of a task, as the catalogue lists them."""
    of_task = {
        "receive": ("files",), "find": ("text",), "backup": ("file",), "held": ("customer",), "export": ("customer",
        "file"), "erase": ("customer",), "rebuild": ("page",), "card": ("what", "id", "fields"), "vehicle": ("id",),
        "chart": ("id", "chart"), "merge": ("keep", "drop"), "revoke": ("device",), "approve": ("visits", "all"),
        "sheet": ("visit",), "ledger": ("first", "last"),
    }  # fmt: skip
    return of_task.get(task, ("day",))


def _form(callers: Callers, dice: random.Random) -> bytes:
    names = ("day", "sheet", "device", "id", "text", "source", "rpm", "ambient_c.0.0", "low_kpa_g.0.0", "low_kpa_g.0.1",
             "pressure", "blower", "key", "passphrase", "again", "\ud800", "ambient_c.99999.0")  # fmt: skip
    pairs = [(dice.choice(names), dice.choice(WORDS)) for _ in range(dice.choice((1, 3, 9, 30, 500)))]
    pairs = [(name, text) for name, text in pairs if (name, text) != ("device", DEVICE) and len(text) < 5000]
    pairs = dice.choice(([], [("id", "v1"), ("day", "2026-06-12")])) + pairs
    pairs += [("form_token", callers.token)] * dice.choice((1, 1, 1, 0))
    body = urlencode(pairs, errors=dice.choice(("replace", "replace", "replace", "surrogatepass"))).encode()
    return body if dice.random() < 0.8 else dice.choice((disturbed(dice, body), b"a=%ff", b"&" * 3000, b"=%00"))


def _upload_headers(body: bytes, dice: random.Random) -> list[tuple[str, str]]:
    offset = dice.choice(("0", "0", "0", "1", "-1", "9" * 12, "9" * 4000, "1e3", "\xb2", ""))
    return [("Upload-Offset", offset), ("Upload-Length", dice.choice((str(len(body)), "0", "2000001", "x", "1")))]


def _length(body: bytes, dice: random.Random) -> tuple[list[tuple[str, str]], bool]:
    """The header that says how long the body is, mostly the truth; and whether it cuts the request."""
    if dice.random() < 0.93:
        return [("Content-Length", str(len(body)))], False
    wrong = dice.choice((str(len(body) + 9), "-5", "9" * 20, "+4", "4_0", "\xd9\xa3", "abc", "4, 4", "", "1", None))
    return [] if wrong is None else [("Content-Length", wrong)], True
