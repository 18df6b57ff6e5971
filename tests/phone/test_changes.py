"""Others' work reaches the phone: their entries, the progress of its sheet, a known vehicle and its own yardstick.

A real Chromium against a real `layby serve`; the others speak HTTP to the same service.
"""

from __future__ import annotations

import json
import re
from typing import Any

from playwright.sync_api import Page, expect

from tests.support import children
from tests.support.browser import Phone
from tests.support.hands import (
    at_rest,
    choose,
    confirm_cautions,
    filed,
    go_to,
    ready_offline,
    start_visit,
    to_day,
    write,
)
from tests.support.ops import Phone as Other
from tests.support.ops import line_of
from tests.support.service import LAYBY, Service

HELD = """async (visit) => {
  const outbox = (await import('/page.js')).$store_outbox.openOutbox();
  const records = await outbox.opsOf(visit);
  const view = await outbox.view(visit);
  return { ops: records.map((one) => one.id), states: records.map((one) => one.state), visit: view.visit };
}"""


def send(page: Page) -> None:
    """From the day, hand in what waits and hear what is new."""
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#status")).to_have_text(re.compile("delivered to the desk|Nothing to send"))


def ask(service: Service, *words: str) -> str:
    """A command of `layby` on the served folder."""
    done = children.run([str(LAYBY), "--folder", str(service.folder), *words])
    assert done.returncode in (0, 1), done.stderr
    return done.stdout


def file(service: Service, *ops: dict[str, Any]) -> None:
    """File operations of somebody else."""
    _, _, content = service.post("/sync", b"".join(line_of(op) for op in ops), "application/x-ndjson")
    assert {result["status"] for result in json.loads(content)["results"]} <= {"accepted", "conflict"}, content


def heads(page: Page, visit: str) -> dict[str, Any]:
    """The current operations of each pointer on the phone."""
    script = """async (visit) => {
      const records = await (await import('/page.js')).$store_outbox.openOutbox().opsOf(visit);
      const kinds = (await (await fetch('/rulebook.json')).json()).kinds;
      return (await import('/kernel.js')).replay(records.map((one) => JSON.parse(one.json)), kinds).heads;
    }"""
    found: dict[str, Any] = page.evaluate(script, visit)
    return found


def test_what_the_desk_corrects_shows_on_the_phone_and_both_hold_the_same(handset: Phone, service: Service) -> None:
    """A plate corrected at the desk, an entry that conflicts with the phone's: told, shown, settled; no entry lost."""
    page = handset.open(service.url)
    visit = start_visit(page, "M. Okafor")
    go_to(page, "Vehicle")
    write(page, "Registration", "LT 482")
    to_day(page)
    send(page)
    desk = Other("0dd5", ms=4_000_000_000_000)
    plate = heads(page, visit)["/vehicle/plate"][0]
    blind = desk.op(visit, "visit.set", {"customer": {"name": "M. Okafor-Lane"}}, {"/customer/name": None})
    file(service, desk.plate(visit, "LT 428", plate), blind)
    send(page)
    expect(page.get_by_text("LT 428")).to_be_visible()
    expect(page.get_by_text("Two entries disagree")).to_be_visible()
    expect(page.locator("#tally")).to_have_text("1 visit captured, 1 filed, 0 waiting, 0 refused.")
    page.get_by_role("link", name=re.compile("M. Okafor")).click()
    page.get_by_role("button", name=re.compile("^M. Okafor-Lane")).click()
    expect(page.get_by_text("Two entries disagree")).to_have_count(0)
    to_day(page)
    send(page)
    held = page.evaluate(HELD, visit)
    assert held["states"].count("theirs") == 2
    service.stop()
    ops, kept = filed(service, visit)
    assert sorted(op["id"] for op in ops) == sorted(held["ops"])
    assert kept == held["visit"]
    assert (kept["customer"]["name"], kept["vehicle"]["plate"]) == ("M. Okafor-Lane", "LT 428")


def test_an_open_visit_takes_in_what_others_did(handset: Phone, service: Service) -> None:
    """While a person types, the page stays still; what they type conflicts openly with what they had not seen."""
    page = handset.open(service.url)
    visit = start_visit(page, "M. Okafor")
    to_day(page)
    send(page)
    page.get_by_role("link", name=re.compile("M. Okafor")).click()
    go_to(page, "Customer and location")
    name = heads(page, visit)["/customer/name"][0]
    page.get_by_label("Customer", exact=True).focus()
    other = Other("bbbb", ms=4_000_000_000_000)
    file(service, other.op(visit, "visit.set", {"customer": {"name": "M. Okafor-Lane"}}, {"/customer/name": name}))
    with page.expect_response(re.compile("/changes")):
        page.evaluate("window.dispatchEvent(new Event('online'))")
    at_rest(page)
    expect(page.get_by_label("Customer", exact=True)).to_have_value("M. Okafor")
    write(page, "Customer", "Mr Okafor")
    go_to(page, "Vehicle")
    expect(page.get_by_text("Two entries disagree: customer.")).to_be_visible()
    expect(page.get_by_role("button", name=re.compile("^M. Okafor-Lane · device bbbb"))).to_be_visible()


def test_the_day_says_how_each_sheet_stands(handset: Phone, service: Service) -> None:
    """Approved at the desk: the approval and the state of the sheet reach the phone."""
    page = handset.open(service.url)
    visit = start_visit(page, "M. Okafor")
    go_to(page, "Result")
    page.get_by_role("button", name="Finish the visit").click()
    send(page)
    day = page.evaluate(HELD, visit)["visit"]["started_at"][:10]
    assert "ready" in ask(service, "evening", "--day", day)
    ask(service, "approve", visit)
    send(page)
    expect(page.get_by_text("sheet approved")).to_be_visible()
    assert page.evaluate(HELD, visit)["states"].count("theirs") == 1


def take_test(page: Page) -> None:
    """Vehicle, cautions and one test before the work."""
    go_to(page, "Vehicle")
    write(page, "Registration", "LT 482")
    write(page, "Make", "Wren")
    choose(page, "Refrigerant in the system", "R-134a")
    confirm_cautions(page)
    go_to(page, "Before")
    for group, word in (("Blower", "low"), ("Air", "recirculated"), ("Compressor", "steady")):
        choose(page, group, word)
    write(page, "Air at the condenser", "28")
    for label, text in (("Low side", "186"), ("High side", "1250"), ("Centre vent", "5.6")):
        write(page, label, text)


def test_a_test_marked_healthy_becomes_the_yardstick_of_the_next_visit(handset: Phone, service: Service) -> None:
    """Marked on the phone, calculated at the desk, told by it, written into the next visit by an ordinary entry."""
    page = handset.open(service.url)
    first = start_visit(page, "M. Okafor")
    write(page, "Altitude", "0")
    take_test(page)
    go_to(page, "Result")
    page.get_by_role("button", name="Mark as healthy").click()
    expect(page.get_by_text("The last test is marked as")).to_be_visible()
    page.get_by_role("button", name="Finish the visit").click()
    send(page)
    second = start_visit(page)
    go_to(page, "Vehicle")
    write(page, "Registration", "lt-482")
    go_to(page, "Cautions")
    go_to(page, "Vehicle")
    expect(page.get_by_text("This vehicle is known: Wren, R-134a. Last visit:")).to_be_visible()
    page.get_by_role("button", name="Use what is known").click()
    expect(page.get_by_label("Make", exact=True)).to_have_value("Wren")
    to_day(page)
    send(page)
    held = page.evaluate(HELD, second)["visit"]
    service.stop()
    _, kept = filed(service, second)
    assert kept == held
    assert (kept["vehicle"]["plate"], kept["vehicle"]["refrigerant"]) == ("LT-482", "R134a")
    [entry] = kept["vehicle"]["baseline"]["entries"]
    assert (entry["visit"], entry["blower"], entry["air"]) == (first, "low", "recirculated")
    assert entry["values"]["vent_c"]["value"] == 5.6
    _, earlier = filed(service, first)
    assert earlier["vehicle"]["id"] == kept["vehicle"]["id"] == "plate-LT482"
    assert "baseline" not in earlier["vehicle"]


def test_a_known_customer_is_offered_as_the_desk_has_corrected_it(handset: Phone, service: Service) -> None:
    """Recognised by the telephone number; the address is the one that the desk corrected."""
    page = handset.open(service.url)
    first = start_visit(page, "M. Okafor")
    write(page, "Phone", "555-0123")
    write(page, "Address", "Wren Lane 4")
    go_to(page, "Result")
    page.get_by_role("button", name="Finish the visit").click()
    send(page)
    customer = page.evaluate(HELD, first)["visit"]["customer"]["id"]
    ask(service, "card", "customer", customer, "address=Heron Lane 4", "email=m.okafor@mail.example")
    send(page)
    second = start_visit(page)
    write(page, "Phone", "555 0123")
    go_to(page, "Vehicle")
    go_to(page, "Customer and location")
    expect(page.get_by_text("This customer is known: M. Okafor, 555-0123, m.okafor@mail.example")).to_be_visible()
    page.get_by_role("button", name="Use what is known").click()
    expect(page.get_by_label("Address", exact=True)).to_have_value("Heron Lane 4")
    kept = page.evaluate(HELD, second)["visit"]["customer"]
    assert kept == {"id": customer, "name": "M. Okafor", "phone": "555 0123", "address": "Heron Lane 4",
                    "email": "m.okafor@mail.example"}
    assert page.evaluate(HELD, first)["visit"]["customer"]["address"] == "Wren Lane 4"


def test_customers_that_the_desk_joined_are_offered_as_one(handset: Phone, service: Service) -> None:
    """Entered twice under two names; once merged, one offer, found by either name, under the id that remains."""
    page = handset.open(service.url)
    ids = []
    for name, number in (("M. Okafor", "555-0123"), ("M. Okafor-Lane", "555-0188")):
        visit = start_visit(page)
        write(page, "Customer", name)
        write(page, "Phone", number)
        go_to(page, "Result")
        page.get_by_role("button", name="Finish the visit").click()
        send(page)
        ids.append(page.evaluate(HELD, visit)["visit"]["customer"]["id"])
    start_visit(page)
    offers = page.get_by_role("group", name="Customer: entered before").get_by_role("button")
    write(page, "Customer", "Okafor")
    expect(offers).to_have_text(["M. Okafor-Lane, 555-0188", "M. Okafor, 555-0123"])
    write(page, "Customer", "")
    to_day(page)
    ask(service, "merge", *ids)
    send(page)
    third = start_visit(page, "555-0123")
    expect(offers).to_have_text(["M. Okafor-Lane, 555-0188"])
    offers.click()
    go_to(page, "Result")
    page.get_by_role("button", name="Finish the visit").click()
    expect(page.get_by_role("button", name="Start a visit")).to_be_visible()
    kept = page.evaluate(HELD, third)["visit"]["customer"]
    assert (kept["id"], kept["name"]) == (ids[0], "M. Okafor-Lane")


HEAR = """async (answer) => {
  const outbox = (await import('/page.js')).$store_outbox.openOutbox();
  const { createInbox } = (await import('/page.js')).$sync_inbox;
  const rulebook = await (await fetch('/rulebook.json')).json();
  const faults = [];
  const hear = createInbox({ outbox, rulebook, onFault: (error) => faults.push(error.message) });
  return { changed: await hear(answer), faults, cursor: await outbox.recall('changes_cursor') };
}"""


def test_what_was_erased_at_the_desk_goes_unless_it_still_has_to_be_filed(handset: Phone, service: Service) -> None:
    """Two visits, one filed and one that waits: the filed one goes, the other stays complete."""
    page = handset.open(service.url)
    ready_offline(page)
    visits = []
    for name in ("M. Okafor", "L. Moreau"):
        visits.append(start_visit(page))
        write(page, "Customer", name)
        to_day(page)
        if len(visits) == 1:
            send(page)
            service.stop()
    told = page.evaluate(HEAR, {"cursor": "5.5.00000000.7", "changes": [{"kind": "erased", "visits": visits}]})
    assert told == {"changed": [], "faults": [], "cursor": "5.5.00000000.7"}
    page.reload()
    expect(page.get_by_text("L. Moreau")).to_be_visible()
    expect(page.get_by_text("M. Okafor")).to_have_count(0)
    service.start()
    send(page)
    expect(page.locator("#tally")).to_have_text("1 visit captured, 1 filed, 0 waiting, 0 refused.")
    service.stop()
    assert filed(service, visits[1])[1]["customer"]["name"] == "L. Moreau"


def test_a_line_that_came_damaged_is_not_taken(handset: Phone, service: Service) -> None:
    """Its hash doesn't fit: the intact line beside it is kept, the cursor stays, and it is told again."""
    page = handset.open(service.url)
    visit = start_visit(page, "M. Okafor")
    to_day(page)
    other = Other("bbbb", ms=4_000_000_000_000)
    lines = [line_of(other.test(visit, name, vent_c=7)).decode().strip() for name in ("b1", "b2")]
    changes = [{"kind": "op", "line": line} for line in (lines[0].replace("vent_c", "vent_k"), lines[1])]
    told = page.evaluate(HEAR, {"cursor": "5.5.00000000.0", "changes": changes})
    assert (told["changed"], len(told["faults"])) == ([visit], 1)
    assert told["cursor"] != "5.5.00000000.0"
    assert [test["id"] for test in page.evaluate(HELD, visit)["visit"]["tests"]] == ["b2"]
