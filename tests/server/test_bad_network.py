"""A real Chromium through a proxy that cuts, delays and drops: nothing lost, nothing doubled, the counters right."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.phone.test_photos import kept, with_photo
from tests.phone.test_photos import send as send_all
from tests.phone.test_photos import send_once as send
from tests.server.test_photo_routes import held as held_at_desk
from tests.support.browser import Phone
from tests.support.hands import filed, go_to, start_visit, to_day, write
from tests.support.proxy import Proxy, Trouble
from tests.support.service import Service


@pytest.fixture
def proxy(service: Service) -> Iterator[Proxy]:
    """The way between the phone and the desk."""
    with Proxy(service.port) as made:
        service.also_at(made.url)
        yield made


def on_sync(trouble: Trouble) -> object:
    """A rule: this trouble for every batch, none for anything else."""
    return lambda method, path: trouble if (method, path.split("?")[0]) == ("POST", "/sync") else None


def held(service: Service, page: Page) -> list[str]:
    """The ids of this phone's operations that the desk has receipts for."""
    device = page.evaluate("async () => (await import('/page.js')).$store_outbox.openOutbox().recall('device')")
    _, _, content = service.get(f"/receipts?device={device}&after=0")
    return [receipt["id"] for receipt in json.loads(content)["receipts"]]


def test_batches_cut_dropped_and_delayed_are_filed_once(handset: Phone, service: Service, proxy: Proxy) -> None:
    """Lost on the way there, the desk has nothing; lost on the way back, it has all; the phone waits until told."""
    page = handset.open(proxy.url)
    proxy.rule = on_sync(Trouble("cut"))
    visits = []
    for name in ("M. Okafor", "R. Lindqvist"):
        visits.append(start_visit(page))
        write(page, "Customer", name)
        go_to(page, "Vehicle")
        write(page, "Registration", "LT 482")
        to_day(page)
    send(page)
    expect(page.locator("#status")).to_contain_text("The desk doesn't answer.")
    expect(page.locator("#tally")).to_have_text("2 visits captured, 0 filed, 2 waiting, 0 refused.")
    assert held(service, page) == []
    proxy.rule = on_sync(Trouble("drop"))
    for _ in range(2):
        send(page)
        expect(page.locator("#status")).to_contain_text("The desk doesn't answer.")
        expect(page.locator("#tally")).to_have_text("2 visits captured, 0 filed, 2 waiting, 0 refused.")
        assert len(held(service, page)) == 6
    proxy.rule = on_sync(Trouble("delay", 1.5))
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_have_text("2 visits captured, 0 filed, 2 waiting, 0 refused.")
    expect(page.locator("#tally")).to_have_text("2 visits captured, 2 filed, 0 waiting, 0 refused.")
    assert min(proxy.count(way) for way in ("cut", "drop", "delay")) >= 1
    assert len(set(held(service, page))) == len(held(service, page)) == 6
    service.stop()
    for visit in visits:
        ops, kept = filed(service, visit)
        assert [op["kind"] for op in ops] == ["visit.open", "visit.set", "visit.set"]
        assert kept["vehicle"]["plate"] == "LT 482"


def test_what_was_filed_stays_filed_when_the_receipts_are_lost(handset: Phone, service: Service, proxy: Proxy) -> None:
    """The check after a send is cut off: nothing goes back to waiting because of it, and the next check says so too."""
    page = handset.open(proxy.url)
    proxy.rule = lambda method, path: Trouble("cut") if path.startswith("/receipts") else None
    start_visit(page, "M. Okafor")
    to_day(page)
    send(page)
    expect(page.locator("#tally")).to_have_text("1 visit captured, 1 filed, 0 waiting, 0 refused.")
    expect(page.locator("#status")).to_contain_text("The desk doesn't answer.")
    proxy.rule = lambda method, path: None
    send(page)
    expect(page.locator("#status")).to_contain_text("Nothing to send.")
    expect(page.locator("#tally")).to_have_text("1 visit captured, 1 filed, 0 waiting, 0 refused.")
    assert proxy.count("cut") >= 1


TOLD = """() => {
  const status = document.querySelector('#status');
  window.told = [];
  new MutationObserver(() => window.told.push(status.textContent)).observe(status, { childList: true, subtree: true });
}"""


def test_what_was_asked_for_is_not_answered_for_by_another_send(
    handset: Phone, service: Service, proxy: Proxy
) -> None:
    """The page sends by itself when "Send now" is pressed: it says that it is sending until that send is done too."""
    page = handset.open(proxy.url)
    proxy.rule = on_sync(Trouble("delay", 3))
    start_visit(page, "M. Okafor")
    to_day(page)
    page.evaluate(TOLD)
    send(page)
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    first, *rest = page.evaluate("window.told")
    assert (first, len(rest)) == ("Sending", 1)
    assert rest[0] in ("Nothing to send.", "2 entries delivered to the desk.")


def test_a_batch_cut_in_its_body_is_filed_by_the_next(handset: Phone, service: Service, proxy: Proxy) -> None:
    """The desk saw half a batch: it files none of it, the phone learns nothing, and everything comes again."""
    page = handset.open(proxy.url)
    proxy.rule = on_sync(Trouble("cut_body", 300))
    visit = start_visit(page, "M. Okafor")
    to_day(page)
    send(page)
    expect(page.locator("#tally")).to_contain_text("0 filed, 1 waiting")
    assert held(service, page) == []
    assert proxy.count("cut_body") >= 1
    proxy.rule = lambda method, path: None
    send(page)
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    expect(page.locator("#last")).to_contain_text(re.compile("Last sent today"))
    service.stop()
    ops, _ = filed(service, visit)
    assert [op["kind"] for op in ops] == ["visit.open", "visit.set"]


def test_a_line_damaged_on_its_way_waits_and_goes_again(handset: Phone, service: Service, proxy: Proxy) -> None:
    """The desk names it as damaged: nothing is wrong with the copy on the phone, so it is neither refused nor lost."""
    page = handset.open(proxy.url)
    proxy.rule = on_sync(Trouble("damage", 20))
    visit = start_visit(page, "M. Okafor")
    to_day(page)
    send(page)
    expect(page.locator("#tally")).to_have_text("1 visit captured, 0 filed, 1 waiting, 0 refused.")
    assert proxy.count("damage") >= 1
    proxy.rule = lambda method, path: None
    send(page)
    expect(page.locator("#tally")).to_have_text("1 visit captured, 1 filed, 0 waiting, 0 refused.")
    service.stop()
    ops, _ = filed(service, visit)
    assert [op["kind"] for op in ops] == ["visit.open", "visit.set"]


PIECE = 256 * 1024  # what the phone sends at a time


def test_a_photo_cut_in_the_middle_of_a_piece_goes_on_from_the_true_offset(
    handset: Phone, service: Service, proxy: Proxy, tmp_path: Path
) -> None:
    """One complete piece reached the desk, then part of the next, then nothing: no byte twice, and the hash fits."""
    page = handset.open("about:blank")
    sent: list[int] = []
    page.on("request", lambda one: one.method == "PATCH" and sent.append(int(one.headers["upload-offset"])))
    cut = Trouble("cut_body", 100_000)
    proxy.rule = lambda method, path: cut if method == "PATCH" and proxy.met_a("PATCH") else None
    handset.go(page, proxy.url)
    with_photo(page, tmp_path)
    send_all(page, "1 photo still to be sent.")
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    assert proxy.count("cut_body") >= 1
    (photo,) = kept(page)
    assert photo["state"] == "waiting"
    offset = int(held_at_desk(service, photo["sha256"])[1] or 0)
    assert PIECE <= offset < len(photo["bytes"])
    sent.clear()
    proxy.rule = lambda method, path: None
    send_all(page)
    (photo,) = kept(page)
    assert photo["state"] == "held"
    assert sent[0] == offset
    assert service.get(f"/blobs/{photo['sha256']}")[2] == photo["bytes"]
