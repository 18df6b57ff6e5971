"""The phone page in a real Chromium with a phone's screen: captured without a signal, killed, reopened, filed.

The desk is a real `layby serve`; what the page keeps is judged by what the desk then holds.
"""

from __future__ import annotations

import hashlib
import io
import json
import re
import shutil
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader
from werkzeug.serving import make_server

from tests.browser import Phone, phone
from tests.conftest import Service
from tests.hands import (
    choose,
    confirm_cautions,
    go_to,
    in_unit,
    meaning,
    ready_offline,
    saved,
    start_visit,
    write,
)

PSI = 6.894757293168  # kPa; NIST SP 811 (2008), appendix B.8


@pytest.fixture
def handset(tmp_path: Path) -> Iterator[Phone]:
    """A phone with an empty profile."""
    with phone(tmp_path / "profile") as made:
        yield made
        assert made.complaints == []


def gone(service: Service) -> bool:
    """Whether the service's port refuses; its worker may need a moment to see that its parent is no more."""
    patience = time.monotonic() + 20
    while time.monotonic() < patience:
        with socket.socket() as trial:
            if trial.connect_ex(("127.0.0.1", service.port)) != 0:
                return True
        time.sleep(0.05)
    return False


def filed(service: Service, visit: str) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """The operations of a visit as the desk holds them, and the visit they amount to; the service must be stopped."""
    from sync import rulebook
    from sync.logbook import Logbook

    with Logbook(service.folder, rulebook.load()) as logbook:
        return logbook.ops(visit), logbook.visit(visit)


def test_a_visit_outlives_the_server_and_the_browser(handset: Phone, service: Service) -> None:
    """Loaded once; then, with no server, captured, killed, reopened and finished; then filed once and made a sheet."""
    page = handset.open(service.url)
    ready_offline(page)
    service.kill()
    assert gone(service)

    page.reload()
    ready_offline(page)
    visit = start_visit(page)
    write(page, "Customer", "M. Okafor")
    write(page, "Where the vehicle stands", "Wren Lane 4, Alder Coast")
    in_unit(page, "Altitude", "ft")
    write(page, "Altitude", "2000")
    go_to(page, "Vehicle")
    write(page, "VIN", "1G4AH59H45G118341")
    expect(page.get_by_text("The check digit fits.")).to_be_visible()
    choose(page, "Refrigerant in it now", "R134a")
    confirm_cautions(page)
    go_to(page, "Before")
    in_unit(page, "Ambient at the face", "°F")
    write(page, "Ambient at the face", "81,5")
    expect(meaning(page, "Ambient at the face")).to_have_text("read as 81.5")
    in_unit(page, "Low side", "psi")
    write(page, "Low side", "26")
    write(page, "High side", "214")
    expect(meaning(page, "High side")).to_contain_text("condensing")
    expect(meaning(page, "High side")).to_contain_text("over ambient")
    write(page, "Suction line", "42")
    expect(meaning(page, "Suction line")).to_contain_text("superheat")
    go_to(page, "After")
    write(page, "High side", "167")
    saved(page)
    handset.kill()

    page = handset.open(f"{service.url}/visit/{visit}/after")
    assert gone(service)
    expect(page.get_by_label("High side", exact=True)).to_have_value("167")
    write(page, "Low side", "25")
    write(page, "Ambient at the face", "84")
    go_to(page, "Result")
    table = page.get_by_role("table")
    expect(table.get_by_role("row", name=re.compile("^high side psi"))).to_have_text(re.compile("214.*167"))
    expect(table).to_contain_text("fell 47 psi")
    choose(page, "How the visit ends", "done")
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


def test_works_offline_is_said_only_when_the_kept_files_are_this_pages(handset: Phone, service: Service) -> None:
    """A page of another version than the kept files does not say it."""
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
    """Readings open with the confirmation, and close again when a change of the vehicle brings another caution."""
    page = handset.open(service.url)
    start_visit(page)
    go_to(page, "Vehicle")
    choose(page, "Refrigerant in it now", "R134a")
    choose(page, "Drive", "combustion")
    go_to(page, "Before")
    expect(page.get_by_label("Low side", exact=True)).to_have_count(0)
    confirm_cautions(page)
    go_to(page, "Before")
    expect(page.get_by_label("Low side", exact=True)).to_be_visible()
    go_to(page, "Vehicle")
    choose(page, "Drive", "electric")
    go_to(page, "After")
    expect(page.get_by_label("Low side", exact=True)).to_have_count(0)
    confirm_cautions(page)
    go_to(page, "After")
    expect(page.get_by_label("Low side", exact=True)).to_be_visible()


def test_a_text_that_is_no_number_stays_and_writes_no_reading(handset: Phone, service: Service) -> None:
    """It is kept in the draft over a kill, said to be wrong at the field, and no operation carries it."""
    page = handset.open(service.url)
    visit = start_visit(page)
    confirm_cautions(page)
    go_to(page, "Before")
    write(page, "Low side", "2x6")
    write(page, "High side", "1400")
    saved(page)
    go_to(page, "Work")
    handset.kill()
    page = handset.open(f"{service.url}/visit/{visit}/before")
    field = page.get_by_label("Low side", exact=True)
    expect(field).to_have_value("2x6")
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(page.get_by_text("This is not a number")).to_be_visible()
    page.get_by_role("link", name="The day").click()
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    service.stop()
    _, kept = filed(service, visit)
    assert list(kept["tests"][0]["readings"]) == ["high_kpa_g"]


def test_an_operation_carries_only_what_changed_on_what_it_saw(handset: Phone, service: Service) -> None:
    """A corrected reading is one leaf on the operation that last set it; an untouched step writes nothing."""
    page = handset.open(service.url)
    visit = start_visit(page)
    write(page, "Customer", "M. Okafor")
    go_to(page, "Work")
    page.get_by_role("button", name="Condenser cleaned").click()
    go_to(page, "Customer and place")
    write(page, "Customer", "M. Okafor-Lane")
    go_to(page, "Vehicle")
    go_to(page, "Work")
    page.get_by_role("button", name="Condenser cleaned").click()
    page.get_by_role("link", name="The day").click()
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    service.stop()
    ops, kept = filed(service, visit)
    assert [op["kind"] for op in ops] == ["visit.open", "visit.set", "work.add", "visit.set", "item.strike"]
    assert ops[3]["body"] == {"customer": {"name": "M. Okafor-Lane"}}
    assert ops[3]["base"] == {"/customer/name": ops[1]["id"]}
    assert [op["seq"] for op in ops] == [1, 2, 3, 4, 5]
    assert kept["customer"] == {"name": "M. Okafor-Lane"}
    assert kept["work"] == []


def test_a_lost_reply_files_nothing_twice(handset: Phone, service: Service) -> None:
    """The desk has filed it, the answer is lost: it waits here, is sent again, and stands there once."""
    page = handset.open("about:blank")
    lost = []

    def lose(route: Any) -> None:
        lost.append(json.loads(route.fetch().text()))
        route.abort("connectionreset")

    page.route("**/sync", lose)
    page.goto(service.url)
    visit = start_visit(page)
    write(page, "Customer", "M. Okafor")
    page.get_by_role("link", name="The day").click()
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#status")).to_contain_text("The desk does not answer.")
    expect(page.locator("#tally")).to_contain_text("0 filed, 1 waiting")
    assert [result["status"] for result in lost[0]["results"]] == ["accepted", "accepted"]
    page.unroute("**/sync")
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    service.stop()
    ops, _ = filed(service, visit)
    assert [op["kind"] for op in ops] == ["visit.open", "visit.set"]


def test_what_the_desk_has_lost_waits_again(handset: Phone, service: Service, folder: Path) -> None:
    """Filed here but missing from the receipts: the entry goes back to waiting and is sent again."""
    page = handset.open(service.url)
    visit = start_visit(page)
    write(page, "Customer", "M. Okafor")
    page.get_by_role("link", name="The day").click()
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    service.kill()
    assert gone(service)
    folder.rename(folder.with_name("lost"))
    service.start()
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_contain_text("0 filed, 1 waiting")
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    service.stop()
    _, kept = filed(service, visit)
    assert kept["customer"]["name"] == "M. Okafor"


REFUSED = """async ([visit]) => {
  const { openOutbox } = await import('/outbox.js');
  const { createCapture } = await import('/capture.js');
  const rulebook = await (await fetch('/rulebook.json')).json();
  const outbox = openOutbox();
  const capture = createCapture({ outbox, rulebook, device: await outbox.recall('device') });
  const page = await capture.open(visit, { started_at: capture.now() });
  const base = { '/vehicle/year': null, '/vehicle/plate': null };
  await capture.write(page, [{ kind: 'visit.set', base, body: { vehicle: { year: 'old', plate: 'LT 482' } } }]);
}"""


def test_a_refused_entry_is_kept_told_and_mended(handset: Phone, service: Service) -> None:
    """A fault of shape comes back as refused; the visit says where, and a mending files the rest of the entry."""
    page = handset.open(service.url)
    visit = start_visit(page)
    write(page, "Customer", "M. Okafor")
    page.get_by_role("link", name="The day").click()
    page.evaluate(REFUSED, [visit])  # a page of an older make, say: the form itself writes no such entry
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_contain_text("1 refused")
    page.get_by_role("link", name=re.compile("M. Okafor")).click()
    expect(page.get_by_text('year: "old"')).to_be_visible()
    page.get_by_role("button", name=re.compile("Leave that part out")).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Vehicle")
    write(page, "Year", "2011")
    page.get_by_role("link", name="The day").click()
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_have_text("1 visit captured, 1 filed, 0 waiting, 0 refused.")
    service.stop()
    _, kept = filed(service, visit)
    assert kept["vehicle"] == {"plate": "LT 482", "year": 2011}


def test_two_entries_that_disagree_stand_side_by_side_and_a_person_settles(handset: Phone, service: Service) -> None:
    """Two tabs change one field without having seen each other: both values are shown, one tap settles it."""
    page = handset.open(service.url)
    visit = start_visit(page)
    write(page, "Customer", "M. Okafor")
    go_to(page, "Vehicle")
    assert handset.context is not None
    other = handset.context.new_page()
    handset.watch(other)
    other.goto(f"{service.url}/visit/{visit}/vehicle")
    write(other, "Plate", "LT 482")
    write(page, "Plate", "LT 428")
    go_to(page, "Work")
    go_to(other, "Work")
    page.reload()
    expect(page.get_by_text("Two entries disagree on plate.")).to_be_visible()
    page.get_by_role("button", name=re.compile("^LT 428")).click()
    expect(page.get_by_text("Two entries disagree")).to_have_count(0)
    page.get_by_role("link", name="The day").click()
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    service.stop()
    _, kept = filed(service, visit)
    assert kept["vehicle"]["plate"] == "LT 428"


@contextmanager
def newer_desk(service: Service, ground: Path) -> Iterator[None]:
    """The same desk on the same port after an update: here, one with another edition of the rulebook."""
    from server.app import create_app
    from sync import rulebook

    books = ground / "books"
    shutil.copytree(Path(rulebook.__file__).parent / "rulebook", books)
    kinds = books / "kinds.json"
    kinds.write_text(kinds.read_text("utf-8").rstrip() + "\n\n", "utf-8")
    app = create_app({"FOLDER": service.folder, "RULEBOOK": books})
    server = make_server("127.0.0.1", service.port, app, threaded=True)
    running = threading.Thread(target=server.serve_forever)
    running.start()
    try:
        yield
    finally:
        server.shutdown()
        running.join()
        server.server_close()
        app.extensions["layby"]["logbook"].close()


def version_of(page: Page) -> str | None:
    """The version that the page was made with."""
    return page.locator('meta[name="layby-version"]').get_attribute("content")


def test_a_newer_page_waits_until_a_person_takes_it(handset: Phone, service: Service, tmp_path: Path) -> None:
    """It never takes over by itself; taken by a tap, it finds what was being written."""
    page = handset.open(service.url)
    ready_offline(page)
    first = version_of(page)
    visit = start_visit(page)
    write(page, "Customer", "M. Okafor")
    saved(page)
    service.stop()
    with newer_desk(service, tmp_path):
        page.reload()
        expect(page.get_by_label("Customer", exact=True)).to_have_value("M. Okafor")
        page.wait_for_function("navigator.serviceWorker.getRegistration().then(one => Boolean(one.waiting))")
        assert version_of(page) == first
        page.get_by_role("link", name="The day").click()
        expect(page.get_by_text("A newer Layby is ready.")).to_be_visible()
        with page.expect_navigation():
            page.get_by_role("button", name="Take it now").click()
        ready_offline(page)
        assert version_of(page) != first
        page.goto(f"{service.url}/visit/{visit}/customer")
        expect(page.get_by_label("Customer", exact=True)).to_have_value("M. Okafor")


UPGRADED = """async () => {
  const { openOutbox, UPGRADES } = await import('/outbox.js');
  const older = openOutbox();
  const before = await older.pending(0, 1000);
  const newer = openOutbox({ upgrades: [...UPGRADES, (database) => database.createObjectStore('later')] });
  const after = await newer.pending(0, 1000);
  return [before.map((one) => one.digest), after.map((one) => one.digest), (await newer.drafts()).length];
}"""


def test_an_upgrade_of_the_phones_database_keeps_what_waits(handset: Phone, service: Service) -> None:
    """Operations and drafts are there, unchanged, after the database has been given another version."""
    page = handset.open(service.url)
    ready_offline(page)
    service.stop()
    start_visit(page)
    write(page, "Customer", "M. Okafor")
    go_to(page, "Vehicle")
    write(page, "Year", "two thousand")
    saved(page)
    before, after, drafts = page.evaluate(UPGRADED)
    assert len(before) == 2
    assert after == before
    assert drafts == 1


def test_a_full_disk_loses_no_word_on_the_screen(handset: Phone, service: Service) -> None:
    """When the browser has no room left the page says that it was not saved, keeps the text, and saves it later."""
    page = handset.open(service.url)
    ready_offline(page)
    assert handset.context is not None
    devtools = handset.context.new_cdp_session(page)
    start_visit(page)
    devtools.send("Storage.overrideQuotaForOrigin", {"origin": service.url, "quotaSize": 1})
    write(page, "Customer", "M. Okafor")
    expect(page.locator("#status")).to_contain_text("storage is full")
    expect(page.get_by_label("Customer", exact=True)).to_have_value("M. Okafor")
    devtools.send("Storage.overrideQuotaForOrigin", {"origin": service.url})
    write(page, "Telephone", "555-0123")
    saved(page)


def test_a_file_carried_by_hand_holds_what_waits(handset: Phone, service: Service) -> None:
    """With no desk in reach the waiting entries leave as a text file of op lines, framed and hashed, and stay here."""
    page = handset.open(service.url)
    ready_offline(page)
    service.stop()
    start_visit(page)
    write(page, "Customer", "M. Okafor")
    page.get_by_role("link", name="The day").click()
    with page.expect_download() as taken:
        page.get_by_role("button", name="Take out a file").click()
    lines = Path(taken.value.path()).read_bytes().split(b"\n")
    assert re.fullmatch(rb"layby-bundle 1 [0-9a-f]{16} 1/1", lines[0])
    assert lines[-2].split()[:2] == [b"end", b"2"]
    for line in lines[1:-2]:
        claimed, _, content = line.partition(b" ")
        assert hashlib.sha256(content).hexdigest().encode() == claimed
    expect(page.locator("#tally")).to_contain_text("1 waiting")
