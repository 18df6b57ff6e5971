"""The kinds of fields in a shape: each accepts a value as it is or refuses it with a code.

Nothing here knows which fields there are; `schemas` does. A library's own fields would turn "12.5" into 12.5.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime
from typing import Any, ClassVar, TypeAlias, TypedDict, Unpack, cast

from marshmallow import ValidationError, fields

from sync.kernel.json_tree import Json, JsonObject
from sync.wire.faults import Scalar
from sync.wire.op_line import ID_WRITTEN, is_beyond_calendar, is_id

DAY = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|[+-]\d\d:\d\d)", re.ASCII)

# The largest size of a number, the same as for the border's whole numbers, and the smallest that isn't zero.
WHOLE, LEAST = 2**53, 1e-100

JsonField = fields.Field[Json]
Describe = Callable[[JsonField], JsonObject]
# marshmallow's own tree of messages: lists of codes, under the name or index of what they are about.
Messages: TypeAlias = "list[str] | dict[str | int, Messages]"


class Presence(TypedDict, total=False):
    """Whether a field must be present, and whether it may be null."""

    required: bool
    allow_none: bool


class Coded(str):
    """A fault's code on its way through marshmallow, with the limits that its sentence needs."""

    __slots__ = ("limits",)
    limits: dict[str, Scalar]

    def __new__(cls, code: str, **limits: Scalar) -> Coded:
        result = super().__new__(cls, code)
        result.limits = limits
        return result


def refuse(code: str, **limits: Scalar) -> ValidationError:
    """The refusal of one value.

    Args:
        code: which fault [code]
        limits: what else its sentence needs [numbers or texts]

    Returns:
        the error, to be raised [ValidationError]
    """
    return ValidationError([Coded(code, **limits)])


class Checked(JsonField):
    """A value accepted as it is, or refused with a code."""

    default_error_messages: Any = {"required": "missing", "null": "null_not_allowed"}  # noqa: RUF012 -- marshmallow's own way

    def _deserialize(self, value: Json, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Json:
        self.look(value)
        return value

    def _validate(self, value: Json) -> None:
        """Does nothing: `look` has said everything. The library would build a chain of no validators for each value."""

    def look(self, value: Json) -> None:
        """Refuses what does not fit."""
        raise NotImplementedError

    def described(self, inner: Describe) -> JsonObject:
        """What is accepted, as JSON Schema; `inner` describes a field within [JSON object]."""
        raise NotImplementedError


class Number(Checked):
    def look(self, value: Json) -> None:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise refuse("not_a_number")
        # Between these, squares and quotients of measured values stay numbers; nothing beyond them is ever measured.
        if not -float("inf") < value < float("inf") or (value != 0 and abs(value) < LEAST):
            raise refuse("not_finite")
        if abs(value) > WHOLE:
            raise refuse("number_too_large")

    def described(self, inner: Describe) -> JsonObject:
        return {"type": "number", "minimum": -WHOLE, "maximum": WHOLE}


class Whole(Checked):
    def look(self, value: Json) -> None:
        if isinstance(value, bool) or not isinstance(value, int):
            raise refuse("not_whole")

    def described(self, inner: Describe) -> JsonObject:
        return {"type": "integer"}


class Count(Whole):
    def look(self, value: Json) -> None:
        if isinstance(value, bool) or not isinstance(value, int):
            raise refuse("not_whole")
        if value < 0:
            raise refuse("not_a_count")

    def described(self, inner: Describe) -> JsonObject:
        return {"type": "integer", "minimum": 0}


class Truth(Checked):
    def look(self, value: Json) -> None:
        if not isinstance(value, bool):
            raise refuse("not_a_truth")

    def described(self, inner: Describe) -> JsonObject:
        return {"type": "boolean"}


class PlainObject(Checked):
    def look(self, value: Json) -> None:
        if not isinstance(value, dict):
            raise refuse("not_an_object")

    def described(self, inner: Describe) -> JsonObject:
        return {"type": "object"}


class Anything(Checked):
    def look(self, value: Json) -> None:
        """Accepts anything JSON holds."""

    def described(self, inner: Describe) -> JsonObject:
        return {}


class Text(Checked):
    def __init__(self, most: int, **presence: Unpack[Presence]) -> None:
        super().__init__(**presence)
        self.most = most

    def look(self, value: Json) -> None:
        if not isinstance(value, str):
            raise refuse("not_a_text")
        if len(value) > self.most:
            raise refuse("too_long", limit=self.most)

    def described(self, inner: Describe) -> JsonObject:
        return {"type": "string", "maxLength": self.most}


class Pattern(Checked):
    def __init__(self, pattern: re.Pattern[str], code: str, **presence: Unpack[Presence]) -> None:
        super().__init__(**presence)
        self.pattern = pattern
        self.code = code

    def look(self, value: Json) -> None:
        if not isinstance(value, str) or not self.pattern.fullmatch(value):
            raise refuse(self.code)

    def described(self, inner: Describe) -> JsonObject:
        return {"type": "string", "pattern": f"^{self.pattern.pattern}$"}


class Named(Checked):
    """An id or a device's name, checked by the same rule as for op lines."""

    def __init__(self, rule: Callable[[Json], bool], code: str, written: str, **presence: Unpack[Presence]) -> None:
        super().__init__(**presence)
        self.rule = rule
        self.code = code
        self.written = written

    def look(self, value: Json) -> None:
        if not self.rule(value):
            raise refuse(self.code)

    def described(self, inner: Describe) -> JsonObject:
        return {"type": "string", "pattern": self.written}


class FreshId(Named):
    """The id of something new; its instant must be in the calendar."""

    def __init__(self, **presence: Unpack[Presence]) -> None:
        super().__init__(is_id, "not_an_id", ID_WRITTEN, **presence)

    def look(self, value: Json) -> None:
        super().look(value)
        if isinstance(value, str) and is_beyond_calendar(value):
            raise refuse("beyond_calendar")


class FreshItem(Pattern):
    """The name of an added item; if it is a UUID, one whose instant is in the calendar."""

    def look(self, value: Json) -> None:
        super().look(value)
        # Asked first whether it sorts so: few names do, and the pattern of an id costs more.
        if isinstance(value, str) and is_beyond_calendar(value) and is_id(value):
            raise refuse("beyond_calendar")


class Dated(Checked):
    """A text in this form of ISO 8601 that the calendar holds."""

    written: ClassVar[re.Pattern[str]]
    kind: ClassVar[type[date]]
    code: ClassVar[str]
    format: ClassVar[str]

    def look(self, value: Json) -> None:
        if not isinstance(value, str) or not self.written.fullmatch(value):
            raise refuse(self.code)
        try:
            self.kind.fromisoformat(value)
        except ValueError as error:
            raise refuse(self.code) from error

    def described(self, inner: Describe) -> JsonObject:
        return {"type": "string", "format": self.format}


class Time(Dated):
    written, kind, code, format = TIME, datetime, "not_a_time", "date-time"

    def look(self, value: Json) -> None:
        super().look(value)
        try:
            datetime.fromisoformat(str(value)).astimezone(UTC)
        except OverflowError as error:
            raise refuse("beyond_calendar") from error


class Day(Dated):
    written, kind, code, format = DAY, date, "not_a_day", "date"


class OneOf(Checked):
    def __init__(self, members: tuple[str, ...] | tuple[int, ...], **presence: Unpack[Presence]) -> None:
        super().__init__(**presence)
        self.members = members

    def look(self, value: Json) -> None:
        if isinstance(value, bool) or not isinstance(value, (str, int)) or value not in self.members:
            raise refuse("unknown_code")

    def described(self, inner: Describe) -> JsonObject:
        return {"enum": list(self.members)}


class Stroke(Checked):
    def look(self, value: Json) -> None:
        points = value if isinstance(value, list) else [None]
        flat = [part for point in points for part in (point if isinstance(point, list) else [point])]
        if not all(isinstance(part, (int, float)) and not isinstance(part, bool) for part in flat):
            raise refuse("not_a_stroke")

    def described(self, inner: Describe) -> JsonObject:
        return {"type": "array", "items": {}}


class Listing(Checked):
    def __init__(self, inner: JsonField, most: int, least: int = 0, **presence: Unpack[Presence]) -> None:
        super().__init__(**presence)
        self.inner = inner
        self.most = most
        self.least = least

    def look(self, value: Json) -> None:
        if not isinstance(value, list):
            raise refuse("not_a_list")
        if len(value) > self.most:
            raise refuse("too_many", limit=self.most)
        if len(value) < self.least:
            raise refuse("too_few", limit=self.least)
        _each(self.inner, dict(enumerate(value)), {})

    def described(self, inner: Describe) -> JsonObject:
        least: JsonObject = {"minItems": self.least} if self.least else {}
        return {"type": "array", "items": inner(self.inner), **least, "maxItems": self.most}


class Range(Checked):
    """Two numbers, the lower first; a fault in either is a fault of the range, because half a range is no range."""

    def look(self, value: Json) -> None:
        if not isinstance(value, list) or len(value) != 2:
            raise refuse("not_a_range")
        try:
            Number().look(value[0])
            Number().look(value[1])
        except ValidationError as error:
            raise refuse("not_a_range") from error
        low, high = cast(list[float], value)
        if low > high:
            raise refuse("range_reversed", low=low, high=high)

    def described(self, inner: Describe) -> JsonObject:
        return {"type": "array", "items": inner(Number()), "minItems": 2, "maxItems": 2}


class Table(Checked):
    def __init__(self, inner: JsonField, names: re.Pattern[str], **presence: Unpack[Presence]) -> None:
        super().__init__(**presence)
        self.inner = inner
        self.names = names

    def look(self, value: Json) -> None:
        if not isinstance(value, dict):
            raise refuse("not_an_object")
        bad: dict[str | int, Messages] = {}
        bad |= {name: [Coded("bad_name")] for name in value if not self.names.fullmatch(name)}
        _each(self.inner, {name: member for name, member in value.items() if name not in bad}, bad)

    def described(self, inner: Describe) -> JsonObject:
        return {"type": "object", "additionalProperties": inner(self.inner)}


def _each(
    inner: JsonField, members: Mapping[str, Json] | Mapping[int, Json], errors: dict[str | int, Messages]
) -> None:
    """Every member by the inner rule; all their faults together."""
    for name, member in members.items():
        try:
            inner.deserialize(member)
        except ValidationError as error:
            errors[name] = error.messages
    if errors:
        raise ValidationError(errors)
