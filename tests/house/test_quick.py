"""`python3 tests --quick` leaves out exactly the tests that need a browser.

Small test files run under the real conftest.py; the tests of the checkout are collected but not run.
"""

from __future__ import annotations

import ast
import re
import sys
from pathlib import Path

import pytest

from tests.support.children import run
from tests.support.service import ROOT
from tests.support.small_suite import run_small

IN_MANY_WAYS = """
import pytest
from playwright.sync_api import sync_playwright
from tests.support.browser import FLAGS, Phone, chromium

def opened():
    with sync_playwright() as engine:
        yield engine

class Owner:
    def phone(self):
        return Phone

@pytest.fixture
def page():
    return opened()

@pytest.fixture
def desk_page(page):
    return page

@pytest.fixture(params=[opened])
def engine(request):
    return request.param()

def test_needs_it_by_a_parameter(engine): pass
def test_needs_it_by_a_fixture(handset): pass
def test_needs_it_by_a_fixture_of_a_fixture(desk_page): pass
def test_needs_it_by_itself(): chromium()
def test_needs_it_inside(): from tests.support.webdriver import firefox
def test_needs_it_by_a_function(): opened()
def test_needs_it_by_a_class(): Owner().phone()
def test_needs_it_in_a_lambda(): (lambda: opened())()
def test_has_only_neighbours_that_do(folder): pass
"""
HIDDEN = """
import importlib, pathlib

def test_it():
    assert pathlib.Path(importlib.import_module("tests.support." + "browser").chromium()).exists()
"""
COLLECTED = """
import sys
import pytest

class Spy:
    def pytest_deselected(self, items):
        for item in items:
            print("OUT", item.nodeid)

sys.exit(pytest.main(["--quick", "--long", "--collect-only", "-q", "-p", "no:cacheprovider"], plugins=[Spy()]))
"""


def test_a_test_that_needs_a_browser_is_known_by_its_code(tmp_path: Path) -> None:
    """By a fixture, a function, a class, an import of its own; other things in the same file don't count."""
    done = run_small(tmp_path, IN_MANY_WAYS, "", "--quick", "--collect-only")
    assert done.returncode == 0, done.stdout
    assert re.findall(r"::(\w+)$", done.stdout, re.MULTILINE) == ["test_has_only_neighbours_that_do"]
    assert "8 deselected" in done.stdout


def test_a_browser_that_nobody_foresaw_is_not_to_be_had(tmp_path: Path) -> None:
    """A test that reaches a browser in a way its code doesn't show fails in a quick run, here or anywhere."""
    done = run_small(tmp_path, HIDDEN, "", "--quick")
    assert done.returncode == 1
    assert "there-is-no-browser-in-a-quick-run" in done.stdout


def imports_of(path: Path) -> set[str]:
    """The modules that a test file imports anywhere."""
    tree = ast.parse(path.read_text("utf-8"))
    modules = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            modules |= {str(node.module), *(f"{node.module}.{alias.name}" for alias in node.names)}
    return modules


def reaches_a_browser(path: Path) -> bool:
    """Whether a file, or one that it imports, imports what drives a browser, or takes the phone from conftest.py."""
    seen, waiting = set[Path](), [path]
    while waiting:
        here = waiting.pop()
        seen.add(here)
        modules = imports_of(here)
        if "handset" in here.read_text("utf-8") or any(module.startswith("playwright") for module in modules):
            return True
        if "tests.support.webdriver" in modules:
            return True
        files = [ROOT / (module.replace(".", "/") + ".py") for module in modules if module.startswith("tests.")]
        waiting += [file for file in files if file.exists() and file not in seen]
    return False


@pytest.mark.timeout(1800)
def test_nothing_else_is_left_out() -> None:
    """Of all tests, including long ones, those left out are in files that reach a browser; the rest is there."""
    done = run([sys.executable, "-c", COLLECTED], patience_s=1200, cwd=ROOT)
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr
    out = {line.split("OUT ")[1].split("::")[0] for line in done.stdout.splitlines() if line.startswith("OUT ")}
    kept = {line.split("::")[0] for line in done.stdout.splitlines() if "::" in line and not line.startswith("OUT ")}
    files = {path.relative_to(ROOT).as_posix() for path in (ROOT / "tests").rglob("test_*.py")}
    assert out | kept == files
    assert {name for name in out if not reaches_a_browser(ROOT / name)} == set()
    assert "tests/phone/test_phone.py" in out - kept
    assert "tests/server/test_endpoint.py" in out & kept
