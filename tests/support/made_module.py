"""The rules as a browser runs them: functions of the generated module called in Chromium, Firefox and WebKitGTK.

No test lives here. Input and output travel as JSON text, so that no driver changes a number on the way.
"""

from __future__ import annotations

import contextlib
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.support import webdriver
from tests.support.browser import borrowed
from tests.support.service import free_port

# A whole number of the kernel has no form in JSON; it travels as a text that says what it is.
CALLS = """(text, done) => (async () => {
  const { module, books, calls } = JSON.parse(text);
  const rules = await import(module);
  const rulebook = books === null ? null : await (await fetch(books)).json();
  const known = new Map([["@rulebook", rulebook], ["@kinds", rulebook?.kinds]]);
  const answer = ([name, given]) => {
    try {
      return { value: rules[name](...given.map((one) => (known.has(one) ? known.get(one) : one))) ?? null };
    } catch (error) {
      return { error: error.code ?? error.name };
    }
  };
  return JSON.stringify(calls.map(answer), (_, value) => (typeof value === "bigint" ? `${value}n` : value));
})().then(done, (error) => done(`!${error.name}: ${error.message}`))"""

Call = tuple[str, list[Any]]
Answer = Callable[[str], str]


class Engine:
    """A browser with the generated module: `ask` runs the calls in a JSON text and returns the answers as another."""

    def __init__(self, name: str, ask: Answer) -> None:
        self.name = name
        self.ask = ask

    def answers(self, calls: list[Call], module: str = "/kernel.js", books: str | None = "/rulebook.json") -> list[Any]:
        """The result of each call: {value} or {error}, the error's code or JavaScript's name for it."""
        found: list[Any] = []
        for start in range(0, len(calls), 100):
            text = self.ask(json.dumps({"module": module, "books": books, "calls": calls[start : start + 100]}))
            assert not text.startswith("!"), text
            found += json.loads(text)
        return found


def as_travelled(value: Any) -> Any:
    """A value of Python as it would come back: through JSON, so that whole floats and integers are alike."""
    return json.loads(json.dumps(value))


def with_wholes(value: Any) -> Any:
    """A value whose integers are whole numbers of the kernel, as those come back."""
    if isinstance(value, dict):
        return {name: with_wholes(one) for name, one in value.items()}
    if isinstance(value, list):
        return [with_wholes(one) for one in value]
    return f"{value}n" if isinstance(value, int) else value


def first_difference(one: Any, other: Any, path: str = "") -> str:
    """Where two results differ, for a person to read."""
    if isinstance(one, dict) and isinstance(other, dict):
        for key in sorted({*one, *other}):
            if key not in one or key not in other:
                return f"{path}/{key} is on one side only"
            if one[key] != other[key]:
                return first_difference(one[key], other[key], f"{path}/{key}")
    if isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        for i, (left, right) in enumerate(zip(one, other, strict=True)):
            if left != right:
                return first_difference(left, right, f"{path}/{i}")
    return f"{path}: {one!r} in Python, {other!r} in the browser"


@contextlib.contextmanager
def in_chromium(url: str, ground: Path) -> Iterator[Engine]:
    """Chromium on a page of an address."""
    with borrowed() as browser:
        page = browser.new_page()
        page.goto(url)
        script = f"(text) => new Promise((done) => ({CALLS})(text, done))"
        yield Engine("Chromium", lambda text: str(page.evaluate(script, text)))


def _driven(browser: webdriver.Browser, url: str, name: str) -> Engine:
    browser.go(url)

    def ask(text: str) -> str:
        browser.run(f"window.answer = null; ({CALLS})(arguments[0], (found) => {{ window.answer = found; }})", text)
        return str(browser.until("return window.answer"))

    return Engine(name, ask)


@contextlib.contextmanager
def in_firefox(url: str, ground: Path) -> Iterator[Engine]:
    """Firefox on a page of an address."""
    with webdriver.in_firefox(ground / "firefox") as browser:
        yield _driven(browser, url, "Firefox")


@contextlib.contextmanager
def in_webkit(url: str, ground: Path) -> Iterator[Engine]:
    """WebKitGTK on a page of an address."""
    with webdriver.in_webkit(ground, free_port()) as browser:
        yield _driven(browser, url, "WebKitGTK")


NO_FIREFOX = pytest.mark.skipif(
    webdriver.firefox() is None, reason="Firefox is not here; `python3 tests` installs it on Debian"
)
NO_WEBKIT = pytest.mark.skipif(
    webdriver.webkit() is None, reason="WebKitGTK is not here; `python3 tests` installs it on Debian"
)
ENGINES = [
    pytest.param(in_chromium, id="chromium"),
    pytest.param(in_firefox, id="firefox", marks=NO_FIREFOX),
    pytest.param(in_webkit, id="webkit", marks=NO_WEBKIT),
]
