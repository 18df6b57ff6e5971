"""Checks of shape: operations and visits against the rulebook's fields and vocabularies, all faults at once.

Nothing here judges physics: an odd number is kept, a text where a number belongs is a fault.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, Unpack, cast

import marshmallow
from marshmallow import RAISE, Schema

from sync.kernel.books import KindRule, KindsBook, Rulebook
from sync.kernel.fold import escaped, leaves
from sync.kernel.json_tree import Json, JsonObject
from sync.kernel.operation import Op
from sync.language.reader import words_of
from sync.wire import field_types
from sync.wire.faults import Fault, fault, shown, worded
from sync.wire.field_types import JsonField, Messages, Presence
from sync.wire.fields import Content, ListOf, Shape, Shapes, TableOf, shapes_of
from sync.wire.op_line import DEVICE_WRITTEN, ID_WRITTEN, in_calendar, is_device, is_id

_ITEM_ID = re.compile(r"[A-Za-z0-9_-]{1,64}")
_NAME = re.compile(r".{1,200}", re.DOTALL)
_POINTER = re.compile(r"(/([^/~]|~[01])*)+", re.DOTALL)
_HEX = re.compile(r"[0-9a-f]{8,64}")
_DIGEST = re.compile(r"[0-9a-f]{64}")
_MONEY = re.compile(r"-?\d{1,12}(\.\d{1,6})?", re.ASCII)


class _Shaped(Schema):
    """An object of declared fields only."""

    class Meta:
        unknown = RAISE

    error_messages = {"unknown": "unknown_field", "type": "not_an_object"}  # noqa: RUF012 -- marshmallow's own way


NAMES = {"name": _NAME, "id": _ITEM_ID, "pointer": _POINTER}
PLAIN: dict[str, Callable[..., JsonField]] = {
    "number": field_types.Number,
    "whole": field_types.Whole,
    "count": field_types.Count,
    "truth": field_types.Truth,
    "object": field_types.PlainObject,
    "range": field_types.Range,
    "any": field_types.Anything,
    "time": field_types.Time,
    "day": field_types.Day,
    "stroke": field_types.Stroke,
    "money": lambda **kwargs: field_types.Pattern(_MONEY, "not_money", **kwargs),
    "id": lambda **kwargs: field_types.Pattern(_ITEM_ID, "not_an_item_id", **kwargs),
    "hex": lambda **kwargs: field_types.Pattern(_HEX, "not_hex", **kwargs),
    "digest": lambda **kwargs: field_types.Pattern(_DIGEST, "not_a_digest", **kwargs),
    "fresh id": lambda **kwargs: field_types.FreshItem(_ITEM_ID, "not_an_item_id", **kwargs),
    "fresh": field_types.FreshId,
    "op": lambda **kwargs: field_types.Named(is_id, "not_an_id", ID_WRITTEN, **kwargs),
    "device": lambda **kwargs: field_types.Named(is_device, "not_a_device", DEVICE_WRITTEN, **kwargs),
}


def _codes(rulebook: Rulebook) -> dict[str, tuple[str, ...]]:
    """Every vocabulary by name, including those of other books."""
    kinds = rulebook["kinds"]["kinds"]
    vocabularies = {name: tuple(codes) for name, codes in rulebook["vocabularies"].items() if name != "about"}
    vocabularies["kinds"] = tuple(kinds)
    vocabularies["mendable"] = tuple(kind for kind, rule in kinds.items() if rule["does"] != "mend")
    vocabularies["lists"] = tuple(rule["list"] for rule in kinds.values() if rule["does"] == "add")
    vocabularies["cautions"] = tuple(row["code"] for row in rulebook["cautions"]["cautions"])
    for quantity, book in rulebook["units"].items():
        if quantity != "about":
            vocabularies[f"unit {quantity}"] = tuple(book["units"])
    return vocabularies


class _Builder:
    """Makes marshmallow schemas from the shapes of one rulebook."""

    def __init__(self, rulebook: Rulebook) -> None:
        self.codes = _codes(rulebook)
        self.shapes = shapes_of(rulebook["fields"], rulebook["kinds"])
        self.one_value = rulebook["kinds"]["whole"]

    def schema(self, shape: Shape, whole: bool = True, keep: tuple[str, ...] = ()) -> Schema:
        """`whole`: starred fields must be present; otherwise only those in `keep`, though none of them may be cleared.

        What is set as one value is always complete.
        """
        declared: dict[str, JsonField] = {}
        for name, content in shape.items():
            plain = name.rstrip("*")
            starred = name != plain
            must = starred and (whole or plain in keep)
            inner_whole = whole or plain in self.one_value
            declared[plain] = self.field(content, inner_whole, required=must, allow_none=not starred)
        return _Shaped.from_dict(cast(dict[str, Any], declared))()

    def field(self, content: Content, whole: bool, **presence: Unpack[Presence]) -> JsonField:
        if isinstance(content, Shape):
            messages: Any = {"required": "missing", "null": "null_not_allowed"}
            return marshmallow.fields.Nested(self.schema(content, whole), error_messages=messages, **presence)
        if isinstance(content, ListOf):
            return field_types.Listing(self.field(content.inner, True), content.most, content.least, **presence)
        if isinstance(content, TableOf):
            return self._table(content, whole, presence)
        word, _, rest = content.partition(" ")
        if word == "part":
            return self.field(self.shapes.part(rest), whole, **presence)
        if word == "text":
            return field_types.Text(int(rest), **presence)
        if word == "oneof":
            return field_types.OneOf(tuple(int(part) for part in rest.split()), **presence)
        if word == "words":
            return field_types.OneOf(tuple(rest.split()), **presence)
        if word == "codes":
            return field_types.Listing(field_types.OneOf(self.codes[rest]), 200, **presence)
        if word in ("code", "unit"):
            return field_types.OneOf(self.codes[content if word == "unit" else rest], **presence)
        return PLAIN[content](**presence)

    def _table(self, table: TableOf, whole: bool, presence: Presence) -> JsonField:
        """Members keyed by an item's id have that item's fields without the id itself."""
        inner, inner_whole = table.inner, True
        if table.names == "id" and isinstance(inner, Shape):
            inner = Shape({name: part for name, part in inner.items() if name not in ("id*", "sha256*")})
            inner_whole = whole
        return field_types.Table(self.field(inner, inner_whole, allow_none=True), NAMES[table.names], **presence)


class Schemas:
    """All schemas of one rulebook, built once."""

    def __init__(self, rulebook: Rulebook) -> None:
        build = _Builder(rulebook)
        self.rulebook = rulebook
        self._build = build
        self.visit = build.schema(build.shapes.visit)
        self.envelope = build.schema(build.shapes.operation)
        self.bodies: dict[str, Schema] = {}
        for kind, rule in rulebook["kinds"]["kinds"].items():
            self.bodies[kind] = self._body(build, kind, rule)

    @property
    def shapes(self) -> Shapes:
        """The shapes from which the schemas are made."""
        return self._build.shapes

    def of(self, shape: Shape) -> Schema:
        """The schema of another shape, such as an answer's."""
        return self._build.schema(shape)

    @staticmethod
    def _body(build: _Builder, kind: str, rule: KindRule) -> Schema:
        shapes = build.shapes
        if rule["does"] == "set":
            return build.schema(shapes.settable, whole=False, keep=("started_at",) if rule.get("opens") else ())
        if rule["does"] in ("add", "set_item"):
            item = Shape(shapes.items[rule["list"]][0])
            if "id*" in item:
                item.update(shapes.item)
                item["id*"] = "fresh id" if rule["does"] == "add" else "id"
            return build.schema(item, whole=rule["does"] == "add", keep=(rule["key"],))
        if rule["does"] == "correct":
            return build.schema(shapes.bodies[kind], whole=False, keep=(rule["key"],))
        if rule["does"] == "settle":
            return build.schema(shapes.bodies[kind], whole=False, keep=("of", "set"))
        return build.schema(shapes.bodies[kind])


_BUILT: dict[int, Schemas] = {}


def schemas_of(rulebook: Rulebook) -> Schemas:
    """The schemas of a rulebook, built at first use and kept with it."""
    schemas = _BUILT.get(id(rulebook))
    if schemas is None or schemas.rulebook is not rulebook:
        schemas = _BUILT[id(rulebook)] = Schemas(rulebook)
    return schemas


def _flat(messages: Messages, pointer: str, node: Json, faults: list[Fault]) -> None:
    """From marshmallow's nested messages to faults with pointers and the values found there."""
    if isinstance(messages, list):
        faults.extend(fault(pointer, str(code), node, **getattr(code, "limits", {})) for code in messages)
        return
    for name, inner in messages.items():
        if name == "_schema" and isinstance(inner, list):
            _flat(inner, pointer, node, faults)
        elif isinstance(node, list):
            _flat(inner, f"{pointer}/{name}", node[int(name)], faults)
        else:
            member = node.get(str(name)) if isinstance(node, dict) else None
            _flat(inner, f"{pointer}/{shown(escaped(str(name)))}", member, faults)


def _faults(schema: Schema, value: Json, pointer: str = "") -> list[Fault]:
    # marshmallow itself refuses what isn't an object, and its messages nest as the value does.
    messages = cast(Messages, schema.validate(cast(JsonObject, value)))
    faults: list[Fault] = []
    _flat(messages, pointer, value, faults)
    return faults


def _body_faults(kind: Json, body: Json, pointer: str, schemas: Schemas) -> list[Fault]:
    if not isinstance(kind, str) or kind not in schemas.bodies or not isinstance(body, dict):
        return []
    faults = _faults(schemas.bodies[kind], body, pointer)
    if schemas.rulebook["kinds"]["kinds"][kind]["does"] == "mend" and body.get("kind") != kind:
        faults += _body_faults(body.get("kind"), body.get("body"), pointer + "/body", schemas)
    return faults


def _base_faults(op: Op, kinds: KindsBook) -> list[Fault]:
    """A setting names the base of exactly what it sets, an addition names none; a settling may leave bases out.

    A replacement may also name the bases of what it leaves out, so that what was built on the refused value finds them.
    """
    rule = kinds["kinds"][op["kind"]]
    inner = kinds["kinds"][str(op["body"]["kind"])] if rule["does"] == "mend" else rule
    pointers = {pointer for pointer, _ in leaves(op["body"], op["kind"], kinds)}
    if inner["does"] not in ("set", "set_item", "settle", "correct"):
        pointers = set()
    needed = set() if inner["does"] == "settle" else pointers
    faults = [fault(f"/base/{escaped(pointer)}", "base_missing") for pointer in sorted(needed - op["base"].keys())]
    extra = [] if rule["does"] == "mend" else sorted(op["base"].keys() - pointers)
    return faults + [fault(f"/base/{escaped(pointer)}", "base_not_set", op["base"][pointer]) for pointer in extra]


def _visit_faults(op: JsonObject, kinds: KindsBook) -> list[Fault]:
    """What belongs to a visit names it; what stands beside the visits says that it names none."""
    kind, body = op.get("kind"), op.get("body")
    if kind == "op.mend" and isinstance(body, dict):
        kind = body.get("kind")
    rule = kinds["kinds"].get(kind) if isinstance(kind, str) else None
    if "visit" not in op:
        return [fault("/visit", "missing")]
    if rule is not None and rule.get("of"):
        return [fault("/visit", "visit_not_wanted", op["visit"])] if op["visit"] is not None else []
    return [fault("/visit", "null_not_allowed")] if op["visit"] is None else []


def _clock_faults(op: JsonObject) -> list[Fault]:
    """The operation's instant is in the calendar, both in UTC and where it was written."""
    at, tz = op.get("at"), op.get("tz")
    if not isinstance(at, int) or not isinstance(tz, int):
        return []
    if not in_calendar(at):
        return [fault("/at", "beyond_calendar", at)]
    return [] if in_calendar(at + tz * 60_000) else [fault("/tz", "beyond_calendar", tz)]


def check_op(op: Json, rulebook: Rulebook, visit_on_file: bool = False) -> list[Fault]:
    """Every fault of shape of one operation of schema 1; one without a fault is an `Op`.

    Args:
        op: the operation as it came over the border [JSON value]
        rulebook: all books [Rulebook]
        visit_on_file: whether its visit was taken in before, and may therefore have any id [bool]

    Returns:
        {pointer, code, detail, value} each; [] if the shape is valid [list]
    """
    schemas = schemas_of(rulebook)
    faults = _faults(schemas.envelope, op)
    if visit_on_file:
        faults = [one for one in faults if (one["pointer"], one["code"]) != ("/visit", "beyond_calendar")]
    if isinstance(op, dict):
        faults += _clock_faults(op)
        faults += _visit_faults(op, rulebook["kinds"])
        faults += _body_faults(op.get("kind"), op.get("body"), "/body", schemas)
    if not faults:
        # Envelope and body were without fault.
        faults = _base_faults(cast(Op, op), rulebook["kinds"])
    return worded(faults, words_of(rulebook)) if faults else []


def check_visit(visit: Json, rulebook: Rulebook) -> list[Fault]:
    """Every fault of shape of a whole visit of schema 1; one without a fault is a `Visit`.

    Args:
        visit: the visit as it came over the border [JSON value]
        rulebook: all books [Rulebook]

    Returns:
        {pointer, code, detail, value} each; [] if the shape is valid [list]
    """
    faults = _faults(schemas_of(rulebook).visit, visit)
    return worded(faults, words_of(rulebook)) if faults else []
