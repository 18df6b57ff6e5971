"""A technician's thumb on the quick test: keys of the number pad, cells, and how many taps it took besides digits.

No test and no expectation of the trade lives here.
"""

from __future__ import annotations

import re

from playwright.sync_api import Page, expect

# How the keys of the pad are written in a test.
KEYS = {".": "point", "-": "minus", "~": "swing", "=": "same", ">": "next", "<": "erase"}
DIGITS = "0123456789."


class Thumb:
    """Taps on the quick test of one page; `taps` counts those that are no digit."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.taps = 0

    def press(self, name: str) -> None:
        """A key by its words."""
        self.page.get_by_role("button", name=name, exact=True).click()
        self.taps += 1

    def keys(self, text: str) -> None:
        """Keys of the pad, one after the other: "92>" is 9, 2, Next."""
        for letter in text:
            self.page.locator(f'#foot [data-key="{KEYS.get(letter, letter)}"]').click()
            self.taps += letter not in DIGITS

    def cell(self, row: str, column: str) -> None:
        """The cell of a row, before or after."""
        self.page.get_by_role("button", name=re.compile(f"^{row} {column}, ")).click()
        self.taps += 1


def set_altitude(page: Page, text: str) -> None:
    """Say how high the place is, on the panel's own pad."""
    page.locator(".facts").get_by_role("button", name="change").click()
    panel = page.get_by_role("dialog")
    for letter in text:
        panel.locator(f'[data-key="{letter}"]').click()
    panel.locator('[data-key="next"]').click()
    expect(panel).to_have_count(0)


def choose_units(page: Page, *units: str) -> None:
    """Take units in the panel."""
    page.locator(".facts").get_by_role("button", name="change").click()
    panel = page.get_by_role("dialog")
    for unit in units:
        panel.locator("label", has_text=re.compile(f"^{unit}$")).click()
    panel.locator('[data-key="next"]').click()
    expect(panel).to_have_count(0)


def start_quick(page: Page) -> str:
    """Open the quick test from the day; its visit's id."""
    page.get_by_role("button", name="Quick test").click()
    page.wait_for_url(re.compile(r"/visit/[0-9a-f-]+/quick$"))
    expect(page.get_by_role("heading", level=1)).to_have_text("Quick test")
    return page.url.split("/")[4]


def cell_text(page: Page, row: str, column: str) -> str:
    """What stands in a cell."""
    cell = page.get_by_role("button", name=re.compile(f"^{row} {column}, "))
    return (cell.inner_text()).replace("\n", " ").strip()
