"""What is wrong with a screen as it stands: axe-core in sun and dusk, small targets, what runs out of it.

The rules are axe-core's (WCAG 2.2 A and AA) and the project's own sizes.
"""

from __future__ import annotations

from playwright.sync_api import Page

from tests.phone.test_screens import SMALL_TARGETS, TOO_WIDE, at_twice_the_size, in_both

SIZES = (320, 360, 430)
HEIGHT = 740


def faults_of(page: Page, width: int) -> list[str]:
    """What is wrong at a width, with text at its size and, for what runs out, at twice its size [texts]."""
    page.set_viewport_size({"width": width, "height": HEIGHT})
    found = [f"rule: {line}" for line in in_both(page)]
    found += [f"small: {line}" for line in page.evaluate(SMALL_TARGETS)]
    found += [f"wide: {line}" for line in page.evaluate(TOO_WIDE)]
    return found + [f"wide at 200 %: {line}" for line in at_twice_the_size(page)]
