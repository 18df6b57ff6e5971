"""The mail's limits and repairs: letters per hour, a server that stays silent for days, damage to the records.

Real journal, real press, real SMTP peers; nothing here waits for a clock: the time is given.
"""

from __future__ import annotations

import copy
import json
import socket
from contextlib import closing
from email import message_from_bytes
from email.policy import default
from pathlib import Path
from typing import Any

import pytest

from server.settings import BadSettings, load
from server.tasks import mail_queue
from server.tasks.mail_queue import GIVE_UP_MS, MINUTE_MS
from server.tasks.mail_test import send_test
from sync.records.embedded.folder_files import FolderFiles
from sync.records.embedded.framing import framed
from sync.records.logbook import Logbook
from sync.records.sheet_record import state_of
from sync.records.store.interface import Entry
from sync.wire.results import Result
from sync.work.rebuild import rebuild
from sync.work.troubles import troubles
from tests.reports.test_mail import Authority, Peer, listening
from tests.server.test_evening import FROM, NOW, Desk, desk, mailing  # noqa: F401 -- the fixture is used by its name
from tests.support import children
from tests.support.folders import records_at
from tests.support.ops import uuid7
from tests.support.service import LAYBY, PATIENCE_S
from tests.support.sheet_visits import PAIR, STARTED_MS, operations

Rulebook = dict[str, Any]


@pytest.fixture
def three(desk: Desk) -> Desk:  # noqa: F811 -- pytest hands the fixture over under its name
    """Three visits approved, each with its own customer."""
    visits = [PAIR["id"]]
    for number in (1, 2):
        visit = {**copy.deepcopy(PAIR), "id": uuid7(STARTED_MS + number * MINUTE_MS, 70 + number)}
        visit["customer"] = {"id": f"c{number}", "name": f"Guest {number}", "email": f"guest{number}@gorse.example"}
        desk.file(operations(visit, desk.phone))
        visits.append(visit["id"])
    desk.make()
    desk.approve(*visits)
    return desk


def test_no_more_letters_go_than_the_hour_allows(three: Desk, tmp_path: Path) -> None:
    """Two at once, the third when the first of them is an hour old; reported once, and nothing is lost."""
    peer = Peer()
    with mailing(three, peer, tmp_path):
        kept = json.loads((three.logbook.folder / "settings.json").read_text("utf-8"))
        kept["smtp"]["per_hour"] = 2
        (three.logbook.folder / "settings.json").write_text(json.dumps(kept), "utf-8")
        rows = three.send()
        assert sorted(row["state"] for row in rows) == ["queued", "sent", "sent"]
        held = next(row for row in rows if row["state"] == "queued")
        assert held["reason"]["code"] == "mail_hourly"
        assert "2 emails an hour" in held["reason"]["text"]
        assert [row["state"] for row in three.send(59)] == ["queued"]
        record = three.sheet_records.newest(held["visit"])
        assert record is not None
        assert [entry["state"] for entry in record["states"]].count("queued") == 2
        assert [row["state"] for row in three.send(60)] == ["sent"]
    assert len(peer.taken) == 3


def test_a_service_that_lost_its_claim_sets_nothing_back(
    desk: Desk, tmp_path: Path, rulebook: Rulebook  # noqa: F811
) -> None:
    """It read the sheet as approved, then another one sent the letter: that stays so, and none goes again."""
    peer = Peer()
    with mailing(desk, peer, tmp_path):
        desk.make()
        desk.approve(PAIR["id"])
        before = desk.sheet_records.newest(PAIR["id"])
        assert before is not None
        assert [row["state"] for row in desk.send()] == ["sent"]
        settings = load(desk.logbook.files)
        late = mail_queue.MailQueue(desk.logbook, desk.sheet_records, rulebook, settings["smtp"], settings["sheet"],
                                    NOW, lambda: None)
        assert state_of(mail_queue._moved_on(before, late)) == "sent"
    assert desk.state(PAIR) == "sent"
    assert len(peer.taken) == 1


def test_a_server_that_puts_off_for_five_days_is_given_up(desk: Desk, tmp_path: Path) -> None:  # noqa: F811
    """Tried at growing intervals, then failed, kept with the server's words, and shown to a person."""
    peer, tries = Peer(), 0
    with mailing(desk, peer, tmp_path):
        desk.make()
        desk.approve(PAIR["id"])
        waits = []
        minute = 0
        while desk.state(PAIR) != "failed":
            peer.for_data = ["451 not now"]
            desk.send(minute)
            tries += 1
            record = desk.sheet_records.newest(PAIR["id"])
            assert record is not None
            if state_of(record) == "queued":
                waits.append((int(record["next_try"]) - NOW) // MINUTE_MS - minute)
                minute += waits[-1]
    # Waiting times of minutes, then hours; common practice, no source
    assert waits[:5] == [5, 15, 60, 180, 360]
    assert set(waits[5:]) == {360}
    assert minute * MINUTE_MS >= GIVE_UP_MS
    assert record["states"][-1]["reason"]["code"] == "mail_gave_up"
    assert tries < 30
    assert peer.taken == []


def test_a_letter_over_the_servers_size_is_for_a_person(desk: Desk, tmp_path: Path) -> None:  # noqa: F811
    """A server that announces 10 kB (RFC 1870): refused at once with its words, not tried for days."""
    authority, peer = Authority(tmp_path), Peer()
    with listening(peer, ssl_context=authority.context, data_size_limit=10_000) as port:
        smtp = {"host": "127.0.0.1", "port": port, "security": "tls", "ca_file": str(authority.file), **FROM}
        desk.settings(**smtp, timeout_s=PATIENCE_S)
        desk.make()
        desk.approve(PAIR["id"])
        (row,) = desk.send()
    assert (row["state"], row["reason"]["code"]) == ("failed", "mail_refused")
    assert "552" in row["reason"]["text"]


def test_a_test_message_goes_to_oneself(desk: Desk, tmp_path: Path, rulebook: Rulebook) -> None:  # noqa: F811
    """From the account to itself; a server that refuses is quoted; without one a file is left."""
    folder = desk.logbook.folder
    assert send_test(FolderFiles(folder), rulebook)["code"] == "mail_test_file"
    left = message_from_bytes((folder / "outgoing" / "test-message.eml").read_bytes(), policy=default)
    assert left["Subject"] == "Layby: test message"
    peer = Peer()
    with mailing(desk, peer, tmp_path):
        assert send_test(FolderFiles(folder), rulebook)["code"] == "mail_test"
        peer.for_data = ["554 no"]
        refused = send_test(FolderFiles(folder), rulebook)
    (envelope,) = peer.taken
    assert (envelope.mail_from, envelope.rcpt_tos) == ("office@aldercoast.example", ["office@aldercoast.example"])
    assert refused["code"] == "mail_test_failed"
    assert "554 no" in refused["text"]


def test_the_command_sends_a_test_message(folder: Path) -> None:
    """`layby send --test` says what happened, with a status that a script can read."""
    folder.mkdir()
    with socket.socket() as closed:
        closed.bind(("127.0.0.1", 0))
        smtp = {"host": "127.0.0.1", "port": closed.getsockname()[1], "security": "none", "timeout_s": 5, **FROM}
        (folder / "settings.json").write_text(json.dumps({"smtp": smtp}), "utf-8")
        command = [LAYBY, "--folder", folder, "send", "--test"]
        done = children.run(command)
    assert done.returncode == 1
    assert "office@aldercoast.example was not sent" in done.stdout


@pytest.fixture
def posted(three: Desk, tmp_path: Path) -> Desk:
    """One letter sent, two queued because the server deferred them."""
    peer = Peer()
    peer.by_recipient = {"guest1@gorse.example": "451 later", "guest2@gorse.example": "451 later"}
    with mailing(three, peer, tmp_path):
        three.send()
    return three


def spoil_last_note(posted: Desk) -> Desk:
    """The journal's last note no longer reads back; the desk is opened again."""
    posted.logbook.close()
    journal, last = posted.logbook.folder / "journal.log", records_at(posted.logbook.folder)[-1]
    content = bytearray(journal.read_bytes())
    content[last + 60] ^= 1
    # Something intact after it; otherwise it would be an unfinished write.
    refused: Result = {"id": None, "status": "rejected", "digest": ""}
    journal.write_bytes(content + framed(Entry(NOW, refused, b"0" * 64 + b" {}")))
    logbook = Logbook(posted.logbook.folder, posted.rulebook).__enter__()
    logbook.look_through()
    return Desk(logbook, posted.rulebook)


def test_where_a_note_was_lost_no_letter_goes_by_itself(posted: Desk, tmp_path: Path) -> None:
    """It may have said that the letter was sent: a person is asked, and once approved again each goes once."""
    reopened = spoil_last_note(posted)
    peer = Peer()
    with closing(reopened.logbook), mailing(reopened, peer, tmp_path):
        rows = reopened.send(10)
        assert {row["reason"]["code"] for row in rows} == {"sheet_record_lost"}
        assert peer.taken == []
        assert {reason["code"] for reason in troubles(reopened.logbook)} == {"trouble_damage"}
        rebuild(reopened.logbook, lambda done, of: None)
        assert {reason["code"] for reason in troubles(reopened.logbook)} == {"trouble_lost", "trouble_aside"}
        waiting = [row["visit"] for row in rows]
        assert {row["state"] for row in reopened.approve(*waiting)} == {"approved"}
        rows = reopened.send(20)
        assert {(row["state"], str(row["reason"])) for row in rows} == {("sent", "None")}
    assert len(peer.taken) == len(waiting)


def test_damage_before_an_approval_holds_up_nothing(posted: Desk, tmp_path: Path) -> None:
    """What was lost before a sheet's own notes can't have said anything about them."""
    posted.logbook.close()
    journal = posted.logbook.folder / "journal.log"
    content = bytearray(journal.read_bytes())
    content[records_at(posted.logbook.folder)[2] + 60] ^= 1
    journal.write_bytes(content)
    peer = Peer()
    with Logbook(posted.logbook.folder, posted.rulebook) as logbook:
        logbook.look_through()
        reopened = Desk(logbook, posted.rulebook)
        with mailing(reopened, peer, tmp_path):
            assert [row["state"] for row in reopened.send(10)] == ["sent", "sent"]


def test_the_commands_tell_of_damage_and_mend_it(posted: Desk) -> None:
    """Check and backup name it with the remedy, and the remedy removes it; nothing suggests a restore."""
    spoil_last_note(posted).logbook.close()
    folder = posted.logbook.folder
    for name, command in {"check": ["check"], "backup": ["backup", str(folder.with_name("b.zip"))]}.items():
        done = children.run([LAYBY, "--folder", folder, *command])
        assert "Traceback" not in done.stderr, name
        assert "layby rebuild" in done.stdout, name
        assert "estore" not in done.stdout, name
    done = children.run([LAYBY, "--folder", folder, "rebuild"])
    assert (done.returncode, "set aside in journal.damaged-" in done.stdout) == (0, True)
    assert "layby rebuild" not in children.run([LAYBY, "--folder", folder, "check"]).stdout


@pytest.mark.parametrize("kept", [{}, [{"name": "x"}], [{"name": "x", "until": "soon"}], ["x"]])
def test_a_calibration_that_cannot_be_read_is_named(kept: Any, folder: Path) -> None:
    """Neither guessed nor ignored; an empty list means none."""
    folder.mkdir()
    (folder / "settings.json").write_text(json.dumps({"calibrations": kept or {"x": 1}}), "utf-8")
    with pytest.raises(BadSettings) as bad:
        load(FolderFiles(folder), {})
    assert bad.value.values["setting"] == "calibrations"
