"""The docstrings of formulae: every argument named with its unit, and a source for every formula.

Only the text is read here; whether a formula is right is tested beside its module's name.
"""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

SYNC = Path(__file__).resolve().parents[2] / "sync"
FORMULAE = ("kernel/saturation", "kernel/units", "kernel/air", "physics/cycle", "physics/refrigerant")


def public_functions() -> list[tuple[str, ast.FunctionDef]]:
    """(module.function, its tree) for every public function of the modules with formulae."""
    found = []
    for stem in FORMULAE:
        if not (SYNC / f"{stem}.py").exists():
            continue  # the last test of this module says so
        tree = ast.parse((SYNC / f"{stem}.py").read_text("utf-8"))
        functions = [node for node in tree.body if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")]
        found += [(f"{stem}.{function.name}", function) for function in functions]
    return found


FUNCTIONS = public_functions()
IDS = [name for name, _ in FUNCTIONS]


def section(docstring: str, heading: str) -> str:
    """The text under a heading of a docstring, up to the next heading or the end; empty if there is none."""
    found = re.search(rf"^{heading}:[ ]*\n?(.*?)(?=^\S|\Z)", docstring, flags=re.MULTILINE | re.DOTALL)
    return found.group(1) if found else ""


def arguments_told(docstring: str) -> dict[str, str]:
    """Each argument under `Args:` with everything said about it."""
    told: dict[str, str] = {}
    for entry in re.split(r"\n(?= {4}\w)", "\n" + section(docstring, "Args")):
        found = re.match(r" {4}(\w+):\s*(.*)", entry.lstrip("\n"), flags=re.DOTALL)
        if found:
            told[found.group(1)] = found.group(2)
    return told


@pytest.mark.parametrize(("name", "function"), FUNCTIONS, ids=IDS)
def test_every_argument_is_told_with_its_unit(name: str, function: ast.FunctionDef) -> None:
    """The signature equals `Args`, in order, and each has a unit in brackets."""
    told = arguments_told(ast.get_docstring(function) or "")
    given = function.args
    signature = [argument.arg for argument in (*given.posonlyargs, *given.args, *given.kwonlyargs)]
    assert list(told) == signature, name
    assert all(re.search(r"\[[^\]]+\]", text) for text in told.values()), f"{name}: {told}"


@pytest.mark.parametrize(("name", "function"), FUNCTIONS, ids=IDS)
def test_what_comes_back_has_a_unit_and_a_source(name: str, function: ast.FunctionDef) -> None:
    """`Returns` has its unit in brackets, and `Source` names where the formula comes from."""
    docstring = ast.get_docstring(function) or ""
    assert re.search(r"\[[^\]]+\]", section(docstring, "Returns")), name
    assert section(docstring, "Source").strip(), name


def test_the_formulae_are_found() -> None:
    """The modules exist and have public functions, so the tests above prove something."""
    assert {name.split(".")[0] for name in IDS} == set(FORMULAE)
