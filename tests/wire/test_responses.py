"""The tables of shape and the types of the same answers name the same fields, and hold the same kinds of values."""

from __future__ import annotations

import typing
from types import UnionType
from typing import Any, Literal, NotRequired, Required, Union, get_args, get_origin, get_type_hints

import pytest

from server.http.openapi import OFFSET
from sync import rulebook
from sync.kernel import json_tree
from sync.kernel.vehicle import Baseline, Chart
from sync.kernel.visit import Visit
from sync.wire import responses
from sync.wire.faults import Fault
from sync.wire.fields import Content, ListOf, Shape, TableOf
from sync.wire.results import Problem, Receipts, VisitRows
from sync.wire.schemas import schemas_of

BOOKS = rulebook.load()
SHAPES = schemas_of(BOOKS).shapes
# What a fault carries until it is worded; no answer does.
UNWORDED = {"limits"}
# The first word of what a field may hold, and the type of its values; all others are texts.
KINDS: dict[str, tuple[Any, ...]] = {
    "whole": (int,), "number": (float,), "truth": (bool,), "object": (dict,), "range": (list[float],),
    "codes": (list[str],),
}


def differences(content: Content, kind: Any, where: str) -> list[str]:
    """Where a table and a type differ."""
    members = [one for one in get_args(kind) if one is not type(None)] if is_union(kind) else [kind]
    if isinstance(content, Shape):
        return of_object(content, members, where)
    if content in ("any", "stroke"):  # a stroke is written in one of two forms
        return []
    [member] = members
    if isinstance(content, ListOf):
        return [where] if get_origin(member) is not list else differences(content.inner, get_args(member)[0], where)
    if isinstance(content, TableOf):
        return [where] if get_origin(member) is not dict else differences(content.inner, get_args(member)[1], where)
    words = content.split(" ")
    if words[0] == "part":
        return differences(SHAPES.part(words[1]), kind, where)
    if get_origin(member) is Literal:
        # Of several kinds, each has its own word; a status may know more words than an answer uses.
        named, known = named_by(words), {str(one) for one in get_args(member)}
        return [] if named and (named <= known or known <= named) else [where]
    known_kinds = KINDS.get(words[0], (str,))
    return [] if member in known_kinds or get_origin(member) in known_kinds else [where]


def named_by(words: list[str]) -> set[str]:
    """The words, numbers or codes that a field may hold one of."""
    if words[0] == "code":
        return set(BOOKS["vocabularies"][words[1]])
    return set(words[1:]) if words[0] in ("words", "oneof") else set()


def is_union(kind: Any) -> bool:
    """Whether a type is one of several."""
    return get_origin(kind) in (Union, UnionType)


def of_object(shape: Shape, kinds: list[Any], where: str) -> list[str]:
    """The same of an object, which may be of several kinds that share a table."""
    if not all(typing.is_typeddict(kind) for kind in kinds):
        return [where]
    names = {name.rstrip("*") for name in shape}
    hints = [get_type_hints(kind, localns=vars(json_tree), include_extras=True) for kind in kinds]
    faults = [f"{where}/{name}" for name in (names ^ {name for each in hints for name in each}) - UNWORDED]
    for name in shape:
        plain = name.rstrip("*")
        for kind in (each[plain] for each in hints if plain in each):
            bare = get_args(kind)[0] if get_origin(kind) in (Required, NotRequired) else kind
            if plain != name and type(None) in get_args(bare):
                faults.append(f"{where}/{plain} may not be null")
            faults += differences(shape[name], bare, f"{where}/{plain}")
    return faults


@pytest.mark.parametrize(
    ("shape", "kind"),
    [
        (responses.FAULT, Fault),
        (responses.PROBLEM, responses.ProblemDetails),
        (responses.REFUSAL, Problem),
        (responses.RESULTS, responses.Results),
        (responses.RECEIPTS, Receipts),
        (responses.CHANGES, responses.Changes),
        (responses.FOUND, VisitRows),
        (responses.PAIRED, responses.Paired),
        (SHAPES.part("vehicle.baseline"), Baseline),
        (SHAPES.part("vehicle.chart"), Chart),
        (SHAPES.visit, Visit),
    ],
)
def test_a_table_and_a_type_say_the_same(shape: Content, kind: Any) -> None:
    """Names, kinds of values, and nothing that may be null if the table forbids it."""
    assert differences(shape, kind, "") == []


def test_the_headers_of_a_photo_are_those_that_are_described() -> None:
    """How much of a photo has arrived."""
    assert set(get_type_hints(responses.UploadHeaders)) == set(OFFSET)


@pytest.mark.parametrize(
    ("shape", "expected"),
    [
        ({name: content for name, content in responses.PAIRED.items() if name != "paired_at*"}, ["/paired_at"]),
        ({**responses.PAIRED, "more": "truth"}, ["/more"]),
        ({**responses.PAIRED, "token*": "whole"}, ["/token"]),
        ({**responses.PAIRED, "token*": ListOf("text 9", 5)}, ["/token"]),
    ],
)
def test_a_difference_is_seen(shape: dict[str, Content], expected: list[str]) -> None:
    """A field that is missing, one too many, another kind of value, a list."""
    assert differences(Shape(shape), responses.Paired, "") == expected
