"""A phone to test with: real Chromium, a phone's screen and touch, and where it matters a profile that survives a kill.

No test lives here, and no part of the page is replaced.
"""

from __future__ import annotations

import atexit
import os
import re
import shutil
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, BrowserContext, Page, Playwright, expect, sync_playwright

from tests.support.service import Service

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PATIENCE_MS = 60_000  # a machine with other work is slow, which isn't the page's fault
PHONE = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True, "device_scale_factor": 2}

expect.set_options(timeout=PATIENCE_MS)


def chromium() -> str:
    """Where this machine's Chromium is [path]; `LAYBY_CHROMIUM` names another one."""
    named = os.environ.get("LAYBY_CHROMIUM")
    found = named or next((path for name in NAMES if (path := shutil.which(name))), None)
    assert found, "Chromium is needed for the tests of the phone page; `python3 tests` installs it"
    return found


@cache
def engine() -> Playwright:
    """The one driver of this process, started when it is first needed; two side by side aren't possible."""
    running = sync_playwright().start()
    atexit.register(running.stop)
    return running


def bare_chromium() -> str:
    """Where Chromium without its own windows is [path]: it takes a third less of the processor; else the whole one."""
    return (not os.environ.get("LAYBY_CHROMIUM") and shutil.which("chromium-headless-shell")) or chromium()


@cache
def lent(flags: tuple[str, ...]) -> Browser:
    """A browser for all phones of this process that are opened only once: each has a context of its own in it.

    Phones with a profile on disk have the whole Chromium.
    """
    return engine().chromium.launch(executable_path=bare_chromium(), args=list(flags), timeout=PATIENCE_MS)


@contextmanager
def borrowed() -> Iterator[Browser]:
    """The lent browser for one test: the contexts that it opens end with the block."""
    browser = lent(tuple(FLAGS))
    before = list(browser.contexts)
    try:
        yield browser
    finally:
        for context in browser.contexts:
            if context not in before:
                context.close()


class Phone:
    """One phone: a context in a lent browser, which nothing outlives; or, given a profile on disk, one that can be
    killed, closed and opened again.
    """

    def __init__(self, profile: Path | None = None, **options: Any) -> None:
        self.profile = profile
        self.flags = [*FLAGS, *options.pop("args", [])]
        self.options = {**PHONE, "locale": "en-GB", "timezone_id": "Europe/Lisbon", **options}
        self.context: BrowserContext | None = None
        self.was_opened = False
        self.complaints: list[str] = []
        self.paired: set[str] = set()

    def open(self, url: str, paired: bool = True) -> Page:
        """Open the profile on a page, noting anything the page complains about; first pair it with the page's desk."""
        self.context = self._context()
        self.context.set_default_timeout(PATIENCE_MS)
        page = self.context.pages[0] if self.context.pages else self.context.new_page()
        self.watch(page)
        if paired:
            self.go(page, url)
        else:
            page.goto(url)
        return page

    def _context(self) -> BrowserContext:
        if self.profile is None:
            assert not self.was_opened, "nothing of this phone outlives its browser: give it a profile on disk"
            self.was_opened = True
            return lent(tuple(self.flags)).new_context(**self.options)
        return engine().chromium.launch_persistent_context(
            str(self.profile), executable_path=chromium(), args=self.flags, timeout=PATIENCE_MS, **self.options)

    def go(self, page: Page, url: str) -> None:
        """Go to a page of a desk, first pairing with that desk if this phone isn't paired yet."""
        desk = "/".join(url.split("/")[:3])
        if desk in Service.at and desk not in self.paired:
            self.pair(page, Service.at[desk], desk)
        if page.url.rstrip("/") != url.rstrip("/"):
            page.goto(url)

    def pair(self, page: Page, desk: Service, reached: str | None = None) -> None:
        """Open the pairing address (the desk may be reached by another one under it), and end on the day."""
        origin = reached or desk.url
        page.goto(f"{origin}/pair#{desk.offer()}")
        # Anything waiting goes at once, and its answer may replace the first words.
        expect(page.locator("#status")).to_have_text(re.compile(r"^This phone is paired\.$|delivered to the desk\.$"))
        self.paired.add(origin)
        # For what a test asks the desk in this phone's place: pairing again would make the phone's own token worthless.
        told = page.evaluate("async () => (await import('/page.js')).$store_outbox.openOutbox().recall('desk')")
        desk.tokens[told["device"]] = told["token"]

    def watch(self, page: Page) -> None:
        """Note uncaught errors and violations of the content policy."""
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("console", self._note)

    def _note(self, message: Any) -> None:
        if message.type == "error" and "Content Security Policy" in message.text:
            self.complaints.append(message.text)

    def kill(self) -> None:
        """Kill every process of this profile at once, as a dead battery does."""
        assert self.profile is not None, "a lent browser is others' too: give this phone a profile on disk"
        killed = self._processes()
        for pid in killed:
            with_signal(pid, signal.SIGKILL)
        patience = time.monotonic() + PATIENCE_MS / 1000
        while any(is_alive(pid) for pid in killed):
            assert time.monotonic() < patience
            time.sleep(0.05)
        for name in ("SingletonLock", "SingletonCookie", "SingletonSocket"):
            (self.profile / name).unlink(missing_ok=True)
        self.context = None

    def _processes(self) -> list[int]:
        """Those that name the profile, and everything they started, which doesn't."""
        marker = f"--user-data-dir={self.profile}".encode()
        everything = list(Path("/proc").glob("[0-9]*"))
        found = [int(path.name) for path in everything if marker in command_line(path)]
        parents = {int(path.name): parent_of(path) for path in everything}
        for pid in found:
            found += [child for child, parent in parents.items() if parent == pid and child not in found]
        return found

    def close(self) -> None:
        """Close the browser as a person does."""
        if self.context is not None:
            self.context.close()
            self.context = None


def is_alive(process: int) -> bool:
    """Whether anything of a process goes on: one that looks ended may have a thread that still writes to a file."""
    try:
        threads = [path.name for path in Path(f"/proc/{process}/task").iterdir()]
        return threads != [str(process)] or "\nState:\tZ" not in Path(f"/proc/{process}/status").read_text()
    except (FileNotFoundError, ProcessLookupError):
        return False


def command_line(process: Path) -> bytes:
    """The command line of a process [bytes]; empty for one that has just ended or is a zombie."""
    try:
        return (process / "cmdline").read_bytes()
    except (FileNotFoundError, ProcessLookupError):
        return b""


def parent_of(process: Path) -> int:
    """The process that started one [number]; 0 for one that has just ended."""
    try:
        return int((process / "stat").read_text().rpartition(")")[2].split()[1])
    except (FileNotFoundError, ProcessLookupError):
        return 0


def with_signal(pid: int, number: signal.Signals) -> None:
    """Send a signal to a process that may have ended with its parent."""
    try:
        os.kill(pid, number)
    except ProcessLookupError:
        return


@contextmanager
def phone(profile: Path | None = None, **options: Any) -> Iterator[Phone]:
    """A phone whose context or browser ends with the block, whatever happens in it."""
    made = Phone(profile, **options)
    try:
        yield made
    finally:
        made.close()
