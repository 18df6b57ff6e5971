"""Public signatures name what goes in and comes out: no bare dict, Mapping, object or Any in the rooms of the trade.

Annotations are resolved through every alias, so that a loose type under a good name is found too.
"""

from __future__ import annotations

import collections.abc
import importlib
import inspect
import pkgutil
import typing
from collections.abc import Iterator
from types import FunctionType, ModuleType, UnionType
from typing import Any, ForwardRef, Union, get_args, get_origin, get_type_hints

import pytest

import sync
from sync.kernel import json_tree

ROOMS = ("kernel", "wire", "records", "records.store", "records.embedded", "sheet")
MAPPINGS = (dict, collections.abc.Mapping, collections.abc.MutableMapping)
# JSON whose shape isn't known yet is what these call it, all the way down; the last is what `Json` stands for.
TREES = {"Json", "JsonObject", str(json_tree.Json)}


def modules() -> Iterator[ModuleType]:
    """Every module of the rooms."""
    for room in ROOMS:
        package = importlib.import_module(f"sync.{room}")
        for found in pkgutil.iter_modules(package.__path__):
            yield importlib.import_module(f"sync.{room}.{found.name}")


def public_functions(module: ModuleType) -> Iterator[tuple[str, FunctionType]]:
    """The functions and methods that others may call, each with its name."""
    for name, member in vars(module).items():
        if name.startswith("_") or getattr(member, "__module__", None) != module.__name__:
            continue
        if inspect.isfunction(member):
            yield f"{module.__name__}.{name}", member
        elif inspect.isclass(member) and not typing.is_typeddict(member):
            for method, function in vars(member).items():
                inner = (getattr(function, name, None) for name in ("fget", "func", "__func__"))
                plain = next(filter(None, inner), function)
                # Python itself adds a constructor to a protocol.
                is_own = getattr(plain, "__module__", None) == module.__name__
                if is_own and inspect.isfunction(plain) and (not method.startswith("_") or method == "__init__"):
                    yield f"{module.__name__}.{name}.{method}", plain


FUNCTIONS = dict(named for module in modules() for named in public_functions(module))


def loose(kind: Any) -> Iterator[str]:
    """The parts of a type that say nothing: `Any`, `object`, a bare `dict` or `Mapping`, or one with such values."""
    if kind is Any or kind is object:
        yield "Any" if kind is Any else "object"
    elif kind in MAPPINGS or kind in (typing.Dict, typing.Mapping):  # noqa: UP006 -- the old names count as well
        yield f"bare {kind.__name__}"
    elif isinstance(kind, (str, ForwardRef)):
        name = kind if isinstance(kind, str) else kind.__forward_arg__
        if name not in TREES:
            yield f"unresolved {name}"
    elif get_origin(kind) is typing.Literal:
        return
    elif get_origin(kind) in (Union, UnionType) or get_origin(kind) is not None:
        for inner in get_args(kind):
            for one in inner if isinstance(inner, list) else [inner]:
                yield from loose(one)


def resolved(function: FunctionType) -> dict[str, Any]:
    """A function's types, with aliases resolved."""
    space = {**vars(json_tree), **vars(importlib.import_module(function.__module__))}
    return get_type_hints(function, space)


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_public_signature_names_its_types(name: str) -> None:
    """Each argument and each result is a type of the trade, a plain value, or a collection of those."""
    function = FUNCTIONS[name]
    hints = resolved(function)
    parameters = [one for one in inspect.signature(function).parameters if one not in ("self", "cls")]
    missing = [one for one in parameters if one not in hints]
    found = {one: sorted(set(loose(kind))) for one, kind in hints.items()}
    assert (missing, {one: told for one, told in found.items() if told}) == ([], {})


@pytest.mark.parametrize(
    ("kind", "told"),
    [
        (dict[str, Any], ["Any"]),
        (list[dict], ["bare dict"]),
        (collections.abc.Mapping[str, object] | None, ["object"]),
        (collections.abc.Callable[[Any], int], ["Any"]),
        (dict[str, float], []),
        (list[tuple[str, int]] | None, []),
    ],
)
def test_a_loose_type_is_found(kind: Any, told: list[str]) -> None:
    """The finder itself, on types written here."""
    assert list(loose(kind)) == told


def test_the_functions_are_found() -> None:
    """The rooms have public functions, so the test above proves something."""
    assert {name.split(".")[1] for name in FUNCTIONS} == {room.split(".")[0] for room in ROOMS}
    assert sync.__doc__
