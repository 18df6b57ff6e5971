"""Changes: each device is told of the others' work on its visits and vehicles, once, whatever happens in between."""

from __future__ import annotations

import json
import random
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from sync.kernel.fold import fold
from sync.records.embedded.store import EmbeddedStore
from sync.records.logbook import Logbook
from sync.records.sheet_records import SheetRecords
from sync.wire.op_line import DESK
from sync.work import changes as changes_module
from sync.work.changes import BadCursor, changes
from sync.work.intake import receive
from tests.support.ops import JUNE_12, Phone, body_of, line_of, uuid7
from tests.work.test_baselines import visit_with_test

Books = dict[str, Any]


@pytest.fixture
def logbook(folder: Path, rulebook: Books) -> Iterator[Logbook]:
    """An empty logbook, open."""
    with Logbook(folder, rulebook, floor_bytes=0) as opened:
        yield opened


def file(logbook: Logbook, *ops: Any, sender: str | None = None) -> None:
    """File operations, all of which must be stored."""
    results = receive(logbook, body_of(*ops), JUNE_12, sender)["results"]
    assert {result["status"] for result in results} <= {"accepted", "conflict"}


class Listener:
    """A device that asks for its changes and remembers the cursor."""

    def __init__(self, logbook: Logbook, device: str) -> None:
        self.logbook = logbook
        self.device = device
        self.cursor = ""

    def ask(self) -> list[dict[str, Any]]:
        """All changes since the last time."""
        told = []
        while True:
            answer = changes(self.logbook, self.device, self.cursor)
            self.cursor = answer["cursor"]
            told += answer["changes"]
            if not answer["more"]:
                return told

    def ids(self) -> list[str]:
        """The ids of the operations told since the last time."""
        return [json.loads(one["line"][65:])["id"] for one in self.ask() if one["kind"] == "op"]


def test_a_device_is_told_what_others_did_in_its_visits(logbook: Logbook) -> None:
    """From its first operation there, including what came before; never its own; never others' visits; each once."""
    one, other, third = Phone("aaaa"), Phone("bbbb", ms=JUNE_12 + 50), Phone("cccc", ms=JUNE_12 + 90)
    listeners = {phone.device: Listener(logbook, phone.device) for phone in (one, other, third)}
    visit, elsewhere = one.new_id(), third.new_id()
    opening, plate = one.opening(visit), one.plate(visit, "LT 482")
    file(logbook, opening, plate, third.opening(elsewhere))
    assert [listener.ask() for listener in listeners.values()] == [[], [], []]
    test = other.test(visit, vent_c=7)
    file(logbook, test)
    assert listeners["aaaa"].ids() == [test["id"]]
    assert listeners["bbbb"].ids() == [opening["id"], plate["id"]]
    corrected = one.plate(visit, "LT 428", plate["id"])
    file(logbook, corrected)
    assert [listener.ids() for listener in listeners.values()] == [[], [corrected["id"]], []]
    assert listeners["bbbb"].ids() == []
    line = changes(logbook, "aaaa", "")["changes"][0]["line"]
    assert line.encode() + b"\n" == line_of(test)


def test_all_fold_to_the_same_in_the_end(logbook: Logbook, rulebook: Books) -> None:
    """Three devices, seeded turns of writing, filing and asking, conflicts among them: what each holds is the visit."""
    dice = random.Random(17)
    phones = [Phone(name, ms=JUNE_12 + dice.randint(0, 10**6)) for name in ("aaaa", "bbbb", "cccc")]
    listeners = {phone.device: Listener(logbook, phone.device) for phone in phones}
    held: dict[str, dict[str, Any]] = {phone.device: {} for phone in phones}
    visit = phones[0].new_id()
    opening = phones[0].opening(visit)
    file(logbook, opening)
    held["aaaa"][opening["id"]] = opening
    for turn in range(60):
        phone = dice.choice(phones)
        mine = held[phone.device]
        plates = [op["id"] for op in mine.values() if "vehicle" in op["body"]]
        op = phone.test(visit, f"t{turn}")
        if turn % 2:
            op = phone.plate(visit, f"P {turn}", plates[-1] if plates else None)
        file(logbook, op)
        mine[op["id"]] = op
        if dice.random() < 0.5:
            told = [json.loads(one["line"][65:]) for one in listeners[phone.device].ask()]
            mine |= {op["id"]: op for op in told}
    for phone in phones:
        told = [json.loads(one["line"][65:]) for one in listeners[phone.device].ask()]
        held[phone.device] |= {op["id"]: op for op in told}
        assert fold(list(held[phone.device].values()), rulebook["kinds"]) == logbook.visit(visit)


def test_a_device_that_names_a_vehicle_is_told_its_chart(logbook: Logbook) -> None:
    """Entered by another device in its own visit; corrected, then removed at the desk; a car without one is no news."""
    one, other = Phone("aaaa"), Phone("bbbb", ms=JUNE_12 + 1000)
    charts = [{"rows": [{"ambient_c": 30, "low_kpa_g": [150, high]}]} for high in (200, 250)]

    def visit(phone: Phone, **fields: Any) -> list[dict[str, Any]]:
        opening = phone.opening(phone.new_id())
        base = {f"/vehicle/{name}": None for name in fields}
        return [opening, phone.op(opening["visit"], "visit.set", {"vehicle": fields}, base)]

    def told() -> list[Any]:
        return [change for change in Listener(logbook, "bbbb").ask() if change["kind"] != "op"]

    file(logbook, *visit(one, id="v1", chart=charts[0]), *visit(one, id="v2"), *visit(other, id="v2"))
    assert told() == []
    file(logbook, *visit(other, id="v1"))
    change = {"kind": "baseline", "vehicle": "v1", "baseline": {"entries": []}}
    assert told() == [{**change, "chart": charts[0]}]
    late = Phone("cccc", ms=JUNE_12 + 10_000_000_000)
    set_right = late.beside("vehicle.set", {"/chart": None}, id="v1", chart=charts[1])
    file(logbook, set_right)
    assert told() == [{**change, "chart": charts[1]}]
    file(logbook, late.beside("vehicle.set", {"/chart": set_right["id"]}, id="v1", chart=None))
    assert told() == [change]


def test_a_vehicles_devices_are_told_its_baseline_and_its_corrections(logbook: Logbook) -> None:
    """To every device that takes part in the vehicle, and to one that comes to it later."""
    one, other = Phone("aaaa"), Phone("bbbb", ms=JUNE_12 + 90_000_000)
    first, second = Listener(logbook, "aaaa"), Listener(logbook, "bbbb")
    visit, ops = visit_with_test(one, "2026-06-12T09:05:00-07:00")
    file(logbook, *ops)
    assert first.ask() == []
    mark = one.beside("baseline.mark", vehicle="v1", visit=visit, test="a1", healthy=True)
    desk = Phone(DESK, ms=JUNE_12 + 5)
    correction = desk.beside("vehicle.set", {"/plate": None}, id="v1", plate="LT 482")
    file(logbook, mark)
    file(logbook, correction, sender=DESK)
    [op, baseline] = first.ask()
    assert json.loads(op["line"][65:])["id"] == correction["id"]
    assert (baseline["kind"], baseline["vehicle"], len(baseline["baseline"]["entries"])) == ("baseline", "v1", 1)
    assert second.ask() == []
    file(logbook, *visit_with_test(other, "2026-07-12T09:05:00-07:00")[1])
    told = second.ask()
    assert [json.loads(one["line"][65:])["id"] for one in told[:-1]] == [mark["id"], correction["id"]]
    assert told[-1] == baseline
    assert second.ask() == []
    later = other.op(ops[0]["visit"], "move.add", {"id": "m1", "kind": "charged", "at": "2026-07-13T09:05:00-07:00"})
    file(logbook, later)
    assert first.ask()[-1]["baseline"]["entries"] == []


def test_a_merging_reaches_the_devices_of_both(logbook: Logbook) -> None:
    """The line itself, so that the phone shows them as one."""
    one, other = Phone("aaaa"), Phone("bbbb", ms=JUNE_12 + 50)
    for phone, name in ((one, "c1"), (other, "c2")):
        visit = phone.new_id()
        base = {"/customer/id": None}
        file(logbook, phone.opening(visit), phone.op(visit, "visit.set", {"customer": {"id": name}}, base))
    merge = Phone(DESK, ms=JUNE_12 + 500).beside("customer.merge", keep="c1", drop="c2")
    file(logbook, merge, sender=DESK)
    assert [Listener(logbook, name).ids() for name in ("aaaa", "bbbb", "cccc")] == [[merge["id"]], [merge["id"]], []]


def test_sheet_states_reach_the_devices_of_the_visit(logbook: Logbook) -> None:
    """By the visit, or by the devices that took part, as for something erased."""
    one, other = Phone("aaaa"), Phone("bbbb", ms=JUNE_12 + 50)
    visit = one.new_id()
    file(logbook, one.opening(visit))
    sheets = SheetRecords(logbook)
    sheets.note(visit, "ab" * 32, {"state": "sent", "at": 5, "reason": None})
    erasure = {"cursor": 1, "at": 5, "visits": [uuid7(5, 5)], "customers": [], "vehicles": [], "devices": ["bbbb"],
               "entries": 1, "photos": 0}
    logbook.note("erasure", None, {"erasures": [erasure], "hashes": []}, 5)
    sent = {"kind": "sheet", "visit": visit, "revision": "ab" * 32, "state": "sent", "at": 5, "reason": None}
    erased = {"kind": "erased", "visits": [uuid7(5, 5)], "customers": [], "vehicles": []}
    first, second = Listener(logbook, one.device), Listener(logbook, other.device)
    assert (first.ask(), second.ask()) == ([sent], [erased])
    assert (first.ask(), second.ask()) == ([], [])


def test_who_comes_to_a_visit_later_is_told_how_its_sheet_got_on(logbook: Logbook) -> None:
    """With everything that was there before."""
    one, other = Phone("aaaa"), Phone("bbbb", ms=JUNE_12 + 50)
    visit = one.new_id()
    file(logbook, one.opening(visit))
    SheetRecords(logbook).note(visit, "ab" * 32, {"state": "sent", "at": 5, "reason": None})
    file(logbook, other.test(visit))
    told = Listener(logbook, "bbbb").ask()
    assert [change["kind"] for change in told] == ["op", "sheet"]


@pytest.mark.parametrize("form", ["{number}.{length}.{check}.7", "{number}.{check}"])
def test_a_cursor_of_an_earlier_version_goes_on_where_it_was(logbook: Logbook, form: str) -> None:
    """It contained the record's length and the number of a notice."""
    one, other = Phone("aaaa"), Phone("bbbb", ms=JUNE_12 + 50)
    visit = one.new_id()
    file(logbook, one.opening(visit), other.test(visit, "t1"), one.plate(visit, "P"))
    listener = Listener(logbook, "bbbb")
    number, check = listener.ask() and listener.cursor.split(".")
    file(logbook, later := one.test(visit, "t2"))
    listener.cursor = form.format(number=number, check=check, length=421)
    assert listener.ids() == [later["id"]]


@pytest.fixture
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    """Short stretches of journal and short answers, so that a small history crosses their borders."""
    monkeypatch.setattr(EmbeddedStore, "stretch", 2000)
    monkeypatch.setattr(changes_module, "CHANGES_MOST", 5)


def history(logbook: Logbook) -> list[str]:
    """Forty operations of one phone in ten visits that another takes part in; the ids it must be told."""
    one, other = Phone("aaaa"), Phone("bbbb", ms=JUNE_12 + 50)
    ids = []
    for number in range(10):
        visit = one.new_id()
        ops = [one.opening(visit), other.test(visit, f"o{number}"), one.plate(visit, "P"), one.test(visit)]
        file(logbook, *ops)
        ids += [op["id"] for op in ops if op["device"] == "aaaa"]
    return ids


def test_a_long_feed_is_told_in_parts_without_a_gap(logbook: Logbook, small: None) -> None:
    """Across the borders of stretches and answers."""
    ids = history(logbook)
    assert Listener(logbook, "bbbb").ids() == ids


@pytest.mark.parametrize("lost", ["nothing", "pages", "damaged"])
def test_the_feed_is_made_again_from_the_journal(folder: Path, rulebook: Books, small: None, lost: str) -> None:
    """After a restart with and without the pages: the earlier cursor continues without a gap."""
    with Logbook(folder, rulebook, floor_bytes=0) as logbook:
        ids = history(logbook)
        answer = changes(logbook, "bbbb", "")
        seen = [json.loads(one["line"][65:])["id"] for one in answer["changes"]]
    if lost == "pages":
        shutil.rmtree(folder / "pages")
    if lost == "damaged":
        for path in (folder / "pages" / "changes").rglob("*.json"):
            path.write_text("{")
    with Logbook(folder, rulebook, floor_bytes=0) as logbook:
        listener = Listener(logbook, "bbbb")
        assert listener.ids() == ids
        listener.cursor = answer["cursor"]
        assert seen + listener.ids() == ids


def test_a_cursor_of_another_journal_begins_anew(tmp_path: Path, rulebook: Books) -> None:
    """After an erasure, or if an older copy was restored, the offsets mean something else: everything is told again."""
    cursors = []
    for number in range(2):
        with Logbook(tmp_path / str(number), rulebook, floor_bytes=0) as logbook:
            if number:
                file(logbook, Phone("dddd").opening(uuid7(JUNE_12, 99)))
            ids = history(logbook)
            listener = Listener(logbook, "bbbb")
            if cursors:
                listener.cursor = cursors[0]
                assert listener.ids() == ids
            else:
                listener.ids()
                cursors.append(listener.cursor)


@pytest.mark.parametrize(
    "cursor", ["x", "1.2", "-5", "1.2.zzzzzzzz.4", "9" * 40, "1.1.00000000.-1", "-1.", "-1.0.00000000.²"]
)
def test_a_cursor_that_was_never_given_is_refused(logbook: Logbook, cursor: str) -> None:
    """With a sentence that says what to do."""
    with pytest.raises(BadCursor):
        changes(logbook, "aaaa", cursor)
