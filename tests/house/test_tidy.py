"""The tools that read the code: ruff for slips, mypy for types. Their rules are in pyproject.toml.

Only those tools run here.
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.support import children

ROOT = Path(__file__).resolve().parents[2]


def run(*command: str) -> None:
    """Run a tool of this environment in the checkout; its own output is the failure."""
    done = children.run([sys.executable, "-m", *command], patience_s=600, cwd=ROOT)
    assert done.returncode == 0, f"{' '.join(command)}:\n{done.stdout}{done.stderr}"


def test_ruff_finds_nothing() -> None:
    """No slip that ruff knows, in any folder."""
    run("ruff", "check", ".")


def test_types_hold() -> None:
    """mypy, strict, over sync, server and reports."""
    run("mypy")
