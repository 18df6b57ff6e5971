"""Every screen of the phone page, in sun and dusk: readable by a screen reader, large enough to touch, whole at 200 %.

The rules are axe-core's (WCAG 2.2 A and AA) and the project's own sizes; no pictures are looked at here.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, Literal

import axe_core_python
import pytest
from playwright.sync_api import Page

from tests.support.browser import phone
from tests.support.service import Service
from tests.support.walk import walk

AXE = (Path(axe_core_python.__file__).parent / "axe.min.js").read_text("utf-8")
THEMES: dict[str, Literal["light", "dark"]] = {"sun": "light", "dusk": "dark"}

# What a finger has to hit, in CSS pixels, and what is too close to a neighbour that it doesn't touch.
SMALL_TARGETS = """() => [...document.querySelectorAll('button, a, input, textarea, summary')]
  .filter(one => one.offsetParent !== null)
  .map(one => [one.outerHTML.slice(0, 120), one.getBoundingClientRect()])
  .filter(([, box]) => box.width > 0 && (box.width < 47.5 || box.height < 47.5))
  .map(([html, box]) => `${Math.round(box.width)} x ${Math.round(box.height)}: ${html}`)"""

TOO_WIDE = """() => [...document.querySelectorAll('main *, header *, footer *, dialog *')]
  .filter(one => one.getClientRects().length > 0 && one.getBoundingClientRect().right > innerWidth + 0.5)
  .map(one => one.outerHTML.slice(0, 120))"""


def violations(page: Page) -> list[str]:
    """What axe-core finds on the screen as it is [texts].

    What is folded away is left out: it has a place in the layout, and axe-core holds it against what is seen there.
    """
    page.evaluate(AXE)
    seen = "{include: [['html']], exclude: [['details:not([open]) > :not(summary)']]}"
    found: dict[str, Any] = page.evaluate(f"axe.run({seen}, {{resultTypes: ['violations']}})")
    return [f"{one['id']}: {node['html'][:160]}" for one in found["violations"] for node in one["nodes"]]


def in_both(page: Page) -> list[str]:
    """What axe-core finds on the screen in the sun and, once the phone has switched, at dusk [texts]."""
    found, ink = [], set()
    for theme, scheme in THEMES.items():
        page.emulate_media(color_scheme=scheme)
        ink.add(page.evaluate("getComputedStyle(document.body).color"))
        found += [f"{theme}: {line}" for line in violations(page)]
    assert len(ink) == len(THEMES), "the page looks the same at dusk"
    return found


def at_twice_the_size(page: Page) -> list[str]:
    """What overflows the screen with text at 200 % [texts]."""
    page.evaluate("document.documentElement.style.fontSize = '200%'")
    found: list[str] = page.evaluate(TOO_WIDE)
    page.evaluate("document.documentElement.style.fontSize = ''")
    return found


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[str]]:
    """What is wrong on the screens of one whole visit; the policy is lifted only for axe-core."""
    ground = tmp_path_factory.mktemp("walk")
    wrong: dict[str, list[str]] = {"rules": [], "small": [], "wide": []}
    service = Service(ground / "layby").start()

    def look(name: str) -> None:
        looked = {"rules": in_both(page), "small": page.evaluate(SMALL_TARGETS), "wide": at_twice_the_size(page)}
        for kind, lines in looked.items():
            wrong[kind] += [f"{name}: {line}" for line in lines]

    try:
        with phone(ground / "profile", bypass_csp=True) as handset:
            page = handset.open(service.url)
            walk(page, look)
            return {**wrong, "complaints": handset.complaints}
    finally:
        service.stop()


def test_every_screen_is_accessible(found: dict[str, list[str]]) -> None:
    """axe-core finds nothing on any, in the sun and at dusk."""
    assert found["rules"] == []


def test_every_target_can_be_touched(found: dict[str, list[str]]) -> None:
    """Each is 48 px or more."""
    assert found["small"] == []


def test_nothing_is_lost_at_twice_the_size_of_text(found: dict[str, list[str]]) -> None:
    """With text at 200 % no word overflows the screen."""
    assert found["wide"] == []


def test_the_browser_complains_of_nothing(found: dict[str, list[str]]) -> None:
    """No uncaught error, no breach of the content policy."""
    assert found["complaints"] == []
