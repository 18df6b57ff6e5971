"""A test file of a few lines, run by pytest in a folder of its own, under the real conftest.py and settings.

No test lives here, and nothing of the tests' own machinery is stood in for.
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
        place: the folder that is to be the checkout, with more test files in its `tests` or not
        content: the test file
        listed: what is to stand in allowed_skips.txt
        arguments: further ones of pytest
        before: the words of a command that starts what follows it
    """
    shutil.copytree(ROOT / "tests" / "support", place / "tests" / "support", dirs_exist_ok=True)
    shutil.copy(ROOT / "tests" / "conftest.py", place / "tests" / "conftest.py")
    shutil.copy(ROOT / "pyproject.toml", place / "pyproject.toml")
    (place / "tests" / "allowed_skips.txt").write_text(listed, "utf-8")
    (place / "tests" / NAME).write_text(content, "utf-8")
    return children.run([*before, sys.executable, "-m", "pytest", "-q", *arguments], cwd=place)
