"""The description of the service for other programs (OpenAPI 3.1), made from the schemas that check what comes in.

Nothing here checks a request. A route that isn't described here, or is described and doesn't exist, fails a test.
"""

from __future__ import annotations

from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any, TypedDict, Unpack

from apispec import APISpec
from apispec.ext.marshmallow import MarshmallowPlugin
from flask import Blueprint, current_app

from server.http.problems import TYPE
from server.http.sync_routes import SEQ_MOST
from server.tasks.catalogue import TASKS
from sync import rulebook
from sync.kernel.json_tree import JsonObject
from sync.records.pairing import NAME_MOST
from sync.wire import op_line, responses
from sync.wire.field_types import Checked
from sync.wire.schemas import Schemas, schemas_of

pages = Blueprint("openapi", __name__)

LINES = "op lines, `<sha256 hex> <JSON>` and a line feed each; the JSON is an Operation"
DEVICE: JsonObject = {"type": "string", "pattern": op_line.DEVICE_WRITTEN}
SEQ: JsonObject = {"type": "integer", "minimum": 0, "maximum": SEQ_MOST}
# The parameters in a path, by name.
PARTS: dict[str, JsonObject] = {
    "sha": {"type": "string", "pattern": "^[0-9a-f]{64}$"},
    "visit": {"type": "string", "pattern": op_line.ID_WRITTEN},
    "name": {"enum": [*sorted(TASKS)]},
}
OFFSET = {"Upload-Offset": "bytes held", "Upload-Length": "bytes of the whole"}
PIECE = {"Upload-Offset": "where the piece begins", "Upload-Length": "bytes of the whole"}
ANSWERS = {
    "Problem": responses.PROBLEM,
    "Results": responses.RESULTS,
    "Receipts": responses.RECEIPTS,
    "Changes": responses.CHANGES,
    "Found": responses.FOUND,
    "Paired": responses.PAIRED,
}


class Details(TypedDict, total=False):
    """What an operation accepts, as the document names it."""

    parameters: list[JsonObject]
    requestBody: JsonObject
    security: list[JsonObject]


class Operation(Details):
    """A method of a path."""

    summary: str
    responses: JsonObject


def _takes(what: str, *types: str) -> JsonObject:
    return {"required": True, "content": {one: {"schema": {"type": "string", "description": what}} for one in types}}


def _takes_json(what: str, **members: JsonObject) -> JsonObject:
    """An object whose named members are required; others are ignored."""
    properties: JsonObject = {**members}
    schema: JsonObject = {"type": "object", "description": what, "properties": properties, "required": [*members]}
    return {"required": True, "content": {"application/json": {"schema": schema}}}


def _text(most: int) -> JsonObject:
    return {"type": "string", "minLength": 1, "maxLength": most}


def _query(name: str, what: str, schema: JsonObject | None = None) -> JsonObject:
    described: JsonObject = {"in": "query", "name": name, "required": name == "text", "description": what}
    return {**described, "schema": schema or {"type": "string"}}


def _headers(names: dict[str, str]) -> list[JsonObject]:
    return [
        {"in": "header", "name": name, "required": True, "description": what, "schema": {"type": "integer"}}
        for name, what in names.items()
    ]


def _route(summary: str, good: JsonObject, faults: tuple[int, ...], **details: Unpack[Details]) -> Operation:
    """One operation: what it does, its good answer by status, and the statuses with which it answers a problem."""
    problem: JsonObject = {
        "description": "what is wrong, where and what to do",
        "content": {TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}},
    }
    answers: JsonObject = {str(status): problem for status in faults}
    return {"summary": summary, "responses": {**good, **answers}, **details}


def _json(schema: str) -> JsonObject:
    return {"200": {"description": schema, "content": {"application/json": {
        "schema": {"$ref": f"#/components/schemas/{schema}"}}}}}


def _offset(status: int, what: str) -> JsonObject:
    headers: JsonObject = {
        name: {"description": meaning, "schema": {"type": "integer"}} for name, meaning in OFFSET.items()
    }
    return {str(status): {"description": what, "headers": headers}}


def _bytes(*types: str) -> JsonObject:
    return {"200": {"description": "the bytes", "content": {one: {"schema": {}} for one in types}}}


# Every route except the phone page's own files and the desk's pages for people, by path and method. Answers that any
# route may give are in EVERYWHERE.
EVERYWHERE = (421, 500, 503)
ASKING = _query("device", "who asks, as the token says it too", DEVICE)
ROUTES: dict[str, dict[str, Operation]] = {
    "/pair": {
        "post": _route("A one-time code for a token, which every other request of the phone shows as a bearer. An id "
                       "that is paired already has to show its token here, too.",
                       _json("Paired"), (400, 403, 408, 409, 410, 411, 413, 415),
                       requestBody=_takes_json("the code that the desk shows, and who the phone is", code=_text(64),
                                               device=DEVICE, name=_text(NAME_MOST)), security=[]),
    },
    "/sync": {
        "post": _route("File 1 to 50 operations.", _json("Results"), (400, 401, 408, 411, 413, 415, 503, 507),
                       requestBody=_takes(LINES, "application/x-ndjson", "text/plain")),
    },
    "/bundles": {
        "post": _route("File one hand-carried part; the answer is its receipt file.", _bytes("text/plain"),
                       (400, 401, 408, 411, 413, 415, 503, 507),
                       requestBody=_takes("a part as the phone wrote it", "application/x-ndjson", "text/plain")),
    },
    "/receipts": {
        "get": _route("What was answered for a device's operations, by their seq.", _json("Receipts"), (400, 401),
                      parameters=[ASKING, _query("after", "a seq", SEQ),
                                  _query("limit", "at most so many", {**SEQ, "minimum": 1})]),
    },
    "/changes": {
        "get": _route("What others did to a device's visits and vehicles.", _json("Changes"), (400, 401),
                      parameters=[ASKING, _query("after", "the cursor of the last answer, nothing at first")]),
    },
    "/blobs/{sha}": {
        "get": _route("A whole photo.", _bytes("image/jpeg", "image/png", "image/webp"),
                      (400, 401, 404)),
        "head": _route("How much of a photo is held; it is whole when both are equal.", _offset(200, "held"),
                       (400, 401, 404)),
        "patch": _route("The next piece of a photo.", _offset(204, "taken"), (400, 401, 409, 411, 413, 415, 422, 507),
                        parameters=_headers(PIECE), requestBody=_takes("bytes", "application/offset+octet-stream")),
    },
    "/sheets/{visit}.pdf": {
        "get": _route("The newest sheet of a visit.", _bytes("application/pdf"), (401, 404, 422)),
    },
    "/desk/find": {
        "get": _route("Visits by plate, VIN, customer's name or day.", _json("Found"), (401,),
                      parameters=[_query("text", "words that must all be found")]),
    },
    "/desk/{name}": {
        "post": _route("A command of `layby`, for its own use while the service runs.",
                       {"200": {"description": "its result", "content": {"application/json": {"schema": {}}}}},
                       (400, 401, 404, 411, 413, 415, 422), requestBody=_takes_json("its arguments")),
    },
    "/health": {
        "get": _route("Whether this service can take entries now.", _bytes("text/plain"), (507,), security=[]),
    },
    "/metrics": {
        "get": _route("Figures of this service, for LAYBY_METRICS_KEY as a bearer token.",
                      _bytes("text/plain"), (401,)),
    },
    "/openapi.json": {
        "get": _route("This description.", _bytes("application/json"), (), security=[]),
    },
}


def _nameless(schema: object) -> str:
    return ""


def _or_null(field: Checked, description: JsonObject) -> JsonObject:
    if field.allow_none and "type" in description:
        description = {**description, "type": [description["type"], "null"]}
    codes = description.get("enum")
    if field.allow_none and isinstance(codes, list):
        description = {**description, "enum": [*codes, None]}
    return description


def described(schemas: Schemas) -> JsonObject:
    """The whole description.

    Args:
        schemas: the schemas of one rulebook [Schemas]

    Returns:
        an OpenAPI document [JSON object]

    Source: OpenAPI Specification 3.1.0; RFC 9457 for problems.
    """
    # No schema has a name of its own, so nested ones appear where they are used.
    plugin = MarshmallowPlugin(schema_name_resolver=_nameless)
    spec = APISpec("Layby", version("layby"), "3.1.0", plugins=[plugin])
    converter: Any = plugin.converter
    spec.components.security_scheme("bearer", {"type": "http", "scheme": "bearer"})

    def of_field(_: Any, field: Any, **kwargs: Any) -> JsonObject:
        return _or_null(field, field.described(converter.field2property)) if isinstance(field, Checked) else {}

    converter.add_attribute_function(of_field)
    for name, shape in ANSWERS.items():
        spec.components.schema(name, schema=schemas.of(shape))
    spec.components.schema("Visit", schema=schemas.visit)
    for kind, body in schemas.bodies.items():
        spec.components.schema(kind, schema=body)
    spec.components.schema("Operation", schema=schemas.envelope)
    for path, methods in ROUTES.items():
        spec.path(path, operations={method: _whole(path, operation) for method, operation in methods.items()})
    document: dict[str, Any] = {**spec.to_dict(), "security": [{"bearer": []}]}
    bodies = [{"$ref": f"#/components/schemas/{kind}"} for kind in schemas.bodies]
    document["components"]["schemas"]["Operation"]["properties"]["body"] = {"anyOf": bodies}
    return document


def _whole(path: str, operation: Operation) -> Operation:
    parts: list[JsonObject] = [
        {"in": "path", "name": name, "required": True, "schema": schema}
        for name, schema in PARTS.items() if f"{{{name}}}" in path
    ]
    problem: JsonObject = {"description": "not for this host, a fault of the service, or too much at once",
               "content": {TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}}
    answers = {**operation["responses"], **{str(status): problem for status in EVERYWHERE}}
    return {**operation, "parameters": [*parts, *operation.get("parameters", [])], "responses": answers}


@cache
def _document(folder: Path | None) -> JsonObject:
    return described(schemas_of(rulebook.load(folder)))


@pages.get("/openapi.json")
def document() -> JsonObject:
    """GET /openapi.json: this service described for other programs, made once when first requested."""
    return _document(current_app.config["RULEBOOK"])
