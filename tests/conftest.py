"""What all tests share: a fresh folder, the rulebook, a real service, long tests kept apart, and no unlisted skip.

Only fixtures and hooks: no test lives here, and their building blocks are in tests/support.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.support import children
from tests.support.browser_use import needs_browser
from tests.support.service import Service

if TYPE_CHECKING:
    from tests.support.browser import Phone

LONG_S = 7200  # the safety net below a test marked long; the one for the others is in pyproject.toml
# Commands and services that tests start speak English, whatever this machine's language.
os.environ["LAYBY_LANGUAGE"] = "en"
NO_BROWSER = "/there-is-no-browser-in-a-quick-run"
ALLOWED_SKIPS = Path(__file__).with_name("allowed_skips.txt")


# Long tests and skips ------------------------------------------------------------------------------------------------


def pytest_addoption(parser: pytest.Parser) -> None:
    """`--long` runs the tests that take minutes, `--quick` leaves out those that need a browser."""
    group = parser.getgroup("layby", "Layby")
    group.addoption("--quick", action="store_true", help="everything that needs no browser, and install none")
    group.addoption("--long", action="store_true", help="run the tests marked long, too")
    group.addoption("--write-golden", action="store_true", help="write tests/golden anew from the sheets as they are")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what wasn't requested. Left out isn't skipped: it belongs to another command."""
    wanted, others = [], []
    for item in items:
        long = item.get_closest_marker("long") is not None
        if long:
            item.add_marker(pytest.mark.timeout(LONG_S))
        left_out = (long and not config.getoption("--long")) or (config.getoption("--quick") and needs_browser(item))
        (others if left_out else wanted).append(item)
    if others:
        config.hook.pytest_deselected(items=others)
        items[:] = wanted


class SkipWatch:
    """Fails the session if a test was skipped that tests/allowed_skips.txt doesn't list."""

    def __init__(self, allowed: set[str]) -> None:
        self.allowed = allowed
        self.unlisted: list[str] = []

    def _look(self, report: Any) -> None:
        if report.skipped and not hasattr(report, "wasxfail") and report.nodeid not in self.allowed:
            self.unlisted.append(f"{report.nodeid}: {report.longrepr}")

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        self._look(report)

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        self._look(report)

    def pytest_sessionfinish(self, session: pytest.Session) -> None:
        if self.unlisted and session.exitstatus == pytest.ExitCode.OK:
            session.exitstatus = pytest.ExitCode.TESTS_FAILED

    def pytest_terminal_summary(self, terminalreporter: Any) -> None:
        if self.unlisted:
            terminalreporter.section("skipped without being listed in tests/allowed_skips.txt: a failure")
            for line in self.unlisted:
                terminalreporter.write_line(line)


def pytest_configure(config: pytest.Config) -> None:
    """Read the list of skips: one node id per line, its reason after a '#'. Make sure a quick run finds no browser."""
    lines = ALLOWED_SKIPS.read_text("utf-8").splitlines()
    allowed = {line.split("#", 1)[0].strip() for line in lines} - {""}
    if config.getoption("--quick"):
        os.environ["LAYBY_CHROMIUM"] = NO_BROWSER
    config.pluginmanager.register(SkipWatch(allowed), "layby-skip-watch")


def pytest_sessionfinish() -> None:
    """End what a failed test left running, in each process that ran tests."""
    children.end_all()


# Fixtures ------------------------------------------------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A path for a new logbook, not created yet."""
    return tmp_path / "layby"


@pytest.fixture
def service(folder: Path) -> Iterator[Service]:
    """A real service, running."""
    running = Service(folder).start()
    yield running
    running.stop()


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """A real service for the tests of a file that leave it running and don't look into its records."""
    running = Service(tmp_path_factory.mktemp("desk") / "layby").start()
    yield running
    running.stop()


@pytest.fixture
def handset() -> Iterator[Phone]:
    """A phone for one sitting, whose page reported no errors; `lasting` is one that is killed or opened again."""
    from tests.support.browser import phone  # needs playwright, which few tests do

    with phone() as made:
        yield made
        assert made.complaints == []


@pytest.fixture
def lasting(tmp_path: Path) -> Iterator[Phone]:
    """A phone with an empty profile on disk, whose page reported no errors."""
    from tests.support.browser import phone  # needs playwright, which few tests do

    with phone(tmp_path / "profile") as made:
        yield made
        assert made.complaints == []


@pytest.fixture(scope="session")
def rulebook() -> dict[str, Any]:
    """The committed rulebook, as every part reads it."""
    from sync import rulebook as books

    return books.load()
