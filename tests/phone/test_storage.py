"""The phone's own store and files over time: a newer page, a newer database, a full disk.

A real Chromium against the real desk; no part of the page is replaced.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Page, expect

from tests.support.browser import Phone
from tests.support.desk import desk_with
from tests.support.hands import (
    go_to,
    hand_in,
    ready_offline,
    saved,
    start_visit,
    take_update,
    to_day,
    wait_until,
    write,
)
from tests.support.service import Service


@contextmanager
def newer_desk(service: Service, ground: Path) -> Iterator[None]:
    """The same desk on the same port after an update: here, one with a changed word in the rulebook."""
    from sync import rulebook

    books = ground / "books"
    shutil.copytree(Path(rulebook.__file__).parent / "rulebook", books)
    wording = books / "words" / "en" / "terms.json"
    book = json.loads(wording.read_text("utf-8"))
    book["newer"] = "newer"
    wording.write_text(json.dumps(book), "utf-8")
    with desk_with(books, service.folder, service.port):
        yield


def version_of(page: Page) -> str | None:
    """The version that the page was made with."""
    return page.locator('meta[name="layby-version"]').get_attribute("content")


def test_a_newer_page_waits_until_a_person_takes_it(handset: Phone, service: Service, tmp_path: Path) -> None:
    """It never takes over by itself; accepted with a tap, it finds what was being written."""
    page = handset.open(service.url)
    ready_offline(page)
    first = version_of(page)
    visit = start_visit(page, "M. Okafor")
    saved(page)
    service.stop()
    with newer_desk(service, tmp_path):
        page.reload()
        expect(page.get_by_label("Customer", exact=True)).to_have_value("M. Okafor")
        wait_until(page, "navigator.serviceWorker.getRegistration().then(one => Boolean(one.waiting))")
        assert version_of(page) == first
        to_day(page)
        expect(page.get_by_text("A new version of Layby is ready.")).to_be_visible()
        take_update(page)
        ready_offline(page)
        assert version_of(page) != first
        page.goto(f"{service.url}/visit/{visit}/customer")
        expect(page.get_by_label("Customer", exact=True)).to_have_value("M. Okafor")


MATCHED = """() => performance.getEntriesByType("resource")
  .map((one) => [new URL(one.name).pathname, one.workerMatchedSourceType])
  .filter(([path]) => ["/sync", "/receipts", "/changes"].includes(path))"""


def test_what_goes_to_the_desk_does_not_wake_the_worker(handset: Phone, service: Service) -> None:
    """One woken just when a newer one is to take over would stay in its place until it has been idle."""
    page = handset.open(service.url)
    ready_offline(page)
    start_visit(page, "M. Okafor")
    saved(page)
    page.reload()
    hand_in(page)
    assert {tuple(one) for one in page.evaluate(MATCHED)} == {
        ("/sync", "network"), ("/receipts", "network"), ("/changes", "network")}


TAKEN_OVER = """async () => {
  const { startOffline } = (await import('/page.js')).$sync_offline;
  const busy = () => new Promise(() => undefined);  // a day that is never done drawing
  const worker = await startOffline({ version: "any", onChange: busy, onFault: (fault) => console.error(fault) });
  worker.takeOver();
}"""


def test_an_update_is_taken_while_the_day_is_still_being_drawn(
    handset: Phone, service: Service, tmp_path: Path
) -> None:
    """Its key may be there before the page has finished saying that there is a newer version."""
    page = handset.open(service.url)
    ready_offline(page)
    first = version_of(page)
    service.stop()
    with newer_desk(service, tmp_path):
        page.reload()
        wait_until(page, "navigator.serviceWorker.getRegistration().then(one => Boolean(one.waiting))")
        with page.expect_navigation():
            page.evaluate(f"void ({TAKEN_OVER})()")
        ready_offline(page)
        assert version_of(page) != first


UPGRADED = """async () => {
  const { openOutbox, UPGRADES } = (await import('/page.js')).$store_outbox;
  const older = openOutbox();
  const before = await older.pending(0, 1000);
  const newer = openOutbox({ upgrades: [...UPGRADES, (database) => database.createObjectStore('later')] });
  const after = await newer.pending(0, 1000);
  return [before.map((one) => one.digest), after.map((one) => one.digest), (await newer.drafts()).length];
}"""


def test_an_upgrade_of_the_phones_database_keeps_what_waits(handset: Phone, service: Service) -> None:
    """Operations and drafts are there, unchanged, after the database has been given another version."""
    page = handset.open(service.url)
    ready_offline(page)
    service.stop()
    start_visit(page, "M. Okafor")
    go_to(page, "Vehicle")
    write(page, "Year", "two thousand")
    saved(page)
    before, after, drafts = page.evaluate(UPGRADED)
    assert len(before) == 2
    assert after == before
    assert drafts == 1


def test_a_full_disk_loses_no_word_on_the_screen(lasting: Phone, service: Service) -> None:
    """If the browser has no room left, the page says that it wasn't saved, keeps the text, and saves it later."""
    page = lasting.open(service.url)
    ready_offline(page)
    visit = start_visit(page, "M. Okafor")
    saved(page)
    lasting.close()
    page = lasting.open("about:blank")  # the browser checks the room left again, before the page's first write
    assert lasting.context is not None
    devtools = lasting.context.new_cdp_session(page)
    devtools.send("Storage.overrideQuotaForOrigin", {"origin": service.url, "quotaSize": 1})
    page.goto(f"{service.url}/visit/{visit}/customer")
    write(page, "Phone", "555-0123")
    expect(page.locator("#status")).to_contain_text("storage is full")
    expect(page.get_by_label("Phone", exact=True)).to_have_value("555-0123")
    expect(page.get_by_label("Customer", exact=True)).to_have_value("M. Okafor")
    devtools.send("Storage.overrideQuotaForOrigin", {"origin": service.url})
    write(page, "Address", "Wren Lane 4")
    saved(page)
