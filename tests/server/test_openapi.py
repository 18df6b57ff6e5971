"""The description of the service: exactly the existing routes, every status, answers that match their shapes."""

from __future__ import annotations

import json
import re
import urllib.request
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest

from server.app import create_app
from server.tasks.catalogue import TASKS
from sync.wire import responses
from sync.wire.schemas import schemas_of
from tests.records.test_photos import name_of, photo
from tests.server.test_photo_routes import send
from tests.support.ops import JUNE_12, Phone, body_of, framed, line_of
from tests.support.service import PATIENCE_S, Service

Books = dict[str, Any]
# The phone page's own files aren't an interface: the worker lists them, with their hashes.
OF_THE_PAGE = {"/", "/index.html", "/pair", "/visit/{visit}", "/visit/{visit}/{step}", "/{path}"}


WRONG = b'{"code": "0000 0000", "device": "cafe", "name": "somebody"}'


@pytest.fixture(scope="module")
def told(desk: Service) -> Books:
    """The description as it is served."""
    status, headers, body = desk.get("/openapi.json")
    assert (status, headers["Content-Type"]) == (200, "application/json")
    found: Books = json.loads(body)
    return found


def test_the_description_names_every_route_and_no_other(told: Books, folder: Path) -> None:
    """Paths and methods of the served application; the page's own files and the desk's pages are for people."""
    app = create_app({"FOLDER": folder})
    routes = {}
    for rule in app.url_map.iter_rules():
        path = re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", rule.rule)
        if rule.endpoint.startswith("deskpages."):
            continue
        if path not in OF_THE_PAGE or "POST" in (rule.methods or set()):
            methods = {method.lower() for method in (rule.methods or set()) - {"OPTIONS"}}
            routes.setdefault(path, set()).update(methods)
    app.extensions["layby"]["logbook"].close()
    named = {path: set(methods) & {"get", "post", "patch", "head"} for path, methods in told["paths"].items()}
    # Flask answers HEAD wherever it answers GET; it is described where it says something of its own.
    for path, methods in routes.items():
        if "head" not in named.get(path, set()):
            methods.discard("head")
    assert named == routes


def test_the_description_is_sound(told: Books) -> None:
    """Version, references that lead somewhere, parameters for each part of a path, problems as in RFC 9457."""
    assert told["openapi"] == "3.1.0"
    for name in re.findall(r'"#/components/schemas/([^"]+)"', json.dumps(told)):
        assert name in told["components"]["schemas"], name
    for path, methods in told["paths"].items():
        for method in set(methods) & {"get", "post", "patch", "head"}:
            operation = methods[method]
            in_path = {one["name"] for one in operation["parameters"] if one["in"] == "path"}
            assert in_path == set(re.findall(r"{(\w+)}", path))
            for status, answer in operation["responses"].items():
                if int(status) >= 400:
                    assert list(answer["content"]) == ["application/problem+json"], (path, status)


def test_what_a_route_asks_for_is_described_as_it_is_judged(told: Books, desk: Service) -> None:
    """Parts of paths and queries: what the description accepts passes, what it doesn't is refused."""

    def schema(path: str, method: str, name: str) -> Any:
        [one] = [one for one in told["paths"][path][method]["parameters"] if one["name"] == name]
        return one["schema"]

    sha, visit = schema("/blobs/{sha}", "get", "sha"), schema("/sheets/{visit}.pdf", "get", "visit")
    for text in ("a" * 64, "A" * 64, "a" * 63, f"{'a' * 64}\n"):
        fits = re.search(sha["pattern"].replace("$", r"\Z"), text) is not None
        assert (json.loads(desk.get(f"/blobs/{quote(text)}")[2])["code"] != "not_a_photo_name") == fits, text
    for text in (Phone().new_id(), "5", "019ebcb4-8d7c-4000-8000-000000000001"):
        fits = re.search(visit["pattern"], text) is not None
        assert (json.loads(desk.get(f"/sheets/{text}.pdf")[2])["code"] != "no_such_page") == fits, text
    after, limit = schema("/receipts", "get", "after"), schema("/receipts", "get", "limit")
    for name, where in (("after", after), ("limit", limit)):
        for number, status in ((where["minimum"], 200), (where["minimum"] - 1, 400), (where["maximum"], 200),
                               (where["maximum"] + 1, 400)):
            assert desk.get(f"/receipts?{name}={number}")[0] == status, (name, number)
    assert re.search(schema("/changes", "get", "device")["pattern"], "7e57")
    assert schema("/desk/{name}", "post", "name")["enum"] == sorted(TASKS)
    pair = told["paths"]["/pair"]["post"]["requestBody"]["content"]["application/json"]["schema"]
    assert set(pair["required"]) == {"code", "device", "name"}


def test_fields_are_described_as_they_are_judged(told: Books, rulebook: Books) -> None:
    """A number, a code with its vocabulary, required fields, nullable fields, and no others."""
    test = told["components"]["schemas"]["test.add"]
    assert test["properties"]["readings"]["properties"]["vent_c"] == {
        "type": ["number", "null"], "minimum": -(2**53), "maximum": 2**53,
    }  # fmt: skip
    assert test["properties"]["role"] == {"enum": rulebook["vocabularies"]["role"]}
    assert sorted(test["required"]) == ["at", "id", "role"]
    assert test["additionalProperties"] is False
    operation = told["components"]["schemas"]["Operation"]
    assert {one["$ref"].rpartition("/")[2] for one in operation["properties"]["body"]["anyOf"]} == set(
        rulebook["kinds"]["kinds"]
    )


def faults(rulebook: Books, shape: dict[str, Any], body: bytes) -> Any:
    """What an answer has that its shape doesn't."""
    return schemas_of(rulebook).of(shape).validate(json.loads(body))


def test_answers_keep_to_their_shapes(desk: Service, rulebook: Books) -> None:
    """Results of every status, receipts, changes of several kinds, visits found, problems with and without faults."""
    one, other = Phone("aaaa"), Phone("bbbb", ms=JUNE_12 + 50)
    visit = one.new_id()
    base: dict[str, str | None] = {"/vehicle/id": None, "/vehicle/plate": None}
    ops = [one.opening(visit), one.op(visit, "visit.set", {"vehicle": {"id": "v1", "plate": "LT 482"}}, base)]
    ops += [other.test(visit, vent_c=7), other.plate(visit, "X"), other.plate(other.new_id(), "Y"), one.plate(visit, 7)]
    mark = other.beside("baseline.mark", vehicle="v1", visit=visit, test="b1", healthy=True)
    statuses: set[str] = set()
    for lines in (body_of(*ops[:2], ops[-1]), body_of(*ops[2:5], mark) + framed(b"{}")):
        _, _, body = desk.post("/sync", lines, "application/x-ndjson")
        statuses |= {result["status"] for result in json.loads(body)["results"]}
        assert faults(rulebook, responses.RESULTS, body) == {}
    assert statuses == {"accepted", "conflict", "rejected", "deferred"}
    assert faults(rulebook, responses.RECEIPTS, desk.get("/receipts?device=aaaa&limit=1")[2]) == {}
    changed = desk.get("/changes?device=aaaa")[2]
    assert {change["kind"] for change in json.loads(changed)["changes"]} == {"op", "baseline"}
    assert faults(rulebook, responses.CHANGES, changed) == {}
    key = json.loads((desk.folder / "service.json").read_text())["key"]
    request = urllib.request.Request(f"{desk.url}/desk/find?text=LT", headers={"Authorization": f"Bearer {key}"})
    with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:
        found = answer.read()
    assert len(json.loads(found)["visits"]) == 1
    assert faults(rulebook, responses.FOUND, found) == {}
    for path in ("/receipts?limit=x", "/desk/find", f"/blobs/{'a' * 64}"):
        assert faults(rulebook, responses.PROBLEM, desk.get(path)[2]) == {}


def test_each_problem_is_described_where_it_is_answered(desk: Service, told: Books) -> None:
    """Statuses that the routes are known to give are in the description."""
    content, line = photo(), line_of(Phone().opening(Phone().new_id()))
    sha = name_of(content)
    answers = {
        ("/sync", "post"): [desk.post("/sync", b"x", "text/plain"), desk.post("/sync", line, "image/png"),
                            desk.post("/sync", b"x" * 600_000, "text/plain")],
        ("/receipts", "get"): [desk.get("/receipts?limit=x")],
        ("/changes", "get"): [desk.get("/changes?device=aaaa&after=x")],
        ("/blobs/{sha}", "get"): [desk.get(f"/blobs/{sha}"), desk.get("/blobs/x")],
        ("/blobs/{sha}", "patch"): [
            send(desk, sha, (5, len(content)), content[5:]),
            send(desk, sha, (0, len(content)), content[:-1] + b"x"),
            send(desk, sha, (0, 3_000_000), content),
            send(desk, name_of(b"x"), (0, 1), b"x"),
        ],
        ("/sheets/{visit}.pdf", "get"): [desk.get(f"/sheets/{Phone().new_id()}.pdf")],
        ("/pair", "post"): [desk.post("/pair", b"{}", "application/json"), desk.post("/pair", b"{}", "text/plain"),
                            desk.post("/pair", WRONG, "application/json")],
        ("/desk/find", "get"): [desk.get("/desk/find?text=x")],
        ("/desk/{name}", "post"): [desk.post("/desk/find", b"{}", "application/json")],
    }
    for (path, method), found in answers.items():
        for status, headers, _ in found:
            assert headers["Content-Type"] == "application/problem+json"
            assert str(status) in told["paths"][path][method]["responses"], (path, status)
