"""The shapes of a visit and of every operation's body, from the rulebook's book of fields.

Nothing here checks anything; `schemas` reads these shapes. Limits are of shape only: a vent of 400 °C fits.

In a shape, a field's name ends in `*` if the field must be present. Its content is written as in the book: `text N` (at
most N characters), `number`, `whole`, `count` (whole, from 0 on), `range` (two numbers, the lower first), `truth`,
`time` (ISO 8601 with offset), `day`, `money` (decimal as text), `code BOOK` and `codes BOOK` (of a vocabulary), `unit
QUANTITY`, `id` (an item's name), `op` (UUID version 7), `digest` (SHA-256 in hex), `hex`, `oneof A B` (whole numbers);
an object is again a shape. `part PATH` is what a visit holds there.

Only the book uses `shape` (the rows below it), a scope by its name, `list MOST [INNER]` or `list LEAST-MOST [INNER]`,
and `table [NAMES INNER]`; if no inner type is named, the members are the rows below.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

from sync.kernel.books import KindsBook
from sync.kernel.fields_book import FieldRow, FieldsBook

# What is known of a vehicle or customer can be corrected, except who it is and what is marked test by test.
NOT_CORRECTED = ("id", "baseline")


class Shape(dict[str, "Content"]):
    """An object of declared fields: what each may hold, by name."""


@dataclass(frozen=True, slots=True)
class ListOf:
    """A list of `least` to `most` members of one shape."""

    inner: Content
    most: int
    least: int = 0


@dataclass(frozen=True, slots=True)
class TableOf:
    """An object with free member names and members of one shape."""

    inner: Content
    names: str = "name"


Content = str | Shape | ListOf | TableOf
Items = dict[str, tuple[Shape, int]]


@dataclass(frozen=True, slots=True)
class Shapes:
    """All shapes of one book.

    `settable` is what is set leaf by leaf, and may therefore be changed, cleared and disagreed on. `items` are those of
    a visit's lists by the name of the list, with the list's maximum length; `item` is what each item may carry besides.
    `bodies` are what those kinds carry that are neither a tree of settings nor an item.
    """

    visit: Shape
    settable: Shape
    items: Items
    item: Shape
    bodies: dict[str, Shape]
    operation: Shape

    def part(self, path: str) -> Content:
        """What a visit holds at a path, such as "vehicle.chart"."""
        content: Content = self.visit
        for name in path.split("."):
            shape = cast(Shape, content)
            content = shape.get(name, shape.get(name + "*", ""))
        return content


def shapes_of(book: FieldsBook, kinds: KindsBook) -> Shapes:
    """The shapes that a book of fields describes.

    Args:
        book: the rulebook's `fields` [FieldsBook]
        kinds: the rulebook's `kinds` [KindsBook]

    Returns:
        all of them [Shapes]
    """
    reader = _Reader(book["scopes"])
    settable, record = reader.shape("visit"), reader.shape("record")
    lists = {name: content for name, content in record.items() if isinstance(content, ListOf)}
    items: Items = {name: (reader.shape(name), content.most) for name, content in lists.items()}
    return Shapes(
        visit=Shape({**record, **settable}),
        settable=settable,
        items=items,
        item=reader.shape("item"),
        bodies=_bodies(reader, kinds, settable, items),
        operation=reader.shape("operation"),
    )


def _bodies(reader: _Reader, kinds: KindsBook, settable: Shape, items: Items) -> dict[str, Shape]:
    bodies: dict[str, Shape] = {}
    for kind, rule in kinds["kinds"].items():
        if rule["does"] == "whole":
            bodies[kind] = reader.shape(rule["field"])
        elif rule["does"] == "correct":
            known = cast(Shape, settable[rule["of"]])
            corrected = {name: content for name, content in known.items() if name not in NOT_CORRECTED}
            bodies[kind] = Shape({**reader.shape("card"), **corrected})
        elif kind in reader.scopes:
            bodies[kind] = reader.shape(kind)
        if rule["does"] == "settle":
            tables = {name: TableOf(item, "id") for name, (item, _) in items.items()}
            bodies[kind]["set*"] = Shape({**settable, **tables})
    return bodies


class _Reader:
    """Makes shapes from the rows of a book."""

    def __init__(self, scopes: dict[str, dict[str, FieldRow]]) -> None:
        self.scopes = scopes

    def shape(self, scope: str) -> Shape:
        """The object that the rows of a scope describe."""
        return self._object(self.scopes[scope])

    def _object(self, rows: dict[str, FieldRow]) -> Shape:
        members: dict[str, dict[str, FieldRow]] = {}
        for path, row in rows.items():
            name, _, rest = path.partition(".")
            members.setdefault(name, {})[rest] = row
        shape = Shape()
        for name, below in members.items():
            own = below.pop("", FieldRow(type="shape"))
            shape[name + ("*" if own.get("required") else "")] = self._content(own["type"], below)
        return shape

    def _content(self, written: str, below: dict[str, FieldRow]) -> Content:
        word, _, rest = written.partition(" ")
        if word == "shape":
            return self._object(below)
        if word == "list":
            bounds, _, inner = rest.partition(" ")
            least, _, most = bounds.rpartition("-")
            return ListOf(self._member(inner, below), int(most), int(least or 0))
        if word == "table":
            names, _, inner = rest.partition(" ")
            return TableOf(self._member(inner, below), names or "name")
        return self.shape(written) if written in self.scopes else written

    def _member(self, inner: str, below: dict[str, FieldRow]) -> Content:
        """What a list or table holds: a type, or an object of a scope's rows and of those below."""
        if inner and inner not in self.scopes:
            return inner
        return Shape({**(self.shape(inner) if inner else {}), **self._object(below)})
