"""Every screen of the phone page, in sun and dusk: readable by a screen reader, big enough to touch, whole at 200 %.

The rules are axe-core's (WCAG 2.2 A and AA) and the project's own sizes; no screen is looked at in a picture here.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import axe_core_python
import pytest
from playwright.sync_api import Page

from tests.browser import Phone, phone
from tests.conftest import Service
from tests.walk import walk

AXE = (Path(axe_core_python.__file__).parent / "axe.min.js").read_text("utf-8")
THEMES = {"sun": "light", "dusk": "dark"}

# What a finger has to hit, in CSS pixels, and what stands too near a neighbour that it does not touch.
SMALL_TARGETS = """() => [...document.querySelectorAll('button, a, input, textarea, summary')]
  .filter(one => one.offsetParent !== null || one.closest('#index'))
  .map(one => [one.outerHTML.slice(0, 120), one.getBoundingClientRect()])
  .filter(([, box]) => box.width > 0 && (box.width < 47.5 || box.height < 47.5))
  .map(([html, box]) => `${Math.round(box.width)} x ${Math.round(box.height)}: ${html}`)"""

TOO_WIDE = """() => [...document.querySelectorAll('main *, header *, footer *')]
  .filter(one => one.getClientRects().length > 0 && one.getBoundingClientRect().right > innerWidth + 0.5)
  .map(one => one.outerHTML.slice(0, 120))"""


@pytest.fixture(params=sorted(THEMES))
def handset(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Phone]:
    """A phone in the sun, and one at dusk; the policy is lifted for axe-core alone, which the page does not serve."""
    with phone(tmp_path / "profile", color_scheme=THEMES[request.param], bypass_csp=True) as made:
        yield made
        assert made.complaints == []


def violations(page: Page) -> list[str]:
    """What axe-core finds on the screen as it is [texts]."""
    page.evaluate(AXE)
    found: dict[str, Any] = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    return [f"{one['id']}: {node['html'][:160]}" for one in found["violations"] for node in one["nodes"]]


def test_every_screen_is_accessible_and_touchable(handset: Phone, service: Service) -> None:
    """axe-core finds nothing, and every target is 48 px or more, on each screen of a whole visit."""
    page = handset.open(service.url)
    found: list[str] = []

    def look(name: str) -> None:
        found.extend(f"{name}: {line}" for line in violations(page))
        found.extend(f"{name}: {line}" for line in page.evaluate(SMALL_TARGETS))

    walk(page, look)
    assert found == []


def test_nothing_is_lost_at_twice_the_size_of_text(handset: Phone, service: Service) -> None:
    """With text at 200 % no word runs out of the screen, on each screen of a whole visit."""
    page = handset.open(service.url)
    found: list[str] = []

    def look(name: str) -> None:
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        found.extend(f"{name}: {line}" for line in page.evaluate(TOO_WIDE))
        page.evaluate("document.documentElement.style.fontSize = ''")

    walk(page, look)
    assert found == []
