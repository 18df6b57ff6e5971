"""Passkeys in a real Chromium with its own virtual authenticator, as Web Authentication (W3C) describes one.

What a browser signed is sent again, changed and late by plain requests.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any
from urllib.parse import parse_qs

import pytest
from playwright.sync_api import Page, expect

from tests.support.browser import PATIENCE_MS, borrowed
from tests.support.desk_pages import faults_of
from tests.support.service import Service
from tests.support.staff import ONE, Staff, staff_of
from tests.support.visitor import PASSPHRASE, Visitor

AUTHENTICATOR = {"protocol": "ctap2", "transport": "internal", "hasResidentKey": True, "hasUserVerification": True,
                 "isUserVerified": True, "automaticPresenceSimulation": True}  # fmt: skip


@pytest.fixture(scope="module")
def staff(desk: Service, visitor: Visitor) -> Staff:
    """Everybody of the desk."""
    return staff_of(desk, visitor)


@pytest.fixture
def page(desk: Service, staff: Staff) -> Iterator[Page]:
    """The browser of a technician who is signed in by passphrase, on a computer that can keep passkeys."""
    assert staff[ONE].cookie
    complaints: list[str] = []
    with borrowed() as browser:
        context = browser.new_context(locale="en-GB")
        made = context.new_page()
        made.set_default_timeout(PATIENCE_MS)
        made.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
        made.on("pageerror", lambda error: complaints.append(str(error)))
        session = context.new_cdp_session(made)
        session.send("WebAuthn.enable")
        session.send("WebAuthn.addVirtualAuthenticator", {"options": AUTHENTICATOR})
        made.goto(f"{local(desk)}/desk/sign-in")
        made.get_by_label("Name").fill(ONE)
        made.get_by_label("Passphrase").fill(PASSPHRASE)
        made.get_by_role("button", name="Sign in", exact=True).click()
        expect(made.get_by_role("button", name="Sign out")).to_be_visible()
        yield made
    # Browsers log the answer to a wrong passphrase as an error.
    assert [one for one in complaints if "403 (Forbidden)" not in one] == []


def local(desk: Service) -> str:
    """The desk's address by name: browsers make no passkey for a bare address."""
    return f"http://localhost:{desk.port}"


def added(page: Page, desk: Service, name: str) -> None:
    """A passkey added on the page of whoever is signed in."""
    page.goto(f"{local(desk)}/desk/passkeys")
    page.get_by_label("What this passkey is kept on").fill(name)
    page.get_by_label("Current passphrase").first.fill(PASSPHRASE)
    page.get_by_role("button", name="Add a passkey").click()
    expect(page.get_by_role("listitem").filter(has_text=name)).to_be_visible()


def signed_out(page: Page) -> None:
    """At the door again."""
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("button", name="Sign in with a passkey")).to_be_visible()


def test_a_person_signs_in_without_typing(page: Page, desk: Service) -> None:
    """The door offers it once somebody has one; whoever signs in is who added it; a removed one opens nothing."""
    assert "data-ask" not in Visitor(desk).ask("GET", "/desk/sign-in")[2]
    added(page, desk, "Office computer")
    signed_out(page)
    page.get_by_role("button", name="Sign in with a passkey").click()
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    expect(page.locator("header")).to_contain_text(ONE)
    page.goto(f"{local(desk)}/desk/passkeys")
    page.get_by_role("button", name="Remove Office computer").click()
    expect(page.get_by_role("button", name="Remove Office computer")).to_have_count(0)


def test_another_passphrase_is_chosen_by_whoever_knows_the_current_one(page: Page, desk: Service) -> None:
    """A browser that was left open doesn't let a stranger in for good, neither by passkey nor by passphrase."""
    page.goto(f"{local(desk)}/desk/passkeys")
    for place, key in ((0, "Add a passkey"), (1, "Choose the new one")):
        page.get_by_label("Current passphrase").nth(place).fill("not this one, I think")
        page.get_by_role("button", name=key).click()
        expect(page.get_by_text("Wrong passphrase. Try again.")).to_be_visible()
        expect(page.get_by_role("button", name="Remove")).to_have_count(0)
    page.get_by_label("Current passphrase").nth(1).fill(PASSPHRASE)
    page.get_by_role("button", name="Choose the new one").click()
    for label in ("New passphrase", "Repeat it"):
        page.get_by_label(label).fill(PASSPHRASE)
    page.get_by_role("button", name="Set passphrase").click()
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    assert page.url == f"{local(desk)}/desk"


def test_pages_with_a_script_are_for_everybody(page: Page, desk: Service) -> None:
    """Both pages keep WCAG's rules and their sizes; where a browser has no passkeys, the form stays hidden."""
    added(page, desk, "Own phone")
    found = faults_of(page, "passkeys")
    signed_out(page)
    found += faults_of(page, "sign in")
    assert found == []
    with borrowed() as browser:
        plain = browser.new_context(java_script_enabled=False).new_page()
        plain.goto(f"{local(desk)}/desk/sign-in")
        expect(plain.get_by_role("button", name="Sign in", exact=True)).to_be_visible()
        expect(plain.get_by_role("button", name="Sign in with a passkey")).to_be_hidden()


def test_what_a_browser_signed_counts_once_and_unchanged(page: Page, desk: Service) -> None:
    """Sent again, with another challenge, another's id or nonsense: a sentence and no session."""
    added(page, desk, "Tablet")
    signed_out(page)
    sent: list[str] = []
    page.on("request", lambda request: sent.append(request.post_data or "") if request.method == "POST" else None)
    page.get_by_role("button", name="Sign in with a passkey").click()
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    [body] = [text for text in sent if "credential=" in text]
    answer: dict[str, Any] = json.loads(parse_qs(body)["credential"][0])
    stale = json.dumps(answer)
    other_id = json.dumps({**answer, "id": "AAAA"})
    turned = {**answer["response"], "signature": answer["response"]["signature"][::-1]}
    unsigned = json.dumps({**answer, "response": turned})
    for text in (stale, other_id, unsigned, "{}", "[]", "no json", '{"id": "x", "response": {}}'):
        visitor = Visitor(desk)
        status, _, said = visitor.ask("POST", "/desk/sign-in/passkey", {"credential": text})
        assert status == 403, text[:60]
        assert "layby_desk" not in visitor.cookie
        assert "passkey" in said
