"""The rulebook's books against the types that the code reads them by: every field there, of its kind, and no other."""

from __future__ import annotations

from types import NoneType, UnionType
from typing import Any, NotRequired, Required, Union, get_args, get_origin, get_type_hints, is_typeddict

from sync.kernel import json_tree
from sync.kernel.books import Rulebook, UnitSlip


def faults_of(value: Any, kind: Any, path: str) -> list[str]:
    """Where a value isn't what a type says; a book's notes on itself don't count."""
    origin = get_origin(kind)
    if origin in (Required, NotRequired):
        return faults_of(value, get_args(kind)[0], path)
    if is_typeddict(kind):
        return faults_of_object(value, kind, path)
    if origin in (Union, UnionType):
        of_each = [faults_of(value, one, path) for one in get_args(kind)]
        return [] if [] in of_each else of_each[0]
    if origin is dict and isinstance(value, dict):
        members = {name: inner for name, inner in value.items() if not name.startswith("about")}
        return [fault for name in members for fault in faults_of(value[name], get_args(kind)[1], f"{path}/{name}")]
    if origin is list and isinstance(value, list):
        inner = get_args(kind)[0]
        return [fault for at in range(len(value)) for fault in faults_of(value[at], inner, f"{path}/{at}")]
    plain = {float: (int, float), int: (int,), str: (str,), bool: (bool,), NoneType: (NoneType,)}
    sound = isinstance(value, plain.get(kind, ())) and (kind is bool or not isinstance(value, bool))
    return [] if sound else [f"{path}: {value!r:.60} is no {kind}"]


def faults_of_object(value: Any, kind: Any, path: str) -> list[str]:
    """The same for an object of declared fields."""
    if not isinstance(value, dict):
        return [f"{path}: {value!r:.60} is no object"]
    hints = get_type_hints(kind, localns=vars(json_tree), include_extras=True)
    optional = {name for name, hint in hints.items() if get_origin(hint) is NotRequired}
    if not kind.__total__:
        optional |= {name for name, hint in hints.items() if get_origin(hint) is not Required}
    present = {name for name in value if not name.startswith("about")}
    faults = [f"{path}/{name} is in no type" for name in sorted(present - set(hints))]
    faults += [f"{path}/{name} is missing" for name in sorted(set(hints) - optional - present)]
    typed = sorted(present & set(hints))
    return faults + [fault for name in typed for fault in faults_of(value[name], hints[name], f"{path}/{name}")]


def test_the_rulebook_is_what_its_types_say(rulebook: Rulebook) -> None:
    """mypy trusts these types; this checks the committed data against them."""
    # The words are trees of texts, which tests/language/ reads.
    assert faults_of({**rulebook, "words": {}}, Rulebook, "") == []


def test_a_book_that_differs_is_told() -> None:
    """A missing field, one too many, and a text where a number belongs: each is named with its place."""
    assert faults_of({"as": "psi", "scale": "2", "more": 0}, UnitSlip, "/x") == [
        "/x/more is in no type",
        "/x/offset is missing",
        "/x/scale: '2' is no <class 'float'>",
    ]
