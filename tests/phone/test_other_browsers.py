"""A short visit in Firefox and in WebKitGTK: kept without a desk, still there after a reload or a kill, and filed."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.phone.test_taps import FULL_MOST, FULL_SCREENS, USUAL_MOST, USUAL_SCREENS, full_visit, usual_visit
from tests.support import webdriver
from tests.support.counted_hand import CountedHand, InOther
from tests.support.hands import filed
from tests.support.service import Service, free_port
from tests.support.walk import picture
from tests.support.webdriver import Browser

PSI = 6.894757293168  # kPa; NIST SP 811 (2008), appendix B.8


def without_desk(browser: Browser, service: Service) -> None:
    """Load the page once, lose the desk, and open it again."""
    browser.go(f"{service.url}/pair#{service.offer()}")
    browser.see("This phone is paired.")
    browser.see("works offline")
    service.kill()
    browser.go(service.url)
    browser.see("works offline")


def arrive(browser: Browser, service: Service) -> str:
    """Load the page once, lose the desk, and write down an arrival; returns the visit's id."""
    without_desk(browser, service)
    browser.tap("Settings")
    browser.tap("psi")
    browser.tap("Back to all visits")
    browser.tap("Start a visit")
    browser.type("Customer", "M. Okafor")
    browser.type("Altitude", "610")
    browser.step("Vehicle")
    browser.type("VIN", "1G4AH59H45G118341")
    browser.see("The check digit is correct.")
    browser.tap("R-134a")
    browser.step("Cautions")
    browser.tap("Read, everything is in place")
    browser.see("confirmed")
    browser.step("Before")
    return str(browser.run("return location.pathname.split('/')[2]"))


def measure(browser: Browser) -> None:
    """One reading with its meaning beside it; kept within a second."""
    browser.type("High side", "214")
    browser.see("condensing")
    browser.see("on this phone")


def hand_in(browser: Browser, service: Service, visit: str) -> None:
    """Back at the desk: everything is filed, once, as it was typed."""
    assert browser.until("return document.querySelector('#page input') && true")
    browser.until("return [...document.querySelectorAll('input')].some((one) => one.value === '214')")
    browser.tap("The day")
    browser.see("0 filed, 1 waiting")
    service.start()
    browser.tap("Send now")
    browser.see("1 visit captured, 1 filed, 0 waiting, 0 refused.")
    service.stop()
    ops, kept = filed(service, visit)
    assert len({op["id"] for op in ops}) == len(ops)
    assert kept["customer"]["name"] == "M. Okafor"
    assert kept["vehicle"]["refrigerant"] == "R134a"
    assert kept["tests"][0]["readings"]["high_kpa_g"] == pytest.approx(214 * PSI, rel=1e-12)


@pytest.mark.skipif(webdriver.firefox() is None, reason="Firefox is not here; `python3 tests` installs it on Debian")
def test_a_visit_in_firefox_outlives_the_desk_and_the_browser(service: Service, tmp_path: Path) -> None:
    """Killed with the reading typed and not yet an entry, opened again without a desk, and handed in."""
    profile = tmp_path / "profile"
    with webdriver.in_firefox(profile) as browser:
        visit = arrive(browser, service)
        measure(browser)
    with webdriver.in_firefox(profile) as browser:
        browser.go(f"{service.url}/visit/{visit}/before")
        hand_in(browser, service, visit)


@pytest.mark.skipif(webdriver.webkit() is None, reason="WebKitGTK is not here; `python3 tests` installs it on Debian")
def test_a_visit_in_webkit_outlives_the_desk_and_a_reload(service: Service, tmp_path: Path) -> None:
    """Its driver keeps no profile after it ends, so the page is reloaded instead; the rest is the same."""
    with webdriver.in_webkit(tmp_path, free_port()) as browser:
        visit = arrive(browser, service)
        measure(browser)
        browser.go(f"{service.url}/visit/{visit}/before")
        hand_in(browser, service, visit)


def quick(browser: Browser, service: Service) -> None:
    """Ten taps besides digits lead from the day to a verdict, with no desk and the altitude remembered."""
    browser.go(f"{service.url}/pair#{service.offer()}")
    browser.see("This phone is paired.")
    browser.see("works offline")
    browser.go(service.url)
    browser.tap("Quick test")
    browser.tap("change")
    for key in ("3", "0", "0", "next"):
        browser.press(f'.panel [data-key="{key}"]')
    browser.see("300")
    browser.tap("The day")
    browser.see("works offline")
    service.kill()
    browser.go(service.url)
    keys = ["3", "3", "next", "2", "point", "9", "next", "2", "0", "next", "1", "4", "next",
            "same", "2", "point", "6", "next", "1", "5", "point", "5", "next", "8", "next"]
    browser.tap("Quick test")
    browser.until("return document.querySelector('.facts button') && true")
    browser.run(IN_BAR)
    browser.tap("Read. R-134a")
    for key in keys:
        browser.press(f'#foot [data-key="{key}"]')
    finding = browser.until("return document.querySelector('.end .finding')?.textContent")
    table = browser.run("return document.querySelector('table.readings').innerText")
    assert finding.startswith("Better"), (finding, table)
    assert float(browser.run("return document.querySelector('tr.high_saturation_c td').textContent")) > 60, table
    assert 2 + len([key for key in keys if not key.isdigit() and key != "point"]) <= 10
    usual(browser)


def usual(browser: Browser) -> None:
    """A usual visit, with the units as they stand and no desk: as many taps as in Chromium at most."""
    browser.tap("The day")
    browser.see("Start a visit")
    hand = CountedHand(InOther(browser))
    american = browser.run("return document.documentElement.lang") == "en-US"
    usual_visit(hand, "License plate" if american else "Registration")
    browser.see("Start a visit")
    assert hand.taps <= USUAL_MOST, hand.log
    assert hand.screens <= USUAL_SCREENS, hand.log


# Whatever the language of the browser, the readings above are in bar and °C.
IN_BAR = """
  document.querySelector('.facts button').click();
  for (const unit of ['bar', '\\u00b0C']) {
    [...document.querySelectorAll('.panel label')].find((one) => one.textContent === unit).click();
  }
  document.querySelector('.panel [data-key="next"]').click();
"""


@pytest.mark.skipif(webdriver.firefox() is None, reason="Firefox is not here; `python3 tests` installs it on Debian")
def test_a_quick_test_in_firefox_takes_ten_taps(service: Service, tmp_path: Path) -> None:
    """With the service gone; and a usual visit after it no more than 35."""
    with webdriver.in_firefox(tmp_path / "profile") as browser:
        quick(browser, service)


@pytest.mark.skipif(webdriver.webkit() is None, reason="WebKitGTK is not here; `python3 tests` installs it on Debian")
def test_a_quick_test_in_webkit_takes_ten_taps(service: Service, tmp_path: Path) -> None:
    """With the service gone; and a usual visit after it no more than 35."""
    with webdriver.in_webkit(tmp_path, free_port()) as browser:
        quick(browser, service)


def full(browser: Browser, service: Service, picture_file: Path) -> None:
    """Every step touched with no desk, as in Chromium: as many taps at most, and all of it filed afterwards."""
    without_desk(browser, service)
    hand = CountedHand(InOther(browser))

    def photograph(role: str) -> None:
        """The press on the camera's key counts; the picture comes in as from the camera."""
        hand.come_to("Take a photo", f"Photos, {role}")
        picture_file.write_bytes(picture((40 * len(role), 60, 90)))
        browser.hand_over(f"Photos, {role}", picture_file)

    full_visit(hand, photograph)
    browser.see("Start a visit")
    assert hand.taps <= FULL_MOST, hand.log
    assert hand.screens <= FULL_SCREENS, hand.log
    visit = str(browser.run("return document.querySelector('.visits a').getAttribute('href').split('/')[2]"))
    service.start()
    browser.tap("Send now")
    browser.see("1 filed, 0 waiting")
    service.stop()
    kept = filed(service, visit)[1]
    assert [one["role"] for one in kept["photos"]] == ["arrival", "before", "after"]
    assert [test["readings"]["vent_c"] for test in kept["tests"]] == [14, 8]
    assert kept["refrigerant_moves"][0]["grams"] == 430
    assert (kept["currency"], kept["signature"]["sum"], kept["outcome"]) == ("EUR", "222.00", "done")


@pytest.mark.skipif(webdriver.firefox() is None, reason="Firefox is not here; `python3 tests` installs it on Debian")
def test_a_full_visit_in_firefox(service: Service, tmp_path: Path) -> None:
    """In British words, with the service gone."""
    with webdriver.in_firefox(tmp_path / "profile", "en-GB, en") as browser:
        full(browser, service, tmp_path / "one.png")


@pytest.mark.skipif(webdriver.webkit() is None, reason="WebKitGTK is not here; `python3 tests` installs it on Debian")
def test_a_full_visit_in_webkit(service: Service, tmp_path: Path) -> None:
    """In British words, with the service gone."""
    with webdriver.in_webkit(tmp_path, free_port(), "en_GB") as browser:
        full(browser, service, tmp_path / "one.png")
