"""A reading from a Bluetooth sensor, against a simulated peripheral: Chromium's own emulation of the radio.

Values, units and those that mean "not known" are the GATT Specification Supplement's of the Bluetooth SIG: Temperature
(0x2A6E) sint16 in 0.01 °C, 0x8000 not known; Humidity (0x2A6F) uint16 in 0.01 %, 0xFFFF not known. That a browser
without Bluetooth has no key is in tests/phone/test_logger_file.py.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from tests.phone.test_logger_file import KEPT
from tests.phone.test_screens import in_both
from tests.support.bluetooth import FLAG, Peripheral
from tests.support.browser import FLAGS, PATIENCE_MS, PHONE, chromium, engine
from tests.support.hands import choose, confirm_cautions, go_to, start_visit, wait_until
from tests.support.service import Service

SENSING, TEMPERATURE, HUMIDITY = "181a", "2a6e", "2a6f"
# What the page says from here on, one sentence after the other: the next may follow within a blink.
LISTEN = """() => {
  const status = document.querySelector("#status");
  status.textContent = "";  // what an earlier reading left there
  window.said = [];
  new MutationObserver(() => window.said.push(status.textContent)).observe(status, { childList: true, subtree: true });
}"""


@pytest.fixture
def page(service: Service) -> Iterator[Page]:
    """A phone whose browser has Bluetooth, at the readings in °F."""
    # Its own: sensors are simulated for a whole browser.
    browser = engine().chromium.launch(executable_path=chromium(), args=[*FLAGS, FLAG], timeout=PATIENCE_MS)
    context = browser.new_context(**PHONE, locale="en-GB", bypass_csp=True)  # type: ignore[arg-type]
    context.set_default_timeout(PATIENCE_MS)
    opened = context.new_page()
    opened.goto(service.url)
    wait_until(opened, KEPT)
    opened.get_by_role("link", name="Settings").click()
    choose(opened, "Temperatures", "°F")
    opened.get_by_role("button", name="Back to all visits").click()
    start_visit(opened)
    confirm_cautions(opened)
    go_to(opened, "Before")
    yield opened
    browser.close()


def read(page: Page, sensor: Peripheral, label: str, words: str) -> None:
    """Press the key at a reading, choose the sensor; wait for what is said."""
    page.evaluate(LISTEN)
    page.get_by_label(label, exact=True).focus()
    page.get_by_role("button", name=f"Read a sensor: {label}").click()
    sensor.answer_until(f"window.said.some((one) => one.includes({words!r}))")


def test_a_sensor_fills_a_reading_in_the_unit_of_its_field(page: Page) -> None:
    """23.45 °C is 74.2 °F; humidity in percent; what the sensor doesn't know, or lacks, leaves the field as it is."""
    sensor = Peripheral(page, "Probe 7", SENSING, {
        TEMPERATURE: (2345).to_bytes(2, "little", signed=True), HUMIDITY: (4567).to_bytes(2, "little")})
    read(page, sensor, "Air at the condenser", "Probe 7: temperature read.")
    expect(page.get_by_label("Air at the condenser", exact=True)).to_have_value("74.2")
    sensor.values[TEMPERATURE] = (-512).to_bytes(2, "little", signed=True)
    read(page, sensor, "Centre vent", "Probe 7: temperature read.")
    expect(page.get_by_label("Centre vent", exact=True)).to_have_value("22.8")  # -5.12 °C
    assert in_both(page) == []
    page.get_by_text("More", exact=True).first.click()
    read(page, sensor, "Humidity", "Probe 7: humidity read.")
    expect(page.get_by_label("Humidity", exact=True)).to_have_value("45.7")
    sensor.values |= {TEMPERATURE: b"\x00\x80", HUMIDITY: b"\xff\xff"}
    read(page, sensor, "Centre vent", "doesn't know its temperature yet")
    read(page, sensor, "Humidity", "doesn't know its humidity yet")
    sensor.values[HUMIDITY] = (10_001).to_bytes(2, "little")
    read(page, sensor, "Humidity", "doesn't know its humidity yet")
    del sensor.values[HUMIDITY]
    read(page, sensor, "Humidity", "The connection to Probe 7 failed.")
    expect(page.get_by_label("Centre vent", exact=True)).to_have_value("22.8")
    expect(page.get_by_label("Humidity", exact=True)).to_have_value("45.7")


def test_a_sensor_without_the_quantity_is_named(page: Page) -> None:
    """A thermometer asked for a humidity."""
    sensor = Peripheral(page, "Probe 8", SENSING, {TEMPERATURE: b"\x00\x08"})
    page.get_by_text("More", exact=True).first.click()
    read(page, sensor, "Humidity", "Probe 8 offers no humidity.")
