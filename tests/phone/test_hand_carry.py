"""By hand and back: parts as the phone writes them, receipts as the desk gives them, and what each does on the phone.

A real Chromium, a real `layby receive` on the files it wrote, and its receipts chosen on the page.
"""

from __future__ import annotations

import base64
import hashlib
import random
import re
from pathlib import Path

from playwright.sync_api import Page, expect

from sync.records.embedded.folder_files import FolderFiles
from sync.records.photos import PhotoStore
from sync.wire import bundle
from tests.phone.test_photos import kept, photograph, shown, take
from tests.support import children
from tests.support.browser import Phone
from tests.support.hands import filed, go_to, start_visit, to_day
from tests.support.ops import Phone as OtherPhone
from tests.support.ops import line_of
from tests.support.service import LAYBY, Service


def taken_out(page: Page, path: Path) -> Path:
    """The file that the phone writes from what waits."""
    with page.expect_download() as taken:
        page.get_by_role("button", name="Export to a file").click()
    taken.value.save_as(path)
    return path


def received(service: Service, *paths: Path) -> list[Path]:
    """The receipts of `layby receive`, whatever it said about the files."""
    command = [str(LAYBY), "--folder", str(service.folder), "receive", *map(str, paths)]
    done = children.run(command)
    assert done.returncode < 2, done.stderr
    return [path.with_name(f"{path.stem}-receipt.txt") for path in paths]


def choose_receipts(page: Page, *paths: Path) -> str:
    """Choose receipt files on the phone; returns what it says about them."""
    page.get_by_role("link", name="Settings").click()
    page.get_by_role("button", name="Carry by hand").click()
    page.get_by_label("Receipts from the desk").set_input_files([str(path) for path in paths])
    expect(page.locator(".receipts p")).to_have_count(len(paths))
    said = page.locator(".receipts").inner_text()
    page.get_by_role("button", name="Back to all visits").click()
    return said


def with_a_visit_out_of_reach(handset: Phone, service: Service) -> tuple[Page, str]:
    """The day screen after a visit's first entries, with the desk gone."""
    page = handset.open(service.url)
    expect(page.locator("#offline")).to_contain_text("works offline")
    service.stop()
    visit = start_visit(page, "M. Okafor")
    to_day(page)
    expect(page.locator("#tally")).to_contain_text("0 filed, 1 waiting")
    return page, visit


def test_entries_go_by_hand_and_the_receipt_files_them(handset: Phone, service: Service, tmp_path: Path) -> None:
    """Exported, received while no service runs, the receipt chosen: filed as by network, never sent again."""
    page, visit = with_a_visit_out_of_reach(handset, service)
    [receipt] = received(service, taken_out(page, tmp_path / "monday.txt"))
    expect(page.locator("#tally")).to_contain_text("0 filed, 1 waiting")
    said = choose_receipts(page, receipt)
    assert said == "monday-receipt.txt: 2 entries filed."
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    service.start()
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#status")).to_have_text("Nothing to send.")
    service.stop()
    ops, visited = filed(service, visit)
    assert [op["kind"] for op in ops] == ["visit.open", "visit.set"]
    assert visited["customer"]["name"] == "M. Okafor"


def test_a_line_damaged_on_its_way_keeps_waiting(handset: Phone, service: Service, tmp_path: Path) -> None:
    """One byte changed in the customer's name: the opening is filed; the name, intact here, goes a second time."""
    page, visit = with_a_visit_out_of_reach(handset, service)
    path = taken_out(page, tmp_path / "monday.txt")
    path.write_bytes(path.read_bytes().replace(b"M. Okafor", b"M. Okafur"))
    said = choose_receipts(page, *received(service, path))
    assert said.startswith("monday-receipt.txt: 1 entry filed. 2 lines were damaged on the way to the desk")
    expect(page.locator("#tally")).to_contain_text("0 filed, 1 waiting, 0 refused")
    [receipt] = received(service, taken_out(page, tmp_path / "tuesday.txt"))
    choose_receipts(page, receipt)
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")
    assert filed(service, visit)[1]["customer"]["name"] == "M. Okafor"


def test_a_receipt_that_counts_damaged_lines_says_how_many(
    handset: Phone, service: Service, tmp_path: Path
) -> None:
    """For a file with forty lines of noise the receipt has fewer lines: all entries are filed, all noise is counted."""
    page, _ = with_a_visit_out_of_reach(handset, service)
    path = taken_out(page, tmp_path / "monday.txt")
    head, rest = path.read_bytes().split(b"\n", 1)
    path.write_bytes(head + b"\n" + b"noise\n" * 40 + rest)
    said = choose_receipts(page, *received(service, path))
    assert said.startswith("monday-receipt.txt: 2 entries filed. 41 lines were damaged"), "the file as a whole is one"
    expect(page.locator("#tally")).to_contain_text("1 filed, 0 waiting")


def test_receipts_that_are_none_change_nothing(handset: Phone, service: Service, tmp_path: Path) -> None:
    """Another phone's, some other file, an empty one: each is named; one that lost a line and its end is used as far as
    it reads.
    """
    page, _ = with_a_visit_out_of_reach(handset, service)
    mine = taken_out(page, tmp_path / "monday.txt")
    other = OtherPhone("b0b0")
    theirs = tmp_path / "other.txt"
    theirs.write_bytes(b"layby-bundle 1 b0b0 1/1\n" + line_of(other.opening(other.new_id())))
    note, empty = tmp_path / "note.txt", tmp_path / "empty.txt"
    note.write_text("fetch the hoses")
    empty.write_text("")
    [their_receipt] = received(service, theirs)
    said = choose_receipts(page, their_receipt, note, empty).splitlines()
    assert "another phone" in said[0]
    assert all("isn't a receipt from the desk" in line for line in said if "note.txt" in line or "empty.txt" in line)
    expect(page.locator("#tally")).to_contain_text("0 filed, 1 waiting")
    [receipt] = received(service, mine)
    head, first, second, _ = receipt.read_bytes().split(b"\n", 3)
    receipt.write_bytes(head + b"\r\n" + first + b"\r\n" + second[:-4])
    said = choose_receipts(page, receipt)
    assert "1 entry filed." in said
    assert "damaged on the way back" in said
    expect(page.locator("#tally")).to_contain_text("0 filed, 1 waiting")


def test_photos_go_by_hand_with_their_entries(handset: Phone, service: Service, tmp_path: Path) -> None:
    """Two photos exported out of reach: kept at the desk byte for byte, and the receipt tells the phone."""
    page, _ = with_a_visit_out_of_reach(handset, service)
    page.get_by_role("link", name=re.compile("M. Okafor")).click()
    go_to(page, "Vehicle")
    take(page, "arrival", photograph(tmp_path / "one.jpg", grain=True), photograph(tmp_path / "two.jpg", shade=20))
    shown(page, "arrival", 2)
    to_day(page)
    expect(page.locator("#photos")).to_contain_text("2 photos")
    carried = {photo["sha256"]: photo["bytes"] for photo in kept(page)}
    path = taken_out(page, tmp_path / "monday.txt")
    said = choose_receipts(page, *received(service, path))
    assert said == "monday-receipt.txt: 4 entries filed. 2 of 2 photos filed."
    store = PhotoStore(FolderFiles(service.folder))
    assert {name: store.bytes_of(name) for name in carried} == carried
    assert [photo["state"] for photo in kept(page)] == ["held", "held"]
    expect(page.locator("#photos")).to_have_count(0)
    assert bundle.read(taken_out(page, tmp_path / "tuesday.txt").read_bytes()).pieces == {}


PARTS = """async ([lines, photos, most]) => {
  const { bundleParts } = (await import('/page.js')).$sync_bundle;
  const bytes = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0)).buffer;
  const records = lines.map((line) => ({ digest: line.slice(0, 64), json: line.slice(65) }));
  async function* each() { for (const [sha256, content] of photos) yield { sha256, bytes: bytes(content) }; }
  return bundleParts('a1de', records, each(), most);
}"""


def test_parts_hold_everything_once_and_stay_small(handset: Phone, service: Service) -> None:
    """Forty entries and three photos in parts of 60 kB: each valid by itself; only a photo by itself is larger."""
    page = handset.open(service.url)
    writer = OtherPhone("a1de")
    visit = writer.new_id()
    ops = [writer.op(visit, "visit.set", {"complaint": "ö" * 1500}, {"/complaint": None}) for _ in range(40)]
    lines = [line_of(op).decode().removesuffix("\n") for op in ops]
    photos = [random.Random(seed).randbytes(size) for seed, size in ((1, 48_000), (2, 120_001), (3, 9))]
    named = [[hashlib.sha256(photo).hexdigest(), base64.b64encode(photo).decode()] for photo in photos]
    texts = [text.encode() for text in page.evaluate(PARTS, [lines, named, 60_000])]
    parts = [bundle.read(text) for text in texts]
    assert [part.part for part in parts] == [f"{number}/{len(parts)}" for number in range(1, len(parts) + 1)]
    assert all(part.faults == {} for part in parts)
    assert [line.decode() for part in parts for line in part.lines.values()] == lines
    for name, photo in zip((name for name, _ in named), photos, strict=True):
        [holder] = [part for part in parts if any(piece.photo == name for piece in part.pieces.values())]
        assert b"".join(piece.content for piece in holder.pieces.values() if piece.photo == name) == photo
    large = [text for text in texts if len(text) > 60_000]
    assert len(large) == 2, "the first two photos, which are larger than a part when written as text"
    assert len(parts) > 4
    [only] = [bundle.read(text.encode()) for text in page.evaluate(PARTS, [[], [], 60_000])]
    assert (only.part, only.lines, only.faults) == ("1/1", {}, {})
