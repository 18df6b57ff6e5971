"""Help on the phone: a key at each label, its text offline and in the reader's units, no harm if there is none.

tests/server/test_help.py checks which text belongs to which code.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.phone.test_screens import in_both
from tests.support.browser import Phone, phone
from tests.support.hands import choose, confirm_cautions, go_to, ready_offline, start_visit, wait_until, write
from tests.support.service import Service

KEPT = """async () => (await (await caches.open('help')).keys()).filter(({ url }) => url.includes('/help/'))
  .map(({ url }) => url.replace(/.*[/]help/, '/help'))"""
LEAVE_AN_OLDER_ONE = """async () => {
  const cache = await caches.open('help');
  const now = (await cache.keys()).find(({ url }) => url.includes('/help/'));
  await cache.put('/help/en.json?older', await cache.match(now));
  await cache.delete(now);
}"""
# How far a key may cover other targets, in CSS pixels of height and width.
COVERED = """() => [...document.querySelectorAll('.reading > .help, .choices > .help')].flatMap((key) => {
  if (key.offsetParent === null) return [];
  const one = key.getBoundingClientRect();
  return [...document.querySelectorAll('main input, main button, main summary')]
    .filter((other) => other !== key && other.offsetParent).flatMap((other) => {
      const two = other.getBoundingClientRect();
      const width = Math.min(one.right, two.right) - Math.max(one.left, two.left);
      const height = Math.min(one.bottom, two.bottom) - Math.max(one.top, two.top);
      return width > 1 && height > 1 ? [`${key.ariaLabel} over ${other.outerHTML.slice(0, 60)}`] : [];
    });
})"""


@pytest.fixture
def handset() -> Iterator[Phone]:
    """A phone; the policy is lifted for axe-core alone."""
    with phone(bypass_csp=True) as opened:
        yield opened


def kept(page: Page, version: str = r"[0-9a-f]{16}") -> None:
    """Wait until this page keeps the help of one language and version, and no other."""
    wait_until(page, f"async () => /^[/]help[/]en.json[?]{version}$/.test(String(await ({KEPT})()))")


def helped(page: Page, name: str) -> Locator:
    """Press the key of that name; the dialog that it opens."""
    page.get_by_role("button", name=f"Help: {name}", exact=True).click()
    dialog = page.get_by_role("dialog", name=name, exact=True)
    expect(dialog).to_be_visible()
    return dialog


def close(dialog: Locator) -> None:
    """Press the dialog's own key."""
    dialog.get_by_role("button", name="Close").click()
    expect(dialog).to_have_count(0)


def on_a_reading(page: Page) -> None:
    """A visit whose readings are open."""
    start_visit(page)
    confirm_cautions(page)
    go_to(page, "Before")


def test_help_works_offline_after_one_visit_with_the_desk(handset: Phone, service: Service) -> None:
    """Texts about readings and derived quantities, in the reader's units; axe-core finds nothing."""
    page = handset.open(service.url)
    ready_offline(page)
    page.get_by_role("link", name="Settings").click()
    choose(page, "Pressures", "psi")
    choose(page, "Temperatures", "°F")
    page.get_by_role("button", name="Back to all visits").click()
    kept(page)
    service.stop()
    page.reload()
    on_a_reading(page)
    dialog = helped(page, "High side")
    # R-134a of makers' tables at 30 °C: 940 to 1,750 kPa; 1 psi is 6.894757 kPa, 86 °F is 30 °C.
    expect(dialog).to_contain_text("at 86\u00a0°F: 136 to 254\u00a0psi")
    assert dialog.get_by_role("heading").all_inner_texts() == [
        "High side", "Condensing temperature", "Condensing above ambient", "Pressure ratio",
    ]  # fmt: skip
    expect(dialog).not_to_contain_text(re.compile(r"[{}]|undefined|NaN"))
    assert in_both(page) == []
    close(dialog)
    expect(page.get_by_role("button", name="Help: High side", exact=True)).to_be_focused()
    assert handset.complaints == []


def test_a_key_stands_at_each_label_and_covers_no_other(handset: Phone, service: Service) -> None:
    """48 px and more, in the margin."""
    page = handset.open(service.url)
    on_a_reading(page)
    write(page, "Suction line", "8")
    for opened in page.locator("details:not([open]) > summary").all():
        if opened.is_visible():
            opened.click()
    keys = page.locator(".reading > .help, .choices > .help")
    assert keys.count() > 20
    boxes = [box for key in keys.all() if (box := key.bounding_box())]
    assert [box for box in boxes if box["width"] < 47.5 or box["height"] < 47.5 or box["x"] < 0] == []
    assert page.evaluate(COVERED) == []


def test_a_phone_without_help_says_when_it_comes(handset: Phone, service: Service) -> None:
    """A desk that doesn't provide it, and a portal that answers instead, disturb nothing."""
    page = handset.open("about:blank", paired=False)
    page.context.route(re.compile(r"/help/"), lambda route: route.fulfill(status=200, body="<p>Sign in</p>"))
    handset.go(page, service.url)
    start_visit(page)
    dialog = helped(page, "Altitude")
    expect(dialog.locator("p")).to_have_text("Help comes with the next connection.")
    close(dialog)
    assert page.evaluate(KEPT) == []
    page.context.unroute_all()
    page.reload()
    kept(page)
    dialog = helped(page, "Altitude")
    expect(dialog).to_contain_text("above sea level")
    assert handset.complaints == []


def test_help_is_renewed_with_the_page(handset: Phone, service: Service) -> None:
    """An older one is used until the new one is there, and then goes."""
    page = handset.open(service.url)
    kept(page)
    page.context.route(re.compile(r"/help/"), lambda route: route.abort())
    page.goto(f"{service.url}/style.css")  # of the same origin, where nothing is still tidying up
    page.evaluate(LEAVE_AN_OLDER_ONE)
    page.goto(service.url)
    start_visit(page)
    close(helped(page, "Altitude"))
    kept(page, "older")
    page.context.unroute_all()
    page.reload()
    kept(page)
