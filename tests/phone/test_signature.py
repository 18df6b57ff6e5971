"""A signature holds what it was given for: work, sum and time; a later change voids it until it is signed again.

A real Chromium and a real service; sums added by hand: 120.00 and 8.25 % are 129.90, 135.00 and 8.25 % are 146.14.
"""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from sync import rulebook
from tests.sheet.test_jobsheet import sheet_of
from tests.support.browser import Phone, phone
from tests.support.hands import do, filed, go_to, hand_in, on_phone, saved, sign, start_visit, write
from tests.support.service import Service
from tests.support.sheet_visits import blocks_of
from tests.support.sights import SIZES, faults_of

SIGNED = "Ruth Okello signed for 129.90. The sum is 146.14 now."


def charge(page: Page, number: int, what: str, price: str) -> None:
    """A line of the bill, with tax of 8.25 %."""
    page.get_by_role("button", name="Add a line").click()
    line = page.get_by_role("group", name=f"Line {number}")
    line.get_by_label("Item").fill(what)
    line.get_by_label("Unit price, excl. tax").fill(price)
    line.get_by_label("Tax", exact=True).fill("8.25")


def billed(page: Page) -> str:
    """A visit with its work and a bill of 129.90 USD, on the result; its id."""
    visit = start_visit(page, "Ruth Okello")
    go_to(page, "Work")
    do(page, "Condenser cleaned")
    go_to(page, "Result")
    page.get_by_text("nothing charged yet").click()
    charge(page, 1, "Condenser cleaning", "120")
    write(page, "Currency", "USD")
    return visit


def signed(page: Page) -> str:
    """The same, signed by the customer; its id."""
    visit = billed(page)
    sign(page)
    page.get_by_role("button", name="Save the signature").click()
    expect(page.get_by_text(re.compile(r"^Signed by Ruth Okello at \d\d:\d\d, for 129\.90\.$"))).to_be_visible()
    return visit


def changed(page: Page) -> str:
    """The same, with a line added after it; its id."""
    visit = signed(page)
    page.locator(".price summary").click()
    charge(page, 2, "Dye check", "15")
    expect(page.locator(".turned")).to_have_text(SIGNED)
    return visit


def test_a_customer_sees_what_is_signed_for_and_the_record_keeps_it(handset: Phone, service: Service) -> None:
    """Work in words, the sum large, its currency and tax; strokes, time, sum, work and codes are filed."""
    page = handset.open(service.url)
    visit = billed(page)
    page.get_by_text("Signature", exact=True).click()
    form = page.locator("details", has=page.get_by_role("img", name="Sign here with a finger"))
    expect(form).to_contain_text("You are signing for")
    expect(form.locator(".sentence")).to_have_text("condenser cleaned")
    expect(form.locator(".sum")).to_have_text("129.90 USD, tax included")
    assert form.locator(".sum b").evaluate("one => getComputedStyle(one).fontSize") == "44px"
    expect(form.get_by_label("Name", exact=True)).to_have_value("Ruth Okello")
    page.get_by_text("Signature", exact=True).click()
    sign(page)
    page.get_by_role("button", name="Save the signature").click()
    expect(page.get_by_text(re.compile("^Signed by Ruth Okello at"))).to_be_visible()
    saved(page)
    hand_in(page)
    service.stop()
    kept = filed(service, visit)[1]["signature"]
    assert {name: kept[name] for name in ("name", "sum", "work", "done", "moved")} == {
        "name": "Ruth Okello", "sum": "129.90", "work": "condenser cleaned", "done": ["condenser_cleaned"], "moved": []}
    assert len(kept["of"]) == 64


def test_another_sum_voids_it_and_shows_both_line_by_line(lasting: Phone, service: Service) -> None:
    """Turned round; each line with its sum then and now; signed again for the new one it stands."""
    page = lasting.open(service.url)
    visit = changed(page)
    expect(page.get_by_role("img", name="Signature of Ruth Okello")).to_have_count(0)
    rows = page.locator(".voided tbody tr")
    assert [row.inner_text().split("\t") for row in rows.all()] == [
        ["Condenser cleaning", "120.00", "120.00"], ["Dye check", "nothing", "15.00"],
        ["Tax 8.25\u00a0% on 135.00", "9.90", "11.14"], ["Total, USD", "129.90", "146.14"]]
    saved(page)
    lasting.kill()
    page = lasting.open(f"{service.url}/visit/{visit}/result")
    expect(page.locator(".turned")).to_have_text(SIGNED)
    page.get_by_role("button", name="Sign again for 146.14").click()
    sign(page, again=True)
    page.get_by_role("button", name="Save the signature").click()
    expect(page.get_by_text(re.compile(r"for 146\.14\.$"))).to_be_visible()
    expect(page.locator(".turned")).to_have_count(0)


def test_the_bill_can_go_back_to_what_was_signed(handset: Phone, service: Service) -> None:
    """A line struck, a price, a discount: one key brings the sum back, and the signature stands."""
    page = handset.open(service.url)
    visit = changed(page)
    page.get_by_role("group", name="Line 1").get_by_label("Unit price, excl. tax").fill("100")
    write(page, "Discount", "5")
    expect(page.locator(".turned")).to_contain_text("signed for 129.90")
    page.get_by_role("button", name="Go back to 129.90").click()
    expect(page.locator(".turned")).to_have_count(0)
    expect(page.get_by_role("img", name="Signature of Ruth Okello")).to_be_visible()
    hand_in(page)
    service.stop()
    kept = filed(service, visit)[1]
    assert [(line["text"], line["unit_price"]) for line in kept["charges"]] == [("Condenser cleaning", "120")]
    assert kept.get("discount") is None


def test_other_work_voids_it_too_until_the_work_is_what_it_was(handset: Phone, service: Service) -> None:
    """Both in words, and what is to be printed is known after a reload; the tick taken back, it stands again."""
    page = handset.open(service.url)
    signed(page)
    go_to(page, "Work")
    page.get_by_role("button", name="Fins straightened").click()
    go_to(page, "Result")
    work = ("condenser cleaned", "condenser cleaned, fins straightened")
    expect(page.locator(".turned")).to_have_text(
        f"Ruth Okello signed for this work: {work[0]}. It is another now: {work[1]}.")
    expect(page.get_by_role("button", name="Go back to 129.90")).to_have_count(0)
    page.get_by_role("button", name="Not here: print “changed after”").click()
    expect(page.locator(".turned")).to_have_count(0)
    for _ in range(2):
        expect(page.locator("#page")).to_contain_text("The sheet says that this was changed after it was signed.")
        on_phone(page)
        page.reload()
    go_to(page, "Work")
    page.get_by_role("button", name="Fins straightened").click()
    go_to(page, "Result")
    expect(page.get_by_role("img", name="Signature of Ruth Okello")).to_be_visible()


def test_who_is_not_here_is_printed_as_signed_before_the_change(handset: Phone, service: Service) -> None:
    """The sheet says what was signed for, and that it was changed after that."""
    page = handset.open(service.url)
    visit = changed(page)
    page.get_by_role("button", name="Not here: print “signed for 129.90, changed after”").click()
    expect(page.locator(".turned")).to_have_count(0)
    hand_in(page)
    service.stop()
    printed = blocks_of(sheet_of(filed(service, visit)[1], rulebook.load()))["signature"]["lines"]
    assert "Signed for: condenser cleaned, 129.90. The bill was changed after that." in printed


def test_a_voided_signature_can_be_read_and_pressed(service: Service) -> None:
    """axe-core finds nothing in the sun and at dusk, each target is 48 px, nothing runs out at 320, 360 and 430 px."""
    with phone(bypass_csp=True) as handset:
        page = handset.open(service.url)
        changed(page)
        page.get_by_text("Sign again", exact=True).click()
        assert {width: faults_of(page, width) for width in SIZES} == {width: [] for width in SIZES}


@pytest.mark.parametrize("word", ["Usted firma por"])
def test_the_place_to_sign_speaks_spanish(word: str, service: Service) -> None:
    """What is signed for, in the phone's language; nothing runs out of the screen."""
    with phone(bypass_csp=True, locale="es-ES") as handset:
        page = handset.open(service.url, paired=False)
        page.locator("#foot .main").click()
        page.wait_for_url(re.compile("/visit/"))
        page.goto(page.url.replace("/customer", "/result"))
        page.get_by_text("Firma", exact=True).click()
        expect(page.get_by_text(word)).to_be_visible()
        assert {width: faults_of(page, width) for width in SIZES} == {width: [] for width in SIZES}
