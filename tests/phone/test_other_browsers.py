"""A short visit in Firefox and in WebKitGTK: kept without a desk, there after a reload or a kill, and filed."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support import webdriver
from tests.support.hands import filed
from tests.support.service import Service, free_port
from tests.support.webdriver import Browser

PSI = 6.894757293168  # kPa; NIST SP 811 (2008), appendix B.8


def arrive(browser: Browser, service: Service) -> str:
    """Load the page once, lose the desk, and write down an arrival; the visit's id."""
    browser.go(f"{service.url}/pair#{service.offer()}")
    browser.see("This phone is paired.")
    browser.see("works offline")
    service.kill()
    browser.go(service.url)
    browser.see("works offline")
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
    while browser.until("return document.querySelector('[aria-label^=\"High side in \"]').innerText") != "psi":
        browser.run("document.querySelector('[aria-label^=\"High side in \"]').click()")
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
    """Killed with the reading typed and not yet an entry, opened again with no desk, and handed in."""
    profile = tmp_path / "profile"
    with webdriver.in_firefox(profile) as browser:
        visit = arrive(browser, service)
        measure(browser)
    with webdriver.in_firefox(profile) as browser:
        browser.go(f"{service.url}/visit/{visit}/before")
        hand_in(browser, service, visit)


@pytest.mark.skipif(webdriver.webkit() is None, reason="WebKitGTK is not here; `python3 tests` installs it on Debian")
def test_a_visit_in_webkit_outlives_the_desk_and_a_reload(service: Service, tmp_path: Path) -> None:
    """Its driver keeps no profile over an end, so the page is loaded anew instead; the rest is the same."""
    with webdriver.in_webkit(tmp_path, free_port()) as browser:
        visit = arrive(browser, service)
        measure(browser)
        browser.go(f"{service.url}/visit/{visit}/before")
        hand_in(browser, service, visit)
