"""Setting up: done once, entered, left alone, repaired after an interruption, and clear about what it can't provide.

A small checkout is set up for real, with a package that needs nothing, so that no network is used. The long test at the
end does the whole set-up from a bare clone.
"""

from __future__ import annotations

import ast
import json
import shutil
import sys
from pathlib import Path

import pytest

from tests.support import children
from tests.support.service import ROOT, free_port

BASE = getattr(sys, "_base_executable", sys.executable)
SET_UP_S = 1800  # the longest that a whole set-up may take
SHOWS_WHERE_IT_IS = "import sys\n\ndef main(arguments):\n    print(sys.prefix, *arguments)\n    return 7\n"
PYPROJECT = """
[build-system]
requires = []
build-backend = "backend"
backend-path = ["."]
[project]
name = "small"
version = "1"
"""
# The minimum that an editable install requires of a build backend (PEP 660).
BACKEND = '''
import pathlib, zipfile
FILES = {
    "small.pth": str(pathlib.Path(__file__).parent) + "\\n",
    "small-1.dist-info/METADATA": "Metadata-Version: 2.1\\nName: small\\nVersion: 1\\n",
    "small-1.dist-info/WHEEL": "Wheel-Version: 1.0\\nGenerator: small\\nRoot-Is-Purelib: true\\nTag: py3-none-any\\n",
    "small-1.dist-info/RECORD": "",
}
def build_editable(wheel_directory, config_settings=None, metadata_directory=None):
    if pathlib.Path("broken").exists():
        raise SystemExit("broken on purpose")
    with zipfile.ZipFile(pathlib.Path(wheel_directory, "small-1-py3-none-any.whl"), "w") as wheel:
        for name, content in FILES.items():
            wheel.writestr(name, content)
    return "small-1-py3-none-any.whl"
'''


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A checkout with the real set-up and a package that needs nothing; its demo says where it runs and ends with 7."""
    place = tmp_path_factory.mktemp("small") / "checkout"
    for name in ("demo/__main__.py", "demo/ground.py", "server/__init__.py", "server/cli/check.py"):
        (place / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(ROOT / name, place / name)
    for pins in ("tests/constraints.txt", "tests/house/javascript/package-lock.json"):
        (place / pins).parent.mkdir(parents=True, exist_ok=True)
        (place / pins).write_text("", "utf-8")
    (place / "demo" / "show.py").write_text(SHOWS_WHERE_IT_IS, "utf-8")
    (place / "pyproject.toml").write_text(PYPROJECT, "utf-8")
    (place / "backend.py").write_text(BACKEND, "utf-8")
    return place


def start(checkout: Path, *arguments: str, python: str = BASE) -> children.CompletedProcess[str]:
    """Start the small checkout's demo."""
    command = [python, "demo", *arguments]
    return children.run(command, patience_s=SET_UP_S, cwd=checkout)


def ask_for(checkout: Path, version: str) -> None:
    """Make the small checkout's project another version, which its .venv doesn't hold yet."""
    (checkout / "pyproject.toml").write_text(PYPROJECT.replace('version = "1"', f'version = "{version}"'), "utf-8")


def entered(done: children.CompletedProcess[str], checkout: Path, *arguments: str) -> bool:
    """Whether the demo ran inside the checkout's .venv with its arguments, and its exit status came through."""
    assert done.returncode == 7, done.stdout + done.stderr
    return done.stdout.splitlines()[-1] == " ".join([str(checkout / ".venv"), *arguments])


def test_a_bare_checkout_is_set_up_and_entered(small: Path) -> None:
    """The first start makes .venv and goes on inside it, arguments and exit status intact."""
    shutil.rmtree(small / ".venv", ignore_errors=True)
    done = start(small, "--once", "x y")
    assert "Setting up" in done.stdout
    assert entered(done, small, "--once", "x y")


def test_a_second_start_does_nothing(small: Path) -> None:
    """Once it is there it is left alone, even if started with .venv's own Python."""
    start(small)
    stamp = small / ".venv" / "layby-stamp.json"
    before = stamp.stat().st_mtime_ns
    for python in (BASE, str(small / ".venv" / "bin" / "python")):
        done = start(small, python=python)
        assert len(done.stdout.splitlines()) == 1
        assert entered(done, small)
    assert stamp.stat().st_mtime_ns == before


def test_an_interrupted_set_up_is_made_anew(small: Path) -> None:
    """If it is killed in the middle, the next start doesn't trust what is there."""
    shutil.rmtree(small / ".venv", ignore_errors=True)
    with children.beside([BASE, "demo"], cwd=small) as running:
        running.until(lambda: (small / ".venv" / "pyvenv.cfg").exists() or running.ended(), "the set-up to begin")
        assert not running.ended()
        running.kill()
    leftover = small / ".venv" / "half-written"
    leftover.write_text("", "utf-8")
    done = start(small)
    assert "Setting up" in done.stdout
    assert entered(done, small)
    assert not leftover.exists()


def test_what_is_asked_for_decides(small: Path) -> None:
    """Another version of the project updates a finished .venv, once; a tool's setting doesn't."""
    start(small)
    ask_for(small, version="1.1")
    assert "up to date" in start(small).stdout
    project = small / "pyproject.toml"
    project.write_text(project.read_text("utf-8") + "[tool.ruff]\nline-length = 99\n", "utf-8")
    done = start(small)
    assert "up to date" not in done.stdout
    assert entered(done, small)


def test_a_failed_installation_is_said_and_tried_again(small: Path) -> None:
    """If the packages can't be installed, it says so and ends with 1; the next start tries again."""
    start(small)
    ask_for(small, version="1.2")
    (small / "broken").touch()
    failed = start(small)
    (small / "broken").unlink()
    assert failed.returncode == 1
    assert "could not be installed" in failed.stderr
    assert "up to date" in start(small).stdout
    assert entered(start(small), small)


def test_an_environment_that_cannot_be_entered_starts_no_loop(small: Path) -> None:
    """A .venv whose Python isn't its own is named instead of being started for ever."""
    start(small)
    kept = small / ".venv" / "pyvenv.cfg"
    content = kept.read_text("utf-8")
    kept.unlink()
    try:
        done = start(small)
    finally:
        kept.write_text(content, "utf-8")
    assert done.returncode == 1
    assert "Remove that folder" in done.stderr


@pytest.mark.parametrize("name", ["demo/__main__.py", "tests/__main__.py"])
def test_an_old_python_can_read_far_enough_to_say_so(name: str) -> None:
    """The starting files parse in Python 3.6 and check the version before any other import, in a form it knew."""
    tree = ast.parse((ROOT / name).read_text("utf-8"), feature_version=(3, 6))
    kinds = [type(node).__name__ for node in tree.body]
    after = kinds.index("If")
    before = [node for node in tree.body[:after] if isinstance(node, ast.Import)]
    assert [alias.name for node in before for alias in node.names] == ["os", "sys"]
    assert "ImportFrom" not in kinds[:after]


def in_a_bare_shell(code: str) -> children.CompletedProcess[str]:
    """Run code with no command on the path, as on a system whose packages we can't install."""
    surroundings = {"PATH": "", "PYTHONPATH": str(ROOT)}
    return children.run([BASE, "-c", code], env=surroundings, cwd=ROOT)


def test_what_cannot_be_installed_is_told_for_each_system() -> None:
    """If apt-get may not be called, the exact commands for four systems are printed, and it ends with 1."""
    done = in_a_bare_shell("from demo import ground; ground.bring_system(lambda: ['venv', 'pango', 'chromium'])")
    assert done.returncode == 1
    for said in ("Debian", "Fedora", "macOS", "Windows", "apt-get install", "dnf install", "brew install", "winget"):
        assert said in done.stderr
    for package in ("libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0", "python3-venv", "chromium"):
        assert package in done.stderr


def test_a_missing_browser_is_noticed() -> None:
    """Without a Chromium on the path the tests ask for one; the demo doesn't."""
    alone = "ground.VENV = ground.ROOT / 'none'; ground.MAC_BROWSERS = ()"
    done = in_a_bare_shell(f"from demo import ground; {alone}; print(ground.browser_wanting())")
    assert done.stdout.split() == ["['chromium']"]


def test_further_browsers_that_cannot_be_had_stop_nothing() -> None:
    """If they are missing and can't be installed, each is named with Debian's command, and the start goes on."""
    done = in_a_bare_shell("from demo import ground; ground.bring_further_parts(); print('on')")
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-1] == "on"
    assert "firefox-esr" in done.stdout
    assert "webkit2gtk-driver xvfb" in done.stdout


def test_this_machine_has_what_layby_needs(folder: Path) -> None:
    """Where these tests run, `layby check` finds everything and ends with 0."""
    layby = Path(sys.executable).with_name("layby")
    done = children.run([layby, "--folder", str(folder), "check"])
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Everything Layby needs is here." in done.stdout
    assert not folder.exists()


def test_a_missing_part_is_told_with_its_remedy(tmp_path: Path) -> None:
    """An environment with none of the packages: each is named with what to type, and the check ends with 1."""
    bare = tmp_path / "bare"
    children.run([BASE, "-m", "venv", "--without-pip", str(bare)], check=True)
    code = "from pathlib import Path; from server.cli import check; raise SystemExit(check.run(Path('here')))"
    command = [bare / "bin" / "python", "-c", code]
    surroundings = {"PYTHONPATH": str(ROOT)}
    done = children.run(command, cwd=tmp_path, env=surroundings)
    assert done.returncode == 1
    assert "MISSING  CoolProp: not installed" in done.stdout
    assert "-m pip install CoolProp" in done.stdout


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    """If the logbook's folder would be under a plain file, it is named as not writable, with a way out."""
    (tmp_path / "file").write_text("", "utf-8")
    layby = Path(sys.executable).with_name("layby")
    command = [layby, "--folder", str(tmp_path / "file" / "layby"), "check"]
    done = children.run(command)
    assert done.returncode == 1
    assert "--folder" in done.stdout


@pytest.mark.long
def test_a_bare_clone_runs_the_demo_with_nothing_but_python(tmp_path: Path) -> None:
    """A copy without .venv: `python3 demo --once` installs what it needs, no test tools, and plays the day."""
    clone = tmp_path / "layby"
    shutil.copytree(ROOT, clone, ignore=shutil.ignore_patterns(".venv", ".demo", ".git", ".*_cache", "__pycache__"))
    done = start(clone, "--once", "--port", str(free_port()))
    assert done.returncode == 0, done.stdout + done.stderr
    assert list((clone / ".demo" / "outgoing").glob("*.eml"))
    command = [clone / ".venv" / "bin" / "python", "-m", "pip", "list", "--format", "json"]
    installed = children.run(command, check=True)
    names = {package["name"].lower() for package in json.loads(installed.stdout)}
    assert "coolprop" in names
    assert not names & {"pytest", "playwright", "mypy", "ruff", "hypothesis"}
