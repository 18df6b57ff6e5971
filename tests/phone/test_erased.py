"""A visit whose customer was erased at the desk while the phone still had something of it to file.

A real Chromium against a real `layby serve` and a real `layby erase`; the phone removes nothing by itself.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.phone.test_screens import SMALL_TARGETS, violations
from tests.support import children
from tests.support.browser import Phone, phone
from tests.support.hands import confirm_cautions, go_to, start_visit, to_day, write
from tests.support.service import LAYBY, Service

HELD = """async () => {
  const outbox = (await import('/page.js')).$store_outbox.openOutbox();
  const views = await outbox.visits();
  return { visits: views.map((one) => one.id), drafts: (await outbox.drafts()).length,
           ops: (await outbox.everyOp()).map((one) => one.visit) };
}"""

# What the page remembers beside a visit, such as that a changed signature was left as it is.
OWN = """async (id) => (await import('/page.js')).$store_outbox.openOutbox().rememberOf(id, { left: '129.90' })"""
# Every key of the phone's store that names a visit, and what stands under it.
NAMING = """async (id) => {
  const named = [];
  for (const { name } of await indexedDB.databases()) {
    const base = await new Promise((done) => { indexedDB.open(name).onsuccess = ({ target }) => done(target.result); });
    const all = (store, ask) => new Promise((done) => {
      base.transaction(store).objectStore(store)[ask]().onsuccess = ({ target }) => done(target.result);
    });
    for (const store of base.objectStoreNames) {
      const values = await all(store, 'getAll');
      (await all(store, 'getAllKeys')).forEach((key, place) => {
        if (JSON.stringify([key, values[place]]).includes(id)) named.push(`${store}: ${key}`);
      });
    }
    base.close();
  }
  return named;
}"""


@pytest.fixture
def handset() -> Iterator[Phone]:
    """A phone with an empty profile; the policy is lifted for axe-core alone, which the page does not serve."""
    with phone(bypass_csp=True) as made:
        yield made
        assert made.complaints == []


def send(page: Page) -> None:
    """From the day, hand in what waits."""
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#status")).to_have_text(re.compile("delivered to the desk|Nothing to send"))


def erased_while_out(page: Page, service: Service) -> tuple[str, str]:
    """Two filed visits; the first gets a test, marked healthy, while the desk erases its customer; then all is sent."""
    visits = []
    for name in ("M. Okafor", "L. Moreau"):
        visits.append(start_visit(page))
        write(page, "Customer", name)
        to_day(page)
    send(page)
    service.stop()
    page.get_by_role("link", name=re.compile("M. Okafor")).click()
    go_to(page, "Vehicle")
    write(page, "Registration", "LT 482")
    confirm_cautions(page)
    go_to(page, "Before")
    write(page, "Centre vent", "7")
    go_to(page, "Result")
    page.get_by_role("button", name="Mark as healthy").click()
    expect(page.get_by_text("The last test is marked as")).to_be_visible()
    to_day(page)
    words = [str(LAYBY), "--folder", str(service.folder), "erase", "M. Okafor", "--yes"]
    children.run(words, check=True)
    service.start()
    send(page)
    return visits[0], visits[1]


def test_an_erased_visit_says_why_it_waits_and_goes_only_when_told_to(handset: Phone, service: Service) -> None:
    """Reported on the day and in the visit; left once, then removed with all that was kept of it, and nothing else."""
    page = handset.open(service.url)
    gone, stays = erased_while_out(page, service)
    expect(page.get_by_text("Erased at the desk, which accepts nothing more of it")).to_be_visible()
    assert None in page.evaluate(HELD)["ops"]
    page.get_by_role("link", name=re.compile("M. Okafor")).click()
    expect(page.get_by_text("This visit belongs to a customer whose data were erased at the desk")).to_be_visible()
    page.get_by_role("button", name="Remove this visit from this phone").click()
    assert (violations(page), page.evaluate(SMALL_TARGETS)) == ([], [])
    page.get_by_role("button", name="Keep it here").click()
    assert gone in page.evaluate(HELD)["visits"]
    page.evaluate(OWN, gone)
    page.get_by_role("button", name="Remove this visit from this phone").click()
    page.get_by_role("button", name="Remove for good").click()
    expect(page.locator("#status")).to_have_text("The visit was removed from this phone.")
    expect(page.locator("#tally")).to_have_text("1 visit captured, 1 filed, 0 waiting, 0 refused.")
    held: dict[str, Any] = page.evaluate(HELD)
    assert (held["visits"], held["drafts"], set(held["ops"])) == ([stays], 0, {stays})
    assert page.evaluate(NAMING, gone) == []
    send(page)
    expect(page.locator("#status")).to_have_text("Nothing to send.")


def test_only_a_visit_that_the_desk_called_erased_can_be_removed(handset: Phone, service: Service) -> None:
    """For another visit, the store refuses and keeps all of it."""
    page = handset.open(service.url)
    visit = start_visit(page, "M. Okafor")
    to_day(page)
    expect(page.locator("#tally")).to_have_text(re.compile("1 visit captured"))
    before = page.evaluate(HELD)
    went = page.evaluate("async (id) => (await import('/page.js')).$store_outbox.openOutbox().removeErased(id)", visit)
    assert (went, page.evaluate(HELD)) == (False, before)


LATE = """async () => {
  const { openOutbox } = (await import('/page.js')).$store_outbox;
  const { createCapture } = (await import('/page.js')).$visit_capture;
  const { stepsOf } = (await import('/page.js')).$visit_steps;
  const rulebook = await (await fetch('/rulebook.json')).json();
  const outbox = openOutbox();
  const capture = createCapture({ outbox, rulebook, device: await outbox.recall('device') });
  const page = await capture.open(capture.newId(), { started_at: capture.now() });
  page.draft.fields['customer.name'] = { text: 'M. Okafor', seen: {} };
  await Promise.all([capture.keep(page, stepsOf(rulebook)[0]), capture.keepDraft(page)]);
  return [(await outbox.opsOf(page.id)).length, (await outbox.drafts()).length];
}"""


def test_a_draft_that_is_kept_late_leaves_none_behind(handset: Phone, service: Service) -> None:
    """The step was left just before the draft's turn came: with nothing left to write it would delay an erasure."""
    page = handset.open(service.url)
    assert page.evaluate(LATE) == [2, 0]
