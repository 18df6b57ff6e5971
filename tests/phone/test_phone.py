"""The phone page in a real Chromium with a phone's screen: captured without a signal, killed, reopened, filed.

The desk is a real `layby serve`; the desk's records show what the page kept.
"""

from __future__ import annotations

import io
import re
from typing import Any

import pytest
from playwright.sync_api import expect
from pypdf import PdfReader

from sync.kernel.assessment import assess
from sync.sheet.shown_verdict import verdict_digest
from tests.support.browser import Phone
from tests.support.hands import (
    choose,
    confirm_cautions,
    filed,
    go_to,
    hand_in,
    in_unit,
    meaning,
    ready_offline,
    saved,
    start_visit,
    write,
)
from tests.support.service import Service

PSI = 6.894757293168  # kPa; NIST SP 811 (2008), appendix B.8


def test_a_visit_outlives_the_server_and_the_browser(
    lasting: Phone, service: Service, rulebook: dict[str, Any]
) -> None:
    """Loaded once; then, without a server, captured, killed, reopened, finished; then filed once and made a sheet."""
    page = lasting.open(service.url)
    ready_offline(page)
    service.kill()

    page.reload()
    ready_offline(page)
    visit = start_visit(page, "M. Okafor")
    write(page, "Vehicle location", "Wren Lane 4, Alder Coast")
    in_unit(page, "ft")
    write(page, "Altitude", "2000")
    go_to(page, "Vehicle")
    write(page, "VIN", "1G4AH59H45G118341")
    expect(page.get_by_text("The check digit is correct.")).to_be_visible()
    choose(page, "Refrigerant in the system", "R-134a")
    confirm_cautions(page)
    go_to(page, "Before")
    in_unit(page, "°F")
    write(page, "Air at the condenser", "81,5")
    expect(meaning(page, "Air at the condenser")).to_have_text("read as 81.5")
    in_unit(page, "psi")
    write(page, "Low side", "26")
    write(page, "High side", "214")
    expect(meaning(page, "High side")).to_contain_text("condensing")
    expect(meaning(page, "High side")).to_contain_text("over ambient")
    write(page, "Suction line", "42")
    expect(meaning(page, "Suction line")).to_contain_text("superheat")
    go_to(page, "After")
    write(page, "High side", "167")
    saved(page)
    lasting.kill()

    page = lasting.open(f"{service.url}/visit/{visit}/after")
    expect(page.get_by_label("High side", exact=True)).to_have_value("167")
    write(page, "Low side", "25")
    write(page, "Air at the condenser", "84")
    go_to(page, "Result")
    page.get_by_text(re.compile("^Figures, uncertainty")).click()
    table = page.locator("table.sides:not(.bill)")
    expect(table.get_by_role("row", name=re.compile("^high side psi"))).to_have_text(re.compile("214.*167"))
    expect(table).to_contain_text("fell 47 psi")
    choose(page, "Outcome", "done")
    page.get_by_role("button", name="Finish the visit").click()
    expect(page.locator("#tally")).to_contain_text("1 waiting")

    service.start()
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_have_text("1 visit captured, 1 filed, 0 waiting, 0 refused.")
    expect(page.locator("#last")).to_contain_text("Last sent today")
    status, _, sheet = service.get(f"/sheets/{visit}.pdf")
    assert status == 200
    text = "".join(part.extract_text() for part in PdfReader(io.BytesIO(sheet)).pages)
    for typed in ("M. Okafor", "Wren Lane 4", "1G4AH59H45G118341"):
        assert typed in text

    service.stop()
    ops, kept = filed(service, visit)
    assert len({op["id"] for op in ops}) == len(ops)
    before, after = kept["tests"]
    assert (before["role"], after["role"]) == ("before", "after")
    assert before["readings"]["high_kpa_g"] == pytest.approx(214 * PSI, rel=1e-12)
    assert before["conditions"]["ambient_c"] == pytest.approx((81.5 - 32) / 1.8, abs=1e-9)
    assert kept["typed"][f"{before['id']}.ambient_c"] == {"text": "81,5", "unit": "f"}
    assert kept["place"]["altitude_m"] == pytest.approx(2000 * 0.3048)  # the international foot, NIST SP 811
    assert kept["ended_at"]
    assert kept["cautions"]
    assert kept["verdict_shown"]["digest"] == verdict_digest(assess(kept, rulebook))


def test_works_offline_is_said_only_when_the_kept_files_are_this_pages(handset: Phone, service: Service) -> None:
    """A page of another version than the cached files doesn't say it."""
    page = handset.open("about:blank")

    def other_version(route: Any) -> None:
        answer = route.fetch()
        body = re.sub(r'(name="layby-version" content=")[^"]*', r"\g<1>0000000000000000", answer.text())
        route.fulfill(response=answer, body=body)

    page.route(service.url + "/", other_version)
    page.goto(service.url)
    page.evaluate("navigator.serviceWorker.ready")
    expect(page.locator("#offline")).to_contain_text("getting ready to work offline")
    expect(page.locator("#offline")).not_to_contain_text("works offline")
    page.unroute(service.url + "/")
    page.reload()
    ready_offline(page)


def test_nothing_can_be_read_before_the_cautions_are_confirmed(handset: Phone, service: Service) -> None:
    """Readings open with the confirmation, and close again when a change of the vehicle adds another caution."""
    page = handset.open(service.url)
    start_visit(page)
    go_to(page, "Vehicle")
    choose(page, "Refrigerant in the system", "R-134a")
    choose(page, "Powertrain", "combustion")
    go_to(page, "Before")
    expect(page.get_by_label("Low side", exact=True)).to_have_count(0)
    confirm_cautions(page)
    go_to(page, "Before")
    expect(page.get_by_label("Low side", exact=True)).to_be_visible()
    go_to(page, "Vehicle")
    choose(page, "Powertrain", "electric")
    go_to(page, "After")
    expect(page.get_by_label("Low side", exact=True)).to_have_count(0)
    confirm_cautions(page)
    go_to(page, "After")
    expect(page.get_by_label("Low side", exact=True)).to_be_visible()


def test_a_text_that_is_no_number_stays_and_writes_no_reading(lasting: Phone, service: Service) -> None:
    """It is kept in the draft over a kill, marked as wrong at the field, and no operation carries it."""
    page = lasting.open(service.url)
    visit = start_visit(page)
    confirm_cautions(page)
    go_to(page, "Before")
    write(page, "Low side", "2x6")
    write(page, "High side", "1400")
    saved(page)
    go_to(page, "Work")
    lasting.kill()
    page = lasting.open(f"{service.url}/visit/{visit}/before")
    field = page.get_by_label("Low side", exact=True)
    expect(field).to_have_value("2x6")
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(page.get_by_text("This isn't a number")).to_be_visible()
    hand_in(page)
    service.stop()
    _, kept = filed(service, visit)
    assert list(kept["tests"][0]["readings"]) == ["high_kpa_g"]


def test_a_tap_logs_the_readings_and_says_whether_they_have_levelled(handset: Phone, service: Service) -> None:
    """Each tap is one point at its instant; a jump of the clock moves the points, not the reading."""
    page = handset.open("about:blank")
    page.clock.install(time="2026-07-14T10:00:00+01:00")
    handset.pair(page, service)
    visit = start_visit(page)
    confirm_cautions(page)
    go_to(page, "Before")
    page.clock.pause_at("2026-07-14T10:30:00+01:00")  # otherwise a slow machine's seconds would be counted too
    write(page, "High side", "1400")
    for count, vent in enumerate(("9.0", "6.0", "5.2"), start=1):
        write(page, "Centre vent", vent)
        page.get_by_role("button", name="Log these readings now").click()
        expect(page.locator(".settling")).to_contain_text(f"{count} logged.")
        page.clock.fast_forward(100_000)
    expect(page.locator(".settling")).to_contain_text("Not settled yet")
    expect(page.get_by_role("img", name=re.compile("^Vent over 3 minutes: from 9.0 °C to 5.2 °C"))).to_be_visible()
    page.clock.resume()
    hand_in(page)
    service.stop()
    _, kept = filed(service, visit)
    trace = kept["tests"][0]["trace"]
    assert [point["vent_c"] for point in trace] == [9.0, 6.0, 5.2]
    assert [point["s"] for point in trace] == [0, 100, 200]


HURRY = """async () => {
  window.dispatchEvent(new PopStateEvent('popstate'));
  document.querySelector('a[href="/#settings"]').click();
  const outbox = (await import('/page.js')).$store_outbox.openOutbox();
  for (let time = 0; time < 40; time += 1) await outbox.allClocks();
}"""


def test_the_day_is_not_drawn_over_a_screen_that_a_person_went_to(handset: Phone, service: Service) -> None:
    """The day is being read again when Settings is tapped; once everything is read, Settings is still there."""
    page = handset.open(service.url)
    expect(page.get_by_role("link", name="Settings")).to_be_visible()
    page.evaluate(HURRY)
    assert page.get_by_role("heading", level=1).inner_text() == "Settings"


DRAWN_ANEW = """async () => {
  window.dispatchEvent(new Event('online'));
  await navigator.locks.request('layby-courier', () => undefined);
  const outbox = (await import('/page.js')).$store_outbox.openOutbox();
  for (let time = 0; time < 40; time += 1) await outbox.allClocks();
}"""


def test_a_tap_counts_though_the_day_is_drawn_anew_under_it(handset: Phone, service: Service) -> None:
    """The finger comes down, the desk answers and the day would be drawn, the finger is lifted: the visit starts."""
    page = handset.open(service.url)
    ready_offline(page)
    page.get_by_role("button", name="Start a visit").hover(position={"x": 20, "y": 10})
    page.mouse.down()
    page.evaluate(DRAWN_ANEW)
    page.mouse.up()
    expect(page.get_by_role("heading", level=1)).to_have_text("Customer and location")


TWICE = """(words) => {
  const key = [...document.querySelectorAll('a, button')].find((one) => one.textContent === words);
  key.click();
  key.click();
}"""


def test_a_key_that_is_tapped_twice_does_its_work_once(handset: Phone, service: Service) -> None:
    """Two taps before the page has answered the first: one visit is begun and written, and one Back is used."""
    page = handset.open(service.url)
    page.evaluate(TWICE, "Start a visit")
    expect(page.get_by_role("heading", level=1)).to_have_text("Customer and location")
    write(page, "Customer", "M. Okafor")
    page.evaluate(TWICE, "The day")
    expect(page.locator("#tally")).to_have_text(re.compile("1 visit captured"))
