"""One visit never stops a day, a start or another visit: it is named with its reason, and the others go on.

The odd visits are like those an earlier version may have filed: their records are written directly into the journal.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from server.tasks import books, evening
from server.tasks.catalogue import carry_out
from server.tasks.reminders import reminders
from server.tasks.sheet_data import inputs_of
from sync.isolation import Odd, apart
from sync.records.embedded.framing import framed
from sync.records.logbook import Logbook
from sync.records.store.interface import Entry, RecordDamaged
from sync.wire.op_line import parts
from sync.work import backup, cards, customer_export, erasure, rebuild
from sync.work.intake import receive
from tests.server.test_evening import DAY, NOW, Desk
from tests.support import children
from tests.support.ops import Phone, line_of, uuid7
from tests.support.service import LAYBY, Service
from tests.support.sheet_visits import PAIR, SINGLE, STARTED_MS, operations

Books = dict[str, Any]
STARTED = PAIR["started_at"]
ODD = uuid7(STARTED_MS + 5, 900)
EARLIER = Phone("beef", STARTED_MS)
CUSTOMER = {"name": "O. Example", "email": "o@mail.example"}
OPEN = {"started_at": STARTED, "customer": CUSTOMER}


def test_op(**body: Any) -> dict[str, Any]:
    """A test of the odd visit."""
    return EARLIER.op(ODD, "test.add", {"id": "b1", "role": "before", "at": STARTED, **body})


test_op.__test__ = False  # type: ignore[attr-defined]
OPENED = EARLIER.op(ODD, "visit.open", OPEN)
# Where the visit trips: at judging, at drawing, in a list, on its pages.
ODDITIES: dict[str, list[dict[str, Any]]] = {
    "a reading in words": [OPENED, test_op(readings={"vent_c": "warm", "low_kpa_g": 200.0})],
    "a test without its role": [OPENED, EARLIER.op(ODD, "test.add", {"id": "b1", "at": STARTED})],
    "a vehicle in words": [OPENED, EARLIER.op(ODD, "visit.set", {"vehicle": "the blue one"})],
    "a price in words": [OPENED, EARLIER.op(ODD, "charge.add", {"id": "c", "quantity": "1", "unit_price": "a lot"})],
    "a customer in words": [EARLIER.op(ODD, "visit.open", {"started_at": STARTED, "customer": "O. Example"})],
    "a plate that is a list": [OPENED, EARLIER.op(ODD, "visit.set", {"vehicle": {"id": ["v1"], "plate": ["AC", 4]}})],
    "a time in words": [OPENED, EARLIER.op(ODD, "visit.set", {"ended_at": 5}), test_op(observed=7)],
}


def records(*ops: dict[str, Any]) -> bytes:
    """Records of a journal as an earlier version wrote them."""
    made = []
    for op in ops:
        line = line_of(op).rstrip(b"\n")
        made.append(framed(Entry(NOW, {"id": op["id"], "status": "accepted", "digest": parts(line)[0]}, line)))
    return b"".join(made)


@pytest.fixture(params=ODDITIES)
def day(request: pytest.FixtureRequest, folder: Path, rulebook: Books) -> Iterator[Desk]:
    """A day of three visits, the first of which is odd, each time in another way."""
    folder.mkdir()
    (folder / "journal.log").write_bytes(records(*ODDITIES[request.param]))
    with Logbook(folder, rulebook, floor_bytes=0) as logbook:
        desk = Desk(logbook, rulebook)
        desk.file(operations(PAIR, desk.phone) + operations(SINGLE, desk.phone))
        yield desk


def by_visit(rows: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """Rows by their visit."""
    return {row["visit"]: row for row in rows}


def test_the_evening_names_the_odd_one_and_goes_on(day: Desk, caplog: pytest.LogCaptureFixture) -> None:
    """Made, looked at, approved, sent: the two others as always; the odd one says what is wrong and what to do."""
    rows = by_visit(day.make())
    assert {visit: row["state"] for visit, row in rows.items() if visit != ODD} == {
        PAIR["id"]: "made", SINGLE["id"]: "made"}
    odd = rows[ODD]
    assert odd["state"] == "failed", odd
    assert odd["reason"]["code"] == "sheet_data"
    assert "Check its entries on the phone" in odd["reason"]["text"]
    assert odd["started_at"] == STARTED
    assert any(ODD in record.getMessage() for record in caplog.records)
    assert by_visit(evening.look(day.logbook, day.sheet_records, DAY, day.rulebook))[ODD]["reason"] == odd["reason"]
    approved = by_visit(day.approve(ODD, PAIR["id"], uuid7(STARTED_MS, 444), SINGLE["id"]))
    assert [approved[one["id"]]["state"] for one in (PAIR, SINGLE)] == ["approved"] * 2
    assert approved[ODD]["reason"]
    assert approved[uuid7(STARTED_MS, 444)]["reason"]["code"] == "unknown_visit"
    assert {row["state"] for row in day.send()} == {"sent"}


def test_a_letter_of_an_odd_visit_holds_up_no_other(day: Desk) -> None:
    """Approved before it became odd, for example: it fails with its reason, and the other two letters are sent."""
    day.make()
    day.sheet_records.keep(ODD, "ab" * 32, b"%PDF-", NOW)
    day.sheet_records.note(ODD, "ab" * 32, {"state": "approved", "at": NOW, "reason": None})
    day.approve(PAIR["id"], SINGLE["id"])
    (day.logbook.folder / "sheets" / str(day.sheet_records.newest(PAIR["id"])["file"])).unlink()  # type: ignore[index]
    rows = by_visit(day.send())
    assert {visit: row["state"] for visit, row in rows.items()} == {
        ODD: "failed", PAIR["id"]: "failed", SINGLE["id"]: "sent"}
    assert all(rows[visit]["reason"]["text"] for visit in (ODD, PAIR["id"]))
    listed = carry_out(day.logbook, "letters", {})["rows"]
    assert {row["visit"] for row in listed if row["state"] != "sent"} == {ODD, PAIR["id"]}


def test_what_goes_over_many_visits_goes_over_the_odd_one(day: Desk, tmp_path: Path) -> None:
    """Reminders, day page and ledger, finding, cards, rebuild, backup."""
    after = date.fromordinal(DAY.toordinal() + 1)
    codes = [one["code"] for one in reminders(day.logbook, day.sheet_records, after, day.rulebook)]
    assert set(codes) <= {"remind_odd", "remind_unpaid", "remind_return", "remind_calibration_over"}
    pdf, visits, _ = books.day_page(day.logbook, DAY)
    assert Path(pdf).read_bytes().startswith(b"%PDF")
    text = Path(visits).read_text("utf-8-sig")
    assert PAIR["id"] in text
    assert SINGLE["id"] in text
    assert all(Path(file).stat().st_size for file in books.ledger(day.logbook, DAY, after))
    found = [row["id"] for row in day.logbook.search.find(DAY.isoformat())["visits"]]
    assert {PAIR["id"], SINGLE["id"]} <= set(found)
    assert PAIR["id"] in cards.vehicle(day.logbook, PAIR["vehicle"]["id"])["visits"]
    before = day.logbook.visit(PAIR["id"])
    rebuild.rebuild(day.logbook, lambda _done, _of: None)
    assert day.logbook.visit(PAIR["id"]) == before
    assert backup.back_up(day.logbook, tmp_path / "backup.zip", NOW)["members"]


def test_a_customer_of_an_odd_visit_is_exported_and_erased(day: Desk, tmp_path: Path) -> None:
    """By the id of the visit, which then is meant alone; and the other customer as always."""
    told = customer_export.export(day.logbook, ODD, tmp_path / "odd.zip", NOW)
    assert [row["visit"] for row in told["visits"]] == [ODD]
    name = PAIR["customer"]["name"]
    others = customer_export.export(day.logbook, name, tmp_path / "other.zip", NOW)["visits"]
    assert PAIR["id"] in [row["visit"] for row in others]
    erasure.erase(day.logbook, ODD, NOW)
    assert day.logbook.ops(ODD) == []
    assert day.logbook.visit(PAIR["id"])["customer"]["name"] == name


def test_an_odd_visit_of_the_same_vehicle_holds_up_no_sheet(folder: Path, rulebook: Books) -> None:
    """What the vehicle showed earlier is drawn without it; its card and its baseline are made without it."""
    vehicle = PAIR["vehicle"]["id"]
    opening = EARLIER.op(ODD, "visit.open", {"started_at": "2026-01-02T09:00:00+01:00", "vehicle": {"id": vehicle}})
    folder.mkdir()
    (folder / "journal.log").write_bytes(records(opening, test_op(readings={"vent_c": "warm"}),
                                                 EARLIER.op(ODD, "work.add", {"id": "w"})))
    with Logbook(folder, rulebook, floor_bytes=0) as logbook:
        desk = Desk(logbook, rulebook)
        mark = {"vehicle": vehicle, "visit": PAIR["id"], "test": PAIR["tests"][0]["id"], "healthy": True}
        odd_mark = {**mark, "visit": ODD, "test": "b1"}
        desk.file(operations(PAIR, desk.phone) + line_of(desk.phone.beside("baseline.mark", None, **mark))
                  + line_of(desk.phone.beside("baseline.mark", None, **odd_mark)))
        draft = inputs_of(logbook, PAIR["id"], rulebook, {"language": "en", "paper": "A4"})
        assert draft.reason is None
        assert {row["state"] for row in desk.make()} == {"made"}
        assert carry_out(logbook, "card", {"what": "vehicle", "id": vehicle})["visits"]


def test_a_record_that_no_page_can_take_holds_up_no_start(
    folder: Path, rulebook: Books, caplog: pytest.LogCaptureFixture
) -> None:
    """Of a kind that a newer version knows, or with a start in words: left out, logged, and reported in the evening."""
    strange = [EARLIER.op(ODD, "visit.guess", {"it": "leaks"}), EARLIER.op(ODD, "visit.open", {"started_at": "today"})]
    folder.mkdir()
    (folder / "journal.log").write_bytes(records(*strange))
    for _ in range(2):
        with Logbook(folder, rulebook, floor_bytes=0) as logbook:
            desk = Desk(logbook, rulebook)
            receive(logbook, operations(PAIR, Phone()), NOW)
            assert logbook.visits_on(DAY) == [PAIR["id"]]
            rebuild.rebuild(logbook, lambda _done, _of: None)
            assert logbook.visits_on(DAY) == [PAIR["id"]]
            told = {one["code"]: one["text"] for one in reminders(logbook, desk.sheet_records, DAY, rulebook)}
            assert told["remind_left_out"].startswith("2 journal records")
    assert any("record 0 of the journal" in record.getMessage() and record.exc_info for record in caplog.records)
    assert (folder / "journal.log").read_bytes().startswith(records(*strange))


def test_an_erasure_takes_along_what_no_page_could_take(folder: Path, rulebook: Books) -> None:
    """A record of the visit that was left out at the start is erased with the visit."""
    folder.mkdir()
    guess = EARLIER.op(ODD, "visit.guess", {"it": "leaks at the flange"})
    again = EARLIER.op(ODD, "visit.set", {"started_at": "flange day"})
    (folder / "journal.log").write_bytes(records(OPENED, guess, again))
    with Logbook(folder, rulebook, floor_bytes=0) as logbook:
        assert len(logbook.left_out) == 2
        assert erasure.erase(logbook, CUSTOMER["name"], NOW)["entries"] == 3
    assert b"flange" not in (folder / "journal.log").read_bytes()


# A real service ------------------------------------------------------------------------------------------------------


def layby(folder: Path, *words: str) -> children.CompletedProcess[str]:
    """A command beside the running service."""
    return children.run([str(LAYBY), "--folder", str(folder), *words])


def test_a_day_of_three_at_a_real_service(folder: Path) -> None:
    """One valid visit, one with a reading whose test never came, one whose reading is a word: evening, approval,
    letters, day page and a second start; the odd ones are named in plain words.
    """
    folder.mkdir()
    (folder / "journal.log").write_bytes(records(*ODDITIES["a reading in words"]))
    phone = Phone()
    lone = {**copy.deepcopy(SINGLE), "tests": []}
    reading = phone.op(lone["id"], "reading.set", {"id": "b9", "readings": {"vent_c": 7.5}},
                       {"/tests/b9/readings/vent_c": None})
    service = Service(folder).start()
    try:
        for body in (operations(PAIR, phone), operations(lone, phone) + line_of(reading)):
            status, _, answer = service.post("/sync", body)
            assert status == 200
            assert {result["status"] for result in json.loads(answer)["results"]} == {"accepted"}
        made = layby(folder, "evening", "--day", DAY.isoformat())
        assert made.returncode == 1
        assert made.stdout.count("ready, ") == 2
        assert "The sheet for this visit could not be made" in made.stdout
        assert "a reading or price arrived before the test or price line it belongs to" in made.stdout
        assert ODD in made.stdout
        assert layby(folder, "approve", PAIR["id"], lone["id"], ODD).stdout.count("approved, ") == 2
        assert layby(folder, "send").stdout.count("in the outbox, ") == 2
        assert "day-" in layby(folder, "day", "--day", DAY.isoformat()).stdout
        assert "Traceback" in service.log.read_text("utf-8", "replace")
        # The test comes after all: its reading shows, and the sheet is another one.
        test = phone.op(lone["id"], "test.add", {"id": "b9", "role": "before", "at": lone["started_at"]})
        assert service.post("/sync", line_of(test))[0] == 200
    finally:
        service.stop()
    service.start()
    try:
        again = layby(folder, "evening", "--day", DAY.isoformat()).stdout
        assert "a reading or price arrived before" not in again
        assert again.count("ready, ") == 1
        assert again.count("in the outbox, ") == 1
    finally:
        service.stop()


def test_an_error_raised_on_purpose_leaves_no_trace_in_the_log(caplog: pytest.LogCaptureFixture) -> None:
    """When a command runs, the log is a person's terminal: an error that says itself what is wrong is one line there;
    what nobody foresaw is there in full.
    """

    def damaged() -> None:
        raise RecordDamaged(file="journal.log", number=7)

    assert isinstance(apart("one", damaged), Odd)
    assert isinstance(apart("two", lambda: int("x")), Odd)
    assert [bool(record.exc_info) for record in caplog.records] == [False, True]
    assert "number=7" in caplog.records[0].getMessage()
