"""An operation and what a fold makes of many, as types.

Nothing here orders or applies an operation; `fold` does.
"""

from __future__ import annotations

from typing import NotRequired, TypedDict

from sync.kernel.json_tree import Json, JsonObject
from sync.kernel.visit import Visit

Leaf = tuple[str, Json]


class Op(TypedDict):
    """One operation: the JSON of an op line. `base` says which operation each pointer of the body builds on.

    `by` is the person who made it, where several sign in at a desk.
    """

    id: str
    device: str
    seq: int
    schema: int
    visit: str | None
    kind: str
    base: dict[str, str | None]
    body: JsonObject
    at: int
    tz: int
    by: NotRequired[str]


class ConflictValue(TypedDict):
    """One of the values that conflict."""

    op: str
    device: str
    at: int
    value: Json


class Conflict(TypedDict):
    """A pointer that two people set on the same base."""

    pointer: str
    values: list[ConflictValue]


class Replayed(TypedDict):
    """A visit with the current operations of each pointer, and what a person has yet to settle."""

    visit: Visit
    heads: dict[str, list[str]]
    conflicts: list[Conflict]


class Statement(TypedDict):
    """What one visit says about a vehicle or customer; `at` is its start in ms since 1970."""

    at: float
    fields: JsonObject


class Card(TypedDict):
    """What is known of a vehicle or customer; heads and conflicts are those of the corrections."""

    fields: JsonObject
    heads: dict[str, list[str]]
    conflicts: list[Conflict]
