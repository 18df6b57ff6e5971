"""The evening end to end: filed visits become sheets, approved ones letters, each sent once.

Real journal, real press, real SMTP peer; the visits are invented.
"""

from __future__ import annotations

import copy
import json
import socket
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import date
from email import message_from_bytes
from email.policy import default
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from server.settings import BadSettings, load
from server.tasks import evening
from server.tasks.mail_queue import GIVE_UP_MS, MINUTE_MS, send
from sync.records.embedded.folder_files import FolderFiles
from sync.records.logbook import Logbook
from sync.records.receipts import receipts
from sync.records.sheet_record import state_of
from sync.records.sheet_records import SheetRecords
from sync.work.intake import receive
from tests.reports.test_mail import Authority, Peer, listening
from tests.support import children
from tests.support.ops import Phone, line_of
from tests.support.service import PATIENCE_S
from tests.support.sheet_visits import DECLINED, PAIR, SINGLE, changed, operations

FROM = {"from": "office@aldercoast.example"}
ROOT = Path(__file__).resolve().parents[2]
DAY = date(2026, 7, 14)
NOW = 1_784_050_000_000  # the evening of that day [ms since 1970]
Rulebook = dict[str, Any]


class Desk:
    """A folder with a day's visits, and the evening's three steps on it."""

    def __init__(self, logbook: Logbook, rulebook: Rulebook) -> None:
        self.logbook, self.rulebook = logbook, rulebook
        self.sheet_records, self.phone = SheetRecords(logbook), Phone()

    def file(self, body: bytes) -> None:
        """Take in operations as from a phone."""
        results = receive(self.logbook, body, NOW)["results"]
        assert [result["status"] for result in results] == ["accepted"] * len(results), results

    def make(self) -> list[dict[str, Any]]:
        """The day's sheets."""
        return evening.make_sheets(self.logbook, self.sheet_records, DAY, self.rulebook)

    def approve(self, *visits: str) -> list[dict[str, Any]]:
        """A person's approval."""
        return evening.approve(self.logbook, self.sheet_records, visits, self.rulebook)

    def send(self, later_min: int = 0) -> list[dict[str, Any]]:
        """The mail, some minutes into the evening."""
        return send(self.logbook, self.sheet_records, self.rulebook, NOW + later_min * MINUTE_MS)

    def settings(self, **smtp: Any) -> None:
        """Write the folder's settings."""
        (self.logbook.folder / "settings.json").write_text(json.dumps({"smtp": smtp}), "utf-8")

    def state(self, visit: dict[str, Any]) -> str:
        """The state of a visit's newest sheet."""
        record = self.sheet_records.newest(visit["id"])
        assert record is not None
        return state_of(record)


@pytest.fixture
def desk(folder: Path, rulebook: Rulebook) -> Iterator[Desk]:
    """One visit filed, with a test before and after."""
    with Logbook(folder, rulebook) as logbook:
        made = Desk(logbook, rulebook)
        made.file(operations(PAIR, made.phone))
        yield made


@pytest.fixture
def day(desk: Desk) -> Desk:
    """Two more filed: a single test, and declined without an address."""
    for visit in (SINGLE, DECLINED):
        desk.file(operations(visit, desk.phone))
    return desk


@contextmanager
def mailing(desk: Desk, peer: Peer, folder: Path) -> Iterator[None]:
    """A real mail server over TLS, written into the folder's settings."""
    authority = Authority(folder)
    with listening(peer, ssl_context=authority.context) as port:
        desk.settings(host="127.0.0.1", port=port, security="tls", ca_file=str(authority.file), timeout_s=PATIENCE_S,
                      **{"from": "Alder Coast Mobile Cooling <office@aldercoast.example>"})
        yield


def test_the_day_becomes_sheets(day: Desk) -> None:
    """One PDF per visit, in the order of the day, with what was filed on it."""
    rows = day.make()
    assert [row["visit"] for row in rows] == [PAIR["id"], SINGLE["id"], DECLINED["id"]]
    assert [row["state"] for row in rows] == ["made"] * 3
    text = PdfReader(BytesIO((day.logbook.folder / "sheets" / rows[0]["file"]).read_bytes())).pages[0].extract_text()
    assert "Noor Halloran" in text
    assert [note["code"] for note in rows[2]["notes"]] == ["note_no_address", "note_no_test", "note_not_ended"]
    assert json.loads(json.dumps(rows)) == rows


def test_making_again_makes_nothing_new(desk: Desk) -> None:
    """The same visits keep their files, byte for byte and untouched."""
    desk.make()
    before = {path: path.stat().st_mtime_ns for path in (desk.logbook.folder / "sheets").iterdir()}
    desk.make()
    assert {path: path.stat().st_mtime_ns for path in (desk.logbook.folder / "sheets").iterdir()} == before


def test_a_broken_visit_holds_up_no_other(day: Desk, rulebook: Rulebook) -> None:
    """A visit that can't be evaluated says why; its neighbours get their sheets."""
    words = copy.deepcopy(rulebook)
    del words["words"]["en"]["sheet"]["measured"]["once"]  # a sentence that only one of the three needs
    day.rulebook = words
    pair, single, declined = day.make()
    assert (single["state"], single["reason"]["code"]) == ("failed", "sheet_data")
    assert "measured.once" in single["reason"]["text"]
    assert [row["state"] for row in (pair, declined)] == ["made", "made"]


def test_the_newest_sheet_is_made_when_asked_for(desk: Desk) -> None:
    """A person who asks for a sheet gets it now, and after a change the changed one."""
    first = evening.newest_sheet(desk.logbook, PAIR["id"])
    assert first.startswith(b"%PDF")
    desk.file(changed(PAIR, desk.phone, "Come again in spring."))
    second = evening.newest_sheet(desk.logbook, PAIR["id"])
    assert "Come again in spring." in "".join(page.extract_text() for page in PdfReader(BytesIO(second)).pages)


def test_approval_is_an_operation_in_the_journal(day: Desk) -> None:
    """Filed under the desk's own device with the digest of what was approved; approving again files nothing."""
    rows = day.make()
    assert [row["state"] for row in day.approve(PAIR["id"], SINGLE["id"])] == ["approved", "approved"]
    assert [row["state"] for row in day.approve(PAIR["id"])] == ["approved"]
    (op,) = [op for op in day.logbook.ops(PAIR["id"]) if op["kind"] == "sheet.approve"]
    assert (op["device"], op["body"]) == ("de5c", {"revision": rows[0]["revision"]})
    assert [entry["seq"] for entry in receipts(day.logbook, "de5c", 0)["receipts"]] == [1, 2]


def test_a_sheet_whose_visit_changed_is_not_approved(desk: Desk) -> None:
    """What was looked at isn't what would go out: it says so, and the new revision can be approved."""
    desk.make()
    desk.file(changed(PAIR, desk.phone, "Come again in spring."))
    (row,) = desk.approve(PAIR["id"])
    assert (row["state"], row["reason"]["code"]) == ("made", "sheet_changed")
    assert desk.make()[0]["number"] == 2
    assert desk.approve(PAIR["id"])[0]["state"] == "approved"


def test_nothing_is_approved_that_was_never_made(desk: Desk) -> None:
    """A person can't have looked at it."""
    assert desk.approve(PAIR["id"])[0]["reason"]["code"] == "not_made"


def test_without_a_server_letters_are_left_as_files(day: Desk) -> None:
    """An .eml for each approved sheet with the PDF in it; sending again leaves nothing more."""
    day.make()
    day.approve(PAIR["id"], SINGLE["id"])
    rows = day.send()
    assert [(row["state"], row["reason"]["code"]) for row in rows] == [("sent", "left_as_file")] * 2
    files = sorted((day.logbook.folder / "outgoing").iterdir())
    assert len(files) == 2
    message = message_from_bytes(files[0].read_bytes(), policy=default)
    assert message["To"].addresses[0].addr_spec == "noor@halloran.example"
    assert message["From"].addresses[0].addr_spec == "varga@aldercoast.example"
    record = day.sheet_records.newest(PAIR["id"])
    assert record is not None
    assert next(message.iter_attachments()).get_content() == day.sheet_records.pdf(record)
    kept = [path.stat().st_mtime_ns for path in files]
    assert day.send() == []
    assert [path.stat().st_mtime_ns for path in sorted((day.logbook.folder / "outgoing").iterdir())] == kept


def test_an_approved_sheet_is_mailed_once(desk: Desk, tmp_path: Path) -> None:
    """Over TLS, answers go to the technician, the summary in plain text; a second and third run send nothing."""
    peer = Peer()
    with mailing(desk, peer, tmp_path):
        desk.make()
        desk.approve(PAIR["id"])
        assert [row["state"] for row in desk.send()] == ["sent"]
        assert desk.send() == []
        desk.make()
        desk.approve(PAIR["id"])
        assert desk.send(60) == []
    (envelope,) = peer.taken
    assert (envelope.mail_from, envelope.rcpt_tos) == ("office@aldercoast.example", ["noor@halloran.example"])
    message = message_from_bytes(bytes(envelope.content or b""), policy=default)
    assert message["Reply-To"].addresses[0].addr_spec == "varga@aldercoast.example"
    body = message.get_body(("plain",))
    assert body is not None
    assert "Total: 120.00\u00a0EUR, paid" in body.get_content()
    assert list((desk.logbook.folder / "spool").iterdir()) == []


def test_a_put_off_letter_goes_later_under_its_own_id(desk: Desk, tmp_path: Path) -> None:
    """451 waits five minutes, isn't tried earlier, and then the same message goes."""
    peer = Peer()
    peer.for_data = ["451 come back"]
    with mailing(desk, peer, tmp_path):
        desk.make()
        desk.approve(PAIR["id"])
        (row,) = desk.send()
        assert (row["state"], row["reason"]["code"]) == ("queued", "mail_later")
        assert "come back" in row["reason"]["text"]
        record = desk.sheet_records.newest(PAIR["id"])
        assert record is not None
        kept = desk.sheet_records.letter(record)
        assert desk.send(4)[0]["state"] == "queued"
        assert peer.taken == []
        assert desk.send(5)[0]["state"] == "sent"
    assert bytes(peer.taken[0].content or b"").rstrip() == kept.rstrip()


def test_a_refused_letter_is_for_a_person(desk: Desk, tmp_path: Path) -> None:
    """550 fails with the server's words and isn't tried again; approved again, it gets a new letter."""
    peer = Peer()
    peer.by_recipient = {"noor@halloran.example": "550 no such person"}
    with mailing(desk, peer, tmp_path):
        desk.make()
        desk.approve(PAIR["id"])
        (row,) = desk.send()
        assert (row["state"], row["reason"]["code"]) == ("failed", "mail_refused")
        assert "no such person" in row["reason"]["text"]
        assert desk.send(600) == []
        first = desk.sheet_records.newest(PAIR["id"])
        peer.by_recipient = {}
        desk.approve(PAIR["id"])
        assert [row["state"] for row in desk.send(601)] == ["sent"]
    second = desk.sheet_records.newest(PAIR["id"])
    assert first is not None
    assert second is not None
    assert first["message_id"] != second["message_id"]


def test_an_unreachable_server_is_tried_at_the_next_run_and_for_five_days(desk: Desk) -> None:
    """No waiting time for a server that never answered; after five days a person is told."""
    desk.settings(host="127.0.0.1", port=9, security="none", **FROM, timeout_s=2)
    desk.make()
    desk.approve(PAIR["id"])
    assert [row["reason"]["code"] for row in desk.send()] == ["mail_later"]
    assert [row["reason"]["code"] for row in desk.send(1)] == ["mail_later"]
    (row,) = desk.send(GIVE_UP_MS // MINUTE_MS)
    assert (row["state"], row["reason"]["code"]) == ("failed", "mail_gave_up")
    assert desk.send(GIVE_UP_MS // MINUTE_MS + 1) == []


def test_a_customer_without_an_address_stops_no_other(day: Desk) -> None:
    """Named for a person; the neighbour's letter goes out."""
    day.make()
    day.approve(DECLINED["id"], PAIR["id"])
    rows = {row["visit"]: row for row in day.send()}
    assert (rows[DECLINED["id"]]["state"], rows[DECLINED["id"]]["reason"]["code"]) == ("failed", "no_address")
    assert rows[PAIR["id"]]["state"] == "sent"


def test_a_visit_changed_after_approval_is_not_sent_stale(desk: Desk) -> None:
    """The approved sheet no longer says what is filed: it is held for a person."""
    desk.make()
    desk.approve(PAIR["id"])
    desk.file(changed(PAIR, desk.phone, "Come again in spring."))
    (row,) = desk.send()
    assert (row["state"], row["reason"]["code"]) == ("failed", "sheet_changed")


def test_a_corrected_sheet_names_the_one_it_replaces(desk: Desk) -> None:
    """After the first was sent, the second revision says so on paper and goes out as a letter of its own."""
    desk.make()
    desk.approve(PAIR["id"])
    desk.send()
    desk.file(changed(PAIR, desk.phone, "Come again in spring."))
    row = desk.make()[0]
    assert (row["state"], row["number"]) == ("made", 2)
    pdf = PdfReader(desk.logbook.folder / "sheets" / row["file"])
    text = " ".join("".join(page.extract_text() for page in pdf.pages).split())
    assert "This sheet replaces the one sent on" in text
    assert "(revision 1)" in text
    desk.approve(PAIR["id"])
    assert [row["state"] for row in desk.send()] == ["sent"]
    assert len(list((desk.logbook.folder / "outgoing").iterdir())) == 2


def test_a_void_visit_gets_no_sheet(day: Desk) -> None:
    """Struck by its technician: listed with the reason, printed never."""
    day.file(line_of(day.phone.op(DECLINED["id"], "visit.void", {"reason": "entered twice"})))
    row = day.make()[2]
    assert row["reason"]["code"] == "void"
    assert row["file"] is None


SENDING = """
import sys
from pathlib import Path
from server.tasks.mail_queue import send
from sync import rulebook
from sync.records.logbook import Logbook
from sync.records.sheet_records import SheetRecords
books = rulebook.load()
with Logbook(Path(sys.argv[1]), books) as logbook:
    send(logbook, SheetRecords(logbook), books, int(sys.argv[2]))
"""


def test_a_kill_while_sending_loses_nothing(folder: Path, rulebook: Rulebook, tmp_path: Path) -> None:
    """A process is killed while the server stays silent: its letter is queued on disk, and that very one goes later."""
    with Logbook(folder, rulebook) as logbook:
        desk = Desk(logbook, rulebook)
        desk.file(operations(PAIR, desk.phone))
        desk.make()
        desk.approve(PAIR["id"])
    with socket.socket() as silent:
        silent.bind(("127.0.0.1", 0))
        silent.listen()
        desk.settings(host="127.0.0.1", port=silent.getsockname()[1], security="none", **FROM)
        silent.settimeout(PATIENCE_S)
        command = [sys.executable, "-c", SENDING, str(folder), str(NOW)]
        with children.beside(command, cwd=ROOT) as sender, silent.accept()[0]:
            sender.kill()  # the letter is queued before the server is spoken to
    (spooled,) = (folder / "spool").iterdir()
    kept, peer = spooled.read_bytes(), Peer()
    with Logbook(folder, rulebook, patience_s=PATIENCE_S) as logbook, mailing(Desk(logbook, rulebook), peer, tmp_path):
        desk = Desk(logbook, rulebook)
        assert desk.state(PAIR) == "queued"
        assert [row["state"] for row in desk.send()] == ["sent"]
        assert desk.send() == []
    assert bytes(peer.taken[0].content or b"").rstrip() == kept.rstrip()


def test_the_environment_goes_before_the_file(folder: Path) -> None:
    """LAYBY_SMTP_* over settings.json, with the usual port of each kind of security."""
    folder.mkdir()
    assert load(FolderFiles(folder), {})["smtp"] is None
    (folder / "settings.json").write_text(json.dumps(
        {"smtp": {"host": "mail.a.example", "from": "a@a.example"}, "sheet": {"paper": "Letter"}}), "utf-8")
    assert load(FolderFiles(folder), {})["smtp"]["port"] == 465
    smtp = load(FolderFiles(folder), {"LAYBY_SMTP_HOST": "mail.b.example", "LAYBY_SMTP_SECURITY": "starttls"})["smtp"]
    assert (smtp["host"], smtp["port"], smtp["from"]) == ("mail.b.example", 587, "a@a.example")
    assert load(FolderFiles(folder), {})["sheet"] == {"language": "en", "paper": "Letter", "technician": {}}


@pytest.mark.parametrize("kept", [
    "{torn", "[]", '{"smtp": {"host": "m.example"}}',
    '{"smtp": {"host": "m.example", "from": "a@b.example", "port": "x"}}',
    '{"smtp": {"host": "m.example", "from": "a@b.example", "security": "maybe"}}', '{"sheet": {"paper": "A0"}}',
    '{"smtp": {"host": "m.example", "from": "a@b.example", "pasword": "x"}}', '{"smtp": "m.example"}',
    '{"smtp": {"host": "m.example", "from": "a@b.example", "port": "²"}}', "[" * 100_000, '{"sheet": {"language": 7}}',
    '{"smtp": {"host": "m.example", "from": "a@b.example", "security": ["tls"]}}', '{"sheet": {"paper": ["A4"]}}',
    '{"smtp": {"host": ["m.example"], "from": "a@b.example"}}', '{"smtp": {"host": "m.example", "from": 7}}',
    '{"smtp": {"host": "m.example", "from": "a@b.example", "port": ' + "9" * 5000 + "}}",
])
def test_a_setting_that_cannot_be_used_is_named(kept: str, folder: Path) -> None:
    """Never guessed at, never silently ignored."""
    folder.mkdir()
    (folder / "settings.json").write_text(kept, "utf-8")
    with pytest.raises(BadSettings) as bad:
        load(FolderFiles(folder), {})
    assert bad.value.code == "bad_settings"
    assert "setting" in bad.value.values


def test_two_evenings_at_once_do_everything_once(desk: Desk, tmp_path: Path) -> None:
    """A button pressed twice: one sheet, one approval, one letter."""
    peer = Peer()
    with mailing(desk, peer, tmp_path), ThreadPoolExecutor(4) as threads:
        for step in (desk.make, lambda: desk.approve(PAIR["id"]), desk.send):
            for made in [threads.submit(step) for _ in range(4)]:
                made.result(timeout=PATIENCE_S)
    record = desk.sheet_records.newest(PAIR["id"])
    assert record is not None
    assert [entry["state"] for entry in record["states"]] == ["made", "approved", "queued", "sent"]
    assert [op["kind"] for op in desk.logbook.ops(PAIR["id"])].count("sheet.approve") == 1
    assert len(peer.taken) == 1
