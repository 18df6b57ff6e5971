"""The watch over skips and long tests: an unlisted skip fails, a listed one passes, long tests run on request.

The real conftest.py is tried on small test files in their own folder.
"""

from __future__ import annotations

from pathlib import Path

from tests.support.small_suite import run_small

SKIPPED = "import pytest\n\ndef test_it():\n    pytest.skip('not here')\n"
LEFT_OUT_WHOLE = "import pytest\n\npytest.skip('not here', allow_module_level=True)\n"
LONG = """
import pytest

@pytest.mark.long
def test_it():
    raise AssertionError('it ran')

def test_other():
    pass
"""


def test_an_unlisted_skip_fails(tmp_path: Path) -> None:
    """A test that skips itself without a line in the list fails the run and is named."""
    done = run_small(tmp_path, SKIPPED)
    assert done.returncode == 1
    assert "tests/test_small.py::test_it" in done.stdout


def test_an_unlisted_skip_of_a_whole_file_fails(tmp_path: Path) -> None:
    """So does a file that leaves itself out, if other tests ran."""
    (tmp_path / "tests").mkdir(exist_ok=True)
    (tmp_path / "tests" / "test_other.py").write_text("def test_other():\n    pass\n", "utf-8")
    assert run_small(tmp_path, LEFT_OUT_WHOLE).returncode == 1


def test_a_listed_skip_passes(tmp_path: Path) -> None:
    """With its line and reason in the list it is allowed."""
    done = run_small(tmp_path, SKIPPED, "tests/test_small.py::test_it  # a reason\n")
    assert done.returncode == 0, done.stdout


def test_a_long_test_runs_only_when_asked_for(tmp_path: Path) -> None:
    """Without --long it is left out and doesn't count as a skip; with it, it runs."""
    assert run_small(tmp_path, LONG).returncode == 0
    done = run_small(tmp_path, LONG, "", "--long")
    assert done.returncode == 1
    assert "it ran" in done.stdout
