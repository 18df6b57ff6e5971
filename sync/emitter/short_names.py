"""Short names inside the functions of the kernel, for the module that a phone loads: its text is read by no person.

A name that a module gives to others, a field, and a parameter that is named in a call stay as they are. It is done to
the syntax trees before anything is written, so that no rule of a construct has to know of it.
"""

from __future__ import annotations

import ast
import itertools
import string
from collections.abc import Iterable, Iterator


def shorten(trees: Iterable[ast.Module]) -> None:
    """Shorten the names that nobody outside a function knows, in place.

    Args:
        trees: all modules, which share one scope [syntax trees]
    """
    modules = list(trees)
    kept = {node.arg for tree in modules for node in ast.walk(tree) if isinstance(node, ast.keyword) and node.arg}
    kept |= {name for tree in modules for name in _top_names(tree)} | {"self"}
    numbers = itertools.count()
    for tree in modules:
        for node in tree.body:
            for function in node.body if isinstance(node, ast.ClassDef) else [node]:
                if isinstance(function, ast.FunctionDef):
                    _shorten(function, kept)
        _shorten_private(tree, numbers)


def _top_names(tree: ast.Module) -> Iterator[str]:
    """What a module defines or imports."""
    for node in tree.body:
        if isinstance(node, (ast.Import, ast.ImportFrom)):
            yield from (one.asname or one.name for one in node.names)
        elif isinstance(node, (ast.FunctionDef, ast.ClassDef)):
            yield node.name
        else:
            yield from (one.id for one in ast.walk(node) if isinstance(one, ast.Name))


def _shorten(function: ast.FunctionDef, kept: set[str]) -> None:
    inside = [node for node in ast.walk(function) if node is not function]
    own = list(dict.fromkeys(name for node in inside for name in _bound(node) if name not in kept))
    known = {node.id for node in inside if isinstance(node, ast.Name)} - set(own)
    pool = (name for name in _names() if name not in known | kept)
    short = dict(zip(own, pool, strict=False))
    for node in inside:
        if isinstance(node, ast.Name):
            node.id = short.get(node.id, node.id)
        elif isinstance(node, ast.arg):
            node.arg = short.get(node.arg, node.arg)
        elif isinstance(node, (ast.FunctionDef, ast.ExceptHandler)) and node.name is not None:
            node.name = short.get(node.name, node.name)


def _shorten_private(tree: ast.Module, numbers: Iterator[int]) -> None:
    """Number the functions and constants of a module that begin with an underscore, over all modules."""
    private = [name for name in dict.fromkeys(_top_names(tree)) if name.startswith("_") and not name.startswith("__")]
    short = {name: f"_{next(numbers)}" for name in private}
    for node in ast.walk(tree):
        if isinstance(node, ast.Name):
            node.id = short.get(node.id, node.id)
        elif isinstance(node, (ast.FunctionDef, ast.ClassDef)):
            node.name = short.get(node.name, node.name)


def _bound(node: ast.AST) -> list[str]:
    """The names that a node makes."""
    if isinstance(node, ast.arg):
        return [node.arg]
    if isinstance(node, ast.Name):
        return [node.id] if isinstance(node.ctx, ast.Store) else []
    if isinstance(node, ast.FunctionDef):
        return [node.name]
    return [node.name] if isinstance(node, ast.ExceptHandler) and node.name else []


def _names() -> Iterator[str]:
    """a, b, ... z, A, ... Z, a0, b0, ...: no word of JavaScript, and no name of the runtime, which holds no digit."""
    for number in itertools.chain([""], map(str, itertools.count())):
        yield from (letter + number for letter in string.ascii_letters)
