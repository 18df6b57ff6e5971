"""No test can hang: children end within their patience with everything they started, and so do threads.

Small test files in their own folder run under the real conftest.py and settings; in addition, the source of the tests
is checked for what it may use.
"""

from __future__ import annotations

import ast
import contextlib
import re
import sys
from pathlib import Path

import pytest

from tests.server.test_service import soon
from tests.support.children import beside, run
from tests.support.service import ROOT
from tests.support.small_suite import run_small

# Ignores the request to end, and so does another process that it starts; says which group it is, and that it stays.
STUBBORN = "trap '' TERM; sleep 3600 & echo $$ >> started; echo here I stay; echo and nothing moves me >&2; sleep 3600"
HANGING = f"""
import threading
import pytest
from tests.support.children import beside, run
from tests.support.threads import join

COMMAND = ["/bin/sh", "-c", {STUBBORN!r}]

def test_run():
    run(COMMAND, patience_s=3)

def test_beside():
    with beside(COMMAND, patience_s=3) as child:
        assert child.line() == "here I stay"

def stays_in_a_thread():
    threading.Event().wait()

def test_thread():
    thread = threading.Thread(target=stays_in_a_thread, daemon=True)
    thread.start()
    join(thread, patience_s=1)

def stays_by_itself():
    threading.Event().wait()

@pytest.mark.timeout(2)
def test_for_another_reason():
    stays_by_itself()
"""
FORGETFUL = f"""
from tests.support.children import Child

def test_it():
    assert Child(["/bin/sh", "-c", {STUBBORN!r}]).line() == "here I stay"
"""
HEEDS_INTERRUPTS = """
import signal, sys
from tests.support.children import run

def test_it():
    assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    said = run([sys.executable, "-c", "import signal; print(signal.getsignal(signal.SIGINT).__name__)"]).stdout
    assert said == "default_int_handler\\n"
"""
NOT_IN_THE_TESTS = {"subprocess", "multiprocessing"}
# The last three are commands that are run by hand, or share out their work.
MAY_START_PROCESSES = {
    "tests/support/children.py", "tests/worlds/judged.py", "tests/worlds/loop/__init__.py", "tests/proof/__main__.py",
}
FILES = sorted(path.relative_to(ROOT).as_posix() for path in (ROOT / "tests").rglob("*.py"))
FILES = [name for name in FILES if not name.startswith("tests/bench/")]


def is_gone(group: str) -> bool:
    """Whether no process of a group is left except those that have ended and wait to be reaped."""
    for path in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(FileNotFoundError, ProcessLookupError):
            state, _, number = path.read_text().rpartition(")")[2].split()[:3]
            if number == group and state not in "ZX":
                return False
    return True


@pytest.fixture(scope="module")
def hung(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """Four tests that hang, run on two cores: their folder, and pytest's output."""
    place = tmp_path_factory.mktemp("hung")
    done = run_small(place, HANGING, "", "--numprocesses", "2")
    assert done.returncode == 1
    assert "4 failed" in done.stdout, done.stdout
    return place, done.stdout


def test_a_child_that_does_not_end_fails_its_test(hung: tuple[Path, str]) -> None:
    """Waited for, and left beside a test: both fail, show the child's output, and the grandchildren are gone."""
    place, told = hung
    for said in ("here I stay", "and nothing moves me"):
        assert len(re.findall(rf"^E +{said}$", told, re.MULTILINE)) == 2, told
    assert len(re.findall(r"^E +Failed: not within 3 s: its end", told, re.MULTILINE)) == 2
    groups = (place / "started").read_text().split()
    assert len(groups) == 2
    soon(lambda: all(is_gone(group) for group in groups), "the grandchildren to be gone")


def test_a_child_that_a_test_has_left_running_ends_with_the_tests(tmp_path: Path) -> None:
    """Neither waited for nor asked to end: the end of the tests ends it, even if cores share them."""
    assert run_small(tmp_path, FORGETFUL, "", "--numprocesses", "1").returncode == 0
    group = (tmp_path / "started").read_text().strip()
    soon(lambda: is_gone(group), "the grandchild to be gone")


def test_an_ended_child_whose_number_another_bears_leaves_that_alone() -> None:
    """The system gives the number of a process again once its group is empty."""
    asleep = [sys.executable, "-c", "import time; time.sleep(1); print('awake')"]
    with beside(asleep) as other, beside(asleep) as child:
        child.kill()
        child.process.pid = other.pid
        child.kill()
        assert child.ended()
        assert other.line() == "awake"


def test_a_thread_that_does_not_end_fails_its_test(hung: tuple[Path, str]) -> None:
    """And shows where it stands."""
    assert "did not end within 1 s" in hung[1]
    assert "in stays_in_a_thread" in hung[1]


def test_a_test_that_hangs_for_another_reason_fails_with_its_stack(hung: tuple[Path, str]) -> None:
    """The safety net below: a limit for every test, here a short one."""
    assert re.search(r"^E +Failed: Timeout", hung[1], re.MULTILINE), hung[1]
    assert re.search(r"^> +stays_by_itself\(\)", hung[1], re.MULTILINE)


def test_children_heed_interrupts_that_the_tests_ignore(tmp_path: Path) -> None:
    """Started in the background, the tests ignore Ctrl+C; their children have to heed it, or it never ends them."""
    done = run_small(tmp_path, HEEDS_INTERRUPTS, "", before=("/bin/sh", "-c", "trap '' INT; exec \"$@\"", "sh"))
    assert done.returncode == 0, done.stdout


def test_what_a_child_is_given_and_says_comes_through() -> None:
    """Its standard input, both streams larger than any pipe holds, exit status, and lines one by one."""
    done = run(["/bin/sh", "-c", "cat; echo no >&2; exit 3"], given="é\n" * 200_000)
    assert (done.returncode, done.stdout, done.stderr) == (3, "é\n" * 200_000, "no\n")
    assert run(["/bin/cat"], given=b"\xff\0", text=False).stdout == b"\xff\0"
    with beside(["/bin/sh", "-c", "echo one; echo two; printf three"]) as child:
        assert [child.line() for _ in range(4)] == ["one", "two", "three", ""]
        assert child.wait() == 0


def test_processes_are_started_in_one_place() -> None:
    """Only children.py starts processes, with a patience and the end of the whole group."""
    for name in FILES:
        tree = ast.parse((ROOT / name).read_text("utf-8"))
        modules = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
        modules |= {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
        assert name in MAY_START_PROCESSES or not modules & NOT_IN_THE_TESTS, name


def test_threads_hold_nothing_up() -> None:
    """Each is a daemon, and none is waited for without a patience."""
    for name in FILES:
        for call in ast.walk(ast.parse((ROOT / name).read_text("utf-8"))):
            if isinstance(call, ast.Call) and isinstance(call.func, ast.Attribute):
                words = {word.arg for word in call.keywords}
                assert call.func.attr != "join" or call.args or "timeout" in words, f"{name}:{call.lineno}: bare join"
                assert call.func.attr != "Thread" or "daemon" in words, f"{name}:{call.lineno}: no daemon"
