"""Whose a visit is and who made an entry: what a phone was never signed in as isn't taken from it; a visit handed over.

Over a real logbook in a folder, by the same intake as a service's.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from sync import rulebook
from sync.records import secret
from sync.records.logbook import Logbook
from sync.records.pairing import Claim, Pairings
from sync.records.people import People
from sync.records.person import Person
from sync.work import cards
from sync.work.changes import changes
from sync.work.desk_operations import correct, merge
from sync.work.erasure import erase
from sync.work.handing_over import hand_over
from sync.work.intake import take
from sync.work.technicians import Technicians
from tests.support.ops import JUNE_12, Phone, line_of

BOOKS = rulebook.load()


class Desk:
    """A logbook with three people, of whom two have a phone."""

    def __init__(self, logbook: Logbook) -> None:
        self.logbook = logbook
        people = People(logbook.files)
        people.begin("Ruth", secret.of_passphrase("harbour lamp green van"), JUNE_12)
        self.one, self.two = (people.invite(name, "technician", JUNE_12)[1] for name in ("Tomas", "Ana"))
        self.phones = {person["id"]: self.paired(device, person)
                       for device, person in (("aa01", self.one), ("aa02", self.two))}

    def paired(self, device: str, person: Person) -> Phone:
        """A phone that is signed in as somebody."""
        pairings = Pairings(self.logbook.files)
        code = pairings.offer(JUNE_12, person["id"]).code
        pairings.pair(Claim(code, device, device), JUNE_12)
        return Phone(device)

    def filed(self, *ops: dict[str, Any], sender: str | None = None) -> list[tuple[str, str]]:
        """Status and code of what is answered to operations."""
        results = take(self.logbook, [line_of(op)[:-1] for op in ops], JUNE_12, sender)
        return [(one["status"], one["problem"]["code"] if "problem" in one else "") for one in results]

    def told(self, device: str) -> list[str]:
        """The ids of the operations that a device is told of, from the beginning."""
        said = changes(self.logbook, device, "")["changes"]
        return [json.loads(one["line"][65:])["id"] for one in said if one["kind"] == "op"]


@pytest.fixture
def desk(tmp_path: Path) -> Any:
    """Such a desk."""
    with Logbook(tmp_path / "layby", BOOKS) as logbook:
        yield Desk(logbook)


def opened(phone: Phone, person: Person, named: Person | None = None) -> dict[str, Any]:
    """An opening that a person made; it may name a technician."""
    op = phone.opening(phone.new_id())
    op["by"] = person["id"]
    if named is not None:
        op["body"]["technician"] = {"id": named["id"], "name": named["name"]}
        op["base"] |= {"/technician/id": None, "/technician/name": None}
    return op


def test_a_phone_makes_entries_only_for_whom_it_was_signed_in_as(desk: Desk) -> None:
    """Refused and kept; taken once the phone is signed in as that person, and from a former person's time for ever."""
    phone = desk.phones[desk.one["id"]]
    good, foreign = opened(phone, desk.one), opened(phone, desk.two)
    unknown = {**opened(phone, desk.one), "by": phone.new_id()}
    assert desk.filed(good, foreign, unknown, sender="aa01") == [
        ("accepted", ""), ("rejected", "not_its_person"), ("rejected", "not_its_person")]
    # Carried by hand it is no other.
    assert desk.filed(foreign) == [("rejected", "not_its_person")]
    Pairings(desk.logbook.files).sign_in("aa01", desk.two["id"])
    assert desk.filed(foreign, opened(phone, desk.one), sender="aa01") == [("accepted", ""), ("accepted", "")]


def test_a_phone_that_was_never_paired_comes_by_hand_for_somebody_who_is_known(desk: Desk) -> None:
    """Nobody can check more; one of no person is taken as ever."""
    stray = Phone("bb03")
    nameless = stray.opening(stray.new_id())
    known, unknown = opened(stray, desk.one), {**opened(stray, desk.one), "by": stray.new_id()}
    assert desk.filed(known, unknown, nameless) == [
        ("accepted", ""), ("rejected", "not_its_person"), ("accepted", "")]


def test_a_desk_that_lost_its_people_takes_what_was_made_for_it(desk: Desk) -> None:
    """Nobody could be signed in as any more, and a phone must not keep its entries for that."""
    opening = opened(desk.phones[desk.one["id"]], desk.one)
    desk.logbook.files.remove("people.json")
    desk.logbook.files.remove("devices.json")
    Pairings(desk.logbook.files).pair(Claim(Pairings(desk.logbook.files).offer(JUNE_12).code, "aa01", "x"), JUNE_12)
    assert desk.filed(opening, sender="aa01") == [("accepted", "")]


def test_whose_a_visit_is(desk: Desk) -> None:
    """Whom it names, else the person whose phone opened it; a technician of no desk counts as nobody."""
    phone = desk.phones[desk.one["id"]]
    named, plain = opened(phone, desk.one, desk.two), opened(phone, desk.one)
    stray = Phone("bb03")
    foreign = stray.opening(stray.new_id())
    foreign["body"]["technician"] = {"id": "elsewhere-7"}
    foreign["base"]["/technician/id"] = None
    assert desk.filed(named, plain, foreign) == [("accepted", "")] * 3
    technicians = Technicians(desk.logbook)
    visits = [named["visit"], plain["visit"], foreign["visit"]]
    assert [technicians.of(visit) for visit in [*visits, phone.new_id(), "no id"]] == [
        desk.two["id"], desk.one["id"], "", "", ""]
    assert technicians.own(visits, desk.one["id"]) == [plain["visit"]]


def test_a_visit_handed_over_reaches_whatever_phone_its_person_has(desk: Desk) -> None:
    """All of it, once; later entries of others too; nothing of it reaches anybody else, nor a writer their own."""
    first, second = desk.phones[desk.one["id"]], desk.phones[desk.two["id"]]
    opening = opened(first, desk.one, desk.one)
    opening["body"]["vehicle"], opening["base"]["/vehicle/id"] = {"id": "v1"}, None
    plate = first.plate(opening["visit"], "LT 482")
    desk.filed(opening, plate)
    assert desk.told("aa02") == []
    assert hand_over(desk.logbook, opening["visit"], desk.two, "The van broke down.", (JUNE_12, 0))
    assert not hand_over(desk.logbook, opening["visit"], desk.two, "Again.", (JUNE_12, 0))
    assert {opening["id"], plate["id"]} <= set(desk.told("aa02"))
    later, own = first.plate(opening["visit"], "LT 483", plate["id"]), second.test(opening["visit"])
    desk.filed(later)
    desk.filed(own)
    assert later["id"] in desk.told("aa02")
    assert own["id"] not in desk.told("aa02")
    assert own["id"] in desk.told("aa01")
    corrected = correct(desk.logbook, "vehicle", "v1", {"oil": "PAG 46"}, (JUNE_12, 0))
    assert corrected in desk.told("aa02"), "who has the visit takes part in its vehicle"
    other_phone = desk.paired("aa04", desk.two)
    assert {opening["id"], plate["id"], later["id"], own["id"]} <= set(desk.told(other_phone.device))
    assert desk.logbook.visit(opening["visit"])["technician"] == {"id": desk.two["id"], "name": "Ana"}


def test_who_had_a_visit_handed_over_is_told_of_its_erasure(desk: Desk) -> None:
    """A phone that only heard of a visit forgets it like the one that made it."""
    first = desk.phones[desk.one["id"]]
    opening = opened(first, desk.one, desk.one)
    opening["body"]["customer"] = {"id": "c1", "name": "M. Okafor"}
    opening["base"] |= {"/customer/id": None, "/customer/name": None}
    desk.filed(opening)
    hand_over(desk.logbook, opening["visit"], desk.two, "The van broke down.", (JUNE_12, 0))
    erase(desk.logbook, "c1", JUNE_12)
    for device in ("aa01", "aa02"):
        erased = [one for one in changes(desk.logbook, device, "")["changes"] if one["kind"] == "erased"]
        assert [one["visits"] for one in erased] == [[opening["visit"]]], device


def test_customers_whom_two_vans_entered_are_merged_with_nothing_lost(desk: Desk) -> None:
    """Both visits show under the one that is kept, both cards' lines stay, and both phones are told of the merger."""
    first, second = desk.phones[desk.one["id"]], desk.phones[desk.two["id"]]
    visits = []
    for phone, person, card in ((first, desk.one, "c1"), (second, desk.two, "c2")):
        opening = opened(phone, person, person)
        opening["body"]["customer"] = {"id": card, "name": "M. Okafor", "phone": f"555-010{card[1]}"}
        opening["base"] |= {"/customer/id": None, "/customer/name": None, "/customer/phone": None}
        visits.append(opening["visit"])
        assert desk.filed(opening) == [("accepted", "")]
    merged = merge(desk.logbook, "c1", "c2", (JUNE_12, 0))
    assert sorted(cards.customer(desk.logbook, "c1")["visits"]) == sorted(visits)
    assert cards.customer(desk.logbook, "c2")["id"] == "c1"
    assert [desk.logbook.visit(visit)["customer"]["phone"] for visit in visits] == ["555-0101", "555-0102"]
    assert all(merged in desk.told(device) for device in ("aa01", "aa02"))
