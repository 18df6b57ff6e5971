"""The desk's page of the letters: what waits, went or came back, each with its state, its reason and its key.

A real service, a real mail server on a loopback port, a real browser without scripts. What a mail server's code means
is held against RFC 3463 and RFC 5321.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from server.tasks.mail_answers import meaning_of
from tests.phone.test_screens import TOO_WIDE, in_both
from tests.reports.test_mail import Peer, listening
from tests.server.test_login import layby
from tests.server.test_pages import SMALL_TARGETS, press
from tests.server.test_visit_page import shown
from tests.support import children
from tests.support.browser import PATIENCE_MS, borrowed
from tests.support.ops import Phone, body_of
from tests.support.service import Service
from tests.support.visitor import PASSPHRASE, Visitor

DAY = "2026-06-12"


@contextmanager
def mailing(desk: Service, peer: Peer) -> Iterator[None]:
    """The settings name this mail server, on this machine, until the end of the block."""
    file = desk.folder / "settings.json"
    with listening(peer) as port:
        smtp = {"host": "127.0.0.1", "port": port, "security": "none", "from": "office@aldercoast.example"}
        file.write_text(json.dumps({"smtp": smtp}), "utf-8")
        yield
    file.unlink()


def a_letter(desk: Service, visitor: Visitor, phone: Phone, name: str, approve: bool = True) -> str:
    """A visit whose sheet is made and, unless told otherwise, approved."""
    visit, email = phone.new_id(), f"{name.split()[0].lower()}@gorse.example"
    said = {"customer": {"name": name, "email": email}, "outcome": "done", "vehicle": {"plate": "ALD 4127"},
            "technician": {"business": "Alder Coast Mobile Cooling", "email": "desk@aldercoast.example"}}
    base = {"/customer/name": None, "/customer/email": None, "/outcome": None, "/vehicle/plate": None,
            "/technician/business": None, "/technician/email": None}
    status, _, content = desk.post("/sync", body_of(phone.opening(visit), phone.op(visit, "visit.set", said, base)))
    assert (status, {one["status"] for one in json.loads(content)["results"]}) == (200, {"accepted"})
    visitor.press("/desk/do/sheet", id=visit)
    if approve:
        assert "approved" in layby(desk, "approve", visit)
    return visit


def row_of(visitor: Visitor, visit: str) -> str:
    """The row of a visit on the page of the letters, as it reads."""
    text = visitor.ask("GET", "/desk/post")[2]
    found = [row for row in re.findall(r'<tr class="visit">.*?</tr>', text, re.DOTALL) if visit in row]
    assert len(found) == 1, f"{len(found)} rows of {visit}"
    return " ".join(re.sub(r"<[^>]*>", " ", found[0]).replace("\u00a0", " ").replace("&#39;", "'").split())


def group_of(visitor: Visitor, visit: str, path: str = "/desk/post") -> str:
    """Under which head the row of a visit stands on a page."""
    groups = re.findall(r'<tr class="head">.*?>([^<]*)</th>(.*?)</tbody>', visitor.ask("GET", path)[2], re.DOTALL)
    return next(head.partition(":")[0] for head, rows in groups if visit in rows)


def revision_on(visitor: Visitor, visit: str) -> str:
    """The revision that the key of a row carries."""
    text = visitor.ask("GET", "/desk/post")[2].split(f'name="id" value="{visit}"')[1]
    found = re.search(r'name="sheet" value="(\w+)"', text.split("</form>")[0])
    assert found, "the row has a key that sends it again"
    return found[1]


def test_a_letter_goes_and_comes_back(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """Approved, sent, marked as returned by a person with a reason, and sent again to another address."""
    visit, peer = a_letter(desk, visitor, phone, "Ruth Okello"), Peer()
    assert (group_of(visitor, visit), "approved approved 2026" in row_of(visitor, visit)) == ("On its way", False)
    assert re.search(r"approved approved .*, to ruth@gorse\.example", row_of(visitor, visit))
    with mailing(desk, peer):
        assert visitor.press("/desk/do/send")[1]["Location"] == "/desk/post?done=sent"
        assert "taken by the mail server, to ruth@gorse.example" in row_of(visitor, visit)
        status, _, text = visitor.press("/desk/do/returned", id=visit, why=" ")
        assert (status, "The reason is missing." in text, "<details class=\"back\" open>" in text) == (422, True, True)
        answer = visitor.press("/desk/do/returned", id=visit, why="550 no such user here")
        assert answer[1]["Location"] == "/desk/post?done=returned"
        assert "Came back from ruth@gorse.example: 550 no such user here." in row_of(visitor, visit)
        assert {group_of(visitor, visit), group_of(visitor, visit, f"/desk?day={DAY}")} == {"Needs you"}
        assert "Revision 1: returned" in shown(visitor, visit)
        assert visitor.press("/desk/do/returned", id=visit, why="again")[0] == 422, "only what was sent comes back"
        sheet = revision_on(visitor, visit)
        bad = visitor.press("/desk/do/resend", id=visit, sheet=sheet, email="ruth at gorse")
        assert (bad[0], 'value="ruth at gorse"' in bad[2], "valid email address" in bad[2]) == (422, True, True)
        other = visitor.press("/desk/do/resend", id=visit, sheet="0" * 64, email="ruth@gorse.example")
        assert other[1]["Location"].endswith("done=look_again"), "nobody has looked at that sheet"
        assert len(peer.taken) == 1
        answer = visitor.press("/desk/do/resend", id=visit, sheet=sheet, email="ruth@quay.example", back="visit")
        assert answer[1]["Location"] == f"/desk/visit?id={visit}&done=resent"
    assert [one.rcpt_tos for one in peer.taken] == [["ruth@gorse.example"], ["ruth@quay.example"]]
    assert group_of(visitor, visit) == "Sent"
    assert "The letter came back. Changed at the desk." in shown(visitor, visit)


def test_what_was_returned_is_kept(desk: Service, visitor: Visitor, phone: Phone, tmp_path: Path) -> None:
    """Across a restart, a rebuild of the views and a backup; marked by the command as by the page."""
    visit, peer = a_letter(desk, visitor, phone, "Tomas Abara"), Peer()
    with mailing(desk, peer):
        layby(desk, "send")
    told = layby(desk, "returned", visit, "--why", "Mailbox closed.")
    assert "returned" in told
    assert "Came back from tomas@gorse.example: Mailbox closed. Check" in told
    desk.stop()
    desk.start()
    assert visitor.ask("POST", "/desk/sign-in", {"passphrase": PASSPHRASE})[0] == 303
    assert "Mailbox closed" in row_of(visitor, visit)
    layby(desk, "rebuild")
    assert "Mailbox closed" in row_of(visitor, visit)
    layby(desk, "backup", str(tmp_path / "all.zip"))
    copy = Service(tmp_path / "copy")
    layby(copy, "restore", str(tmp_path / "all.zip"))
    told = children.run([str(copy.command), "--folder", str(copy.folder), "evening", "--day", DAY]).stdout
    assert "Mailbox closed" in told
    fields = {"email": "tomas@quay.example", "id": visit, "field": "customer.email", "text": "tomas@quay.example"}
    assert visitor.press("/desk/do/mend", **fields, back="visit")[0] == 303
    row = row_of(visitor, visit)
    assert (" ready " in row, "returned" in row, "Send it to tomas@quay.example." in row) == (True, False, True)


def test_what_the_mail_server_said_is_told_in_plain_words(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """Refused for good, put off, not reached: each with its meaning, the server's own words, and when it was tried."""
    refused = a_letter(desk, visitor, phone, "June Castellane")
    waits = a_letter(desk, visitor, phone, "Noor Halloran")
    peer = Peer()
    peer.by_recipient = {"june@gorse.example": "550 5.1.1 unknown user", "noor@gorse.example": "452 4.2.2 over quota"}
    with mailing(desk, peer):
        visitor.press("/desk/do/send")
    row = row_of(visitor, refused)
    assert "The mail server says: there is no such address." in row
    assert "550 5.1.1 unknown user" in row
    row = row_of(visitor, waits)
    assert (group_of(visitor, waits), "in the outbox tried once, last " in row) == ("On its way", True)
    assert "The mail server says: the mailbox is full." in row
    assert "the next try is at" in row
    status, headers, text = visitor.ask("GET", f"/desk/letter.eml?id={waits}")
    assert (status, headers["Content-Type"], "To: Noor Halloran <noor@gorse.example>" in text) == (
        200, "message/rfc822", True)
    assert visitor.ask("GET", f"/desk/letter.eml?id={refused}")[0] == 404


@pytest.mark.parametrize(("said", "code"), [
    ("550 5.1.1 no", "no_address"), ("550 5.1.2 no", "no_domain"), ("552 5.2.2 no", "full"),  # RFC 3463, 3.2 and 3.3
    ("554 5.7.1 no", "unwanted"), ("421 later", "busy"), ("535 5.7.8 no", "sign_in"),  # 3.8; RFC 5321, 4.2.3; RFC 4954
    ("599 odd", "other"), ("Connection refused", "not_reached"), (None, None),
])  # fmt: skip
def test_an_answer_has_its_meaning(said: str | None, code: str | None) -> None:
    """By the enhanced status code, else by the plain one."""
    assert meaning_of({"code": "mail_later", "values": {"said": said} if said else {}}) == code


def test_a_letter_is_read_before_it_goes(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """From, to, subject, what it says and what is attached; without a session nobody reads it."""
    visit = a_letter(desk, visitor, phone, "Ines Varga", approve=False)
    assert "made " in row_of(visitor, visit)
    status, _, text = visitor.ask("GET", f"/desk/letter?id={visit}")
    for words in ("Ines Varga &lt;ines@gorse.example&gt;", "Alder Coast Mobile Cooling: job sheet, 12 June 2026",
                  "Hello Ines Varga,", "Kind regards", "job-sheet-2026-06-12.pdf"):
        assert words in text, words
    assert status == 200
    assert visitor.ask("GET", "/desk/letter?id=nobody")[0] == 404
    for path in ("/desk/post", f"/desk/letter?id={visit}", f"/desk/letter.eml?id={visit}"):
        assert Visitor(desk).ask("GET", path)[1]["Location"] == "/desk/sign-in"
    for form in ("returned", "resend"):
        assert visitor.ask("POST", f"/desk/do/{form}", {"id": visit, "why": "x", "form_token": "guessed"})[0] == 403


def test_the_pages_of_the_letters_in_a_browser(desk: Service, visitor: Visitor, phone: Phone) -> None:
    """Pressed without scripts; whole at 360 px and at 1180 px, in both languages and themes, by axe-core's rules."""
    visit, found = a_letter(desk, visitor, phone, "Petros Markou"), list[str]()
    with mailing(desk, Peer()):
        visitor.press("/desk/do/send")
    with borrowed() as browser:
        page = signed_in(browser.new_context(java_script_enabled=False, locale="en-GB").new_page(), desk)
        page.goto(f"{desk.url}/desk/post")
        row = page.locator("tr.visit", has_text="Petros Markou")
        row.get_by_text("It came back").click()
        row.get_by_label("What did the returned mail say?").fill("No such user")
        press(page, "button", "Mark as returned: Petros Markou")
        expect(page.get_by_role("status")).to_contain_text("Marked as returned.")
        for language in ("en-GB", "es-ES"):
            page = signed_in(browser.new_context(bypass_csp=True, locale=language).new_page(), desk)
            for path in ("/desk/post", f"/desk/letter?id={visit}", f"/desk?day={DAY}"):
                page.goto(desk.url + path)
                found += [f"{path}, {language}: {line}" for line in whole(page, axe=language == "es-ES")]
    assert found == []


def whole(page: Page, axe: bool) -> list[str]:
    """What is too wide at 1180 px or 360 px, and what is too small to press; with `axe`, also what its rules find."""
    found: list[str] = []
    for width in (1180, 360):
        page.set_viewport_size({"width": width, "height": 800})
        found += [f"{width}: {line}" for line in page.evaluate(TOO_WIDE) + page.evaluate(SMALL_TARGETS)]
    return found + (in_both(page) if axe else [])


def signed_in(page: Any, desk: Service) -> Page:
    """A browser's page, once the passphrase was typed."""
    made: Page = page
    made.set_default_timeout(PATIENCE_MS)
    made.goto(f"{desk.url}/desk/sign-in")
    made.locator("#passphrase").fill(PASSPHRASE)
    with made.expect_navigation():
        made.locator("button.main").click()
    return made
