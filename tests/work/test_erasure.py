"""Erasing a customer: nothing of them left in any file, nothing of others lost, complete through any kill."""

from __future__ import annotations

import json
import shutil
import sys
import textwrap
import zipfile
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from sync import rulebook as books
from sync.records import erasure
from sync.records.embedded.framing import blank, check_in, framed, unframed
from sync.records.erasure import ErasureUnfinished
from sync.records.logbook import Logbook
from sync.records.photos import PhotoStore, PhotoTooLarge, file_of
from sync.records.sheet_records import SheetRecords
from sync.records.store.interface import Entry
from sync.wire import responses
from sync.wire.schemas import schemas_of
from sync.work.changes import changes
from sync.work.customer_data import UnknownCustomer, data_about
from sync.work.customer_export import export
from sync.work.erasure import erase
from sync.work.intake import receive
from sync.work.rebuild import rebuild
from tests.records.test_photos import name_of, photo
from tests.support import children
from tests.support.ops import JUNE_12, Phone, body_of, line_of
from tests.support.ops import framed as line_framed
from tests.support.service import LAYBY, ROOT, Service

Books = dict[str, Any]
# Everything that would reveal the customer, including the vehicle's mark.
TRACES = ("Okafor", "okafor@", "555-0123", "Wren Lane", "LT 482", "rattles when cold")


class Town:
    """Two customers' visits from two phones, with photos, sheets and letters; what each phone has sent."""

    def __init__(self, logbook: Logbook) -> None:
        self.logbook = logbook
        self.phones = [Phone("a1de"), Phone("b0b0", JUNE_12 + 90_000_000)]
        self.sent: list[dict[str, Any]] = []
        self.okafor = [self.visit(0, "M. Okafor"), self.visit(1, "m.  OKAFOR")]
        self.okafor.append(self.visit(0, "Mo Okafor", email="m.okafor@wren.example"))
        self.lund = [self.visit(1, "S. Lund"), self.visit(0, "S. Lund", photos=(photo(1), photo(4)))]
        self.send(self.phones[0].op(self.okafor[0], "visit.set", {"wheels": "Okafor"}))

    def send(self, *ops: dict[str, Any]) -> list[dict[str, Any]]:
        """File operations; returns the answers."""
        self.sent += ops
        found: list[dict[str, Any]] = receive(self.logbook, body_of(*ops), JUNE_12)["results"]
        return found

    def visit(self, number: int, name: str, email: str = "", photos: tuple[bytes, ...] = ()) -> str:
        """A visit with customer, place, vehicle, a test, photos, a sheet and a letter; returns its id."""
        phone = self.phones[number]
        visit = phone.new_id()
        okafor = "okafor" in name.casefold()
        customer = {"name": name, "phone": "555-0123" if okafor else "555-0188"} | ({"email": email} if email else {})
        if okafor:
            customer["id"] = "c-7"
            photos = (photo(1), photo(2))
        body = {"customer": customer, "vehicle": {"plate": "LT 482" if okafor else "ALD 4127"},
                "complaint": "rattles when cold" if okafor else "warm"}
        body["place"] = {"label": "Wren Lane 4" if okafor else "Harbour car park"}
        said = [*(f"/customer/{key}" for key in customer), "/vehicle/plate", "/complaint", "/place/label"]
        base = dict.fromkeys(said)
        ops = [phone.opening(visit), phone.op(visit, "visit.set", body, base), phone.test(visit, vent_c=7.0)]
        store = PhotoStore(self.logbook.files)
        for content in photos:
            if store.bytes_of(name_of(content)) is None:
                store.append(name_of(content), 0, len(content), content)
            ops.append(phone.op(visit, "photo.add", {"sha256": name_of(content), "role": "before"}))
        assert {result["status"] for result in self.send(*ops)} == {"accepted"}
        sheets = SheetRecords(self.logbook)
        sheets.keep(visit, "ab" * 32, f"%PDF-1.7 {name}".encode(), JUNE_12)
        sheets.note(visit, "ab" * 32, {"state": "approved", "at": JUNE_12, "reason": None})
        sheets.leave(f"{visit}-abababababab-1.eml", f"To: {name}".encode())
        return visit


@pytest.fixture
def logbook(folder: Path, rulebook: Books) -> Iterator[Logbook]:
    """An empty logbook, open."""
    with Logbook(folder, rulebook, floor_bytes=0) as opened:
        yield opened


def traces(folder: Path) -> list[str]:
    """Which files still reveal the customer."""
    found = []
    for path in folder.rglob("*"):
        content = path.read_bytes().decode("utf-8", "replace") if path.is_file() else ""
        if any(trace.casefold() in content.casefold() for trace in TRACES):
            found.append(path.relative_to(folder).as_posix())
    return found


def others(town: Town, logbook: Logbook) -> Any:
    """Everything the logbook answers about the other customer."""
    days = [date(2026, 6, day) for day in range(1, 31)]
    sheets = SheetRecords(logbook)
    found = [[visit for visit in logbook.visits_on(day) if visit in town.lund] for day in days]
    return (
        [logbook.visit(visit) for visit in town.lund],
        [logbook.visit_heads(visit) for visit in town.lund],
        [sheets.records(visit) for visit in town.lund],
        [sheets.pdf(sheets.records(visit)[0]) for visit in town.lund],
        [visit for visit, _ in sheets.underway() if visit in town.lund],
        found,
    )


def test_nothing_is_left_of_an_erased_customer(logbook: Logbook, tmp_path: Path, rulebook: Books) -> None:
    """No file of the folder reveals them, open or closed; what is held about others is unchanged, byte for byte."""
    town = Town(logbook)
    before = others(town, logbook)
    logbook.flush()
    assert len(traces(logbook.folder)) > 8
    (logbook.folder / "journal.torn-1").write_text(f"half a line of {town.okafor[0]}: Okafor")
    told = erase(logbook, "M. Okafor", JUNE_12)
    assert told == {"visits": 3, "entries": 16, "photos": 1}
    logbook.flush()
    assert traces(logbook.folder) == []
    assert not (logbook.folder / "journal.torn-1").exists()
    assert others(town, logbook) == before
    assert [logbook.ops(visit) for visit in town.okafor] == [[], [], []]
    assert SheetRecords(logbook).underway() == [(visit, "ab" * 32) for visit in town.lund]
    logbook.close()
    assert traces(logbook.folder) == []
    shutil.rmtree(logbook.folder / "pages")
    with Logbook(logbook.folder, rulebook, floor_bytes=0) as again:
        assert others(town, again) == before
        assert again.store.damage == []


def test_what_was_left_lying_about_goes_too(logbook: Logbook) -> None:
    """Books of the visits' days, files that a kill left unfinished, a torn entry beside the visits; others' stay."""
    town = Town(logbook)
    logbook.flush()
    books, pages = logbook.folder / "books", logbook.folder / "pages" / "days"
    books.mkdir()
    mine = [books / name for name in ("day-2026-06-12.pdf", "day-2026-06-12-visits.csv", ".day-2026-06-12.pdf.new",
                                      "ledger-2026-01-01-2026-06-30.csv", "ledger-2026-06-12-2026-06-12.pdf")]
    mine += [pages / ".2026-06-12.json.new", logbook.folder / "spool" / f".{town.okafor[0]}-1.eml.new"]
    mine.append(logbook.folder / "journal.torn-7")
    kept = [books / name for name in ("day-2026-06-11.pdf", "ledger-2026-06-13-2026-06-30.pdf")]
    kept.append(logbook.folder / "journal.torn-8")
    for path in (*mine, *kept):
        path.parent.mkdir(exist_ok=True)
        path.write_text('{"visit":null,"body":{"id":"c-7"}} Okafor' if path in mine else '{"id":"c-70"}')
    erase(logbook, "M. Okafor", JUNE_12)
    assert [path.name for path in mine if path.exists()] == []
    assert all(path.exists() for path in kept)
    assert traces(logbook.folder) == []


def test_a_damaged_entry_of_the_customer_goes_too(logbook: Logbook, rulebook: Books) -> None:
    """Only a person with an editor can read it; the damaged entry of another customer stays for that."""
    town = Town(logbook)
    for visit, name in ((town.okafor[0], "Okafor rattles"), (town.lund[0], "Lund hums")):
        last = town.phones[0].op(visit, "advice.add", {"id": f"a-{name[:4]}", "text": name})
        assert town.send(last)[0]["status"] == "accepted"
    town.send(town.phones[0].opening(town.phones[0].new_id()))
    logbook.close()
    path = logbook.folder / "journal.log"
    content = path.read_bytes().replace(b"Okafor rattles", b"Okafor_rattles").replace(b"Lund hums", b"Lund_hums")
    path.write_bytes(content)
    with Logbook(logbook.folder, rulebook, floor_bytes=0) as opened:
        opened.look_through()
        places = opened.store.damage
        assert places
        erase(opened, "M. Okafor", JUNE_12)
        opened.flush()
        assert traces(opened.folder) == []
        assert b"Lund_hums" in path.read_bytes()
        assert path.read_bytes()[len(content) :].count(b'"kind":"erasure"') == 2
        assert len([record for record in opened.store.records() if record.result["status"] == "accepted"]) > 8
        assert opened.store.damage == places


def test_an_erased_photo_that_comes_again_is_not_stored(logbook: Logbook) -> None:
    """A phone that hasn't heard of the erasure sends it again, whole, in pieces or by hand: acknowledged, not kept."""
    Town(logbook)
    erase(logbook, "M. Okafor", JUNE_12)
    store, content = PhotoStore(logbook.files), photo(2)
    sha = name_of(content)
    assert store.append(sha, 0, len(content), content[:1000]) == 1000
    assert store.append(sha, 1000, len(content), content[1000:]) == len(content)
    assert (store.offset(sha), store.bytes_of(sha)) == ((0, None), None)
    assert [path for path in (logbook.folder / "photos").rglob("*") if path.name.startswith(sha)] == []
    with pytest.raises(PhotoTooLarge):
        store.append(sha, 0, 10, content)


def test_an_erasure_that_could_not_end_is_ended_before_the_next(logbook: Logbook) -> None:
    """Something blocks the first: it says so, and the second removes both customers' data."""
    town = Town(logbook)
    in_the_way = logbook.folder / "books" / "day-2026-06-12-odd"
    in_the_way.mkdir(parents=True)
    with pytest.raises(ErasureUnfinished):
        erase(logbook, "M. Okafor", JUNE_12)
    with pytest.raises(ErasureUnfinished):
        erase(logbook, town.lund[0], JUNE_12 + 1)
    in_the_way.rmdir()
    erase(logbook, town.lund[0], JUNE_12 + 1)
    logbook.flush()
    assert traces(logbook.folder) == []
    assert [len(one["visits"]) for one in logbook.erased.erasures] == [3, 1]
    assert not (logbook.folder / "erasure-under-way.json").exists()


def on_pages(folder: Path) -> dict[str, Any]:
    """The content of all pages, by page and table, wherever it is in the file; empty tables don't count."""
    found: dict[str, Any] = {}
    for path in sorted((folder / "pages").rglob("*.json")):
        for table, entries in json.loads(path.read_bytes()).items():
            if table != "page" and entries:
                listed = sorted(entries.values(), key=lambda entry: str(entry["key"]))
                found[f"{path.relative_to(folder)} {table}"] = listed
    return found


def test_mended_pages_are_those_that_the_journal_would_make(logbook: Logbook) -> None:
    """After cards, conflicts and refusals of both customers: the pages as corrected, and as made from the blanks."""
    town = Town(logbook)
    phone = town.phones[1]
    for visit in (town.okafor[0], town.lund[0]):
        town.send(phone.plate(visit, "LT 482" if visit in town.okafor else "ALD 9"))
        work = phone.op(visit, "work.add", {"id": "w1", "code": "other"})
        town.send(phone.op(visit, "visit.set", {"wheels": 4}), work)
    town.send(phone.beside("customer.set", {"/address": None}, id="c-7", address="Wren Lane 4"))
    receive(logbook, line_framed(b"{"), JUNE_12)
    erase(logbook, "M. Okafor", JUNE_12)
    logbook.flush()
    mended = on_pages(logbook.folder)
    assert not any((logbook.folder / "pages").rglob("*.unreadable-*"))
    rebuild(logbook, lambda done, of: None)
    assert on_pages(logbook.folder) == mended


def test_a_photo_that_another_visit_shows_stays(logbook: Logbook) -> None:
    """Of the customer's two photos, one is in another's visit too."""
    Town(logbook)
    erase(logbook, "c-7", JUNE_12)
    store = PhotoStore(logbook.files)
    assert [store.bytes_of(name_of(photo(seed))) is None for seed in (1, 2, 4)] == [False, True, False]


def test_erased_entries_that_come_again_are_accepted_and_not_stored(logbook: Logbook, rulebook: Books) -> None:
    """All of them, including a refused and a damaged one, before and after a new start; the others are repeats."""
    town = Town(logbook)
    damaged = line_of(town.phones[0].plate(town.okafor[0], "LT 482"))[:-4] + b'3"}}\n'
    receive(logbook, damaged, JUNE_12)
    town.send(town.phones[0].opening(town.phones[0].new_id()))
    erase(logbook, "M. Okafor", JUNE_12)
    size = (logbook.folder / "journal.log").stat().st_size

    def again(opened: Logbook) -> None:
        for op in town.sent:
            [result] = receive(opened, line_of(op), JUNE_12)["results"]
            assert (result["status"], result["repeat"]) == ("accepted", True)
            assert result["digest"] == line_of(op)[:64].decode()
        assert receive(opened, damaged, JUNE_12)["results"][0]["status"] == "accepted"
        assert (opened.folder / "journal.log").stat().st_size == size

    again(logbook)
    logbook.close()
    with Logbook(logbook.folder, rulebook, floor_bytes=0) as opened:
        again(opened)
        assert traces(logbook.folder) == []


def test_what_a_phone_still_writes_for_an_erased_visit_is_not_taken_in(logbook: Logbook) -> None:
    """An entry made after the erasure, valid or not: it waits on the phone with a sentence, and nothing is stored."""
    town = Town(logbook)
    erase(logbook, "M. Okafor", JUNE_12)
    size = (logbook.folder / "journal.log").stat().st_size
    phone = town.phones[0]
    late = [phone.plate(town.okafor[0], "LT 482"), phone.op(town.okafor[1], "visit.set", {"wheels": 4})]
    for op in late:
        [result] = receive(logbook, line_of(op), JUNE_12)["results"]
        assert (result["status"], result["problem"]["code"]) == ("deferred", "visit_erased")
        assert "erased" in result["problem"]["detail"]
    assert (logbook.folder / "journal.log").stat().st_size == size
    assert town.send(phone.plate(town.lund[1], "ALD 4128"))[0]["status"] in ("accepted", "conflict")
    assert receive(logbook, line_framed(b"{"), JUNE_12)["results"][0]["status"] == "rejected"


def test_what_comes_in_once_an_erasure_is_written_down_is_not_taken_in(
    logbook: Logbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It isn't among what was found, so nothing would ever remove it."""
    town = Town(logbook)
    late = town.phones[0].plate(town.okafor[0], "LT 482")
    finish, answers = erasure.finish, list[dict[str, Any]]()

    def filed_first(erasing: erasure.Erasing) -> bool:
        if erasing.files.size(erasure.PLAN) is not None:
            answers.extend(receive(logbook, line_of(late), JUNE_12)["results"])
        return finish(erasing)

    monkeypatch.setattr(erasure, "finish", filed_first)
    erase(logbook, "M. Okafor", JUNE_12)
    assert [one["problem"]["code"] for one in answers] == ["visit_erased"]
    assert traces(logbook.folder) == []


def test_the_record_of_an_erasure_names_nobody(logbook: Logbook) -> None:
    """When, how much, which visits and devices; cursors grow, and no op's id is in it."""
    town = Town(logbook)
    erase(logbook, "M. Okafor", JUNE_12 + 1)
    erase(logbook, town.lund[0], JUNE_12 + 2)
    first, second = logbook.erased.erasures
    assert first["visits"] == sorted(town.okafor)
    assert (first["customers"], first["entries"], first["photos"], first["at"]) == (["c-7"], 16, 1, JUNE_12 + 1)
    assert first["devices"] == ["a1de", "b0b0"]
    assert second["visits"] == [town.lund[0]]
    assert second["cursor"] > first["cursor"] > 0
    kept = b"".join(record.line for record in logbook.store.records() if b'"erasure"' in record.line).decode()
    assert first["visits"][0] in kept
    assert not any(op["id"] in kept for op in town.sent)


def test_devices_that_took_part_are_told_once(logbook: Logbook) -> None:
    """Through their changes, with the visits' ids; a third device isn't; what was told about their sheets is gone."""
    town = Town(logbook)
    third = Phone("c0c0")
    town.send(third.opening(third.new_id()))
    before = {device: changes(logbook, device, "")["cursor"] for device in ("a1de", "b0b0", "c0c0")}
    erase(logbook, "M. Okafor", JUNE_12)
    told = {device: changes(logbook, device, cursor)["changes"] for device, cursor in before.items()}
    erased = {"kind": "erased", "visits": sorted(town.okafor), "customers": ["c-7"], "vehicles": []}
    assert [change for change in told["a1de"] if change["kind"] == "erased"] == [erased]
    assert [change for change in told["b0b0"] if change["kind"] == "erased"] == [erased]
    assert told["c0c0"] == []
    answer = changes(logbook, "b0b0", "")
    assert schemas_of(logbook.rulebook).of(responses.CHANGES).validate(answer) == {}
    anew = answer["changes"]
    assert not any(visit in json.dumps(change) for visit in town.okafor for change in anew if change != erased)
    assert len([change for change in anew if change["kind"] == "sheet"]) == 2  # made and approved, of its own


def test_cards_go_with_their_customer(logbook: Logbook) -> None:
    """Corrections of the customer and of a vehicle that only they brought, a baseline, a merge, a refused one; the card
    of a vehicle that another customer has brought since stays, except for what a visit of theirs showed.
    """
    town = Town(logbook)
    phone = town.phones[0]
    own, sold = ({"vehicle": {"id": name}} for name in ("v-own", "v-sold"))
    base = {"/vehicle/id": None}
    town.send(phone.op(town.okafor[0], "visit.set", own, base), phone.op(town.okafor[1], "visit.set", sold, base))
    town.send(phone.op(town.lund[0], "visit.set", sold, base))
    mine = [
        phone.beside("customer.set", {"/address": None}, id="c-7", address="Wren Lane 4"),
        phone.beside("customer.merge", keep="c-8", drop="c-7"),
        phone.beside("vehicle.set", {"/plate": None}, id="v-own", plate="LT 482"),
        phone.beside("baseline.mark", vehicle="v-sold", visit=town.okafor[1], test="b1", healthy=True),
        phone.beside("customer.set", {"/name": None}, id="c-7", name=["Okafor"]),
    ]
    kept = phone.beside("vehicle.set", {"/plate": None}, id="v-sold", plate="ALD 9")
    assert [result["status"] for result in town.send(*mine, kept)] == ["accepted"] * 4 + ["rejected", "accepted"]
    before = others(town, logbook)
    erase(logbook, "M. Okafor", JUNE_12)
    logbook.flush()
    assert traces(logbook.folder) == []
    assert [op["id"] for op in logbook.card_ops("vehicle", "v-sold")] == [kept["id"]]
    assert logbook.card_ops("customer", "c-7") + logbook.card_ops("vehicle", "v-own") == []
    assert others(town, logbook) == before
    for op in mine:
        [result] = receive(logbook, line_of(op), JUNE_12)["results"]
        assert (result["status"], result["repeat"]) == ("accepted", True)
    late = phone.beside("customer.set", {"/phone": None}, id="c-7", phone="555-0123")
    assert receive(logbook, line_of(late), JUNE_12)["results"][0]["problem"]["code"] == "visit_erased"
    [erasure] = logbook.erased.erasures
    assert (erasure["customers"], erasure["vehicles"]) == (["c-7", "c-8"], ["v-own"])


def test_a_vehicle_that_comes_back_is_corrected_as_any_other(logbook: Logbook) -> None:
    """Its id is made from its number: sold to somebody else, the car has the erased id, and its card starts again."""
    town = Town(logbook)
    phone = town.phones[0]
    own = {"vehicle": {"id": "v-own"}}
    town.send(phone.op(town.okafor[0], "visit.set", own, {"/vehicle/id": None}))
    erase(logbook, "M. Okafor", JUNE_12)
    colour = phone.beside("vehicle.set", {"/make": None}, id="v-own", make="Saab")
    assert receive(logbook, line_of(colour), JUNE_12)["results"][0]["status"] == "deferred"
    town.send(phone.op(town.lund[0], "visit.set", own, {"/vehicle/id": None}))
    assert receive(logbook, line_of(colour), JUNE_12)["results"][0]["status"] == "accepted"
    assert [op["id"] for op in logbook.card_ops("vehicle", "v-own")] == [colour["id"]]


@pytest.mark.parametrize("wanted", ["M. Okafor", "m. okafor ", "c-7", "555-0123", "5550123", "m.okafor@WREN.example"])
def test_a_customer_is_found_by_whatever_names_them(logbook: Logbook, wanted: str) -> None:
    """Each of these leads to the id that all three visits have."""
    town = Town(logbook)
    held = data_about(logbook, wanted)
    assert list(held.visits) == sorted(town.okafor)
    assert held.photos == {name_of(photo(2))}


@pytest.mark.parametrize("wanted", ["Okafor", "", "555", "LT 482", "nobody", "0123", "*"])
def test_half_a_name_finds_nobody(logbook: Logbook, wanted: str) -> None:
    """A text that could mean somebody else isn't taken for a customer; nothing is erased."""
    Town(logbook)
    size = (logbook.folder / "journal.log").read_bytes()
    with pytest.raises(UnknownCustomer):
        erase(logbook, wanted, JUNE_12)
    assert (logbook.folder / "journal.log").read_bytes() == size
    assert logbook.erased.erasures == []


def test_a_corrected_name_counts_as_it_stands_now(logbook: Logbook) -> None:
    """A visit first written for the wrong person belongs to the right person."""
    town = Town(logbook)
    phone = town.phones[0]
    visit = phone.new_id()
    first = phone.op(visit, "visit.set", {"customer": {"name": "S. Lund"}}, {"/customer/name": None})
    second = phone.op(visit, "visit.set", {"customer": {"name": "R. Falk"}}, {"/customer/name": first["id"]})
    town.send(phone.opening(visit), first, second)
    assert visit not in data_about(logbook, "S. Lund").visits
    assert list(data_about(logbook, "R. Falk").visits) == [visit]


def test_a_blank_is_as_long_as_what_it_stands_for() -> None:
    """For every length that an entry's record can have, across the borders where a length gains a digit."""
    for size in [*range(1, 2000), 9_700, 9_850, 9_900, 99_700, 99_850, 99_900]:
        result = {"id": "0" * 36, "status": "accepted", "digest": "0" * 64}
        record = framed(Entry(JUNE_12, result, b"0" * 64 + b" " + b"x" * size))
        made = blank(len(record), "0a1b2c3d")
        read = unframed(made, 0)
        assert read is not None
        assert (len(made), read[1], read[0].result["status"]) == (len(record), len(record), "erased")
        assert (check_in(made), read[0].check) == ("0a1b2c3d", "0a1b2c3d")


def test_an_export_holds_what_is_held(logbook: Logbook, tmp_path: Path) -> None:
    """Visits as JSON, every entry line, including refused ones, sheets, letters, both photos; nothing of others."""
    town = Town(logbook)
    told = export(logbook, "M. Okafor", tmp_path / "okafor.zip", JUNE_12)
    assert (len(told["visits"]), told["photos"]) == (3, 2)
    assert (tmp_path / "okafor.zip").stat().st_mode & 0o077 == 0
    with zipfile.ZipFile(tmp_path / "okafor.zip") as archive:
        files = {name: archive.read(name) for name in archive.namelist()}
    for visit in town.okafor:
        assert json.loads(files[f"visits/{visit}.json"]) == logbook.visit(visit)
        lines = b"".join(line_of(op) for op in town.sent if op["visit"] == visit)
        assert files[f"entries/{visit}.txt"] == lines
        assert files[f"sheets/{visit}-abababababab.pdf"].startswith(b"%PDF")
        assert files[f"letters/{visit}-abababababab-1.eml"].startswith(b"To: ")
    assert sorted(name for name in files if name.startswith("photos/")) == sorted(
        f"photos/{name_of(photo(seed))}.jpg" for seed in (1, 2)
    )
    assert not any(b"Lund" in content or b"ALD 4127" in content for content in files.values())
    assert len(files) == 1 + 3 * 4 + 2
    assert logbook.visit(town.okafor[0])["customer"]["name"] == "M. Okafor"


def test_an_export_follows_no_link(logbook: Logbook, tmp_path: Path) -> None:
    """A sheet, a letter, a photo and a photo's folder that lead elsewhere: left out and named; the rest is there."""
    town = Town(logbook)
    secret = tmp_path / "outside" / "secret"
    secret.parent.mkdir()
    secret.write_bytes(b"nobody's business")
    visit, one = town.okafor[0], logbook.folder / file_of(name_of(photo(1)))
    names = [f"sheets/{visit}-abababababab.pdf", f"outgoing/{visit}-x.eml", f"spool/{visit}-x.eml"]
    for name in names:
        (logbook.folder / name).unlink(missing_ok=True)
        (logbook.folder / name).parent.mkdir(exist_ok=True)
        (logbook.folder / name).symlink_to(secret)
    one.rename(secret.parent / one.name)
    shutil.rmtree(one.parent)
    one.parent.symlink_to(secret.parent)
    told = export(logbook, "M. Okafor", tmp_path / "okafor.zip", JUNE_12)
    assert sorted(told["links"]) == sorted([*names, f"photos/{one.parent.name}/{one.name}"])
    assert told["photos"] == 1
    with zipfile.ZipFile(tmp_path / "okafor.zip") as archive:
        assert not any(archive.read(name) == secret.read_bytes() for name in archive.namelist())
        assert f"sheets/{town.okafor[1]}-abababababab.pdf" in archive.namelist()
    command = [str(LAYBY), "--folder", str(logbook.folder), "export", "M. Okafor", "--to", str(tmp_path / "again.zip")]
    logbook.close()
    done = children.run(command, cwd=ROOT)
    assert done.returncode == 1, done
    assert all(name in done.stdout for name in names)


# Kills ---------------------------------------------------------------------------------------------------------------

KILLED = """
    import os, signal, sys
    from pathlib import Path
    from sync import rulebook
    from sync.records.logbook import Logbook
    from sync.work import erasure
    left = int(sys.argv[2])
    def watch(event, arguments):
        # Every file opened, renamed or removed, and every folder removed, is a moment at which the power may fail.
        global left
        moments = ("open", "os.rename", "os.remove", "os.rmdir", "shutil.rmtree")
        if event in moments and sys.argv[1] in str(arguments[0]):
            left -= 1
            if left == 0:
                os.kill(os.getpid(), signal.SIGKILL)
    with Logbook(Path(sys.argv[1]), rulebook.load(), floor_bytes=0) as logbook:
        sys.addaudithook(watch)
        erasure.erase(logbook, "M. Okafor", 5)
    left = 0
"""


def test_a_kill_at_any_moment_leaves_either_state_whole(folder: Path, tmp_path: Path, rulebook: Books) -> None:
    """Killed at each of the file operations of an erasure: at the next start either everything is there or nothing is,
    and the other customer's records are complete in both cases.
    """
    with Logbook(folder, rulebook, floor_bytes=0) as logbook:
        town = Town(logbook)
        before = others(town, logbook)
        whole = [logbook.visit(visit) for visit in town.okafor]
    outcomes: list[bool] = []
    for moment in range(1, 400, 3):
        copy = tmp_path / "copy"
        shutil.copytree(folder, copy)
        command = [sys.executable, "-c", textwrap.dedent(KILLED), str(copy), str(moment)]
        ended = children.run(command, cwd=ROOT)
        assert ended.returncode in (0, -9), ended.stderr
        with Logbook(copy, rulebook, floor_bytes=0) as again:
            gone = [again.ops(visit) == [] for visit in town.okafor]
            assert len(set(gone)) == 1
            assert others(town, again) == before
            if gone[0]:
                again.flush()
                assert traces(copy) == []
                assert len(again.erased.erasures) == 1
            else:
                assert [again.visit(visit) for visit in town.okafor] == whole
                assert again.erased.erasures == []
            outcomes.append(gone[0])
        assert not (copy / "erasure-under-way.json").exists()
        shutil.rmtree(copy)
        if ended.returncode == 0:
            break
    assert ended.returncode == 0, "the last run came to its end by itself"
    assert outcomes == sorted(outcomes), "once begun, an erasure is ended"
    assert outcomes.count(True) - 1 > 3
    assert False in outcomes


def layby(*words: str) -> children.CompletedProcess[str]:
    """`layby` with its answer."""
    command = [str(LAYBY), *words]
    return children.run(command, cwd=ROOT)


@pytest.mark.parametrize("served", [True, False])
def test_the_commands_ask_before_they_erase(folder: Path, tmp_path: Path, served: bool) -> None:
    """`layby export`, `layby erase` without and with --yes, with and without a running service, and after it."""
    with Logbook(folder, books.load(), floor_bytes=0) as logbook:
        town = Town(logbook)
    service = Service(folder)
    if served:
        service.start()
    here = ("--folder", str(folder))
    done = layby(*here, "export", "M. Okafor", "--to", str(tmp_path / "okafor.zip"))
    assert done.returncode == 0, done.stderr
    assert zipfile.is_zipfile(tmp_path / "okafor.zip")
    done = layby(*here, "erase", "M. Okafor")
    assert done.returncode == 1
    assert "Nothing has been erased yet" in done.stdout
    assert all(visit in done.stdout for visit in town.okafor)
    assert traces(folder)
    done = layby(*here, "erase", "M. Okafor", "--yes")
    assert done.returncode == 0, done.stderr
    assert "Erased: 3 visits, 16 entries, 1 photo." in done.stdout
    if served:
        [result] = json.loads(service.post("/sync", line_of(town.sent[0]))[2])["results"]
        assert (result["status"], result["repeat"]) == ("accepted", True)
        assert service.get(f"/sheets/{town.okafor[0]}.pdf")[0] == 404
    service.stop()
    assert traces(folder) == []
    done = layby(*here, "erase", "M. Okafor", "--yes")
    assert done.returncode == 2
    assert "names M. Okafor" in done.stderr
    assert "Traceback" not in done.stderr
