"""Pairing on the phone: by the desk's address or by its short code; a phone that is shut out keeps all and says so.

A real Chromium against a real `layby serve`.
"""

from __future__ import annotations

import re
from typing import Any

from playwright.sync_api import Page, Route, expect

from tests.phone.test_screens import SMALL_TARGETS, at_twice_the_size, in_both
from tests.support import children
from tests.support.browser import Phone, phone
from tests.support.hands import at_rest, filed, ready_offline, start_visit, to_day, write
from tests.support.service import Service


def layby(service: Service, *words: str) -> str:
    """A command on the service's folder; returns its output."""
    command = [str(service.command), "--folder", str(service.folder), *words]
    return children.run(command, check=True).stdout


def short_code(service: Service) -> str:
    """The eight digits that `layby pair` shows."""
    found = re.search(r"^  (\d{4} \d{4})$", layby(service, "pair", "--plain"), re.MULTILINE)
    assert found
    return found[1]


def captured(page: Page) -> str:
    """One visit captured and left for the day; returns its id."""
    visit = start_visit(page, "M. Okafor")
    to_day(page)
    expect(page.locator("#tally")).to_contain_text("1 visit captured")
    return visit


def remembered(page: Page) -> Any:
    """What the phone keeps about its pairing."""
    return page.evaluate("async () => (await import('/page.js')).$store_outbox.openOutbox().recall('desk')")


def test_a_phone_that_is_not_paired_captures_as_ever(handset: Phone, service: Service) -> None:
    """It says that it keeps everything here, asks the desk nothing, and sends once the short code is typed."""
    page = handset.open(service.url, paired=False)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    visit = captured(page)
    expect(page.locator("#desk")).to_contain_text("Not paired. Everything is saved on this phone only.")
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#status")).to_contain_text("isn't paired with a desk yet. Everything stays here")
    expect(page.locator("#tally")).to_contain_text("0 filed, 1 waiting")
    assert not [url for url in asked if url.endswith("/sync") or "/receipts" in url]
    page.get_by_role("link", name="Pair it").click()
    page.get_by_role("button", name="Pair this phone").click()
    expect(page.get_by_role("alert")).to_have_text("Enter the code that the desk shows.")
    write(page, "Code from the desk", "0000 0000")
    page.get_by_role("button", name="Pair this phone").click()
    expect(page.get_by_role("alert")).to_contain_text("Show a new code at the desk")
    write(page, "Code from the desk", short_code(service))
    page.get_by_role("button", name="Pair this phone").click()
    expect(page.locator("#paired")).to_contain_text(f"paired with {service.url} as")
    page.get_by_role("button", name="Back to all visits").click()
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    expect(page.locator("#desk")).to_have_count(0)
    service.stop()
    assert filed(service, visit)[1]["customer"]["name"] == "M. Okafor"


def test_the_address_of_the_code_pairs_at_once_and_leaves_no_code(handset: Phone, service: Service) -> None:
    """The phone ends on its day; neither address nor history shows the code; the desk lists the phone."""
    code = service.offer()
    page = handset.open(f"{service.url}/pair#{code}", paired=False)
    expect(page.locator("#status")).to_have_text("This phone is paired.")
    assert page.url == f"{service.url}/"
    page.go_back()
    expect(page.get_by_role("heading", level=1)).to_have_text("Pair this phone")
    assert page.url == f"{service.url}/pair"
    assert remembered(page)["device"] in layby(service, "devices")


def test_a_used_code_is_told_and_nothing_is_lost(handset: Phone, service: Service) -> None:
    """The address of a code that somebody has used: a sentence with what to do; capturing goes on."""
    code = service.offer()
    service.bearer()
    page = handset.open(f"{service.url}/pair#{code}", paired=False)
    expect(page.get_by_role("alert")).to_contain_text("It may have been used or have expired")
    page.get_by_role("button", name="Back to all visits").click()
    captured(page)
    assert remembered(page) is None


def test_the_screens_of_pairing_are_accessible(service: Service) -> None:
    """The day, the page of the code and a refusal: axe-core finds nothing, targets are large, all fits at 200 %."""
    found: list[str] = []
    with phone(bypass_csp=True) as handset:
        page = handset.open(service.url, paired=False)

        def look(name: str) -> None:
            found.extend(f"{name}: {line}" for line in in_both(page) + page.evaluate(SMALL_TARGETS))
            found.extend(f"{name} at 200 %: {line}" for line in at_twice_the_size(page))

        expect(page.locator("#desk")).to_be_visible()
        look("day")
        page.goto(f"{service.url}/pair")
        expect(page.get_by_role("heading", level=1)).to_have_text("Pair this phone")
        look("pairing")
        write(page, "Code from the desk", "0000 0000")
        page.get_by_role("button", name="Pair this phone").click()
        expect(page.get_by_role("alert")).to_contain_text("Show a new code at the desk")
        look("refusal")
    assert found == []


def test_the_address_opens_without_a_network(handset: Phone, service: Service) -> None:
    """A phone that was here before opens it from its own files, says that the desk doesn't answer, and pairs later."""
    page = handset.open(service.url, paired=False)
    ready_offline(page)
    code = service.offer()
    service.stop()
    page.goto(f"{service.url}/pair#{code}")
    expect(page.get_by_role("alert")).to_contain_text("The desk doesn't answer.")
    service.start()
    page.get_by_role("button", name="Pair this phone").click()
    expect(page.locator("#status")).to_have_text("This phone is paired.")


MARKED = """async () => {
  const outbox = (await import('/page.js')).$store_outbox.openOutbox();
  const fresh = { token: 'fresh', shutOut: false };
  const shut = (desk) => (desk.token === 'stale' ? { ...desk, shutOut: true } : desk);
  const found = [];
  for (const first of ['mark', 'pair']) {
    await outbox.remember('trial', { token: 'stale', shutOut: false });
    const ways = { mark: () => outbox.amend('trial', shut), pair: () => outbox.remember('trial', fresh) };
    await Promise.all([ways[first](), ways[first === 'mark' ? 'pair' : 'mark']()]);
    found.push(await outbox.recall('trial'));
  }
  return found;
}"""


def test_a_new_pairing_is_never_overwritten_by_a_mark_on_the_old_one(handset: Phone, service: Service) -> None:
    """Requested at the same moment, in either order: the new one counts, and isn't shut out."""
    page = handset.open(service.url)
    assert page.evaluate(MARKED) == [{"token": "fresh", "shutOut": False}] * 2


ANEW = """async (code) => {
  const outbox = (await import('/page.js')).$store_outbox.openOutbox();
  const { pairWith } = (await import('/page.js')).$sync_client;
  const told = await pairWith({ code, device: await outbox.recall('device'), name: 'the same phone' });
  await outbox.remember('desk', { ...told, origin: location.origin, shutOut: false });
}"""


def test_a_phone_that_is_paired_anew_while_it_sends_sends_again(handset: Phone, service: Service) -> None:
    """The desk's refusal of the old token comes late: what waits goes with the new one, and nothing is paused."""
    page = handset.open(service.url)
    at_rest(page)
    layby(service, "devices", "--revoke", remembered(page)["device"])
    captured(page)
    expect(page.locator("#desk")).to_contain_text("Sending is paused")
    late: list[Route] = []

    def hold(route: Route) -> None:
        if late:
            route.fallback()
        else:
            late.append(route)

    page.route("**/sync", hold)
    with page.expect_request("**/sync"):
        page.get_by_role("button", name="Send now").click()
    page.evaluate(ANEW, service.offer())
    late[0].continue_()
    expect(page.locator("#status")).not_to_have_text("Sending")
    assert "delivered to the desk" in page.locator("#status").inner_text()
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    expect(page.locator("#desk")).to_have_count(0)


def test_a_phone_that_is_shut_out_pauses_clears_nothing_and_goes_on(handset: Phone, service: Service) -> None:
    """Revoked: one 401, a sentence with what to do, no further asking by itself; paired again, all of it is filed."""
    page = handset.open(service.url)
    first = captured(page)
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    layby(service, "devices", "--revoke", remembered(page)["device"])
    second = start_visit(page, "R. Sandoval")
    to_day(page)
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#status")).to_contain_text("The desk no longer knows this phone. Sending is paused")
    expect(page.locator("#desk")).to_contain_text("Sending is paused and everything stays here")
    expect(page.locator("#tally")).to_contain_text("2 visits captured, 1 filed, 1 waiting")
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.reload()
    expect(page.locator("#desk")).to_contain_text("Sending is paused")
    ready_offline(page)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    at_rest(page)
    assert not [url for url in asked if url.endswith("/sync") or "/receipts" in url]
    page.get_by_role("link", name="Pair it").click()
    expect(page.locator("#paired")).to_contain_text("Sending is paused and everything stays here.")
    write(page, "Code from the desk", short_code(service))
    page.get_by_role("button", name="Pair this phone").click()
    expect(page.locator("#paired")).to_contain_text("This phone is paired with")
    page.get_by_role("button", name="Back to all visits").click()
    expect(page.locator("#tally")).to_contain_text("2 filed, 0 waiting")
    service.stop()
    assert [filed(service, visit)[1]["customer"]["name"] for visit in (first, second)] == ["M. Okafor", "R. Sandoval"]


def test_a_paired_phone_is_paired_anew_by_its_own_token(handset: Phone, service: Service) -> None:
    """The settings accept a new code of the same desk, even after a reload; what waits goes with the new token."""
    page = handset.open(service.url)
    at_rest(page)
    before = remembered(page)["token"]
    page.goto(f"{service.url}/pair#{service.offer()}")
    expect(page.locator("#status")).to_have_text("This phone is paired.")
    assert remembered(page)["token"] != before
    captured(page)
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")


FORGET = "async () => (await import('/page.js')).$store_outbox.openOutbox().remember('desk', undefined)"


def test_a_phone_that_lost_its_token_is_told_to_have_itself_revoked(handset: Phone, service: Service) -> None:
    """The desk gives the id to nobody who shows only a code; once it is revoked there, the same code pairs it."""
    page = handset.open(service.url)
    at_rest(page)
    device = remembered(page)["device"]
    page.evaluate(FORGET)
    page.goto("about:blank")
    page.goto(f"{service.url}/pair#{service.offer()}")
    expect(page.get_by_role("alert")).to_contain_text("The desk already knows this phone")
    expect(page.get_by_role("alert")).to_contain_text("Revoke the phone at the desk")
    layby(service, "devices", "--revoke", device)
    page.get_by_role("button", name="Pair this phone").click()
    expect(page.locator("#status")).to_have_text("This phone is paired.")


def test_digits_that_strangers_used_up_point_to_the_code_that_works(handset: Phone, service: Service) -> None:
    """After five wrong codes, typed by anybody, the right one is answered with what still works."""
    page = handset.open(service.url, paired=False)
    short = short_code(service)
    page.get_by_role("link", name="Pair it").click()
    for _ in range(5):
        write(page, "Code from the desk", f"{(int(short.replace(' ', '')) + 1) % 10**8:08d}")
        with page.expect_response("**/pair"):
            page.get_by_role("button", name="Pair this phone").click()
        expect(page.get_by_role("button", name="Pair this phone")).to_be_enabled()
    write(page, "Code from the desk", short)
    page.get_by_role("button", name="Pair this phone").click()
    expect(page.get_by_role("alert")).to_contain_text("Scan the QR code")


def test_an_iphone_is_told_to_use_the_home_screen_first(service: Service) -> None:
    """If iOS says that the page was not opened from there, no code is used up, and the day says so too."""
    with phone() as made:
        page = made.open("about:blank", paired=False)
        page.add_init_script("Object.defineProperty(navigator, 'standalone', { value: false })")
        page.goto(f"{service.url}/pair#{service.offer()}")
        expect(page.locator("#home")).to_contain_text("to the home screen first")
        expect(page.locator("#paired")).to_contain_text("Not paired")
        page.get_by_role("button", name="Back to all visits").click()
        expect(page.locator("#home")).to_be_visible()
        assert remembered(page) is None
        assert made.complaints == []
