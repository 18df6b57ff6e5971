"""A test file of a few lines, run by pytest in its own folder, under the real conftest.py and settings.

No test lives here, and no part of the tests' own machinery is replaced.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from tests.support import children
from tests.support.service import ROOT

NAME = "test_small.py"


def run_small(
    place: Path, content: str, listed: str = "", *arguments: str, before: tuple[str, ...] = ()
) -> children.CompletedProcess[str]:
    """Run one small test file.

    Args:
        place: the folder that plays the checkout, with or without more test files in its `tests`
        content: the test file
        listed: the content of allowed_skips.txt
        arguments: further arguments of pytest
        before: the words of a command that starts what follows it
    """
    shutil.copytree(ROOT / "tests" / "support", place / "tests" / "support", dirs_exist_ok=True)
    shutil.copy(ROOT / "tests" / "conftest.py", place / "tests" / "conftest.py")
    shutil.copy(ROOT / "pyproject.toml", place / "pyproject.toml")
    (place / "tests" / "allowed_skips.txt").write_text(listed, "utf-8")
    (place / "tests" / NAME).write_text(content, "utf-8")
    # Hypothesis, which none of these files uses, takes longer to load than all the rest.
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:hypothesispytest", *arguments]
    return children.run([*before, *command], cwd=place)
