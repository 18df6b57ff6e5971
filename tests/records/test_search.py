"""The register: a visit is found by any present or former name, however it is written, and by its day."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from sync.records.logbook import Logbook
from sync.work.intake import receive
from tests.support.ops import JUNE_12, Phone, body_of

Books = dict[str, Any]
DAY_MS = 86_400_000


@pytest.fixture
def logbook(folder: Path, rulebook: Books) -> Iterator[Logbook]:
    """Three visits in two months: an estate twice, a van once."""
    with Logbook(folder, rulebook, floor_bytes=0) as opened:
        called(opened, JUNE_12, "LT 482", "M. Okafor", "2026-06-12T09:05:00-07:00")
        called(opened, JUNE_12 + DAY_MS, "PB 11", "Ångström & Söhne", "2026-06-13T09:05:00-07:00")
        called(opened, JUNE_12 + 40 * DAY_MS, "lt-482", "M. Okafor-Lane", "2026-07-22T09:05:00-07:00")
        yield opened


def called(logbook: Logbook, ms: int, plate: str, name: str, started_at: str) -> str:
    """File a visit with a plate and a name; returns its id."""
    phone = Phone(f"{ms % 65536:04x}", ms)
    visit = phone.new_id()
    vehicle = {"plate": plate, "vin": "1G4AH59H45G118341", "make": "Wren", "model": "blue estate"}
    vehicle["id"] = f"v-{plate[0]}"
    base: dict[str, str | None] = {f"/vehicle/{part}": None for part in vehicle}
    ops = [phone.opening(visit, started_at), phone.op(visit, "visit.set", {"vehicle": vehicle}, base)]
    customer = phone.op(visit, "visit.set", {"customer": {"name": name}}, {"/customer/name": None})
    results = receive(logbook, body_of(*ops, customer), ms)["results"]
    assert {result["status"] for result in results} == {"accepted"}
    return visit


def days(logbook: Logbook, text: str) -> list[str]:
    """The days of the visits found."""
    return [visit["day"] for visit in logbook.search.find(text)["visits"]]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("LT 482", ["2026-07-22", "2026-06-12"]),
        ("lt482", ["2026-07-22", "2026-06-12"]),
        ("  Lt-4 ", ["2026-07-22", "2026-06-12"]),
        ("okafor", ["2026-07-22", "2026-06-12"]),
        ("OKAFOR 2026-06", ["2026-06-12"]),
        ("lane okafor", ["2026-07-22"]),
        ("ångström", ["2026-06-13"]),
        ("SÖHNE", ["2026-06-13"]),
        ("G118341", ["2026-07-22", "2026-06-13", "2026-06-12"]),
        ("2026-06-13", ["2026-06-13"]),
        ("2026-06", ["2026-06-13", "2026-06-12"]),
        ("4821G4", []),
        ("nobody", []),
        ("", []),
    ],
)
def test_a_visit_is_found_by_what_it_is_called(logbook: Logbook, text: str, found: list[str]) -> None:
    """Capitals, punctuation and spaces don't matter in plates and VINs; every word must fit; newest first."""
    assert days(logbook, text) == found


def test_what_is_found_says_what_a_list_needs(logbook: Logbook) -> None:
    """Id, day, customer, vehicle, plate, VIN, outcome."""
    [visit] = logbook.search.find("ångström")["visits"]
    assert logbook.visit(visit.pop("id"))["customer"]["name"] == "Ångström & Söhne"
    ids = {"vehicle_id": "v-P", "customer_id": None}
    named = {"customer": "Ångström & Söhne", "vehicle": "Wren blue estate", "plate": "PB 11"}
    assert visit == {"day": "2026-06-13", **named, "vin": "1G4AH59H45G118341", "outcome": None, **ids}


def test_a_visit_is_found_by_its_old_plate_and_shows_the_new_one(logbook: Logbook) -> None:
    """Corrected after it was found once."""
    [visit] = logbook.search.find("PB 11")["visits"]
    ops = logbook.ops(visit["id"])
    phone = Phone("dddd", JUNE_12 + 5 * DAY_MS)
    receive(logbook, body_of(phone.plate(visit["id"], "PB 17", ops[1]["id"])), 5)
    for text in ("PB 11", "PB 17"):
        assert [found["plate"] for found in logbook.search.find(text)["visits"]] == ["PB 17"]


def test_no_more_than_are_wanted_come_and_it_is_said(logbook: Logbook) -> None:
    """Two of three."""
    found = logbook.search.find("118341", most=2)
    assert (len(found["visits"]), found["more"]) == (2, True)
    assert logbook.search.find("118341", most=3)["more"] is False


@pytest.mark.parametrize("lost", ["nothing", "months", "damaged", "all"])
def test_the_register_is_made_again_from_the_journal(logbook: Logbook, rulebook: Books, lost: str) -> None:
    """After a restart with its pages, without them, and with unreadable ones."""
    folder = logbook.folder
    logbook.close()
    if lost in ("months", "all"):
        shutil.rmtree(folder / "pages" / "months" if lost == "months" else folder / "pages")
    if lost == "damaged":
        for path in (folder / "pages" / "months").glob("*.json"):
            path.write_text("{")
    with Logbook(folder, rulebook, floor_bytes=0) as again:
        assert days(again, "118341") == ["2026-07-22", "2026-06-13", "2026-06-12"]
        assert len(again.search.visits_of("vehicle", {"v-L", "v-l"})) == 2
        assert again.search.devices_of("vehicle", "v-P") == [f"{(JUNE_12 + DAY_MS) % 65536:04x}"]


def test_a_line_feed_in_a_name_makes_no_other_visit_be_found(logbook: Logbook) -> None:
    """Plate and name of one visit in several lines: found by each word, and its neighbours only by their own."""
    phone = Phone("dddd", JUNE_12 + 3_600_000)
    visit = phone.new_id()
    named = {"vehicle": {"plate": "QX\n77"}, "customer": {"name": "Two\nLines"}}
    base: dict[str, str | None] = {"/vehicle/plate": None, "/customer/name": None}
    ops = [phone.opening(visit, "2026-06-12T11:05:00-07:00"), phone.op(visit, "visit.set", named, base)]
    receive(logbook, body_of(*ops), 5)
    for text in ("qx77", "QX 77", "two", "lines two"):
        assert [found["id"] for found in logbook.search.find(text)["visits"]] == [visit], text
    assert days(logbook, "LT 482") == ["2026-07-22", "2026-06-12"]
    assert days(logbook, "ångström") == ["2026-06-13"]
