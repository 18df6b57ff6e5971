"""Two phones whose clocks are a year off, one either way, on one vehicle and in one visit: the order of actions holds.

Two real Chromium profiles, the clock of each page set before it loads; a real `layby serve` with the actual time.
"""

from __future__ import annotations

import re
from pathlib import Path

from playwright.sync_api import Page, expect

from tests.support.browser import Phone
from tests.support.hands import filed, go_to, start_visit, to_day, write
from tests.support.service import Service

OWN = """async () => {
  const outbox = (await import('/page.js')).$store_outbox.openOutbox();
  return (await outbox.everyOp()).map((one) => one.id);
}"""

BEHIND, AHEAD = "2025-07-14T10:00:00+01:00", "2027-07-14T10:00:00+01:00"


def opened(handset: Phone, service: Service, time: str) -> Page:
    """A phone whose clock shows a time, paired and on its day."""
    page = handset.open("about:blank")
    page.clock.install(time=time)
    handset.go(page, service.url)
    page.goto(service.url)
    return page


def send(page: Page) -> None:
    """Hand in what waits, and hear what is new."""
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#status")).to_have_text(re.compile("delivered to the desk|Nothing to send"))


def typed(page: Page, step: str, label: str, text: str) -> None:
    """Type into a field of the open visit, or of the only one of the day, and go back to the day."""
    if "/visit/" not in page.url:
        page.get_by_role("link", name=re.compile("M. Okafor")).first.click()
    go_to(page, step)
    write(page, label, text)
    to_day(page)


def shown(page: Page, words: str) -> None:
    """Wait until the day shows words."""
    expect(page.locator("#page")).to_contain_text(words)


def finish(page: Page) -> None:
    """Finish the visit that is open, and send."""
    go_to(page, "Result")
    page.get_by_role("button", name="Finish the visit").click()
    send(page)


def settled(page: Page, *choices: str) -> None:
    """Open the only visit and settle its conflicts with a tap each."""
    page.get_by_role("link", name=re.compile("M. Okafor")).first.click()
    for choice in choices:
        page.get_by_role("button", name=re.compile(f"^{re.escape(choice)}")).click()
    expect(page.get_by_text("Two entries disagree")).to_have_count(0)
    to_day(page)


def test_two_phones_two_years_apart_work_in_one_visit(handset: Phone, service: Service, tmp_path: Path) -> None:
    """A later entry of the phone that is behind counts, unseen conflicts are asked about, both end the same."""
    second = Phone(tmp_path / "second")
    ahead, behind = opened(handset, service, AHEAD), opened(second, service, BEHIND)
    visit = start_visit(ahead, "M. Okafor")
    typed(ahead, "Vehicle", "Registration", "LT 48")
    send(ahead)
    behind.goto(f"{service.url}/visit/{visit}/customer")  # the address of the visit, handed on
    typed(behind, "Customer and location", "Phone", "555-0123")
    send(behind)
    shown(behind, "LT 48")
    typed(behind, "Vehicle", "Registration", "LT 482")
    send(behind)
    send(ahead)
    shown(ahead, "LT 482")
    typed(ahead, "Vehicle", "Registration", "LT 428")
    send(ahead)
    send(behind)
    shown(behind, "LT 428")
    typed(behind, "Vehicle", "Registration", "LT 482")
    for page, said in ((ahead, "Warm in traffic."), (behind, "Warm at rest.")):
        typed(page, "Visual check", "Customer's complaint", said)
    for page in (ahead, behind, ahead):
        send(page)
    expect(ahead.get_by_text("Two entries disagree")).to_be_visible()
    settled(ahead, "2025-07-14", "Warm at rest.")
    for page in (ahead, behind):
        send(page)
        shown(page, "LT 482")
        expect(page.get_by_text("Two entries disagree")).to_have_count(0)
        expect(page.locator("#tally")).to_have_text("1 visit captured, 1 filed, 0 waiting, 0 refused.")
    other = start_visit(behind, "R. Lindqvist")
    go_to(behind, "Vehicle")
    write(behind, "Registration", "lt 482")
    finish(behind)
    ahead.get_by_role("link", name=re.compile("M. Okafor")).first.click()
    finish(ahead)
    seqs = {page: page.evaluate(OWN) for page in (ahead, behind)}
    second.close()
    service.stop()
    ops, kept = filed(service, visit)
    assert sorted(op["id"] for op in ops + filed(service, other)[0]) == sorted(seqs[ahead] + seqs[behind])
    assert kept["vehicle"]["plate"] == "LT 482"
    assert kept["complaint"] == "Warm at rest."
    assert kept["customer"] == {"id": kept["customer"]["id"], "name": "M. Okafor", "phone": "555-0123"}
    assert kept["vehicle"]["id"] == filed(service, other)[1]["vehicle"]["id"] == "plate-LT482"
