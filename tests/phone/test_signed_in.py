"""A phone of one of several people: its entries say who made them, and a visit handed over at the desk reaches it.

Two real Chromium phones against a real `layby serve`; the office hands over by the desk's own page.
"""

from __future__ import annotations

from playwright.sync_api import Page, expect

from tests.phone.test_changes import send
from tests.support.browser import Phone, phone
from tests.support.hands import at_rest, filed, go_to, start_visit, to_day, write
from tests.support.service import Service
from tests.support.staff import OFFICE, ONE, OTHER, Staff, staff_of
from tests.support.visitor import Visitor, wait_for_key

REMEMBERED = """async () => {
  const outbox = (await import('/page.js')).$store_outbox.openOutbox();
  return [await outbox.recall('desk'), await outbox.recall('settings')];
}"""


def opened(handset: Phone, service: Service, staff: Staff, name: str) -> Page:
    """A phone that is paired by the code on the page of the person whose it is."""
    code = staff[name].press("/desk/do/offer")[2].split("/pair#")[1].split("<")[0]
    page = handset.open(f"{service.url}/pair#{code}", paired=False)
    expect(page.locator("#status")).to_have_text("This phone is paired.")
    handset.paired.add(service.url)
    return page


def staffed(service: Service) -> Staff:
    """A desk with its people."""
    wait_for_key(service)
    return staff_of(service, Visitor(service).first())


def test_entries_bear_who_made_them_and_a_visit_goes_to_another(handset: Phone, service: Service) -> None:
    """Who opened a visit is its technician; handed over, all of it is on the other's phone, who goes on with it."""
    staff = staffed(service)
    page = opened(handset, service, staff, ONE)
    visit = start_visit(page, "M. Okafor")
    to_day(page)
    send(page)
    desk, settings = page.evaluate(REMEMBERED)
    assert desk["person"] == {"id": staff.ids[ONE], "name": ONE}
    assert settings["technician"] == {"id": staff.ids[ONE], "name": ONE}
    with phone() as second:
        others = opened(second, service, staff, OTHER)
        expect(others.get_by_text("M. Okafor")).to_have_count(0)
        assert staff[OFFICE].press("/desk/do/hand-over", id=visit, person=staff.ids[OTHER])[0] == 303
        send(others)
        others.get_by_text("M. Okafor").first.click()
        go_to(others, "Customer and location")
        write(others, "Customer", "Mary Okafor")
        at_rest(others)
        to_day(others)
        send(others)
        assert second.complaints == []
    send(page)
    expect(page.get_by_text("Mary Okafor").first).to_be_visible()
    service.stop()
    ops, whole = filed(service, visit)
    assert {op["device"]: op.get("by") for op in ops} == {
        desk["device"]: staff.ids[ONE], "de5c": staff.ids[OFFICE],
        next(op["device"] for op in ops if op["device"] not in ("de5c", desk["device"])): staff.ids[OTHER]}
    assert whole["technician"] == {"id": staff.ids[OTHER], "name": OTHER}
    assert whole["customer"]["name"] == "Mary Okafor"


def test_a_phone_given_to_somebody_else_learns_it_by_itself(handset: Phone, service: Service) -> None:
    """What it wrote before keeps its author and is filed; what comes after bears the new one, with their name."""
    staff = staffed(service)
    page = opened(handset, service, staff, ONE)
    first = start_visit(page, "M. Okafor")
    to_day(page)
    device = page.evaluate(REMEMBERED)[0]["device"]
    assert staff[OFFICE].press("/desk/do/phone-of", device=device, id=staff.ids[OTHER])[0] == 303
    send(page)
    second = start_visit(page, "June Harbour")
    to_day(page)
    send(page)
    service.stop()
    for visit, name in ((first, ONE), (second, OTHER)):
        ops, whole = filed(service, visit)
        assert {op["by"] for op in ops} == {staff.ids[name]}
        assert whole["technician"]["id"] == staff.ids[name]
        assert whole["technician"]["name"] == name
