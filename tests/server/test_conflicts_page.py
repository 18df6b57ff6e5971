"""The desk's page of what has to be settled: values side by side with who said so, refused entries with what to do.

A real service and a real browser without scripts; the entries come from phones as they send them.
"""

from __future__ import annotations

import html
import json
import re
import urllib.request
from typing import Any

from playwright.sync_api import expect

from tests.server.test_login import layby
from tests.server.test_outbox_page import signed_in, whole
from tests.server.test_pages import press
from tests.server.test_visit_page import a_visit, filed, shown
from tests.support import children
from tests.support.browser import borrowed
from tests.support.ops import Phone, body_of, framed
from tests.support.service import PATIENCE_S, Service
from tests.support.visitor import PASSPHRASE, Visitor

# A pound of force on a square inch, from the exact pound, inch and standard gravity (NIST SP 811, appendix B) [kPa].
PSI = 0.45359237 * 9.80665 / 0.0254**2 / 1000


def disputed(desk: Service, phone: Phone) -> str:
    """A visit whose place two phones set to different values; the first that came stands."""
    visit, other = a_visit(desk, phone), Phone("beef01", phone.ms)
    for one, label in ((phone, "Quay 9"), (other, "Quay 6")):
        filed(desk, one.op(visit, "visit.set", {"place": {"label": label}}, {"/place/label": None}))
    return visit


def refused(desk: Service, op: dict[str, Any]) -> None:
    """An entry that is handed in and refused."""
    results = json.loads(desk.post("/sync", body_of(op))[2])["results"]
    assert {one["status"] for one in results} == {"rejected"}


def sections(visitor: Visitor) -> list[str]:
    """What the page lists, as it reads, each with its markup behind a bar."""
    text = visitor.ask("GET", "/desk/conflicts")[2]
    found = re.findall(r'<section class="dispute".*?</section>', text, re.DOTALL)
    return [" ".join(html.unescape(re.sub(r"<[^>]*>", " ", one)).split()) + "|" + one for one in found]


def test_two_values_are_settled_for_the_one_that_stands(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """Both values with their phones and times; pressing the key of the one that stands settles it, with a reason."""
    visit = disputed(desk, phone)
    [section] = [one for one in sections(visitor) if visit in one]
    for words in ("Vehicle location", "Ruth Okello", "Quay 9", "Quay 6", "phone 7e57ab, ", "phone beef01, "):
        assert words in section.partition("|")[0], words
    [stands] = re.findall(r"(Quay \d) phone \w+, [^S]*Stands for now", section.partition("|")[0])
    entries = re.findall(r'name="entry" value="([^"]+)"', section)
    forged = visitor.press("/desk/do/settle", what="visit", id=visit, entry="019ebcb4-8d7c-7000-8000-000000000001")
    assert forged[0] == 422
    answer = visitor.press("/desk/do/settle", what="visit", id=visit, entry=entries[0])
    assert answer[1]["Location"] == "/desk/conflicts?done=settled"
    assert not [one for one in sections(visitor) if visit in one]
    text = shown(visitor, visit)
    assert (stands in text, "Two entries disagree: " in text) == (True, False)
    assert "Two entries disagreed. Settled at the desk." in text
    assert visitor.press("/desk/do/settle", what="visit", id=visit, entry=entries[0])[0] == 422, "it is settled"


def test_the_other_value_counts_by_the_command(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """`layby conflicts` lists the entries and `layby settle` says which one counts."""
    visit = disputed(desk, phone)
    told = children.run([str(desk.command), "--folder", str(desk.folder), "conflicts"]).stdout
    entry = next(line.split()[0] for line in told.splitlines() if line.endswith("Quay 6"))
    assert f"visit {visit}  place.label" in told
    layby(desk, "settle", "visit", visit, entry)
    assert "Quay 6" in shown(visitor, visit)
    assert not [one for one in sections(visitor) if visit in one]


def test_readings_are_shown_as_they_were_typed(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """In the technician's unit, and what was typed goes with the value that counts; it is no row of its own."""
    visit, other = a_visit(desk, phone), Phone("beef03", phone.ms)
    for one, text in ((phone, "30"), (other, "29")):
        kilopascals = int(text) * PSI
        typed = {"low_kpa_g": {"text": text, "unit": "psi"}}
        body = {"id": "b1", "readings": {"low_kpa_g": kilopascals}, "typed": typed}
        base = {"/tests/b1/readings/low_kpa_g": None, "/typed/b1.low_kpa_g": None}
        filed(desk, one.op(visit, "reading.set", body, base))
    [section] = [one for one in sections(visitor) if visit in one]
    assert "30 psi" in section.partition("|")[0]
    assert "29 psi" in section.partition("|")[0]
    entry = re.findall(r'name="entry" value="([^"]+)"[^>]*29\Wpsi', section)
    assert visitor.press("/desk/do/settle", what="visit", id=visit, entry=entry[0])[0] == 303
    assert not [one for one in sections(visitor) if visit in one]
    assert "Low side: 29 psi" in shown(visitor, visit)


def test_a_card_is_settled(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """Two phones that name a vehicle's oil differently on its card."""
    other = Phone("beef02", phone.ms)
    visit = phone.new_id()
    filed(desk, phone.opening(visit), phone.op(visit, "visit.set", {"vehicle": {"id": "car7", "plate": "LT 482"}},
                                               {"/vehicle/id": None, "/vehicle/plate": None}))
    for one, make in ((phone, "Wren"), (other, "Heron")):
        filed(desk, one.op(None, "vehicle.set", {"id": "car7", "make": make, "of": []}, {"/make": None}))
    [section] = [one for one in sections(visitor) if "car7" in one]
    entry = re.findall(r'name="entry" value="([^"]+)"', section)[1]
    assert visitor.press("/desk/do/settle", what="vehicle", id="car7", entry=entry)[0] == 303
    assert not [one for one in sections(visitor) if "car7" in one]
    assert "make: " in layby(desk, "card", "vehicle", "car7")


def test_a_refused_entry_is_shown_and_set_aside(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """What it said, why it was refused, what to do; set aside it stays so after a restart; replaced, it is over."""
    visit = a_visit(desk, phone)
    wrong = phone.op(visit, "work.add", {"id": "w9", "code": "condenser_cleaned", "minutes": "many"})
    refused(desk, wrong)
    [section] = [one for one in sections(visitor) if "many" in one]
    words, _, markup = section.partition("|")
    for part in ("Work", "Ruth Okello", "Minutes: many", "Why it was refused", "Correct it on the phone"):
        assert part in words, part
    assert "{" not in words
    found = re.search(r'name="number" value="(\d+)"', markup)
    assert found, "there is a key that sets it aside"
    assert visitor.press("/desk/do/aside", number="x")[0] == 422
    assert visitor.press("/desk/do/aside", number=found[1])[1]["Location"] == "/desk/conflicts?done=aside"
    assert not [one for one in sections(visitor) if "many" in one]
    desk.stop()
    desk.start()
    assert visitor.ask("POST", "/desk/sign-in", {"passphrase": PASSPHRASE})[0] == 303
    assert not [one for one in sections(visitor) if "many" in one], "after a restart, too"
    again = phone.op(visit, "work.add", {"id": "w8", "code": "condenser_cleaned", "minutes": "few"})
    refused(desk, again)
    assert [one for one in sections(visitor) if "few" in one]
    body = {"replaces": again["id"], "kind": "work.add", "body": {"id": "w8", "code": "condenser_cleaned"}}
    filed(desk, phone.op(visit, "op.mend", body))
    assert not [one for one in sections(visitor) if "few" in one], "its phone replaced it"


def test_what_no_answer_can_carry_is_shown_in_its_place(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """Half a character and a number without an end, for which an entry was refused: page and command show the rest."""
    visit = a_visit(desk, phone)
    op = phone.op(visit, "work.add", {"id": "w7", "note": "half \ud800 wind", "minutes": 7})
    content = json.dumps(op, ensure_ascii=True).replace('"minutes": 7', '"minutes": 1e999')
    assert "1e999" in content
    results = json.loads(desk.post("/sync", framed(content.encode()))[2])["results"]
    assert [one["status"] for one in results] == ["rejected"]
    [section] = [one for one in sections(visitor) if "half \ufffd wind" in one]
    assert "Minutes: inf" in section
    key = json.loads((desk.folder / "service.json").read_bytes())["key"]
    headers = {"Authorization": f"Bearer {key}", "Content-Type": "application/json"}
    asked = urllib.request.Request(f"{desk.url}/desk/conflicts", b"{}", headers)
    with urllib.request.urlopen(asked, timeout=PATIENCE_S) as answer:
        listed = json.loads(answer.read())["result"]["refused"]
    assert "half \ufffd wind" in [one["body"].get("note") for one in listed]
    [number] = re.findall(r'name="number" value="(\d+)"', section)
    assert visitor.press("/desk/do/aside", number=number)[0] == 303


def test_nobody_else_settles_anything(desk: Service, visitor: Visitor) -> None:
    """Without a session, or with a forged form."""
    assert Visitor(desk).ask("GET", "/desk/conflicts")[1]["Location"] == "/desk/sign-in"
    for form in ("settle", "aside"):
        assert visitor.ask("POST", f"/desk/do/{form}", {"form_token": "guessed", "number": "1"})[0] == 403
    assert visitor.press("/desk/do/settle", what="journal", id="x", entry="x")[0] == 422


def test_the_page_in_a_browser(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """Pressed without scripts; whole at 360 px and at 1180 px, in both languages and themes, by axe-core's rules."""
    visit, found = disputed(desk, phone), list[str]()
    refused(desk, phone.op(visit, "work.add", {"id": "w7", "code": "condenser_cleaned", "minutes": "some"}))
    with borrowed() as browser:
        for language in ("en-GB", "es-ES"):
            page = signed_in(browser.new_context(bypass_csp=True, locale=language).new_page(), desk)
            page.goto(f"{desk.url}/desk/conflicts")
            found += [f"{language}: {line}" for line in whole(page, axe=language == "es-ES")]
        page = signed_in(browser.new_context(java_script_enabled=False, locale="en-GB").new_page(), desk)
        page.goto(f"{desk.url}/desk/conflicts")
        press(page, "button", "Vehicle location: Quay 6 counts")
        expect(page.get_by_role("status")).to_contain_text("Settled.")
        press(page, "button", "Set aside: Work")
        expect(page.get_by_role("status")).to_contain_text("Set aside.")
    assert found == []
