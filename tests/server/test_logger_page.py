"""A logger's file at the desk: uploaded at a visit's test in a browser without scripts, and by the command.

A real service, a real Chromium, the files of a folder. tests/loggers holds what each file comes to.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.phone.test_screens import in_both
from tests.server.test_login import layby
from tests.server.test_visit_page import a_visit
from tests.support import children
from tests.support.browser import PATIENCE_MS, borrowed
from tests.support.ops import Phone
from tests.support.service import Service
from tests.support.visitor import PASSPHRASE, setting_key

HEAD = "Garage box 3\nTime;Probe A °C;RH %;Line (psi)\n"
ROWS = "".join(
    f"09:{10 + second // 60}:{second % 60:02d};{20 - second / 60:.1f};40;33\n" for second in range(0, 300, 10)
)
TORN = "08:50:00;1;2;3\n" + ROWS + "09:16:00;NaN;40;33\n" + "noon;1;2;3\n" * 12


@pytest.fixture(scope="module")
def visit(desk: Service) -> str:
    """A visit whose test began at ten past nine."""
    return a_visit(desk, Phone("7e57ab"))


@pytest.fixture(scope="module")
def page(desk: Service) -> Iterator[Page]:
    """A desk's browser, signed in; scripts run for axe-core alone, since the pages have none and forbid them."""
    with borrowed() as browser:
        context = browser.new_context(viewport={"width": 1180, "height": 900}, locale="en-GB", bypass_csp=True)
        context.set_default_timeout(PATIENCE_MS)
        opened = context.new_page()
        opened.goto(f"{desk.url}/desk/passphrase?key={setting_key(desk.log.read_text('utf-8'))}")
        opened.get_by_label("New passphrase").fill(PASSPHRASE)
        opened.get_by_label("Repeat it").fill(PASSPHRASE)
        opened.get_by_role("button", name="Set passphrase").click()
        yield opened


def upload(page: Page, name: str, content: bytes) -> None:
    """Choose a file at the open test and have its columns shown."""
    file = {"name": name, "mimeType": "text/csv", "buffer": content}
    page.get_by_label("File of a logger").set_input_files(file)  # type: ignore[arg-type]
    page.get_by_role("button", name="Show the columns").click()


def test_a_file_is_matched_once_added_offered_again_and_deleted(page: Page, desk: Service, visit: str) -> None:
    """What is left out is listed with its line, ten of it; the visit keeps a note of where its entries came from."""
    page.goto(f"{desk.url}/desk/visit?id={visit}&open=tests.b1")
    upload(page, "garage.csv", (HEAD + TORN).encode("latin-1"))
    log = page.locator("#log")
    page.get_by_label("Column 2: Probe A °C").select_option("Centre vent, °C")
    page.get_by_label("Column 4: Line (psi)").select_option("Low side, psi")
    log.get_by_role("button", name="Read again").click()
    expect(log).to_contain_text("31 entries can be added, from 09:10:00 to 09:16:00.")
    expect(log).to_contain_text("1 row before 08:55:00 is left out.")
    told = log.locator(".bar li").all_inner_texts()
    assert told[0].startswith("Line 34, “Probe A °C”: “NaN” isn't a number. This reading is left out")
    assert (len(told), "And 3 more." in log.inner_text()) == (10, True)
    assert in_both(page) == []
    log.get_by_role("button", name="Add 31 entries").click()
    expect(page.get_by_text("Entries added to the log.")).to_be_visible()
    expect(page.get_by_text("31 entries added to the log from the file garage.csv")).to_be_visible()
    expect(log).to_contain_text("From a file: 31 entries, from 09:10:00 to 09:16:00")
    upload(page, "next.csv", (HEAD + ROWS).encode("utf-16"))
    expect(log).to_contain_text("A file with this header was read before.")
    expect(page.get_by_label("Column 4: Line (psi)")).to_have_value("low_kpa_g:psi")
    page.goto(f"{desk.url}/desk/visit?id={visit}&open=tests.b1")
    log.get_by_role("button", name="Delete: From a file: 31 entries").click()
    expect(page.get_by_text("Entries deleted from the log.")).to_be_visible()
    expect(log).not_to_contain_text("From a file")
    upload(page, "next.csv", (HEAD + ROWS).encode())
    log.get_by_role("button", name="Add 30 entries").click()
    expect(log).to_contain_text("From a file: 30 entries, from 09:10:00 to 09:14:50")


def test_what_cannot_be_read_is_named(page: Page, desk: Service, visit: str) -> None:
    """No file, bytes, a huge one, one column; the page stays, and nothing is added."""
    page.goto(f"{desk.url}/desk/visit?id={visit}&open=tests.b1")
    for name, content, words in (
        ("picture.csv", b"\x89PNG\r\n\x1a\n\0\0", "Line 2 isn't text."),
        ("huge.csv", b"10:30:00;1\n" * 200_000, "The file is larger than 2\u00a0MB."),
        ("one.csv", b"Vent\n1\n2\n", "The file has only one column."),
        ("empty.csv", b"", "The file is empty."),
        ("timeless.csv", b"Vent C;Return C\n1;2\n", "No column is matched to the time."),
    ):
        upload(page, name, content)
        expect(page.locator("#log [role=alert]")).to_contain_text(words)
        expect(page.locator("#log").get_by_role("button", name="Add")).to_have_count(0)
    page.locator("#log input[type=file]").evaluate("one => one.removeAttribute('required')")
    page.get_by_role("button", name="Show the columns").click()
    expect(page.get_by_role("alert")).to_contain_text("No file was chosen.")


def test_the_command_shows_first_and_adds_when_told(desk: Service, visit: str, tmp_path: Path) -> None:
    """With the service running; unknown columns are named, the count is what the page would add."""
    file = tmp_path / "run.csv"
    file.write_text("Run [s];Vent (degC);Other\n0;21;1\n60;20;1\n", "utf-8")
    shown = layby(desk, "log", visit, "b1", str(file))
    assert "Column 1, Run [s]: time:seconds. First values: 0 · 60" in shown
    assert "Column 3, Other: not used." in shown
    assert "2 entries can be added, from 09:10:00 to 09:11:00." in shown
    added = layby(desk, "log", visit, "b1", str(file), "--zero", "09:20", "--add")
    assert added.endswith("2 entries added to the log.\n")
    assert json.loads((desk.folder / "logger_columns.json").read_text("utf-8"))["Run [s]\tVent (degC)\tOther"] == [
        "time:seconds", "vent_c:c", ""]
    command = [str(desk.command), "--folder", str(desk.folder), "log", visit, "b1", str(file)]
    refused = children.run([*command, "--columns", "time:seconds,,"])
    assert refused.returncode == 1
    assert "No column is matched to a reading." in refused.stdout
