"""In three browsers, each construct of the table does what it does in Python; a refusal says where and why.

Python itself runs the snippets, so that no expected value is written by hand.
"""

from __future__ import annotations

import base64
import importlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from sync import emitter
from sync.emitter import Refused, constructs
from sync.emitter.modules import Kernel, section
from sync.errors import LaybyError
from tests.emitter.cases import CALLS, HEAD, REFUSED, REFUSED_TOGETHER, Calls
from tests.support.made_module import ENGINES, Engine, as_travelled, first_difference

SNIPPETS = Path(__file__).with_name("snippets")
PRIMITIVES = emitter.KERNEL / "primitives.py"
LINES = HEAD.count("\n")


@pytest.fixture(scope="module", params=ENGINES)
def engine(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Engine]:
    """One browser after another, on an empty page."""
    with request.param("about:blank", tmp_path_factory.mktemp("engine")) as opened:
        yield opened


def written(place: Path, source: str) -> Path:
    """A piece of Python as a module of the kernel."""
    path = place / "piece.py"
    path.write_text(source, "utf-8")
    return path


def in_python(name: str, calls: Calls) -> list[Any]:
    """What Python says."""
    module = importlib.import_module(f"tests.emitter.snippets.{name}")
    return [answer(getattr(module, function), given) for function, given in as_travelled(calls)]


def answer(function: Any, given: list[Any]) -> Any:
    """The result of one call, as the browser reports it."""
    try:
        return {"value": as_travelled(function(*given))}
    except LaybyError as error:
        return {"error": error.code}


@pytest.mark.parametrize("name", CALLS)
def test_a_construct_does_the_same_in_both_languages(engine: Engine, name: str) -> None:
    """The generated module gives what Python gives, for every call."""
    text = emitter.emitted([SNIPPETS / f"{name}.py", PRIMITIVES])
    module = "data:text/javascript;base64," + base64.b64encode(text.encode()).decode()
    here, there = in_python(name, CALLS[name]), engine.answers(CALLS[name], module, books=None)
    assert there == here, first_difference(here, there)


def test_every_row_of_the_table_has_a_snippet() -> None:
    """A row that no snippet uses isn't proven, and no snippet is there for nothing."""
    assert {path.stem for path in SNIPPETS.glob("*.py")} == set(CALLS)
    used: set[str] = set()
    for name in CALLS:
        kernel = Kernel([SNIPPETS / f"{name}.py", PRIMITIVES], emitter.ERRORS)
        for module in kernel.order:
            section(kernel, module, set())
        used |= {row for report in kernel.reports for row in report.rows}
    assert set(constructs.rows()) - used == set()


@pytest.mark.parametrize(("source", "line", "reason"), REFUSED, ids=[reason for _, _, reason in REFUSED])
def test_what_is_not_in_the_table_is_refused(tmp_path: Path, source: str, line: int, reason: str) -> None:
    """With its file, its line and its reason, and nothing else."""
    path = written(tmp_path, HEAD + source)
    found = emitter.refusals([path, PRIMITIVES])
    assert {(one.path, one.line - LINES, one.reason) for one in found} == {(str(path), line, reason)}
    assert all(constructs.REASONS[reason] in str(one) for one in found)


@pytest.mark.parametrize(("one", "other", "line", "reason"), REFUSED_TOGETHER, ids=[row[3] for row in REFUSED_TOGETHER])
def test_what_two_modules_cannot_both_have_is_refused(
    tmp_path: Path, one: str, other: str, line: int, reason: str
) -> None:
    """All modules share one scope."""
    first, second = tmp_path / "one.py", tmp_path / "other.py"
    first.write_text(one, "utf-8")
    second.write_text(other, "utf-8")
    found = {(Path(refusal.path).name, refusal.line, refusal.reason) for refusal in emitter.refusals([first, second])}
    assert (("one.py" if reason == "ring" else "other.py"), line, reason) in found


def test_every_reason_has_its_case() -> None:
    """A reason for which nothing is refused isn't one."""
    shown = {reason for _, _, reason in REFUSED} | {row[3] for row in REFUSED_TOGETHER}
    assert shown == set(constructs.REASONS)


def test_all_is_refused_at_once(tmp_path: Path) -> None:
    """One run names everything, in the order of the lines."""
    source = "def f(x: float, y: float) -> float:\n    a = x ** y\n    b = x % y\n    return round(a + b)\n"
    with pytest.raises(Refused) as refused:
        emitter.emitted([written(tmp_path, HEAD + source), PRIMITIVES])
    assert [one.line - LINES for one in refused.value.refusals] == [2, 3, 4]
    assert "piece.py" in str(refused.value)


def test_names_comments_and_docstrings_stand_in_the_module(tmp_path: Path) -> None:
    """What a person sees in a browser is what is in the Python, with the annotated types."""
    source = '''def half_of(number: float, names: list[str] | None = None) -> tuple[float, str]:
    """Half of a number.

    Args:
        number: any number [any]
        names: what it is called,
            if anything [list]

    Returns:
        the half and a word [any, text]

    Source: arithmetic.
    """
    # Why it is halved.
    half = number / 2  # and how
    return half, "half"
'''
    text = emitter.emitted([written(tmp_path, source)], errors=None)
    assert text.endswith("""
/**
 * Half of a number.
 *
 * Source: arithmetic.
 * @param {number} number any number [any]
 * @param {string[] | null} [names] what it is called, if anything [list]
 * @returns {[number, string]} the half and a word [any, text]
 */
export function half_of(number, names = null) {
  // Why it is halved.
  // and how
  const half = number / 2;
  return [half, "half"];
}
""")


def test_the_kernel_is_taken_whole() -> None:
    """Nothing of the kernel is refused, and the module has all of its public functions."""
    assert emitter.refusals() == []
    text = emitter.emitted()
    assert "export function assess(" in text
    assert max(len(line) for line in text.splitlines()) <= 200
