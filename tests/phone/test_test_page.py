"""The page of a test and the panel of steps in both languages, sun and dusk, on small and large screens.

The rules are axe-core's (WCAG 2.2 A and AA) and the project's own sizes, as for every other screen.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page

from sync import rulebook
from sync.language.words import Words
from tests.phone.test_screens import SMALL_TARGETS, at_twice_the_size, in_both
from tests.support.browser import phone
from tests.support.service import Service
from tests.support.walk_by_code import OPEN, TOO_WIDE, Hands

LANGUAGES = {"en-US": "en-US", "es-ES": "es"}
WIDTHS = (320, 360, 430, 820)  # the smallest phone, the usual one, a large one, a tablet [CSS pixels]


def looked(page: Page) -> list[str]:
    """What is wrong with the screen as it stands, at each width [texts]."""
    wrong = in_both(page)
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 740})
        found = [*page.evaluate(SMALL_TARGETS), *page.evaluate(TOO_WIDE), *at_twice_the_size(page)]
        wrong += [f"{width} px: {line}" for line in found]
    page.set_viewport_size({"width": 360, "height": 740})
    return wrong


@pytest.mark.parametrize("region", LANGUAGES)
def test_the_page_of_a_test_can_be_read_and_touched(tmp_path: Path, region: str) -> None:
    """Shut, empty, with conditions offered, unfolded, and with Before beside it; and the panel over it."""
    service = Service(tmp_path / "layby").start()
    try:
        with phone(bypass_csp=True, locale=region, is_mobile=False) as handset:
            page = handset.open(service.url, paired=False)
            at = Hands(page, Words(rulebook.load()["words"], LANGUAGES[region]))
            at.start()
            at.write("visit.customer.name", "M. Okafor")
            at.go_to("before")
            wrong = looked(page)
            at.go_to("cautions")
            at.press("phone.visit.confirm")
            at.go_to("before")
            wrong += looked(page)
            at.read_off({"ambient_c": "92", "low_kpa_g": "42", "high_kpa_g": "1290", "vent_c": "58.5"})
            at.choose("tests.conditions.blower", "blower", "high")
            at.go_to("after")
            wrong += looked(page)
            page.locator("#foot .steps").click()
            wrong += looked(page)
            at.press("phone.page.shut", "dialog")
            at.press("phone.conditions.key_before")
            page.evaluate(OPEN)
            wrong += looked(page)
            assert handset.complaints == []
    finally:
        service.stop()
    assert wrong == [], "\n".join(wrong)
