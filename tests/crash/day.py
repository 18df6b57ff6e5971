"""A day of the desk, small and complete: two phones, photos, sheets, cards, a backup, an erasure, a rebuild, a restart.

Each step notes what was requested and what was promised; nothing here knows what a crash leaves.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from sync.errors import LaybyError
from sync.records import logbook as logbook_module
from sync.records.embedded.folder_files import FolderFiles
from sync.records.logbook import Logbook
from sync.records.pairing import Claim, Pairings
from sync.records.photos import PhotoStore
from sync.records.sheet_record import SheetPost, State
from sync.records.sheet_records import SheetRecords
from sync.work.backup import back_up
from sync.work.erasure import erase
from sync.work.intake import receive
from sync.work.rebuild import rebuild, rebuild_one
from tests.crash.recorder import Recorder
from tests.records.test_photos import name_of, photo
from tests.support.ops import JUNE_12, Phone, line_of

Books = dict[str, Any]
DESK = "desk"
BACKUP = "backup.zip"
# Everything that would reveal the erased customer.
TRACE = b"Okafor"
REVISION = "ab" * 32
DAY_MS = 86_400_000


def without_keeper(monkeypatch: Any) -> None:
    """The thread that writes the views in quiet times stays idle, so that every run makes the same calls."""
    monkeypatch.setattr(logbook_module, "IDLE_S", 86_400.0)


class Day:
    """The day of one folder. `play` runs it; a step that the disk stops is noted as broken, and the next ones follow.

    Args of the constructor:
        top: where the desk's folder and the backup go [path]
        rulebook: all books
        recorder: entered by `play` [Recorder]
    """

    def __init__(self, top: Path, rulebook: Books, recorder: Recorder) -> None:
        self.top, self.folder, self.rulebook, self.recorder = top, top / DESK, rulebook, recorder
        self.van, self.truck = Phone("a1de"), Phone("b0b0", JUNE_12 + 5_000_000)
        self.photos = [photo(1, (60, 40)), photo(2, (60, 40))]
        files = FolderFiles(self.folder, floor_bytes=0)
        self.pairings, self.store = Pairings(files), PhotoStore(files)
        self.logbook: Logbook | None = None

    def play(self) -> None:
        """All steps in order."""
        with self.recorder:
            try:
                self._play()
            finally:
                if self.logbook is not None:
                    self.logbook.close()

    def _play(self) -> None:
        self.step(self.open)
        if self.logbook is None:
            # A service that didn't start answers nobody.
            return
        self.step(lambda: self.pair(self.van, "van"))
        self.step(lambda: self.pair(self.truck, "truck"))
        okafor, lund = self.okafor_visit(), self.lund_visit()
        self.step(lambda: self.file_photo(self.photos[0], 3))
        self.sheet(lund, ("made", "approved", "queued", "sent"))
        self.sheet(okafor, ("made", "approved"))
        self.step(self.flush)
        self.cards(lund)
        self.step(self.restart)
        self.shared(lund)
        self.step(self.back_up)
        self.step(lambda: self.file_photo(self.photos[1], 2))
        self.step(lambda: self.erase(okafor))
        self.sheet(lund, ("made", "approved", "failed"), "cd" * 32)
        self.step(self.rebuild)
        self.step(lambda: self.revoke("truck"))
        last = self.van.new_id()
        self.send(self.van, self.van.opening(last), self.van.plate(last, "LT 77"))

    def step(self, act: Callable[[], Any]) -> None:
        """One step; if the disk stops it, that is noted."""
        try:
            act()
        except (LaybyError, OSError) as error:
            self.recorder.note("broken", getattr(error, "code", "system"))

    # The service ----------------------------------------------------------------------------------------------------

    def open(self) -> None:
        """A start."""
        logbook = Logbook(self.folder, self.rulebook, floor_bytes=0)
        self.logbook = logbook.__enter__()
        self.recorder.note("opened", DESK)

    @property
    def desk(self) -> Logbook:
        """The open logbook."""
        if self.logbook is None:
            raise NotOpen
        return self.logbook

    def flush(self) -> None:
        """The views are written."""
        self.desk.flush()

    def restart(self) -> None:
        """An end and a start."""
        self.desk.close()
        self.logbook = None
        self.open()

    def rebuild(self) -> None:
        """All views are made again, and then one of them."""
        rebuild(self.desk, lambda done, of: None)
        rebuild_one(self.desk, "days/2026-06-12")

    def back_up(self) -> None:
        """A backup beside the folder."""
        made = back_up(self.desk, self.top / BACKUP, JUNE_12)
        self.recorder.note("backed up", BACKUP, made["sha256"])

    def erase(self, visit: str) -> None:
        """A customer goes."""
        self.recorder.note("erasing", visit)
        erase(self.desk, "M. Okafor", JUNE_12)
        self.recorder.note("erased", visit)

    # The phones -----------------------------------------------------------------------------------------------------

    def pair(self, phone: Phone, name: str) -> None:
        """A phone is paired."""
        offer = self.pairings.offer(JUNE_12)
        token, device = self.pairings.pair(Claim(offer.code, phone.device, name), JUNE_12)
        self.recorder.note("paired", token, device["device"])

    def revoke(self, name: str) -> None:
        """A phone's token is made worthless."""
        device = self.pairings.devices()[-1]["device"]
        self.recorder.note("revoking", device)
        self.pairings.revoke(name, JUNE_12 + 5)
        self.recorder.note("revoked", device)

    def send(self, phone: Phone, *ops: dict[str, Any]) -> None:
        """One batch of a phone's own lines."""
        self.step(lambda: send(self.desk, phone.device, [line_of(op) for op in ops], self.recorder))

    def okafor_visit(self) -> str:
        """The visit of the customer who is erased later, with a photo; returns its id."""
        van = self.van
        visit = van.new_id()
        body = {"customer": {"id": "c-7", "name": "M. Okafor"}, "vehicle": {"id": "v-7", "plate": "LT 482"}}
        base = dict.fromkeys(("/customer/id", "/customer/name", "/vehicle/id", "/vehicle/plate"))
        self.send(van, van.opening(visit), van.op(visit, "visit.set", body, base))
        self.send(van, van.test(visit, vent_c=7.0),
                  van.op(visit, "photo.add", {"sha256": name_of(self.photos[0]), "role": "before"}))
        return visit

    def lund_visit(self) -> str:
        """A visit of two phones, with a conflict and a refused line; returns its id."""
        van, truck = self.van, self.truck
        visit = van.new_id()
        body = {"customer": {"id": "c-1", "name": "S. Lund"}, "vehicle": {"id": "v-1"}}
        base = dict.fromkeys(("/customer/id", "/customer/name", "/vehicle/id"))
        self.send(van, van.opening(visit), van.op(visit, "visit.set", body, base), van.plate(visit, "ALD 4127"))
        self.send(truck, truck.plate(visit, "ALD 4172"), truck.test(visit, "t1", vent_c=9.5))
        self.send(van, van.op(visit, "visit.set", {"wheels": 4}), van.test(visit, "b1", vent_c=7.5))
        return visit

    def cards(self, lund: str) -> None:
        """What is filed beside the visits."""
        van = self.van
        self.send(van, van.beside("vehicle.set", {"/year": None}, id="v-1", year=2016),
                  van.beside("baseline.mark", vehicle="v-1", visit=lund, test="b1", healthy=True),
                  van.beside("customer.set", {"/phone": None}, id="c-1", phone="555-0188"))

    def shared(self, lund: str) -> None:
        """The other phone continues the visit on a later day."""
        self.truck.ms += DAY_MS
        own = self.truck.new_id()
        self.send(self.truck, self.truck.test(lund, "t2", vent_c=6.0), self.truck.opening(own),
                  self.truck.plate(own, "CV 9"))
        self.send(self.van, self.van.op(lund, "photo.add", {"sha256": name_of(self.photos[1]), "role": "after"}))

    def file_photo(self, content: bytes, pieces: int) -> None:
        """A photo in pieces."""
        size = -(-len(content) // pieces)
        for at in range(0, len(content), size):
            self.recorder.note("photo sent", name_of(content), content)
            held = self.store.append(name_of(content), at, len(content), content[at : at + size])
            self.recorder.note("photo", name_of(content), held)

    # The sheets -----------------------------------------------------------------------------------------------------

    def sheet(self, visit: str, states: tuple[State, ...], revision: str = REVISION) -> None:
        """A sheet enters states, one after another; its letter is spooled before it is queued."""
        for number, state in enumerate(states):
            self.step(lambda number=number, state=state: self._state(visit, revision, state, number))

    def _state(self, visit: str, revision: str, state: State, number: int) -> None:
        sheets, name, at = SheetRecords(self.desk), f"{visit}-1.eml", JUNE_12 + number
        pdf, letter = f"%PDF-1.7 {visit} {revision}".encode(), f"To: customer of {visit}".encode()
        if state == "made":
            record = sheets.keep(visit, revision, pdf, at)
            self.recorder.note("printed", f"{DESK}/sheets/{record['file']}", pdf)
        else:
            more: SheetPost = {}
            if state == "queued":
                sheets.spool(name, letter)
                more = {"spool": name, "recipients": ["lund@mail.example"], "letters": 1, "queued_at": at}
            record = sheets.note(visit, revision, {"state": state, "at": at, "reason": None}, more)
        self.recorder.note("sheet", (visit, revision), record["states"])
        if state == "queued":
            self.recorder.note("letter", f"{DESK}/spool/{name}", letter)
        if state == "sent":
            self.recorder.note("handed", at, sheets.handed(at, JUNE_12 - 1))
            self.recorder.note("letter over", f"{DESK}/spool/{name}")
            sheets.unspool(record)


class NotOpen(LaybyError):
    """The desk did not start."""

    code = "not_open"


def send(logbook: Logbook, device: str, lines: list[bytes], recorder: Recorder) -> list[Any]:
    """Hand in lines as a device does; returns the answer, which is noted."""
    for line in lines:
        recorder.note("sent", line, device)
    results: list[Any] = receive(logbook, b"".join(lines), JUNE_12, device)["results"]
    for line, result in zip(lines, results, strict=True):
        recorder.note("answered", line, result)
    return results
