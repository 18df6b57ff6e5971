"""The worlds are independent: none knows another, or what is concluded. Read from the source, not run."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from tests.worlds.stock import NAMES, SHARED, world_of

HERE = Path(__file__).parent
# The modules that draw and write cases; they may use no more of the judgement than the worlds do.
DRAWING = (*SHARED, "pairs.py", "stock.py")


def layby_imports(path: Path) -> set[str]:
    """The modules of Layby and of its tests that a file imports, wherever in it."""
    modules = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            modules |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            modules.add(node.module or "")
    return {name for name in modules if name.split(".")[0] in ("sync", "server", "reports", "demo", "tests")}


@pytest.mark.parametrize("name", NAMES)
def test_a_world_knows_itself_and_what_is_asked_of_it(name: str) -> None:
    """Neither another world nor the judgement, the rulebook or how cases are drawn; its tests may draw."""
    own = f"tests.worlds.{name}"
    files = [path for path in (HERE / name).glob("*.py") if not path.name.startswith("test_")]
    assert len(files) > 3
    for path in files:
        others = {module for module in layby_imports(path) if module != own and not module.startswith(own + ".")}
        assert others <= {"tests.worlds.world"}, path.name


@pytest.mark.parametrize("name", DRAWING)
def test_what_draws_cases_knows_nothing_of_the_judgement(name: str) -> None:
    """It knows what is wrong with a car, never what should be concluded."""
    assert all(module.startswith("tests.worlds.") for module in layby_imports(HERE / name))


def test_every_room_of_a_world_is_one_that_is_drawn() -> None:
    """The folders beside this file are the worlds of the stock, each with its own name and page."""
    folders = {path.parent.name for path in HERE.glob("*/__init__.py")}
    assert folders == set(NAMES)
    for name in NAMES:
        assert world_of(name).name == name
        assert (HERE / name / "README.md").exists()
