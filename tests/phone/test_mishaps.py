"""What goes wrong in a working day: a kill in the middle of a word, two tabs, a clock that jumps, an update meanwhile.

A real Chromium against a real `layby serve`; a tablet is tried here too.
"""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import Page, expect

from tests.phone.test_photos import send_once
from tests.phone.test_storage import newer_desk, version_of
from tests.support.browser import Phone, phone
from tests.support.hands import (
    confirm_cautions,
    filed,
    go_to,
    hand_in,
    ready_offline,
    saved,
    start_visit,
    take_update,
    to_day,
    wait_until,
    write,
)
from tests.support.service import Service
from tests.support.walk import walk

TABLET = {"viewport": {"width": 1180, "height": 820}, "has_touch": True, "is_mobile": True, "device_scale_factor": 2}


def test_a_kill_in_the_middle_of_a_word_loses_the_last_second_at_most(lasting: Phone, service: Service) -> None:
    """Typed without a pause, a letter every 60 ms by the page's clock: saved with every fifth, and so found again."""
    page = lasting.open("about:blank")
    page.clock.install(time="2026-07-14T10:00:00+01:00")
    lasting.go(page, service.url)
    visit = start_visit(page)
    go_to(page, "Visual check")
    label, text = "Customer's complaint", "Cold on the road, warm in traffic, and it drips on the mat. " * 2
    page.get_by_label(label, exact=True).focus()
    page.clock.pause_at("2026-07-14T10:30:00+01:00")
    for count, letter in enumerate(text[:-1], start=1):
        page.keyboard.type(letter)
        page.clock.run_for(60)
        if count % 5 == 0:
            saved(page)
    lasting.kill()
    page = lasting.open(f"{service.url}/visit/{visit}/around")
    go_to(page, "Visual check")
    found = page.get_by_label(label, exact=True).input_value()
    assert text.startswith(found)
    assert len(found) >= len(text) - 5


def both(first: Page, second: Page, step: str) -> None:
    """Leave a step in both tabs."""
    for page in (first, second):
        go_to(page, step)


def test_two_tabs_at_work_number_their_entries_in_one_row(handset: Phone, service: Service) -> None:
    """Two visits, written in turn and sent from both: no number twice, none left out, every entry filed once."""
    one = handset.open(service.url)
    ready_offline(one)
    assert handset.context is not None
    other = handset.context.new_page()
    handset.watch(other)
    other.goto(service.url)
    visits = [start_visit(page) for page in (one, other)]
    for name in ("M. Okafor", "M. Okafor-Lane"):
        both(one, other, "Customer and location")
        write(one, "Customer", name)
        write(other, "Customer", name)
        both(one, other, "Vehicle")
        write(one, "Registration", "LT 482")
        write(other, "Registration", name[-4:])
    for page in (one, other):
        to_day(page)
    for page in (one, other):
        page.get_by_role("button", name="Send now").click()
    for page in (one, other):
        expect(page.locator("#tally")).to_have_text("2 visits captured, 2 filed, 0 waiting, 0 refused.")
    service.stop()
    ops = [op for visit in visits for op in filed(service, visit)[0]]
    assert sorted(op["seq"] for op in ops) == list(range(1, len(ops) + 1))
    for visit in visits:
        kinds = [op["kind"] for op in filed(service, visit)[0]]
        assert kinds[0] == "visit.open"
        assert kinds.count("visit.open") == 1
        assert filed(service, visit)[1]["customer"]["name"] == "M. Okafor-Lane"


def test_a_clock_that_is_decades_off_and_jumps_files_all_the_same(handset: Phone, service: Service) -> None:
    """Begun in 1999, corrected in the middle, set back again: filed in the order of the actions, shown at the desk."""
    page = handset.open("about:blank")
    page.clock.install(time="1999-12-31T23:59:30+00:00")
    handset.go(page, service.url)
    visit = start_visit(page, "M. Okafor")
    go_to(page, "Vehicle")
    for moment, plate in (("2026-07-14T10:00:00+01:00", "LT 48"), ("2011-01-01T00:00:00+00:00", "LT 482")):
        page.clock.set_system_time(moment)
        write(page, "Registration", plate)
        go_to(page, "Work")
        go_to(page, "Vehicle")
    hand_in(page)
    service.stop()
    ops, kept = filed(service, visit)
    assert [op["seq"] for op in ops] == [1, 2, 3, 4]
    assert kept["vehicle"]["plate"] == "LT 482"
    assert kept["started_at"].startswith("1999-12-31")


def test_an_update_leaves_alone_what_cannot_be_an_entry_yet(handset: Phone, service: Service, tmp_path: Path) -> None:
    """A reading that isn't a number is in the draft: the newer page waits, and when accepted finds it there."""
    page = handset.open(service.url)
    ready_offline(page)
    first = version_of(page)
    visit = start_visit(page)
    confirm_cautions(page)
    go_to(page, "Before")
    write(page, "Low side", "2x6")
    saved(page)
    service.stop()
    with newer_desk(service, tmp_path):
        page.reload()
        wait_until(page, "navigator.serviceWorker.getRegistration().then(one => Boolean(one.waiting))")
        expect(page.get_by_label("Low side", exact=True)).to_have_value("2x6")
        assert version_of(page) == first
        to_day(page)
        expect(page.get_by_text("A new version of Layby is ready.")).to_be_visible()
        take_update(page)
        ready_offline(page)
        assert version_of(page) != first
        page.goto(f"{service.url}/visit/{visit}/before")
        expect(page.get_by_label("Low side", exact=True)).to_have_value("2x6")


def test_a_visit_on_a_tablet(service: Service) -> None:
    """The whole visit on a wide touch screen: nothing overflows on any screen, and all of it is filed."""
    with phone(**TABLET) as tablet:
        page = tablet.open(service.url)
        wide = []

        def look(name: str) -> None:
            if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
                wide.append(name)

        walk(page, look)
        assert wide == []
        page.get_by_role("button", name="Send now").click()
        expect(page.locator("#tally")).to_contain_text("0 waiting, 0 refused.")
        assert tablet.complaints == []


MANY = """async ([visit, count]) => {
  const { openOutbox } = (await import('/page.js')).$store_outbox;
  const { createCapture } = (await import('/page.js')).$visit_capture;
  const rulebook = await (await fetch('/rulebook.json')).json();
  const outbox = openOutbox();
  const capture = createCapture({ outbox, rulebook, device: await outbox.recall('device') });
  const page = await capture.open(visit, { started_at: capture.now() });
  const body = () => ({ id: capture.newId(), text: 'Rinse the face each spring.' });
  const advice = () => ({ kind: 'advice.add', base: {}, body: body() });
  await capture.write(page, Array.from({ length: count }, advice));
}"""


def test_a_phone_with_more_receipts_than_one_answer_holds_sends_nothing_again(handset: Phone, service: Service) -> None:
    """Some weeks' entries, filed and checked as a whole: all stay filed, and no later send carries one of them."""
    page = handset.open(service.url)
    visit = start_visit(page, "M. Okafor")
    to_day(page)
    page.evaluate(MANY, [visit, 1020])
    send_once(page)  # the day on screen doesn't know of them yet
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    for _ in range(2):
        page.get_by_role("button", name="Send now").click()
        expect(page.locator("#status")).to_contain_text("Nothing to send.")
        expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    assert any("/receipts" in url for url in asked)
    assert not any(url.endswith("/sync") for url in asked)
