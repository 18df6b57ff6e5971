"""The desk's pages as a browser would show or fill them in: a form's fields, a page as it reads, axe in both themes.

No test lives here.
"""

from __future__ import annotations

import html
import re

from playwright.sync_api import Page

from tests.phone.test_screens import at_twice_the_size, in_both
from tests.support.visitor import Visitor

# A phone held upright, and a desk's screen [CSS pixels].
WIDTHS = (360, 1180)
# What is pressed; a link within a sentence is not, and a box is pressed by its words, too.
SMALL = """() => [...document.querySelectorAll('button, nav a, .ways a, .keys a, .field input, select, .ahead a')]
  .map(one => [one.outerHTML.slice(0, 120), one.getBoundingClientRect()])
  .filter(([, box]) => box.height > 1 && box.height < 43.5)
  .map(([html, box]) => `${Math.round(box.width)} x ${Math.round(box.height)}: ${html}`)"""


def form_of(text: str, action: str) -> dict[str, str]:
    """The fields of the first form of a page that is sent there, by name, without the token."""
    form = text.split(f'action="{action}"')[1].split("</form>")[0]
    fields = {}
    for tag in re.findall(r"<input[^>]*>", form):
        name, value = (re.search(rf'{key}="([^"]*)"', tag) for key in ("name", "value"))
        if name:
            fields[html.unescape(name[1])] = html.unescape(value[1]) if value else ""
    for name, options in re.findall(r'<select[^>]*name="([^"]*)"[^>]*>(.*?)</select>', form, re.DOTALL):
        chosen = re.search(r'value="([^"]*)" selected', options) or re.search(r'value="([^"]*)"', options)
        fields[html.unescape(name)] = html.unescape(chosen[1]) if chosen else ""
    return {name: value for name, value in fields.items() if name != "form_token"}


def plain(text: str) -> str:
    """A page as it reads."""
    bare = html.unescape(re.sub(r"<[^>]*>", " ", text.split("<main")[1]))
    return " ".join(bare.replace("\u00a0", " ").split())


def read(visitor: Visitor, path: str) -> str:
    """A page that answers, as it reads."""
    status, _, text = visitor.ask("GET", path)
    assert status == 200, text
    return plain(text)


def faults_of(page: Page, name: str) -> list[str]:
    """What is wrong with a page in sun and dusk, and with its size [texts]."""
    page.set_viewport_size({"width": WIDTHS[0], "height": 800})
    return [*(f"{name}: {line}" for line in in_both(page)), *ill_sized(page, name)]


def ill_sized(page: Page, name: str) -> list[str]:
    """What is too small to press, or wider than a phone or a desk, also at twice the size of its text [texts]."""
    found = []
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 800})
        found += [*page.evaluate(SMALL), *(f"at 200 %: {one}" for one in at_twice_the_size(page))]
        is_wide = page.evaluate("document.documentElement.scrollWidth > innerWidth")
        found += ["it scrolls sideways"] if is_wide else []
    return [f"{name}: {line}" for line in found]
