"""From nothing to a sent sheet, act by act as the README lists them: a fresh desk at home, a phone, a mail server.

The phone is Chromium with a list of authorities of its own; that the first act installs a working `layby`, and that a
home screen is offered what it asks for, other tests show (test_wheel, test_app_shell). No real phone was at hand.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import ExitStack
from email import message_from_bytes
from email.policy import default
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.phone.test_taps import usual_visit
from tests.reports.test_mail import Peer, listening
from tests.server.test_home import CERTUTIL, HomeService, fetched, phone_of, trust
from tests.server.test_pages import press
from tests.support.browser import PATIENCE_MS, borrowed
from tests.support.counted_hand import CountedHand, InChromium
from tests.support.hands import at_rest, ready_offline, write
from tests.support.service import ROOT
from tests.support.visitor import PASSPHRASE, setting_key, wait_for_key

MOST = 20


def acts_of_the_readme() -> list[str]:
    """The numbered lines of the section, in order."""
    section = (ROOT / "README.md").read_text("utf-8").split("## From nothing to a sent sheet\n")[1].split("\n## ")[0]
    return re.findall(r"^\d+\. (.*)$", section, re.MULTILINE)


class Person:
    """Somebody with a computer and a phone; one method an act, named as the README's line begins."""

    def __init__(self, place: Path, mail_port: int, ends: ExitStack) -> None:
        self.place, self.mail_port, self.ends = place, mail_port, ends
        self.desk = ends.enter_context(borrowed()).new_context(java_script_enabled=False, locale="en-GB").new_page()
        self.desk.set_default_timeout(PATIENCE_MS)
        self.home = HomeService(place / "logbook")
        self.phone: Any = None
        self.digits = ""

    def start(self) -> None:
        """The service, which prints where to go on."""
        self.home.start()
        self.ends.callback(self.home.stop)
        wait_for_key(self.home)

    def open_the_link(self) -> None:
        """The passphrase."""
        self.desk.goto(f"{self.home.url}/desk/passphrase?key={setting_key(self.home.log.read_text('utf-8'))}")
        self.desk.get_by_label("New passphrase").fill(PASSPHRASE)
        self.desk.get_by_label("Repeat it").fill(PASSPHRASE)
        press(self.desk, "button", "Set passphrase")

    def enter_the_business(self) -> None:
        """Its name."""
        press(self.desk, "link", "Enter the business")
        self.desk.get_by_label("Name of the business").fill("Alder Coast Mobile Cooling")
        press(self.desk, "button", "Save")

    def enter_the_mail_server(self) -> None:
        """A server on this computer, which needs no encryption and no password, and takes a message."""
        press(self.desk, "link", "enter: Server")
        self.desk.get_by_label("Mail server").fill("127.0.0.1")
        self.desk.get_by_label("Port").fill(str(self.mail_port))
        self.desk.get_by_label("Encryption").select_option("none")
        self.desk.get_by_role("textbox", name="Sender").fill("desk@alder.example")
        press(self.desk, "button", "Save and try it")
        expect(self.desk.locator("main")).to_contain_text("The mail server took the test message")

    def open_the_page(self) -> None:
        """Where the desk says that phones begin."""
        self.desk.goto(f"{self.home.url}/desk/phones")
        expect(self.desk.locator("main")).to_contain_text(f":{self.home.page_port}")
        assert fetched(self.home.page)[0] == 200

    def download(self) -> None:
        """The certificate."""
        (self.place / "layby.crt").write_bytes(fetched(f"{self.home.page}/layby.crt")[1])

    def install_and_trust(self) -> None:
        """In this phone's list of authorities: one act here, two on an iPhone."""
        trust(self.place / "layby.crt", self.place / "owner")
        self.phone = self.ends.enter_context(phone_of(self.place / "owner"))

    def open_layby(self) -> None:
        """By its name; it works offline from then on."""
        self.phone.goto(self.home.address)
        ready_offline(self.phone)

    def show_a_code(self) -> None:
        """At the desk."""
        press(self.desk, "button", "Show a pairing code")
        self.digits = self.desk.locator(".code.short").first.inner_text()

    def type_the_digits(self) -> None:
        """On the phone."""
        self.phone.get_by_role("link", name="Pair it").click()
        write(self.phone, "Code from the desk", self.digits)
        self.phone.get_by_role("button", name="Pair this phone").click()
        expect(self.phone.locator("#paired")).to_contain_text("paired with")
        self.phone.get_by_role("button", name="Back to all visits").click()

    def record(self) -> None:
        """A usual visit with the desk out of reach."""
        self.phone.context.set_offline(True)
        usual_visit(CountedHand(InChromium(self.phone)), "Registration")
        self.phone.context.set_offline(False)

    def send_now(self) -> None:
        """Back in reach."""
        self.phone.get_by_role("button", name="Send now").click()
        expect(self.phone.locator("#tally")).to_contain_text("1 filed, 0 waiting")
        at_rest(self.phone)

    def make_the_sheets(self) -> None:
        """Of today."""
        self.desk.goto(f"{self.home.url}/desk")
        press(self.desk, "button", "Make the sheets")

    def approve(self) -> None:
        """The one sheet, which can be looked at first."""
        assert self.desk.get_by_role("link", name="Sheet:").count() == 1
        press(self.desk, "button", "Approve the sheet of")

    def send(self) -> None:
        """The letter."""
        press(self.desk, "button", "Send approved sheets")

    def steps(self) -> dict[str, Callable[[], None] | None]:
        """How each line of the README begins, and what does it here; None where the line above did."""
        return {
            "Install Layby": None, "Start it": self.start, "Open the link": self.open_the_link,
            'Follow "Enter the business"': self.enter_the_business, "In the settings": self.enter_the_mail_server,
            "Open the page": self.open_the_page, "Compare the 64": self.download,
            "Install the certificate": self.install_and_trust, "Trust it": None,
            "Open Layby": self.open_layby, "Put it on the home screen": None, "At the desk": self.show_a_code,
            "On the phone": self.type_the_digits, "Record a visit": self.record, "Back in the Wi-Fi": self.send_now,
            "Make the day's sheets": self.make_the_sheets, "Look at the sheet": self.approve, "Send it": self.send,
        }  # fmt: skip


def test_the_list_is_short() -> None:
    """At most twenty acts, and none of them asks for knowledge of certificates beyond the steps on the page."""
    assert 0 < len(acts_of_the_readme()) <= MOST


@pytest.mark.skipif(CERTUTIL is None, reason="certutil is not here; `python3 tests` installs it on Debian")
def test_the_readme_leads_from_nothing_to_a_sent_sheet(tmp_path: Path) -> None:
    """Each act in the README's order; the customer's letter arrives with the sheet."""
    acts, peer = acts_of_the_readme(), Peer()
    with ExitStack() as ends:
        person = Person(tmp_path, ends.enter_context(listening(peer)), ends)
        steps = person.steps()
        assert [next((begins for begins in steps if act.startswith(begins)), act) for act in acts] == [*steps]
        for step in steps.values():
            if step is not None:
                step()
    letter = next(one for one in peer.taken if one.rcpt_tos == ["m.okafor@harbour.example"])
    assert isinstance(letter.content, bytes)
    message = message_from_bytes(letter.content, policy=default)
    assert [part.get_content_type() for part in message.iter_attachments()] == ["application/pdf"]
    assert "Alder Coast Mobile Cooling" in str(message["From"]) + str(message.get_body())
