"""Which tests need a browser, found from their code, so that nobody has to mark them.

A test needs one if it, one of its fixtures, a function passed as a parameter, or a test function that any of these
reaches names something from the modules that drive browsers. No test lives here, and nothing is run.
"""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Iterator
from types import CodeType, ModuleType
from typing import Any

import pytest

DRIVERS = ("playwright", "tests.support.browser", "tests.support.webdriver")


def needs_browser(item: pytest.Item) -> bool:
    """Whether a collected test drives a browser."""
    if not isinstance(item, pytest.Function):
        return False
    fixtures = [made.func for name in item.fixturenames for made in item._fixtureinfo.name2fixturedefs.get(name, ())]
    callspec = getattr(item, "callspec", None)
    handed_over = [value for value in (callspec.params.values() if callspec else ()) if inspect.isfunction(value)]
    return any(_reaches_driver(inspect.unwrap(function)) for function in (item.function, *fixtures, *handed_over))


@functools.cache
def _reaches_driver(start: Callable[..., Any]) -> bool:
    """Whether a function, or one of the tests' own functions that it leads to, names something of a driver."""
    seen, waiting = set[Any](), [start]
    while waiting:
        function = inspect.unwrap(waiting.pop())
        seen.add(function)
        for name in _names(function.__code__):
            value = function.__globals__.get(name)
            if _of_driver(name) or _of_driver(_home(value)):
                return True
            if _home(value).startswith("tests."):
                waiting += [one for one in _functions(value) if inspect.unwrap(one) not in seen]
    return False


def _names(code: CodeType) -> Iterator[str]:
    """Every global, attribute and module named in a function's code and that of functions inside it."""
    yield from code.co_names
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            yield from _names(constant)


def _of_driver(module: str) -> bool:
    return any(module == driver or module.startswith(f"{driver}.") for driver in DRIVERS)


def _home(value: Any) -> str:
    """The module that a value comes from, or is; empty for a plain value."""
    home = value.__name__ if isinstance(value, ModuleType) else getattr(value, "__module__", None)
    return home if isinstance(home, str) else ""


def _functions(value: Any) -> list[Callable[..., Any]]:
    """The parts of a value with code: a function itself, the methods of a class; a module's functions are too many."""
    if inspect.isclass(value):
        return [one for one in vars(value).values() if inspect.isfunction(one)]
    return [value] if inspect.isfunction(value) else []
