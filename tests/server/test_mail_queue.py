"""The post's limits and repairs: letters an hour, a server that stays silent for days, a damaged page of the records.

Real journal, real press, real SMTP peers; nothing here waits for a clock: the time to go by is given.
"""

from __future__ import annotations

import copy
import json
import shutil
import socket
from email import message_from_bytes
from email.policy import default
from pathlib import Path
from typing import Any

import pytest

from server.settings import BadSettings, load
from server.tasks.mail_queue import GIVE_UP_MS, MINUTE_MS
from server.tasks.mail_test import send_test
from sync.records.sheet_record import state_of
from sync.records.sheet_records import SheetRecords
from sync.records.sheet_repair import mend
from tests.reports.test_mail import Authority, Peer, listening
from tests.server.test_evening import FROM, NOW, Desk, desk, mailing  # noqa: F401 -- the fixture is used by its name
from tests.support import children
from tests.support.ops import uuid7
from tests.support.service import LAYBY, PATIENCE_S
from tests.support.sheet_visits import PAIR, STARTED_MS, operations

Rulebook = dict[str, Any]


@pytest.fixture
def three(desk: Desk) -> Desk:  # noqa: F811 -- pytest hands the fixture over under its name
    """Three visits approved, each of a customer of its own."""
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
    """Two at once, the third when the first of them is an hour ago; said once, and nothing is lost."""
    peer = Peer()
    with mailing(three, peer, tmp_path):
        kept = json.loads((three.logbook.folder / "settings.json").read_text("utf-8"))
        kept["smtp"]["per_hour"] = 2
        (three.logbook.folder / "settings.json").write_text(json.dumps(kept), "utf-8")
        rows = three.send()
        assert sorted(row["state"] for row in rows) == ["queued", "sent", "sent"]
        held = next(row for row in rows if row["state"] == "queued")
        assert held["reason"]["code"] == "mail_hourly"
        assert "2 letters an hour" in held["reason"]["text"]
        assert [row["state"] for row in three.send(59)] == ["queued"]
        record = three.sheet_records.newest(held["visit"])
        assert record is not None
        assert [entry["state"] for entry in record["states"]].count("queued") == 2
        assert [row["state"] for row in three.send(60)] == ["sent"]
    assert len(peer.taken) == 3


def test_a_server_that_puts_off_for_five_days_is_given_up(desk: Desk, tmp_path: Path) -> None:  # noqa: F811
    """Tried in growing steps, then failed, kept with the server's words, and shown to a person."""
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
    assert send_test(folder, rulebook)["code"] == "mail_test_file"
    left = message_from_bytes((folder / "outgoing" / "test-message.eml").read_bytes(), policy=default)
    assert left["Subject"] == "Layby: test message"
    peer = Peer()
    with mailing(desk, peer, tmp_path):
        assert send_test(folder, rulebook)["code"] == "mail_test"
        peer.for_data = ["554 no"]
        refused = send_test(folder, rulebook)
    (envelope,) = peer.taken
    assert (envelope.mail_from, envelope.rcpt_tos) == ("office@aldercoast.example", ["office@aldercoast.example"])
    assert refused["code"] == "mail_test_failed"
    assert "554 no" in refused["text"]


def test_the_command_sends_a_test_message(folder: Path) -> None:
    """`layby send --test` says what became of it, with a status that a script can read."""
    folder.mkdir()
    with socket.socket() as closed:
        closed.bind(("127.0.0.1", 0))
        smtp = {"host": "127.0.0.1", "port": closed.getsockname()[1], "security": "none", "timeout_s": 5, **FROM}
        (folder / "settings.json").write_text(json.dumps({"smtp": smtp}), "utf-8")
        command = [LAYBY, "--folder", folder, "send", "--test"]
        done = children.run(command)
    assert done.returncode == 1
    assert "office@aldercoast.example did not go" in done.stdout


@pytest.fixture
def posted(three: Desk, tmp_path: Path) -> Desk:
    """One letter sent, two queued behind a server that put them off; then the page of the day is damaged."""
    peer = Peer()
    peer.by_recipient = {"guest1@gorse.example": "451 later", "guest2@gorse.example": "451 later"}
    with mailing(three, peer, tmp_path):
        three.send()
    day = next(path for path in (three.logbook.folder / "sheetbook").glob("2026-*.json"))
    day.write_bytes(day.read_bytes()[:200])
    return three


def test_a_damaged_page_is_made_again_from_what_else_is_there(posted: Desk, tmp_path: Path) -> None:
    """Queued letters go under their own Message-ID; what may have been sent is asked about, never sent again."""
    folder = posted.logbook.folder
    letters = {path.name: path.read_bytes() for path in (folder / "spool").iterdir()}
    assert len(letters) == 2
    assert len(mend(folder, posted.logbook.ops)) == 1
    assert list((folder / "sheetbook").glob("*.unreadable-*"))
    lost = posted.sheet_records.newest(PAIR["id"])
    assert lost is not None
    assert (state_of(lost), lost["states"][-1]["reason"]["code"]) == ("failed", "sheet_record_lost")
    peer = Peer()
    with mailing(posted, peer, tmp_path):
        assert [row["state"] for row in posted.send(10)] == ["sent", "sent"]
    ids = {message_from_bytes(content, policy=default)["Message-ID"] for content in letters.values()}
    went = [message_from_bytes(bytes(envelope.content or b""), policy=default) for envelope in peer.taken]
    assert {message["Message-ID"] for message in went} == ids
    assert mend(folder, posted.logbook.ops) == []


def test_a_sheet_whose_record_was_lost_can_be_approved_and_sent(posted: Desk, tmp_path: Path) -> None:
    """A person looked among the sent mail: approved again it goes, under a Message-ID of its own."""
    mend(posted.logbook.folder, posted.logbook.ops)
    assert [row["state"] for row in posted.approve(PAIR["id"])] == ["approved"]
    peer = Peer()
    with mailing(posted, peer, tmp_path):
        assert {row["state"] for row in posted.send(10)} == {"sent"}
    assert len(peer.taken) == 3


def test_letters_left_as_files_are_known_again(desk: Desk) -> None:  # noqa: F811
    """Without a mail server the file itself proves it; sending again leaves no second one."""
    desk.make()
    desk.approve(PAIR["id"])
    desk.send()
    day = next(path for path in (desk.logbook.folder / "sheetbook").glob("2026-*.json"))
    day.write_bytes(b"{torn")
    mend(desk.logbook.folder, desk.logbook.ops)
    assert desk.state(PAIR) == "sent"
    assert desk.send() == []
    assert len(list((desk.logbook.folder / "outgoing").iterdir())) == 1


def test_a_lost_list_of_what_is_underway_is_made_again(posted: Desk) -> None:
    """The list and the page both damaged: the queued ones are on it again."""
    folder = posted.logbook.folder
    (folder / "sheetbook" / "underway.json").write_bytes(b"")
    assert len(mend(folder, posted.logbook.ops)) == 2
    assert len(SheetRecords(folder).underway()) == 2


def test_the_evening_mends_before_it_reads(posted: Desk) -> None:
    """The command on a folder with a damaged page: no error, and what is open is told."""
    folder = posted.logbook.folder
    copied = folder.with_name("copied")
    posted.logbook.flush()
    shutil.copytree(folder, copied, ignore=shutil.ignore_patterns("*.lock"))
    done = children.run([LAYBY, "--folder", copied, "evening", "--day", "2026-07-14"])
    assert "Traceback" not in done.stderr
    assert "was damaged" in done.stdout
    assert done.returncode == 1


@pytest.mark.parametrize("kept", [{}, [{"name": "x"}], [{"name": "x", "until": "soon"}], ["x"]])
def test_a_calibration_that_cannot_be_read_is_named(kept: Any, folder: Path) -> None:
    """Neither guessed nor ignored; an empty list is none."""
    folder.mkdir()
    (folder / "settings.json").write_text(json.dumps({"calibrations": kept or {"x": 1}}), "utf-8")
    with pytest.raises(BadSettings) as bad:
        load(folder, {})
    assert bad.value.values["setting"] == "calibrations"


def test_where_no_sheet_was_made_nothing_is_mended(folder: Path) -> None:
    """A folder without sheet records has nothing to mend."""
    folder.mkdir()
    assert mend(folder, lambda _: []) == []
