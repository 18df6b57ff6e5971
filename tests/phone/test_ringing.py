"""A clock that is over rings until its key; what runs lies above the foot; a lock, a kill or a reload loses nothing.

A real Chromium whose clock is moved by hand; its own speaker, buzzer and wake lock are listened to, not stood in for.
"""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.phone.test_timers import MINUTE_MS, answer, filed_visit, opened, stopped, value
from tests.support.browser import Phone, phone
from tests.support.hands import confirm_cautions, do, go_to, saved, start_visit, to_day, write
from tests.support.service import Service
from tests.support.sights import SIZES, faults_of

SECOND_MS = 1000
# What the page asks of the browser is noted on its way there.
LISTEN = """() => {
  window.heard = { tones: 0, buzzes: 0, awake: 0 };
  const note = (owner, name, what) => {
    const own = owner[name];
    owner[name] = function (...given) { window.heard[what] += 1; return own.apply(this, given); };
  };
  note(OscillatorNode.prototype, 'start', 'tones');
  note(Navigator.prototype, 'vibrate', 'buzzes');
  if (window.WakeLock) note(WakeLock.prototype, 'request', 'awake');
}"""


def sprayed(handset: Phone, service: Service) -> tuple[Page, str]:
    """A visit with cleaner on the face since 10:00, the page's clock stopped there; the page and the visit's id."""
    page = opened(handset, service.url, "2026-07-14T09:30:00+01:00")
    visit = start_visit(page)
    go_to(page, "Vehicle")
    write(page, "Registration", "ALD 4127")
    go_to(page, "Work")
    saved(page)
    stopped(page, "2026-07-14T10:00:00+01:00")
    do(page, "Condenser cleaned", r"Start 10\sminutes")
    return page, visit


def test_a_limit_that_is_over_rings_until_it_is_rinsed(lasting: Phone, service: Service) -> None:
    """Title, digits that count on, tones and buzzes; the key writes the minutes and begins the drying.

    In the whole Chromium, which keeps its screen on when it is asked once.
    """
    page, visit = sprayed(lasting, service)
    page.evaluate(LISTEN)
    page.clock.run_for(10 * MINUTE_MS + 2 * SECOND_MS)
    rings = page.get_by_role("dialog", name="Rinse now")
    expect(rings).to_contain_text("ALD 4127: cleaner on the face since 10:0")
    expect(rings.locator(".digits")).to_have_text(re.compile(r"^\+0:0\d$"))
    expect(rings).to_contain_text("over the 10 minutes.")
    page.clock.run_for(20 * SECOND_MS)
    expect(rings.locator(".digits")).to_have_text(re.compile(r"^\+0:2\d$"))
    heard = page.evaluate("window.heard")
    assert heard["buzzes"] > 5
    assert heard["tones"] > 15
    page.keyboard.press("Escape")
    page.keyboard.press("Escape")
    expect(rings).to_be_visible()
    assert rings.locator(".main").bounding_box()["height"] >= 96
    answer(page, "Rinse now", "Rinsed now")
    heard = page.evaluate("window.heard")
    page.clock.run_for(5 * SECOND_MS)
    assert page.evaluate("window.heard") == heard
    value(page, "Dwell time", "10")
    expect(page.locator("#strip")).to_contain_text("Face drying")
    page.clock.resume()
    kept = filed_visit(page, service, visit)
    assert kept["work"][0]["cleaner"] == {"dwell_min": 10}
    assert [one["code"] for one in kept["cautions"]] == ["coil_cleaner"]


def test_a_running_clock_lies_above_the_foot_on_every_page_but_its_own(handset: Phone, service: Service) -> None:
    """Not on the work; on the vehicle and the day; a tap leads back; the minutes are written from another step, too."""
    page, visit = sprayed(handset, service)
    strip = page.locator("#strip")
    expect(page.get_by_role("group", name="Condenser cleaned").locator(".digits")).to_be_visible()
    expect(strip).to_be_hidden()
    go_to(page, "Vehicle")
    expect(strip).to_contain_text("Cleaner on the face")
    page.clock.fast_forward(2 * MINUTE_MS)
    expect(strip.locator("b")).to_have_text(re.compile(r"^(8:00|7:5\d)$"))
    box, foot = strip.bounding_box(), page.locator("#foot").bounding_box()
    assert box is not None
    assert foot is not None
    assert (round(box["height"]), round(box["y"] + box["height"])) == (40, round(foot["y"]))
    to_day(page)
    expect(strip).to_contain_text("ALD 4127")
    strip.get_by_role("button").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Work")
    go_to(page, "Vehicle")
    page.clock.fast_forward(9 * MINUTE_MS)
    answer(page, "Rinse now", "Rinsed now")
    expect(page.get_by_role("heading", level=1)).to_have_text("Vehicle")
    expect(strip).to_contain_text("Face drying")
    page.clock.resume()
    kept = filed_visit(page, service, visit)
    assert kept["work"][0]["cleaner"] == {"dwell_min": 11}


def test_a_page_that_was_away_rings_when_it_wakes_and_says_how_late(lasting: Phone, service: Service) -> None:
    """Killed with the clock running, opened on the day fourteen minutes later: four late; the key leads to the work."""
    page, visit = sprayed(lasting, service)
    page.clock.resume()
    saved(page)
    lasting.kill()
    page = opened(lasting, service.url, "2026-07-14T10:14:30+01:00")
    rings = page.get_by_role("dialog", name="Rinse now")
    expect(rings).to_contain_text(re.compile(r"It was due at 10:10\. .* it rings 4:\d\d late\."))
    page.reload()
    answer(page, "Rinse now", "Rinsed now")
    expect(page.get_by_role("heading", level=1)).to_have_text("Work")
    value(page, "Dwell time", "14")
    saved(page)
    lasting.kill()
    page = opened(lasting, f"{service.url}/visit/{visit}/work", "2026-07-14T10:16:00+01:00")
    value(page, "Dwell time", "14")
    expect(page.locator("#strip")).to_contain_text("Face drying")
    expect(page.locator(".ringing")).to_have_count(0)


def test_the_drying_follows_what_was_typed_about_the_rinse(handset: Phone, service: Service) -> None:
    """Five minutes ago leaves ten; twenty are long enough and ring no more."""
    page = opened(handset, service.url, "2026-07-14T09:30:00+01:00")
    start_visit(page)
    confirm_cautions(page)
    go_to(page, "After")
    stopped(page, "2026-07-14T10:00:00+01:00")
    write(page, "Rinsed", "5")
    page.clock.run_for(SECOND_MS)
    expect(page.locator(".form .digits:visible")).to_have_text(re.compile("^(10:00|9:5.)$"))
    write(page, "Rinsed", "20")
    page.clock.run_for(2 * SECOND_MS)
    expect(page.locator(".form")).to_contain_text("rinsed 20 min ago, long enough")
    expect(page.locator(".ringing")).to_have_count(0)
    value(page, "Rinsed", "20")


def test_what_was_finished_rings_no_more(handset: Phone, service: Service) -> None:
    """A visit that is over takes its clocks with it."""
    page, _ = sprayed(handset, service)
    go_to(page, "Result")
    page.get_by_role("button", name="Finish the visit").click()
    expect(page.get_by_role("button", name="Start a visit")).to_be_visible()
    expect(page.locator("#strip")).to_be_hidden()
    page.clock.run_for(11 * MINUTE_MS)
    expect(page.locator(".ringing")).to_have_count(0)


def test_a_clock_that_was_stopped_is_gone(handset: Phone, service: Service) -> None:
    """Nothing is written, and it can be started again."""
    page, _ = sprayed(handset, service)
    cleaned = page.get_by_role("group", name="Condenser cleaned")
    cleaned.get_by_role("button", name="stop", exact=True).click()
    expect(cleaned.locator(".digits")).to_be_hidden()
    expect(page.get_by_role("button", name="Dwell time: Cleaner applied")).to_be_visible()
    value(page, "Dwell time", "")


@pytest.mark.parametrize("language", ["en-GB", "es-ES"])
def test_clocks_can_be_read_and_pressed(language: str, service: Service) -> None:
    """Counting, as a strip, and ringing: axe-core finds nothing, targets are 48 px, nothing runs out."""
    with phone(locale=language, bypass_csp=True) as handset:
        page = handset.open("about:blank", paired=False)
        page.clock.install(time="2026-07-14T09:30:00+01:00")
        page.goto(service.url)
        page.locator("#foot .main").click()
        page.wait_for_url(re.compile("/visit/"))
        work = page.url.replace("/customer", "/work")
        page.goto(work)
        page.locator(".deed .toggle").first.click()
        page.locator(".caution:visible .main").click()
        expect(page.locator(".digits:visible")).to_be_visible()
        wrong = {("counting", width): faults_of(page, width) for width in SIZES}
        page.goto(work.replace("/work", "/vehicle"))
        expect(page.locator("#strip")).to_be_visible()
        wrong |= {("strip", width): faults_of(page, width) for width in SIZES}
        page.clock.fast_forward(10 * MINUTE_MS)
        expect(page.locator(".ringing")).to_be_visible()
        wrong |= {("ringing", width): faults_of(page, width) for width in SIZES}
        assert {place: found for place, found in wrong.items() if found} == {}
