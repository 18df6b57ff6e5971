"""The watch over skips and the long tests: an unlisted skip fails, a listed one passes, long tests run when asked for.

The real conftest.py is tried on small test files in a folder of their own.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

from tests.support.service import ROOT

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


def run(place: Path, content: str, listed: str = "", *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run one small test file under the real conftest.py."""
    shutil.copytree(ROOT / "tests" / "support", place / "tests" / "support", dirs_exist_ok=True)
    shutil.copy(ROOT / "tests" / "conftest.py", place / "tests" / "conftest.py")
    shutil.copy(ROOT / "pyproject.toml", place / "pyproject.toml")
    (place / "tests" / "allowed_skips.txt").write_text(listed, "utf-8")
    (place / "tests" / "test_small.py").write_text(content, "utf-8")
    command = [sys.executable, "-m", "pytest", "-q", *arguments]
    return subprocess.run(command, cwd=place, capture_output=True, text=True, check=False)


def test_an_unlisted_skip_fails(tmp_path: Path) -> None:
    """A test that skips itself without a line in the list fails the run and is named."""
    done = run(tmp_path, SKIPPED)
    assert done.returncode == 1
    assert "tests/test_small.py::test_it" in done.stdout


def test_an_unlisted_skip_of_a_whole_file_fails(tmp_path: Path) -> None:
    """So does a file that leaves itself out, when other tests ran."""
    (tmp_path / "tests").mkdir(exist_ok=True)
    (tmp_path / "tests" / "test_other.py").write_text("def test_other():\n    pass\n", "utf-8")
    assert run(tmp_path, LEFT_OUT_WHOLE).returncode == 1


def test_a_listed_skip_passes(tmp_path: Path) -> None:
    """With its line and reason in the list it is allowed."""
    done = run(tmp_path, SKIPPED, "tests/test_small.py::test_it  # a reason\n")
    assert done.returncode == 0, done.stdout


def test_a_long_test_runs_only_when_asked_for(tmp_path: Path) -> None:
    """Without --long it is left out and is no skip; with it, it runs."""
    assert run(tmp_path, LONG).returncode == 0
    done = run(tmp_path, LONG, "", "--long")
    assert done.returncode == 1
    assert "it ran" in done.stdout
