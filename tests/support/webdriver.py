"""Browsers other than Chromium, driven by the W3C's WebDriver commands: WebKitGTK by its driver, Firefox by Marionette.

Standard library only, and only the commands that the tests use; no test lives here. Sources: W3C WebDriver; Firefox
source docs, "Marionette: protocol" (length-prefixed JSON over TCP).
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import socket
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from tests.support.children import PATIENCE_S, Child, beside

ELEMENT = "element-6066-11e4-a52e-4f735466cecf"  # the key of an element reference; W3C WebDriver, section 12.1
FIREFOX = ("firefox-esr", "firefox")
# Firefox itself makes no outside connection while it is tested.
QUIET = {
    "marionette.port": 0,
    "app.update.auto": False,
    "browser.aboutwelcome.enabled": False,
    "browser.region.update.enabled": False,
    "browser.safebrowsing.malware.enabled": False,
    "browser.safebrowsing.phishing.enabled": False,
    "browser.shell.checkDefaultBrowser": False,
    "browser.startup.page": 0,
    "datareporting.policy.dataSubmissionEnabled": False,
    "extensions.update.enabled": False,
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
    "services.settings.server": "data:,nothing",
    "toolkit.telemetry.enabled": False,
}


# The page then has the height of a phone's, 740 px, below what Firefox itself shows.
WINDOW = {"MOZ_HEADLESS_WIDTH": "500", "MOZ_HEADLESS_HEIGHT": "825"}


class Refused(Exception):
    """The browser didn't carry out a command; the first argument is the W3C's error code."""


def firefox() -> str | None:
    """Where Firefox is, or None [path]."""
    return next((path for name in FIREFOX if (path := shutil.which(name))), None)


def webkit() -> str | None:
    """Where WebKitGTK's driver is, or None if it or the screen it needs is missing [path]."""
    return shutil.which("WebKitWebDriver") if shutil.which("Xvfb") else None


class Browser:
    """An open page; `ask` sends one command and returns its value."""

    def __init__(self, ask: Callable[[str, dict[str, Any]], Any]) -> None:
        self.ask = ask

    def go(self, url: str) -> None:
        """Open an address and wait until it is loaded."""
        self.ask("navigate", {"url": url})

    def run(self, script: str, *given: Any) -> Any:
        """The result of a script's `return`; its arguments are in `arguments`."""
        return self.ask("script", {"script": script, "args": list(given)})

    def until(self, script: str, *given: Any) -> Any:
        """The first result of a script that counts as true; asked repeatedly, even across a navigation."""
        until = time.monotonic() + PATIENCE_S
        while True:
            with contextlib.suppress(Refused):
                found = self.run(script, *given)
                if found:
                    return found
            assert time.monotonic() < until, f"not within {PATIENCE_S} s: {script} {given}; {self.run(SHOWN)}"
            time.sleep(0.05)

    def tap(self, words: str) -> None:
        """Click the element with these words, as a person would."""
        self._with(BY_WORDS, words, lambda element: self.ask("click", {"id": element}))

    def step(self, name: str) -> None:
        """Jump to a step by the panel of steps."""
        self.run("document.querySelector('#foot .steps').click()")
        self.tap(name)

    def press(self, selector: str) -> None:
        """Click what a selector of CSS finds first."""
        self._with(BY_SELECTOR, selector, lambda element: self.ask("click", {"id": element}))

    def type(self, label: str, text: str) -> None:
        """Type into a field by its label."""
        self._with(BY_LABEL, label, lambda element: self.ask("clear", {"id": element}))
        self._with(BY_LABEL, label, lambda element: self.ask("keys", {"id": element, "text": text}))

    def _with(self, script: str, words: str, act: Callable[[str], Any]) -> None:
        """Do something with an element; find it again if the page was redrawn in between."""
        until = time.monotonic() + PATIENCE_S
        while True:
            try:
                act(self.until(script, words)[ELEMENT])
                return
            except Refused as refused:
                if refused.args[0] not in NOT_YET or time.monotonic() > until:
                    raise

    def hand_over(self, group: str, path: Path) -> None:
        """Give a file to the first field for files in a group, as the camera does, and wait for its picture."""
        field = self.until(BY_FILE, group)
        self.ask("keys", {"id": field[ELEMENT], "text": str(path)})
        self.until(f"{IN_GROUP} return group?.querySelector('canvas') && true", group)

    def see(self, words: str) -> None:
        """Wait until these words are on the page."""
        self.until("return document.body.innerText.includes(arguments[0])", words)


NOT_YET = ("stale element reference", "element not interactable", "element click intercepted")
SHOWN = "return location.pathname + ' ' + document.body.innerText.slice(0, 1500)"
# What moves is clicked where it was: an element counts once it stands where it did before. A panel that is about to
# rise stands still as well on a busy machine.
STILL = """
  const still = (one) => {
    const { x, y, width } = one.getBoundingClientRect();
    const place = [x, y, width].join();
    const stood = one.stoodAt === place;
    one.stoodAt = place;
    return stood && !one.closest("dialog")?.getAnimations().length;
  };
"""
BY_WORDS = STILL + """
  const plain = (node) => (node.getAttribute("aria-label") ?? node.textContent).replace(/\\s+/g, " ").trim();
  const seen = (one) => one.getClientRects().length > 0;
  const all = [...document.querySelectorAll("button, a, label, summary")].filter(seen);
  const found = all.find((one) => plain(one) === arguments[0]) ??
    all.find((one) => plain(one).startsWith(`${arguments[0]} \u00b7 `));  // a step: "Vehicle · open"
  found?.scrollIntoView({ block: "center" });
  return found && still(found) ? found : null;
"""
BY_SELECTOR = STILL + """
  const found = document.querySelector(arguments[0]);
  return found && still(found) ? found : null;
"""
BY_LABEL = """
  const named = (field) => [...(field.labels ?? [])].some((label) => label.textContent.trim() === arguments[0]);
  const found = [...document.querySelectorAll("input, textarea")].find((field) => field.getClientRects().length > 0 &&
    (field.getAttribute("aria-label") === arguments[0] || named(field)));
  found?.scrollIntoView({ block: "center" });
  return found;
"""

IN_GROUP = """
  const group = [...document.querySelectorAll("fieldset, [role=group]")].find((one) => (one.getAttribute("aria-label")
    ?? one.querySelector("legend")?.textContent ?? "").trim() === arguments[0]);
"""
BY_FILE = f"{IN_GROUP} return group?.querySelector('input[type=file]')"


# Firefox -------------------------------------------------------------------------------------------------------------

MARIONETTE = {
    "navigate": "WebDriver:Navigate",
    "script": "WebDriver:ExecuteScript",
    "click": "WebDriver:ElementClick",
    "clear": "WebDriver:ElementClear",
    "keys": "WebDriver:ElementSendKeys",
    "session": "WebDriver:NewSession",
}


class Marionette:
    """Firefox's own port: `[0, number, command, given]` out, `[1, number, error, value]` back."""

    def __init__(self, port: int) -> None:
        self.line = socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_S)
        self.rest = b""
        self.number = 0
        self._answer()  # it first says what it is

    def ask(self, command: str, given: dict[str, Any]) -> Any:
        """One command; its value."""
        self.number += 1
        content = json.dumps([0, self.number, MARIONETTE[command], given]).encode()
        self.line.sendall(b"%d:%b" % (len(content), content))
        _, _, error, value = self._answer()
        if error is not None:
            raise Refused(error["error"], error["message"])
        return value["value"] if isinstance(value, dict) and list(value) == ["value"] else value

    def _answer(self) -> Any:
        while b":" not in self.rest:
            self.rest += self._more()
        length, _, self.rest = self.rest.partition(b":")
        while len(self.rest) < int(length):
            self.rest += self._more()
        content, self.rest = self.rest[: int(length)], self.rest[int(length) :]
        return json.loads(content)

    def _more(self) -> bytes:
        piece = self.line.recv(1 << 16)
        assert piece, "Firefox has hung up"
        return piece


@contextlib.contextmanager
def in_firefox(profile: Path, languages: str = "en-US, en") -> Iterator[Browser]:
    """Firefox without a window on its own profile, which stays; killed at the end, as a dead battery does."""
    command = firefox()
    assert command
    profile.mkdir(exist_ok=True)
    wanted = {**QUIET, "intl.accept_languages": languages}
    prefs = "".join(f"user_pref({json.dumps(name)}, {json.dumps(value)});\n" for name, value in wanted.items())
    (profile / "user.js").write_text(prefs, "utf-8")
    said = profile / "MarionetteActivePort"
    said.unlink(missing_ok=True)
    arguments = ["--headless", "--marionette", "--no-remote", "--profile", str(profile), "about:blank"]
    with beside([command, *arguments], log=profile / "firefox.log", env={**os.environ, **WINDOW}) as browser:
        until_it(browser, lambda: said.exists() and said.read_text() != "", "its port")
        marionette = Marionette(int(said.read_text()))
        with contextlib.closing(marionette.line):
            marionette.ask("session", {"capabilities": {}})
            yield Browser(marionette.ask)
        browser.kill()


# WebKitGTK -----------------------------------------------------------------------------------------------------------


class Driver:
    """WebKitGTK's driver: W3C WebDriver over HTTP."""

    def __init__(self, port: int) -> None:
        self.url = f"http://127.0.0.1:{port}"
        browser = {"binary": str(mini_browser()), "args": ["--automation"]}
        wanted = {"capabilities": {"alwaysMatch": {"webkitgtk:browserOptions": browser}}}
        self.session = self._post("/session", wanted)["sessionId"]

    def ask(self, command: str, given: dict[str, Any]) -> Any:
        """One command; its value."""
        element = given.get("id", "")
        path = {
            "navigate": "/url",
            "script": "/execute/sync",
            "click": f"/element/{element}/click",
            "clear": f"/element/{element}/clear",
            "keys": f"/element/{element}/value",
            "window": "/window/rect",
        }[command]
        return self._post(f"/session/{self.session}{path}", given)

    def _post(self, path: str, given: dict[str, Any]) -> Any:
        headers = {"Content-Type": "application/json"}
        request = urllib.request.Request(self.url + path, json.dumps(given).encode(), headers)
        try:
            with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:
                return json.loads(answer.read())["value"]
        except urllib.error.HTTPError as error:
            with error:
                told = json.loads(error.read())["value"]
            raise Refused(told["error"], told["message"]) from error


def mini_browser() -> Path:
    """The small browser that comes with the driver [path]."""
    return next(iter(sorted(Path("/usr/lib").glob("*/webkit2gtk-4.*/MiniBrowser"), reverse=True)))


@contextlib.contextmanager
def in_webkit(ground: Path, port: int, language: str = "en_US") -> Iterator[Browser]:
    """WebKitGTK on an invisible screen; everything of it is gone at the end."""
    driver = webkit()
    assert driver
    with beside(["Xvfb", "-displayfd", "1", "-screen", "0", "800x900x24", "-nolisten", "tcp"]) as display:
        number = display.line()
        around = {**os.environ, "DISPLAY": f":{number}", "HOME": str(ground), "LANGUAGE": language}
        with beside([driver, f"--port={port}"], log=ground / "webkit.log", env=around) as process:
            until_it(process, lambda: listens(port), "its port")
            ask = Driver(port).ask
            ask("window", {"width": 500, "height": 870})  # the page is as high as a phone's there, too
            yield Browser(ask)


def listens(port: int) -> bool:
    """Whether somebody listens on a port."""
    with socket.socket() as trial:
        return trial.connect_ex(("127.0.0.1", port)) == 0


def until_it(child: Child, holds: Callable[[], bool], what: str) -> None:
    """Wait until something holds that a child has to bring about, and fail if it ends before."""
    child.until(lambda: holds() or child.ended(), what)
    if child.ended():
        child.fail("it ended by itself")
