"""Two people at two screens correct one visit on the desk's pages, in real browsers without scripts."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.server.test_outbox_page import signed_in
from tests.server.test_visit_page import a_visit
from tests.support.browser import PHONE, borrowed
from tests.support.ops import Phone
from tests.support.service import Service
from tests.support.visitor import Visitor


def correct(page: Page, complaint: str, why: str) -> int:
    """Type another complaint and the reason, and press; the status of the page that answers."""
    form = page.locator("form[action='/desk/do/amend']")
    form.locator("[name=complaint]").fill(complaint)
    form.locator("[name=why]").fill(why)
    return send(page)


def send(page: Page) -> int:
    """Press the form's key; the status of the page that answers."""
    with page.expect_response(lambda answer: "/desk/do/amend" in answer.url) as told, page.expect_navigation():
        page.locator("form[action='/desk/do/amend'] button.main").click()
    return int(told.value.status)


@pytest.mark.parametrize("screen", [{"viewport": {"width": 1180, "height": 800}}, PHONE], ids=["desktop", "phone"])
def test_the_second_is_told_and_nothing_is_overwritten_unseen(
    desk: Service, visitor: Visitor, phone: Phone, screen: dict[str, Any]
) -> None:
    """Both opened it; the first saves; the second sees what stands now, keeps what it typed, and presses again."""
    visit = a_visit(desk, phone)
    assert visitor.ask("GET", f"/desk/visit?id={visit}")[0] == 200
    with borrowed() as browser:
        first, second = (
            signed_in(browser.new_context(java_script_enabled=False, locale="en-GB", **screen).new_page(), desk)
            for _ in range(2))
        for page in (first, second):
            page.goto(f"{desk.url}/desk/visit?id={visit}&open=complaint")
        assert correct(first, "No cold air", "Heard at the car") == 303
        assert correct(second, "Noise", "Heard on the phone") == 409
        expect(second.get_by_text("Recorded now: No cold air")).to_be_visible()
        form = second.locator("form[action='/desk/do/amend']")
        expect(form.locator("[name=complaint]")).to_have_value("Noise")
        expect(form.locator("[name=why]")).to_have_value("Heard on the phone")
        first.reload()
        expect(first.locator("main")).to_contain_text("No cold air")
        assert send(second) == 303
        expect(second.locator("main")).to_contain_text("Noise, was No cold air")
