"""The desk's pages in a real browser without scripts: the day from visits to letters, phones, and what failed.

The same pages, with scripts allowed only for axe-core, are checked against its rules and at twice the text size.
"""

from __future__ import annotations

import http.client
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from demo import phone as demo_phone
from tests.phone.test_screens import at_twice_the_size, in_both
from tests.server.test_login import layby
from tests.server.test_task_arguments import asked
from tests.support.browser import PATIENCE_MS, borrowed
from tests.support.ops import Phone, body_of, line_of
from tests.support.service import Service
from tests.support.visitor import PASSPHRASE, Visitor, setting_key, wait_for_key
from tests.work.test_bundle_intake import bundle_of

# From the demo's day, those whose every entry is filed as it arrives.
NAMES = ("Ruth Okello", "Tomas Lindqvist-Abara", "June Castellane")
# What is pressed, in CSS pixels: a link within a sentence is not, and a box is pressed by its words, too.
SMALL_TARGETS = """() => [...document.querySelectorAll(
  'button, nav a, .ways a, .choose a, .keys a, .field input:not([type=checkbox]), .tick')]
  .map(one => [one.outerHTML.slice(0, 120), one.getBoundingClientRect()])
  .filter(([, box]) => box.height > 1 && box.height < 47.5)
  .map(([html, box]) => `${Math.round(box.width)} x ${Math.round(box.height)}: ${html}`)"""


@pytest.fixture
def day(service: Service, rulebook: dict[str, Any]) -> str:
    """Three visits of the demo's day, filed; its date."""
    wait_for_key(service)
    whole = demo_phone.load_day()
    scenario = {**whole, "visits": [visit for visit in whole["visits"] if visit["customer"]["name"] in NAMES]}
    lines = [line for _, line in demo_phone.whole_day(rulebook, scenario).made]
    for start in range(0, len(lines), 50):
        _, _, content = service.post("/sync", b"".join(lines[start : start + 50]), "application/x-ndjson")
        assert {result["status"] for result in json.loads(content)["results"]} == {"accepted"}
    return str(scenario["day"])


@pytest.fixture
def complaints() -> list[str]:
    """What the browser complained about."""
    return []


@pytest.fixture
def page(service: Service, complaints: list[str]) -> Iterator[Page]:
    """A desk's browser, signed in, with scripts switched off."""
    wait_for_key(service)
    with borrowed() as browser:
        made = browser.new_context(java_script_enabled=False, locale="en-GB").new_page()
        made.set_default_timeout(PATIENCE_MS)
        made.on("console", lambda message: complaints.append(message.text) if "Content Sec" in message.text else None)
        made.goto(f"{service.url}/desk/passphrase?key={setting_key(service.log.read_text('utf-8'))}")
        made.get_by_label("New passphrase").fill(PASSPHRASE)
        made.get_by_label("Repeat it").fill(PASSPHRASE)
        press(made, "button", "Set passphrase")
        yield made
    assert complaints == []


def press(page: Page, role: Any, name: str, exact: bool = False) -> None:
    """Press what leads to another page, and wait until all of that page is there."""
    with page.expect_navigation():
        page.get_by_role(role, name=name, exact=exact).click()


def rows(page: Page) -> list[str]:
    """The lines of the day's table."""
    return page.locator("table.rows tr.visit").all_inner_texts()


def test_a_day_goes_from_visits_to_letters(page: Page, service: Service, day: str) -> None:
    """Made, looked at, approved one and then all, sent: each state in words, and what is missing beside it."""
    page.goto(f"{service.url}/desk?day={day}")
    assert len(rows(page)) == 3
    assert all("draft" in row for row in rows(page))
    assert "Ruth Okello" in rows(page)[0]
    assert any("not paid" in row for row in rows(page))
    assert page.get_by_role("link", name="Sheet:").count() == 0
    press(page, "button", "Make the sheets")
    expect(page.get_by_role("status")).to_have_text("Sheets made.")
    assert all("ready" in row for row in rows(page))
    link = page.get_by_role("link", name="Sheet: Driveway, Harbour Lane, Ruth Okello").get_attribute("href")
    answer = page.request.get(service.url + str(link))
    assert (answer.status, answer.body()[:5]) == (200, b"%PDF-")
    press(page, "button", "Approve the sheet of Driveway, Harbour Lane, Ruth Okello")
    assert ["approved" in row for row in rows(page)] == [False, False, True], "what is on its way stands below"
    press(page, "button", "Approve all 2 sheets")
    expect(page.get_by_role("status")).to_have_text("Approved. Press Send to email them.")
    press(page, "link", "Letters", exact=True)
    assert page.get_by_text("it goes with the next letters, to").count() == 3
    press(page, "link", "The day", exact=True)
    page.get_by_label("Another day").fill(day)
    press(page, "button", "Show")
    press(page, "button", "Send approved sheets")
    assert all("in the outbox" in row and ".eml" in row for row in rows(page))
    assert len(list((service.folder / "outgoing").glob("*.eml"))) == 3
    press(page, "link", "Next day")
    expect(page.get_by_text("No visits are filed for this day.")).to_be_visible()


def test_a_sheet_that_nobody_saw_is_not_approved(service: Service, day: str) -> None:
    """The button carries the exact sheet that was shown; one of another revision stays as it is."""
    visitor = Visitor(service).first()
    visitor.press("/desk/do/make", day=day)
    _, _, text = visitor.ask("GET", f"/desk?day={day}")
    shown = text.split('name="sheet" value="')[1].split('"')[0]
    visit, _, revision = shown.partition(" ")
    answer = visitor.press("/desk/do/approve", day=day, sheet=f"{visit} {'0' * len(revision)}")
    assert answer[1]["Location"].endswith("done=nothing")
    answer = visitor.press("/desk/do/approve", day=day, sheet=[shown, f"{visit} {'0' * len(revision)}"])
    assert answer[1]["Location"].endswith("done=some")
    assert "approved" in visitor.ask("GET", "/desk/post")[2]


def test_a_failure_is_listed_with_its_reason(
    service: Service, day: str, rulebook: dict[str, Any]
) -> None:
    """A customer without an address can't be written to: the page of the letters says so, and where to go."""
    phone = Phone()
    visit = phone.new_id()
    assert service.post("/sync", body_of(phone.opening(visit), phone.plate(visit, "LT 482")))[0] == 200
    layby(service, "evening", "--day", "2026-06-12")
    visitor = Visitor(service).first()
    _, _, text = visitor.ask("GET", "/desk?day=2026-06-12")
    assert "no email address" in text
    assert f'name="sheet" value="{visit}' not in text, "what it lacks stands where its key would"
    layby(service, "approve", visit)
    visitor.press("/desk/do/send")
    _, _, text = visitor.ask("GET", "/desk/post")
    needs = text.split("Needs you: ")[1].split("</tbody>")[0]
    assert "The customer has no email address." in needs
    assert "LT 482" in needs
    assert "Fill in what is missing: " in needs


def test_what_a_sheet_lacks_is_filled_in_on_its_row(service: Service, day: str) -> None:
    """No address, outcome or business: each is asked for on the day's page; the sheet is made anew and then goes."""
    phone = Phone()
    visit = phone.new_id()
    assert service.post("/sync", body_of(phone.opening(visit), phone.plate(visit, "LT 482")))[0] == 200
    visitor = Visitor(service).first()
    visitor.press("/desk/do/make", day=day)
    revision = asked(service, "visit", {"id": visit})[1]["result"]["row"]["revision"]
    forged = visitor.press("/desk/do/approve", day=day, sheet=f"{visit} {revision}")
    assert forged[1]["Location"].endswith("done=stopped"), "the key is not offered, and pressed all the same it stops"
    status, _, text = visitor.press("/desk/do/mend", id=visit, field="customer.email", text="lt at no", day=day)
    assert (status, 'value="lt at no"' in text, "valid email address" in text) == (422, True, True)
    for field, typed in (("customer.email", "lt@quay.example"), ("outcome", "done")):
        assert visitor.press("/desk/do/mend", id=visit, field=field, text=typed, day=day)[0] == 303
    assert visitor.press("/desk/do/mend", id=visit, field="void", text="x", day=day)[0] == 404
    page = visitor.ask("GET", f"/desk/visit?id={visit}&open=technician")[2]
    assert "It was missing. Filled in at the desk." in page
    seen = page.split('name="seen" value="')[1].split('"')[0]
    business = {"technician.business": "Alder Coast Mobile Cooling", "why": "Left out", "seen": seen}
    assert visitor.press("/desk/do/amend", id=visit, section="technician", **business)[0] == 303
    visitor.press("/desk/do/make", day=day)
    keys = visitor.ask("GET", f"/desk?day={day}")[2].split('name="sheet" value="')[1:]
    sheet = next(one.split('"')[0] for one in keys if one.startswith(visit))
    assert visitor.press("/desk/do/approve", day=day, sheet=sheet)[1]["Location"].endswith("done=approved")


def test_a_visit_is_found_by_what_a_person_remembers(page: Page, service: Service, day: str) -> None:
    """By part of a name, by a plate written differently, by the day; it leads to its day and its sheet."""
    press(page, "link", "Find", exact=True)
    for text, many in (("okello", 1), ("ald-4127", 1), (day, 3), (day[:7], 3), ("okello 1999", 0)):
        page.get_by_label("Plate, VIN, customer or day").fill(text)
        press(page, "button", "Find")
        assert page.locator(".list > li").count() == many, text
        assert page.get_by_label("Plate, VIN, customer or day").input_value() == text
    expect(page.get_by_text("No visit matches.")).to_be_visible()
    page.goto(f"{service.url}/desk/search?text=okello")
    sheet = page.get_by_role("link", name=f"Sheet of Ruth Okello, {day}").get_attribute("href")
    assert page.request.get(service.url + str(sheet)).body()[:5] == b"%PDF-"
    press(page, "link", f"Day: {day}")
    expect(page.get_by_role("heading", level=1)).to_have_text("Friday, 12 June 2026")
    page.goto(f"{service.url}/desk/search?text=%3Cb%3Eokello")
    assert page.locator("b").count() == 0


def test_a_phone_is_paired_and_revoked_on_the_page(page: Page, service: Service) -> None:
    """The QR code is in the page itself; the code opens POST /pair once; the list names the phone."""
    press(page, "link", "Phones")
    expect(page.get_by_text("No phone is paired yet.")).to_be_visible()
    press(page, "button", "Show a pairing code")
    picture = page.get_by_role("img", name="QR code of the link beside it")
    assert str(picture.get_attribute("src")).startswith("data:image/svg+xml")
    box = picture.bounding_box()
    assert box is not None
    assert box["width"] >= 200
    address = page.locator(".code code").first.inner_text()
    assert address.startswith(f"{service.url}/pair#")
    asked = json.dumps({"code": address.split("#")[1], "device": "beef", "name": "Van <b>phone</b>"}).encode()
    assert service.post("/pair", asked, "application/json")[0] == 200
    page.goto(f"{service.url}/desk/phones")
    expect(page.get_by_text("Van <b>phone</b>, paired")).to_be_visible()
    press(page, "button", "Revoke Van")
    expect(page.get_by_role("status")).to_contain_text("Revoked.")
    expect(page.get_by_text("Van <b>phone</b>, revoked")).to_be_visible()
    assert page.get_by_role("button", name="Revoke").count() == 0


def test_files_carried_by_hand_are_taken_in_and_answered(page: Page, service: Service, tmp_path: Path) -> None:
    """Two parts and a file of something else: what was accepted, in words, what is missing, a receipt to carry back."""
    phone = Phone()
    visit = phone.new_id()
    opened = phone.opening(visit)
    first = bundle_of(phone.device, line_of(opened), "1/3")
    second = bundle_of(phone.device, line_of(phone.plate(visit, "LT 482")), "2/3")
    files = [{"name": name, "mimeType": "text/plain", "buffer": content} for name, content in
             (("list.txt", b"milk\n" * 40), ("van-1.txt", first), ("van-2.txt", second))]
    press(page, "link", "Phones")
    press(page, "link", "By hand")
    page.get_by_label("Files from a phone").set_input_files(files)  # type: ignore[arg-type]
    press(page, "button", "Take in files")
    told = page.locator("main > .list > li").all_inner_texts()
    assert len(told) == 3
    assert all("Entries: 1 " in text for text in told[1:])
    assert "Line 1" in told[0]
    assert (told[0].count("Line "), "And 31 more." in told[0]) == (10, True), "40 lines and no end"
    expect(page.get_by_text("Part 3 of 3 from device")).to_be_visible()
    with page.expect_download() as saved:
        page.get_by_role("link", name="Save receipt: van-1.txt").click()
    assert saved.value.suggested_filename == "van-1-receipt.txt"
    assert Path(saved.value.path()).read_bytes().startswith(f"layby-receipt 1 {phone.device} 1/3\n".encode())
    page.goto(f"{service.url}/desk/search?text=LT482")
    assert page.locator(".list > li").count() == 1


def test_files_come_only_by_the_page_of_who_is_signed_in(service: Service) -> None:
    """Without a session nothing is read; with one but without its form's token nothing is taken."""
    form = (b'--q\r\nContent-Disposition: form-data; name="form_token"\r\n\r\nguessed\r\n--q\r\n'
            b'Content-Disposition: form-data; name="file"; filename="a.txt"\r\n\r\nmilk\r\n--q--\r\n')
    wait_for_key(service)
    visitor = Visitor(service)
    for cookie, status in (("", 303), (visitor.first().cookie, 403)):
        shown = {"Content-Type": "multipart/form-data; boundary=q", "Cookie": cookie}
        connection = http.client.HTTPConnection("127.0.0.1", service.port, timeout=60)
        connection.request("POST", "/desk/do/receive", form, shown)
        assert connection.getresponse().status == status
        connection.close()
    assert "No file was chosen." in visitor.press("/desk/do/receive")[2]


def test_a_day_that_is_none_is_told_in_a_sentence(page: Page, service: Service) -> None:
    """422 as a page."""
    answer = page.goto(f"{service.url}/desk?day=yesterday")
    assert answer is not None
    assert (answer.status, answer.headers["content-type"]) == (422, "text/html; charset=utf-8")
    expect(page.get_by_role("alert")).to_contain_text("Enter it as YYYY-MM-DD.")


def test_every_page_is_accessible_and_whole_at_twice_the_size(service: Service, day: str) -> None:
    """axe-core finds nothing in the sun or at dusk; at 200 % no text overflows a screen, narrow or wide."""
    found: list[str] = []
    with borrowed() as browser:
        context = browser.new_context(bypass_csp=True, viewport={"width": 400, "height": 800})
        page = context.new_page()
        page.set_default_timeout(PATIENCE_MS)

        def look(name: str) -> None:
            found.extend(f"{name}: {line}" for line in in_both(page) + page.evaluate(SMALL_TARGETS))
            found.extend(f"{name} at 200 %: {line}" for line in at_twice_the_size(page))
            page.set_viewport_size({"width": 1100, "height": 800})
            found.extend(f"{name} at 200 %, wide: {line}" for line in at_twice_the_size(page))
            page.set_viewport_size({"width": 400, "height": 800})

        for path in ("/desk/first", "/desk/passphrase", f"/desk/passphrase?key={key_of(service)}"):
            page.goto(service.url + path)
            look(path.split("=")[0])
        page.get_by_label("New passphrase").fill(PASSPHRASE)
        page.get_by_label("Repeat it").fill("another")
        press(page, "button", "Set passphrase")
        look("told")
        page.get_by_label("New passphrase").fill(PASSPHRASE)
        page.get_by_label("Repeat it").fill(PASSPHRASE)
        press(page, "button", "Set passphrase")
        walk_of_the_desk(page, service, day, look)
    assert found == []


def test_the_pages_of_a_visit_are_accessible_in_spanish(service: Service, day: str) -> None:
    """The day, a visit with one part open, its customer and its vehicle: axe-core in the sun and at dusk, at 200 %."""
    found: list[str] = []
    with borrowed() as browser:
        context = browser.new_context(bypass_csp=True, viewport={"width": 400, "height": 800}, locale="es-ES")
        page = context.new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.goto(f"{service.url}/desk/passphrase?key={key_of(service)}")
        page.locator("#passphrase").fill(PASSPHRASE)
        page.locator("#again").fill(PASSPHRASE)
        with page.expect_navigation():
            page.locator("button.main").click()
        page.goto(f"{service.url}/desk?day={day}")
        visit = f"{service.url}{page.locator('tr.visit th a').first.get_attribute('href')}"
        page.goto(visit)
        ways = page.locator("main > .ways a").all()
        assert len(ways) == 3, "to the day, the vehicle and the customer"
        links = [f"{service.url}{way.get_attribute('href')}" for way in ways]
        for address in (visit, f"{visit}&open=price", *links):
            page.goto(address)
            assert page.locator("html").get_attribute("lang") == "es-ES"
            found.extend(f"{address}: {line}" for line in in_both(page) + page.evaluate(SMALL_TARGETS))
            found.extend(f"{address} at 200 %: {line}" for line in at_twice_the_size(page))
    assert found == []


def key_of(service: Service) -> str:
    """The key that the first start showed."""
    return setting_key(service.log.read_text("utf-8"))


def walk_of_the_desk(page: Page, service: Service, day: str, look: Any) -> None:
    """Each page behind the door, with and without something on it."""
    look("empty day")
    page.goto(f"{service.url}/desk?day={day}")
    look("day")
    press(page, "button", "Make the sheets")
    look("sheets made")
    press(page, "button", "Approve all")
    look("approved")
    page.goto(f"{service.url}/desk/search?text={day}")
    look("find")
    with page.expect_navigation():
        page.locator("main").get_by_role("link", name="Vehicle").first.click()
    look("vehicle")
    page.goto(f"{service.url}/desk?day={day}")
    with page.expect_navigation():
        page.locator("tr.visit th a").first.click()
    look("visit")
    address = page.url
    for part in ("customer", "price", "work"):
        page.goto(f"{address}&open={part}")
        look(f"visit, {part}")
    page.get_by_label("Minutes").first.fill("many")
    page.get_by_label("Why is it changed?").fill("Miscounted")
    press(page, "button", "Save the change")
    look("change refused")
    page.goto(address)
    press(page, "link", "Change: Test before")
    look("visit, test")
    page.goto(address)
    press(page, "link", "Customer and location", exact=True)
    look("customer")
    with page.expect_navigation():
        page.locator("main").get_by_role("link", name="Vehicle").first.click()
    page.get_by_label("Row 1, Low side, from").fill("250")
    press(page, "button", "Save the chart")
    look("chart refused")
    press(page, "link", "Letters", exact=True)
    look("post")
    press(page, "link", "Phones")
    press(page, "link", "By hand")
    look("by hand")
    page.get_by_label("Files from a phone").set_input_files(
        {"name": "a.txt", "mimeType": "text/plain", "buffer": b"milk"})
    press(page, "button", "Take in files")
    look("taken in")
    press(page, "link", "Phones")
    look("phones")
    press(page, "button", "Show a pairing code")
    look("code")
    page.goto(f"{service.url}/desk?day=never")
    look("fault")
    press(page, "button", "Sign out")
    look("signed out")
