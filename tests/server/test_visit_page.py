"""The desk's page of a visit: every part shown and corrected with a reason, and nobody overwritten unseen.

Plain requests; the visits are of our own making. What each correction comes to is read from the page.
"""

from __future__ import annotations

import html
import json
import re
from typing import Any

import pytest

from tests.server.test_login import layby
from tests.support.ops import Phone, body_of
from tests.support.service import Service
from tests.support.visitor import PASSPHRASE, Visitor

WHY = "Misheard at the car"


def filed(desk: Service, *ops: dict[str, Any]) -> None:
    """Hand operations in."""
    answer = desk.post("/sync", body_of(*ops))
    results = json.loads(answer[2])["results"]
    assert {result["status"] for result in results} <= {"accepted", "conflict"}, results


def a_visit(desk: Service, phone: Phone) -> str:
    """A visit in psi and °F with a customer, a test, work, a price line and advice."""
    visit = phone.new_id()
    said = {"customer": {"name": "Ruth Okello", "email": "ruth@okello.example"}, "vehicle": {"plate": "ALD 4127"},
            "units": {"technician": {"pressure": "psi", "temperature": "f"}}, "complaint": "Warm at the lights"}
    base = {"/customer/name": None, "/customer/email": None, "/vehicle/plate": None, "/complaint": None,
            "/units/technician/pressure": None, "/units/technician/temperature": None}
    test = {"id": "b1", "role": "before", "at": "2026-06-12T09:10:00-07:00", "readings": {"vent_c": 14.0},
            "conditions": {"ambient_c": 33.0}, "typed": {"vent_c": {"text": "57.2", "unit": "f"}}}
    filed(desk, phone.opening(visit), phone.op(visit, "visit.set", said, base), phone.op(visit, "test.add", test),
          phone.op(visit, "work.add", {"id": "w1", "code": "condenser_cleaned", "minutes": 16}),
          phone.op(visit, "charge.add", {"id": "c1", "text": "Cleaning", "unit_price": "120.00", "quantity": "1"}),
          phone.op(visit, "advice.add", {"id": "a1", "text": "Rinse it each spring."}))
    return visit


def opened(visitor: Visitor, visit: str, section: str) -> dict[str, str]:
    """What a browser would send of the form of a part of the visit, unchanged."""
    status, _, text = visitor.ask("GET", f"/desk/visit?id={visit}&open={section}")
    assert status == 200, text
    return of_form(text)


def of_form(text: str) -> dict[str, str]:
    """The fields of the page's form of correction, by name."""
    form = text.split('action="/desk/do/amend"')[1].split("</form>")[0]
    fields = {}
    for tag in re.findall(r"<input[^>]*>", form):
        name, value = (re.search(rf'{key}="([^"]*)"', tag) for key in ("name", "value"))
        if name and ("checkbox" not in tag or " checked" in tag):
            fields[html.unescape(name[1])] = html.unescape(value[1]) if value else ""
    for name, options in re.findall(r'<select[^>]*name="([^"]*)"[^>]*>(.*?)</select>', form, re.DOTALL):
        chosen = re.search(r'value="([^"]*)" selected', options)
        fields[html.unescape(name)] = html.unescape(chosen[1]) if chosen else ""
    for name, inner in re.findall(r'<textarea[^>]*name="([^"]*)"[^>]*>\n(.*?)</textarea>', form, re.DOTALL):
        fields[html.unescape(name)] = html.unescape(inner)
    return {name: value for name, value in fields.items() if name != "form_token"}


def shown(visitor: Visitor, visit: str) -> str:
    """The page as it reads, without its markup."""
    text = visitor.ask("GET", f"/desk/visit?id={visit}")[2].split("<main")[1]
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", text)).replace("\u00a0", " ").split())


def test_a_visit_is_shown_part_by_part(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """In words and in the units it was read in, with the command that does the same; no JSON."""
    visit = a_visit(desk, phone)
    text = shown(visitor, visit)
    for words in ("Ruth Okello, ruth@okello.example", "ALD 4127", "Warm at the lights", "Test before, 09:10",
                  "Centre vent: 57.2 °F", "condenser cleaned, Minutes: 16 min", "Cleaning", "Total: 120.00",
                  "Rinse it each spring.", "6 entries from device 7e57ab", "draft", f"layby amend {visit}"):
        assert words in text, words
    assert "{" not in text


@pytest.mark.parametrize("case", [  # part, field, what is typed, what the page tells
    ("customer", "customer.email", "ruth@harbour.example", "Email for the sheet: ruth@harbour.example, was ruth@"),
    ("complaint", "complaint", "Warm\nat the lights", "Customer's complaint: Warm at the lights, was Warm at the"),
    ("tests.b1", "tests.b1.readings.vent_c", "59", "Centre vent: 59 °F, was 57.2 °F"),
    ("tests.b1", "tests.b1.readings.low_kpa_g", "30", "Low side: 30 psi, was empty"),
    ("work", "work.w1.minutes", "26", "Minutes: 26 min, was 16 min"),
    ("price", "charges.c1.unit_price", "135,50", "Unit price, excl. tax: 135.50, was 120.00"),
    ("advice", "advice.a1.text", "Rinse it each May.", "Advice for the customer: Rinse it each May., was Rinse it"),
    ("outcome", "outcome", "done", "Outcome: done, was empty"),
    ("vehicle", "vehicle.year", "2012", "Year: 2012, was empty"),
    ("technician", "technician.business", "Alder Coast Cooling", "Business: Alder Coast Cooling, was empty"),
])  # fmt: skip
def test_every_part_is_corrected_with_its_reason(
    desk: Service, visitor: Visitor, phone: Phone, case: tuple[str, str, str, str]
) -> None:
    """What was typed stands in the visit, what stood there and why stand beside it; the rest stays as it was."""
    section, name, typed, told = case
    visit = a_visit(desk, phone)
    before = opened(visitor, visit, section)
    status, headers, _ = visitor.press("/desk/do/amend", **{**before, name: typed, "why": WHY})
    assert (status, headers["Location"]) == (303, f"/desk/visit?id={visit}&done=amended")
    text = shown(visitor, visit)
    assert WHY in text
    assert told in text
    assert text.count(", was ") == 1, "one field alone was changed"


def test_what_was_not_changed_files_nothing(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """Every form as it is shown, saved: the page says so, and the visit has no entry more."""
    visit = a_visit(desk, phone)
    before = shown(visitor, visit)
    for section in ("customer", "vehicle", "complaint", "tests.b1", "work", "refrigerant_moves", "price", "advice",
                    "outcome", "technician"):
        status, headers, _ = visitor.press("/desk/do/amend", **{**opened(visitor, visit, section), "why": WHY})
        assert (status, headers["Location"].split("&")[1]) == (303, "done=same"), section
    assert shown(visitor, visit) == before


def test_entries_are_added_and_removed(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """A price line and work more, the advice taken out."""
    visit = a_visit(desk, phone)
    for section, fields in (
        ("price", {"charges.new.text": "Dye check", "charges.new.unit_price": "15", "charges.new.quantity": "1"}),
        ("refrigerant_moves", {"refrigerant_moves.new.kind": "charged", "refrigerant_moves.new.grams": "120"}),
        ("advice", {"advice.a1.remove": "1"}),
    ):
        filled = {**opened(visitor, visit, section), **fields, "why": WHY}
        assert visitor.press("/desk/do/amend", **filled)[0] == 303
    text = shown(visitor, visit)
    assert "Total: 135.00" in text
    assert "charged, Mass: 120 g" in text
    assert "Advice for the customer: cleared, was Rinse it each spring." in text


def test_all_that_is_wrong_is_said_at_once_and_stays_typed(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """Two numbers that are none, one that is too long, no reason: four sentences, and nothing is filed."""
    visit = a_visit(desk, phone)
    wrong = {"tests.b1.readings.vent_c": "cold", "tests.b1.readings.low_kpa_g": "1,250.5.1",
             "tests.b1.note": "x" * 4001, "why": " "}
    before = shown(visitor, visit)
    status, _, text = visitor.press("/desk/do/amend", **{**opened(visitor, visit, "tests.b1"), **wrong})
    assert status == 422
    faults = re.findall(r"<li>(.*?)</li>", text.split('role="alert"')[1].split("</div>")[0])
    assert [html.unescape(fault).split(":")[0] for fault in faults] == [
        "Low side", "Centre vent", "The reason is missing. Say in a few words why the visit is changed.", "Note"]
    typed = of_form(text)
    assert {name: typed[name] for name in wrong if name != "why"} == {
        name: text for name, text in wrong.items() if name != "why"}
    assert shown(visitor, visit) == before


def test_no_more_than_ten_faults_are_listed(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """And then how many more there are."""
    visit = a_visit(desk, phone)
    fields = opened(visitor, visit, "tests.b1")
    numbers = [name for name in fields if name.rpartition("_")[2] in ("c", "g", "pct", "min", "rpm", "s")
               or name.endswith("rpm")]
    assert len(numbers) > 10
    status, _, text = visitor.press("/desk/do/amend", **{**fields, **dict.fromkeys(numbers, "none"), "why": WHY})
    alert = text.split('role="alert"')[1].split("</div>")[0]
    assert (status, alert.count("<li>")) == (422, 10)
    assert f"And {len(numbers) - 10} more." in alert


def test_a_mail_address_that_cannot_be_written_to_is_refused(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """Here, and not by the first letter."""
    visit = a_visit(desk, phone)
    fields = {**opened(visitor, visit, "customer"), "customer.email": "ruth at okello", "why": WHY}
    status, _, text = visitor.press("/desk/do/amend", **fields)
    assert status == 422
    assert "isn&#39;t a valid email address" in text


def test_two_browsers_do_not_overwrite_each_other_unseen(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """The second is told what stands there now, keeps what it typed, and replaces it only when pressed again."""
    visit = a_visit(desk, phone)
    other = Visitor(desk)
    assert other.ask("POST", "/desk/sign-in", {"passphrase": PASSPHRASE})[0] == 303
    first, second = opened(visitor, visit, "complaint"), opened(other, visit, "complaint")
    assert visitor.press("/desk/do/amend", **{**first, "complaint": "No cold air", "why": WHY})[0] == 303
    mine = {**second, "complaint": "Noise", "why": "Heard on the phone"}
    status, _, text = other.press("/desk/do/amend", **mine)
    assert (status, "Recorded now: No cold air" in text) == (409, True)
    again = of_form(text)
    assert (again["complaint"], again["why"]) == ("Noise", "Heard on the phone")
    assert "No cold air" in shown(visitor, visit)
    assert other.press("/desk/do/amend", **again)[0] == 303
    assert "Noise, was No cold air" in shown(visitor, visit)


def test_a_conflict_is_shown_and_settled(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """Two phones that set one field on the same base: both values with their phones; saving one settles it."""
    visit = a_visit(desk, phone)
    other = Phone("beef01", phone.ms)
    base = {"/place/label": None}
    for one, label in ((phone, "Quay 9"), (other, "Quay 6")):
        filed(desk, one.op(visit, "visit.set", {"place": {"label": label}}, base))
    text = shown(visitor, visit)
    assert "Two entries disagree: Vehicle location." in text
    assert "Quay 9 (" in text
    assert "Quay 6 (" in text
    fields = {**opened(visitor, visit, "customer"), "place.label": "Quay 7", "why": WHY}
    assert visitor.press("/desk/do/amend", **fields)[0] == 303
    text = shown(visitor, visit)
    assert "Two entries disagree" not in text
    assert "Quay 7" in text


def test_a_change_makes_the_next_revision(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """Made, approved by its key, changed: the sheet is outdated, the next is number 2, the first stays listed."""
    visit = a_visit(desk, phone)
    for section, name, text in (("outcome", "outcome", "done"), ("technician", "technician.business", "Alder Coast")):
        assert visitor.press("/desk/do/amend", **{**opened(visitor, visit, section), name: text, "why": WHY})[0] == 303
    assert visitor.press("/desk/do/sheet", id=visit)[1]["Location"] == f"/desk/visit?id={visit}&done=made_one"
    _, _, text = visitor.ask("GET", f"/desk/visit?id={visit}")
    shown_sheet = re.search(rf'name="sheet" value="({visit} \w+)"', text)
    assert shown_sheet, "there is a key that approves it"
    answer = visitor.press("/desk/do/approve", day="2026-06-12", sheet=shown_sheet[1], back=visit)
    assert answer[1]["Location"] == f"/desk/visit?id={visit}&done=approved"
    assert "Revision 1: approved" in shown(visitor, visit)
    fields = {**opened(visitor, visit, "price"), "charges.c1.unit_price": "125", "why": WHY}
    assert visitor.press("/desk/do/amend", **fields)[0] == 303
    text = shown(visitor, visit)
    assert "Make revision 2" in text
    assert "Revision 1: approved" in text
    visitor.press("/desk/do/sheet", id=visit)
    assert "Revision 2: ready" in shown(visitor, visit)


def test_the_command_does_the_same(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """`layby amend` lists the fields and corrects them with a reason."""
    visit = a_visit(desk, phone)
    assert "tests.b1.readings.vent_c: 57.2" in layby(desk, "amend", visit)
    told = layby(desk, "amend", visit, "customer", "customer.phone=555-0177", "--why", WHY)
    assert told.strip() == "Saved, in 1 entry."
    assert "Phone: 555-0177, was empty" in shown(visitor, visit)


@pytest.mark.parametrize(("path", "status"), [
    ("/desk/visit?id=nobody", 404), ("/desk/visit", 404),
    ("/desk/visit?id=019ebcb4-8d7c-7000-8000-000000000001", 404), ("/desk/photo?sha256=x", 400),
    (f"/desk/photo?sha256={'0' * 64}", 404),
])  # fmt: skip
def test_what_is_not_there_is_told_in_a_sentence(visitor: Visitor, path: str, status: int) -> None:
    """As a page, not as a crash."""
    answer = visitor.ask("GET", path)
    assert (answer[0], answer[1]["Content-Type"]) == (status, "text/html; charset=utf-8")


def test_a_part_that_no_visit_has_is_refused(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """On the page and where it is sent."""
    visit = a_visit(desk, phone)
    assert visitor.ask("GET", f"/desk/visit?id={visit}&open=tests.none")[0] == 404
    assert visitor.press("/desk/do/amend", id=visit, section="journal", why=WHY)[0] == 404
