"""A phone whose browser has cleared its store: pairing it again shows what is gone; the desk has the rest.

A real Chromium whose storage is cleared by its own developer tools, a real `layby serve`.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from sync.records.logbook import UnknownVisit
from tests.phone.test_photos import photograph, shown, take
from tests.support import children
from tests.support.browser import Phone
from tests.support.hands import filed, go_to, ready_offline, start_visit, write
from tests.support.service import Service


def cleared(handset: Phone, page: Page, service: Service) -> Page:
    """All that the browser keeps for the page is cleared, as when a browser needs the room; then it is opened."""
    assert handset.context is not None
    devtools = handset.context.new_cdp_session(page)
    page.goto("about:blank")
    devtools.send("Storage.clearDataForOrigin", {"origin": service.url, "storageTypes": "all"})
    handset.paired.clear()
    page.goto(service.url)
    expect(page.get_by_text("No visits yet.")).to_be_visible()
    return page


def written(page: Page, name: str, camera: Path | None = None) -> str:
    """A visit, finished: customer, vehicle and, if a camera's file is given, a photo; returns its id."""
    visit = start_visit(page, name)
    go_to(page, "Vehicle")
    write(page, "Registration", "LT 482")
    write(page, "Make", "Wren")
    if camera is not None:
        take(page, "arrival", camera)
        shown(page, "arrival", 1)
    go_to(page, "Result")
    page.get_by_role("button", name="Finish the visit").click()
    expect(page.get_by_role("button", name="Start a visit")).to_be_visible()
    return visit


def sent(page: Page) -> None:
    """Send by hand, until nothing waits."""
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_have_text("1 visit captured, 1 filed, 0 waiting, 0 refused.")


def test_cleared_before_it_was_sent_is_said_when_paired_again(
    handset: Phone, service: Service, tmp_path: Path
) -> None:
    """The visit is nowhere: the day says that a phone of the desk's has fallen silent, and what that would mean."""
    page = handset.open(service.url)
    expect(page.locator("#earlier")).to_have_count(0)  # the first phone of a desk
    ready_offline(page)
    page.route("**/sync", lambda route: route.abort("connectionreset"))
    lost = written(page, "M. Okafor", photograph(tmp_path / "camera.jpg"))
    page.unroute("**/sync")
    page = cleared(handset, page, service)
    expect(page.locator("#desk")).to_contain_text("Not paired")
    handset.pair(page, service)
    expect(page.locator("#earlier")).to_contain_text(
        "If that was this phone, the browser has cleared its notebook and what hadn't been sent is lost. "
        "What was filed is at the desk."
    )
    expect(page.locator("#earlier")).to_contain_text("The desk knows another phone: “Linux”, last seen today at")
    written(page, "R. Lindqvist")
    expect(page.locator("#earlier")).to_have_count(0)
    sent(page)
    service.stop()
    with pytest.raises(UnknownVisit):
        filed(service, lost)


OWN = """async () => {
  const outbox = (await import('/page.js')).$store_outbox.openOutbox();
  return [await outbox.recall('device'), (await outbox.everyOp()).map((one) => one.seq), await outbox.photoTally()];
}"""


def test_cleared_after_it_was_sent_is_whole_at_the_desk(handset: Phone, service: Service, tmp_path: Path) -> None:
    """To the desk it is another phone, which is told nothing of its earlier visits; the desk has every byte."""
    page = handset.open(service.url)
    first = written(page, "M. Okafor", photograph(tmp_path / "camera.jpg"))
    sent(page)
    expect(page.locator("#photos")).to_have_count(0)
    before = page.evaluate(OWN)
    page = cleared(handset, page, service)
    handset.pair(page, service)
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#status")).to_have_text("Nothing to send.")
    expect(page.locator("#tally")).to_have_text("0 visits captured, 0 filed, 0 waiting, 0 refused.")
    second = written(page, "M. Okafor")
    sent(page)
    after = page.evaluate(OWN)
    assert after[0] != before[0]
    assert after[1][0] == 1
    service.stop()
    ops, kept = filed(service, first)
    assert len(ops) == len(before[1])
    (photo,) = kept["photos"]
    assert (service.folder / "photos" / photo["sha256"][:2] / photo["sha256"]).exists()
    assert filed(service, second)[1]["vehicle"]["id"] == kept["vehicle"]["id"]


def test_cleared_between_text_and_photo_leaves_the_photo_named(
    handset: Phone, service: Service, tmp_path: Path
) -> None:
    """The entry is filed, the bytes are lost with the store: the sheet names the photo as one that hasn't come."""
    page = handset.open("about:blank")
    page.route("**/blobs/*", lambda route: route.abort("connectionreset"))
    handset.go(page, service.url)
    visit = written(page, "M. Okafor", photograph(tmp_path / "camera.jpg"))
    sent(page)
    expect(page.locator("#photos")).to_have_text("1 photo still to be sent.")
    cleared(handset, page, service)
    command = [str(service.command), "--folder", str(service.folder), "sheet", visit]
    sheet = children.run(command, check=True, cwd=service.cwd).stdout.strip()
    text = " ".join(page.extract_text() for page in PdfReader(sheet).pages)
    assert re.search(r"Still on the phone: on arrival at \d\d:\d\d\.", " ".join(text.split())), text
