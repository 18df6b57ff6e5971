"""What leaves the phone and what comes back: lost replies, lost desks, refusals, conflicts, a file carried by hand.

A real Chromium against a real `layby serve`; replies are lost on the way, never made up.
"""

from __future__ import annotations

import hashlib
import json
import re
import shutil
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.phone.test_changes import file
from tests.support.browser import Phone
from tests.support.hands import (
    choose,
    confirm_cautions,
    do,
    filed,
    go_to,
    hand_in,
    in_unit,
    ready_offline,
    sign,
    start_visit,
    to_day,
    write,
)
from tests.support.ops import Phone as Other
from tests.support.service import Service


def test_an_operation_carries_only_what_changed_on_what_it_saw(handset: Phone, service: Service) -> None:
    """A corrected reading is one leaf on the operation that last set it; an untouched step writes nothing."""
    page = handset.open(service.url)
    visit = start_visit(page, "M. Okafor")
    go_to(page, "Work")
    page.get_by_role("button", name="Fins straightened").click()
    go_to(page, "Customer and location")
    write(page, "Customer", "M. Okafor-Lane")
    go_to(page, "Vehicle")
    go_to(page, "Work")
    page.get_by_role("button", name="Fins straightened").click()
    hand_in(page)
    service.stop()
    ops, kept = filed(service, visit)
    assert [op["kind"] for op in ops] == ["visit.open", "visit.set", "work.add", "visit.set", "item.strike"]
    assert ops[3]["body"] == {"customer": {"name": "M. Okafor-Lane"}}
    assert ops[3]["base"] == {"/customer/name": ops[1]["id"]}
    assert [op["seq"] for op in ops] == [1, 2, 3, 4, 5]
    assert kept["customer"] == {"name": "M. Okafor-Lane"}
    assert kept["work"] == []


def test_a_lost_reply_files_nothing_twice(handset: Phone, service: Service) -> None:
    """The desk has filed it, the answer is lost: it waits here, is sent again, and is there once."""
    page = handset.open(service.url)
    lost = []

    def lose(route: Any) -> None:
        lost.append(json.loads(route.fetch().text()))
        route.abort("connectionreset")

    page.route("**/sync", lose)
    page.goto(service.url)
    visit = start_visit(page, "M. Okafor")
    to_day(page)
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#status")).to_contain_text("The desk doesn't answer.")
    expect(page.locator("#tally")).to_contain_text("0 filed, 1 waiting")
    assert [result["status"] for result in lost[0]["results"]] == ["accepted", "accepted"]
    page.unroute("**/sync")
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    service.stop()
    ops, _ = filed(service, visit)
    assert [op["kind"] for op in ops] == ["visit.open", "visit.set"]


def test_what_the_desk_has_lost_waits_again(handset: Phone, service: Service, folder: Path) -> None:
    """Filed here but missing from the receipts: the entry goes back to waiting and is sent again at once."""
    page = handset.open(service.url)
    visit = start_visit(page, "M. Okafor")
    hand_in(page)
    service.kill()
    lost = folder.rename(folder.with_name("lost"))
    folder.mkdir()
    shutil.copy(lost / "devices.json", folder)  # the desk still knows its phones
    service.start()
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#status")).to_have_text("2 entries delivered to the desk.")
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    service.stop()
    _, kept = filed(service, visit)
    assert kept["customer"]["name"] == "M. Okafor"


REFUSED = """async ([visit]) => {
  const { openOutbox } = (await import('/page.js')).$store_outbox;
  const { createCapture } = (await import('/page.js')).$visit_capture;
  const rulebook = await (await fetch('/rulebook.json')).json();
  const outbox = openOutbox();
  const capture = createCapture({ outbox, rulebook, device: await outbox.recall('device') });
  const page = await capture.open(visit, { started_at: capture.now() });
  const base = { '/vehicle/year': null, '/vehicle/plate': null };
  await capture.write(page, [{ kind: 'visit.set', base, body: { vehicle: { year: 'old', plate: 'LT 482' } } }]);
}"""


def test_a_refused_entry_is_kept_told_and_mended(handset: Phone, service: Service) -> None:
    """A fault of shape comes back as refused; the visit says where, and a replacement files the rest of the entry."""
    page = handset.open(service.url)
    visit = start_visit(page, "M. Okafor")
    to_day(page)
    page.evaluate(REFUSED, [visit])  # from a page of an older version, say: the form itself writes no such entry
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_contain_text("1 refused")
    page.get_by_role("link", name=re.compile("M. Okafor")).click()
    expect(page.get_by_text('year: "old"')).to_be_visible()
    page.get_by_role("button", name=re.compile("Leave that part out")).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Vehicle")
    write(page, "Year", "2011")
    to_day(page)
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_have_text("1 visit captured, 1 filed, 0 waiting, 0 refused.")
    service.stop()
    _, kept = filed(service, visit)
    assert kept["vehicle"] == {"plate": "LT 482", "year": 2011}


def test_two_entries_that_disagree_stand_side_by_side_and_a_person_settles(handset: Phone, service: Service) -> None:
    """Two phones change one field without having seen each other: both values are shown, one tap settles it."""
    page = handset.open(service.url)
    visit = start_visit(page, "M. Okafor")
    go_to(page, "Vehicle")
    to_day(page)
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    page.goto(f"{service.url}/visit/{visit}/vehicle")
    write(page, "Registration", "LT 428")
    other = Other("beef", ms=2_000_000_000_000)
    file(service, other.op(visit, "visit.set", {"vehicle": {"plate": "LT 482"}}, {"/vehicle/plate": None}))
    go_to(page, "Work")
    to_day(page)
    page.get_by_role("button", name="Send now").click()
    expect(page.get_by_text("Two entries disagree. Open the visit to see both.")).to_be_visible()
    page.goto(f"{service.url}/visit/{visit}/vehicle")
    expect(page.get_by_text("Two entries disagree: registration.")).to_be_visible()
    page.get_by_role("button", name=re.compile("^LT 428")).click()
    expect(page.get_by_text("Two entries disagree")).to_have_count(0)
    hand_in(page)
    service.stop()
    _, kept = filed(service, visit)
    assert kept["vehicle"]["plate"] == "LT 428"


def test_a_file_carried_by_hand_holds_what_waits(handset: Phone, service: Service) -> None:
    """With no desk in reach the waiting entries leave as a text file of op lines, framed and hashed, and stay here."""
    page = handset.open(service.url)
    ready_offline(page)
    service.stop()
    start_visit(page, "M. Okafor")
    to_day(page)
    with page.expect_download() as taken:
        page.get_by_role("button", name="Export to a file").click()
    lines = Path(taken.value.path()).read_bytes().split(b"\n")
    assert re.fullmatch(rb"layby-bundle 1 [0-9a-f]{16} 1/1", lines[0])
    assert lines[-2].split()[:2] == [b"end", b"2"]
    for line in lines[1:-2]:
        claimed, _, content = line.partition(b" ")
        assert hashlib.sha256(content).hexdigest().encode() == claimed
    expect(page.locator("#tally")).to_contain_text("1 waiting")


def test_lists_reach_the_desk_with_what_was_typed_for_them(handset: Phone, service: Service) -> None:
    """Checks, a rest reading, work, a move of refrigerant, consent and advice: each an item, numbers canonical."""
    page = handset.open(service.url)
    visit = start_visit(page)
    page.get_by_role("button", name="Work agreed").click()
    confirm_cautions(page)
    go_to(page, "Visual check")
    choose(page, "Condenser face", "dirty")
    in_unit(page, "oz")
    write(page, "Low side at rest", "4,7")
    go_to(page, "Work")
    do(page, "Condenser cleaned")
    do(page, "Charged")
    charged = page.get_by_role("group", name="Charged", exact=True)
    charged.get_by_label("Mass", exact=True).fill("2")
    go_to(page, "Result")
    write(page, "Advice for the customer", "Rinse the face each spring.")
    page.get_by_role("button", name="Finish the visit").click()
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#tally")).to_have_text("1 visit captured, 1 filed, 0 waiting, 0 refused.")
    service.stop()
    _, kept = filed(service, visit)
    assert [item["code"] for item in kept["consent"]] == ["work_agreed"]
    assert [(item["code"], item["state"]) for item in kept["checks"]] == [("face_clean", "fault")]
    (rest,) = kept["rests"]
    assert rest["low_kpa_g"] == pytest.approx(470)  # 1 bar is 100 kPa
    assert kept["typed"][f"{rest['id']}.low_kpa_g"] == {"text": "4,7", "unit": "bar"}
    assert [item["code"] for item in kept["work"]] == ["condenser_cleaned"]
    (move,) = kept["refrigerant_moves"]
    assert (move["kind"], move["grams"]) == ("charged", pytest.approx(2 * 28.349523125))  # NIST SP 811, appendix B
    assert [item["text"] for item in kept["advice"]] == ["Rinse the face each spring."]


DIGESTS = """async (visit) => {
  const outbox = (await import('/page.js')).$store_outbox.openOutbox();
  return (await outbox.opsOf(visit)).map((one) => one.digest);
}"""


def test_a_signature_binds_the_entries_it_was_given_for(handset: Phone, service: Service) -> None:
    """The strokes arrive as drawn, with the SHA-256 over the digests of every op line kept until then."""
    page = handset.open(service.url)
    visit = start_visit(page, "M. Okafor")
    go_to(page, "Result")
    sign(page)
    page.get_by_role("button", name="Save the signature").click()
    expect(page.get_by_text(re.compile("^Signed by M. Okafor at"))).to_be_visible()
    digests = page.evaluate(DIGESTS, visit)
    hand_in(page)
    service.stop()
    _, kept = filed(service, visit)
    signed = kept["signature"]
    assert signed["name"] == "M. Okafor"
    assert signed["of"] == hashlib.sha256("".join(one + "\n" for one in digests[:-1]).encode()).hexdigest()
    assert [len(stroke) > 4 for stroke in signed["strokes"]] == [True]
