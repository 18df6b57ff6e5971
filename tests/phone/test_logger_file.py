"""A logger's file on the phone, out of the desk's reach: columns matched once, entries added, offered again, deleted.

A real Chromium whose service is stopped after the first start. tests/loggers shows that a file is read as at the desk.
"""

from __future__ import annotations

from playwright.sync_api import Locator, Page, expect

from tests.phone.test_screens import in_both
from tests.support.browser import Phone
from tests.support.hands import (
    confirm_cautions,
    filed,
    go_to,
    hand_in,
    ready_offline,
    saved,
    start_visit,
    wait_until,
    write,
)
from tests.support.service import Service

KEPT = """async () =>
  (await (await caches.open('help')).keys()).filter(({ url }) => url.includes('/later/')).length === 1"""
HEAD = "Garage box 3\nTime;Probe A °C;RH %;Line (psi)\n"
ROWS = "10:16:00;21,5;40;33\n" + "".join(
    f"10:{30 + second // 60}:{second % 60:02d};{20 - second / 60:.1f};40;{33 + second % 2}\n".replace(".", ",")
    for second in range(0, 300, 10)
)
TORN = "10:36:00;NaN;40;33\n10:36:10;8;40\n11:45:00;9;40;33\n"


def at_readings(handset: Phone, service: Service) -> tuple[Page, str]:
    """A visit whose test began at half past ten, out of the desk's reach; the page and the visit's id."""
    page = handset.open("about:blank")
    page.clock.install(time="2026-07-14T10:00:00+01:00")
    handset.pair(page, service)
    ready_offline(page)
    wait_until(page, KEPT)
    service.stop()
    visit = start_visit(page)
    confirm_cautions(page)
    go_to(page, "Before")
    page.clock.pause_at("2026-07-14T10:30:00+01:00")
    write(page, "Centre vent", "20")
    page.clock.resume()
    return page, visit


def opened(page: Page, name: str, content: bytes) -> Locator:
    """Choose a file; the panel with its columns."""
    file = {"name": name, "mimeType": "text/csv", "buffer": content}
    page.locator(".settling input[type=file]").set_input_files(file)  # type: ignore[arg-type]
    panel = page.get_by_role("dialog", name=f"Columns of {name}")
    expect(panel).to_be_visible()
    return panel


def closed(panel: Locator) -> None:
    """Press the panel's own key."""
    panel.get_by_role("button", name="Close").click()
    expect(panel).to_have_count(0)


def test_a_file_becomes_entries_of_the_log_without_the_desk(handset: Phone, service: Service) -> None:
    """Matched by hand once; the next file of that header comes matched. What is deleted can be read again."""
    page, visit = at_readings(handset, service)
    panel = opened(page, "garage.csv", (HEAD + ROWS + TORN).encode())
    expect(panel.get_by_text("No column is matched to a reading.", exact=False)).to_have_count(0)
    expect(panel.get_by_text("First values: 21,5 · 20,0 · 19,8")).to_be_visible()
    panel.get_by_label("Column 2: Probe A °C").select_option("Centre vent, °C")
    panel.get_by_label("Column 4: Line (psi)").select_option("Low side, psi")
    expect(panel.get_by_role("status")).to_contain_text("32 entries can be added, from 10:16:00 to 10:36:00.")
    expect(panel.get_by_role("status")).to_contain_text("1 row after 11:30:00 is left out.")
    expect(panel.get_by_role("status")).to_contain_text("Line 34, “Probe A °C”: “NaN” isn't a number.")
    expect(panel.get_by_role("status")).to_contain_text("Line 35 has another number of columns: “10:36:10;8;40”.")
    assert in_both(page) == []
    panel.get_by_role("button", name="Add 32 entries").click()
    expect(panel).to_have_count(0)
    expect(page.locator(".settling")).to_contain_text("32 logged.")
    saved(page)
    page.get_by_text("What was logged", exact=True).click()
    page.get_by_role("button", name="Delete the entries of the file from 10:16:00").click()
    expect(page.locator(".settling")).not_to_contain_text("logged.")
    panel = opened(page, "again.csv", (HEAD + ROWS).encode("utf-16"))
    expect(panel).to_contain_text("A file with this header was read before.")
    panel.get_by_role("button", name="Add 31 entries").click()
    expect(page.locator(".settling")).to_contain_text("31 logged.")
    service.start()
    hand_in(page)
    service.stop()
    ops, kept = filed(service, visit)
    trace = kept["tests"][0]["trace"]
    assert trace[0] == {"s": -839.998, "vent_c": 21.5, "humidity_pct": 40.0, "low_kpa_g": 227.5}
    assert [op["kind"] for op in ops].count("trace.strike") == 32
    assert handset.complaints == []


def test_what_cannot_be_read_is_named_and_nothing_is_added(handset: Phone, service: Service) -> None:
    """No text, too large, one column, no time; and a browser without Bluetooth has no key for a sensor."""
    page, _ = at_readings(handset, service)
    assert page.evaluate("navigator.bluetooth") is None
    expect(page.locator(".sensor")).to_have_count(0)
    for name, content, words in (
        ("picture.csv", b"\x89PNG\r\n\x1a\n\0\0", "Line 2 isn't text."),
        ("huge.csv", b"10:30:00;1\n" * 200_000, "The file is larger than 2\u00a0MB."),
        ("one.csv", b"Vent\n1\n2\n", "The file has only one column."),
        ("empty.csv", b"", "The file is empty."),
        ("timeless.csv", b"Vent C;Return C\n1;2\n", "No column is matched to the time."),
        ("endless.csv", b"x;" * 100_000, "No line holds a time and a reading."),
        ("yesterday.csv", b"Time;Vent C\n2026-07-13 10:30:00;8\n", "No column is matched to a reading."),
    ):
        panel = opened(page, name, content)
        expect(panel.get_by_role("status")).to_contain_text(words)
        expect(panel.get_by_role("button", name="Add")).to_have_count(0)
        closed(panel)
    expect(page.locator(".settling")).not_to_contain_text("logged.")
    panel = opened(page, "run.csv", b"Run [s];Vent (degC)\n0;21\n60;20\n")
    expect(panel.get_by_role("status")).to_contain_text("2 entries can be added, from 10:30:00 to 10:31:00.")
    panel.get_by_label("The logger was started at").fill("10:25")
    expect(panel.get_by_role("status")).to_contain_text("2 entries can be added, from 10:25:00 to 10:26:00.")
    panel.get_by_label("Column 1: Run [s]").select_option("Time: minutes from the start")
    expect(panel.get_by_role("status")).to_contain_text("from 10:25:00 to 11:25:00.")
    assert handset.complaints == []
