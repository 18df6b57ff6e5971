"""The service: one at a time on a folder and on a port, gone with its parent, and nothing lost when it is killed."""

from __future__ import annotations

import errno
import hashlib
import http.client
import json
import os
import signal
import socket
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from server.process import remote
from server.process.endpoint import Endpoint
from sync.disk.folder_lock import FolderBusy
from sync.records.logbook import Logbook
from tests.support import children
from tests.support.folders import is_on_views
from tests.support.ops import Phone, body_of, line_of
from tests.support.service import LAYBY, PATIENCE_S, ROOT, Service
from tests.support.threads import join

NDJSON = "application/x-ndjson"


def soon(holds: Callable[[], bool], what: str) -> None:
    """Wait until something holds that must happen by itself."""
    until = time.monotonic() + PATIENCE_S
    while not holds():
        assert time.monotonic() < until, f"not within {PATIENCE_S} s: {what}"
        time.sleep(0.02)


def run(*words: str) -> children.CompletedProcess[str]:
    """`layby` with its answer."""
    command = [str(LAYBY), *words]
    return children.run(command, cwd=ROOT)


def worker_of(service: Service) -> int:
    """The process that holds the folder; it says so itself."""
    return int(json.loads((service.folder / "service.json").read_text())["pid"])


def exists(pid: int) -> bool:
    """Whether a process exists and isn't just waiting to be reaped."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    stat = Path(f"/proc/{pid}/stat")
    return not stat.exists() or stat.read_text().rpartition(")")[2].split()[0] != "Z"


def file_one(service: Service) -> dict[str, Any]:
    """File one opening; returns the operation."""
    phone = Phone()
    opening = phone.opening(phone.new_id())
    status, _, content = service.post("/sync", line_of(opening), NDJSON)
    assert (status, json.loads(content)["results"][0]["status"]) == (200, "accepted")
    return opening


def test_the_library_of_refrigerants_is_loaded_before_it_is_needed(service: Service) -> None:
    """Nobody asked for a judgement, but it is loaded: the first evening won't make the phones wait for it."""
    mapped = Path(f"/proc/{worker_of(service)}/maps")
    soon(lambda: "CoolProp" in mapped.read_text("utf-8"), "the library to be loaded")
    assert service.get("/receipts")[0] == 200


def test_it_says_where_it_answers(service: Service) -> None:
    """One line once it does."""
    line = f"Layby is ready at http://127.0.0.1:{service.port}\n"
    soon(lambda: line in service.log.read_text(), "the line in the log")


@pytest.mark.parametrize("kept", ["{torn", "[" * 100_000, '{"address": "desk.example"}', "\xff"])
def test_settings_that_cannot_be_used_keep_no_service_from_starting(folder: Path, kept: str) -> None:
    """It takes in entries and says what is wrong with the settings; the evening, which needs them, says so too."""
    folder.mkdir()
    (folder / "settings.json").write_bytes(kept.encode("latin-1"))
    service = Service(folder).start()
    file_one(service)
    soon(lambda: "ready" in service.log.read_text("utf-8"), "the line in the log")
    assert "The setting " in service.log.read_text("utf-8")
    assert "Traceback" not in service.log.read_text("utf-8")
    done = run("--folder", str(folder), "evening")
    assert (done.returncode, "The setting " in done.stderr) == (2, True) if "address" not in kept else (0, False), done
    service.stop()


def test_a_passphrase_that_cannot_be_read_keeps_no_service_from_starting(folder: Path) -> None:
    """Phones still hand in; the terminal says that the pages stay shut, and why."""
    folder.mkdir()
    (folder / "passphrase.json").write_text("{torn", "utf-8")
    service = Service(folder).start()
    file_one(service)
    soon(lambda: "ready" in service.log.read_text("utf-8"), "the line in the log")
    assert "passphrase.json cannot be read" in service.log.read_text("utf-8")
    service.stop()


@pytest.mark.parametrize("kept", ["[" * 100_000, "[]", '{"pid": 1e400, "key": "x", "host": "h", "port": 1}', "\xff"])
def test_a_note_that_cannot_be_read_is_none(folder: Path, kept: str) -> None:
    """Something else in place of the note of a running service."""
    folder.mkdir()
    (folder / remote.NOTE).write_bytes(kept.encode("latin-1"))
    assert remote.read_note(folder) is None


def test_a_second_service_on_the_folder_is_refused(service: Service, folder: Path) -> None:
    """On another port: the sentence names the folder, the first goes on."""
    second = Service(folder)
    done = run("--folder", str(folder), "serve", "--port", str(second.port))
    assert done.returncode == 2
    assert str(folder) in done.stderr
    assert "Traceback" not in done.stderr
    assert service.answers()
    file_one(service)


def test_a_second_service_on_the_port_is_refused(service: Service, tmp_path: Path) -> None:
    """On another folder: the sentence names the port, and every answer still comes from the first."""
    done = run("--folder", str(tmp_path / "other"), "serve", "--port", str(service.port))
    assert done.returncode == 2
    assert str(service.port) in done.stderr
    assert "Traceback" not in done.stderr
    opening = file_one(service)
    assert all(service.get(f"/receipts?device={opening['device']}")[0] == 200 for _ in range(20))
    assert not (tmp_path / "other" / "journal.log").exists()


@pytest.mark.parametrize("which", [signal.SIGTERM, signal.SIGINT])
def test_it_ends_cleanly_when_told(
    service: Service, folder: Path, rulebook: dict[str, Any], which: signal.Signals
) -> None:
    """Pages written, note removed, port and folder free, exit status 0."""
    opening = file_one(service)
    assert service.child is not None
    service.child.send_signal(which)
    assert service.child.wait() == 0
    assert not service.answers()
    assert not (folder / "service.json").exists()
    assert is_on_views(folder)
    with Logbook(folder, rulebook) as logbook:
        assert logbook.ops(opening["visit"]) == [opening]


def test_the_worker_goes_with_its_parent(service: Service) -> None:
    """The parent is killed; the worker leaves by itself, and the port refuses."""
    worker = worker_of(service)
    assert service.child is not None
    assert worker != service.child.pid
    service.kill()
    soon(lambda: not exists(worker), "the orphaned worker to end")
    assert not service.answers()


def test_the_service_ends_when_its_worker_is_killed(service: Service) -> None:
    """Nobody answers on the port any more, and the service says so instead of staying as an empty shell."""
    os.kill(worker_of(service), signal.SIGKILL)
    assert service.child is not None
    assert service.child.wait() == 2
    assert "Traceback" not in service.log.read_text()
    assert "stopped unexpectedly" in service.log.read_text()
    service.child = None


def test_a_killed_service_starts_again_with_all_it_answered_for(service: Service) -> None:
    """At once, on the same port and folder; what was filed is a repeat."""
    openings = [file_one(service)]
    for _ in range(3):
        service.kill()
        service.start()
        body = body_of(*openings)
        _, _, content = service.post("/sync", body, NDJSON)
        assert all(result["repeat"] for result in json.loads(content)["results"])
        phone = Phone(f"{len(openings):04x}")
        openings.append(phone.opening(phone.new_id()))
        assert service.post("/sync", line_of(openings[-1]), NDJSON)[0] == 200


class Sender(threading.Thread):
    """A phone that sends one operation after another and remembers which were acknowledged.

    `unanswered` were sent completely and got no answer; what couldn't even be sent is in neither list.
    """

    def __init__(self, service: Service, device: str, round_number: int) -> None:
        super().__init__(daemon=True)
        self.service = service
        self.phone = Phone(device, 1_781_280_300_000 + round_number * 100_000)
        self.answered: list[dict[str, Any]] = []
        self.unanswered: list[dict[str, Any]] = []
        self.under_way = threading.Event()
        self.headers = {"Content-Type": NDJSON, **service.bearer(device)}

    def run(self) -> None:
        """Until the service is gone."""
        connection = http.client.HTTPConnection("127.0.0.1", self.service.port, timeout=PATIENCE_S)
        while True:
            opening = self.phone.opening(self.phone.new_id())
            sent = False
            try:
                connection.request("POST", "/sync", line_of(opening), self.headers)
                sent = True
                result = json.loads(connection.getresponse().read())["results"][0]
            except (http.client.HTTPException, OSError):
                self.unanswered += [opening] * sent
                connection.close()
                return
            assert result["status"] == "accepted"
            self.answered.append(opening)
            self.under_way.set()


def refuses(port: int) -> bool:
    """Whether nobody listens on the port."""
    with socket.socket() as trial:
        return trial.connect_ex(("127.0.0.1", port)) == errno.ECONNREFUSED


def kills(service: Service, rounds: int) -> Counter[str]:
    """Kill the service with requests in flight, `rounds` times.

    Returns:
        how many operations were answered, how many sent ones got no answer, and how many of those were on file
    """
    told: Counter[str] = Counter()
    for round_number in range(rounds):
        senders = [Sender(service, f"{place:04x}", round_number) for place in range(4)]
        for sender in senders:
            sender.start()
        for sender in senders:
            assert sender.under_way.wait(timeout=PATIENCE_S)
        time.sleep(0.01 * (round_number % 7))
        worker = worker_of(service)
        os.kill(worker, signal.SIGKILL)
        service.kill()
        join(*senders)
        soon(lambda: refuses(service.port), "the port to refuse")
        service.start()
        told += check_round(service, senders)
    return told


def receipts_of(service: Service, device: str) -> list[str]:
    """The ids of everything that the desk has a receipt for, page by page."""
    found: list[str] = []
    after: int | None = 0
    while after is not None:
        page = json.loads(service.get(f"/receipts?device={device}&after={after}")[2])
        found += [receipt["id"] for receipt in page["receipts"]]
        after = page["next"]
    return found


def check_round(service: Service, senders: list[Sender]) -> Counter[str]:
    """What was acknowledged is there, once; the rest is accepted now, or already there; the counts of each."""
    told: Counter[str] = Counter()
    for sender in senders:
        told.update(answered=len(sender.answered), unanswered=len(sender.unanswered))
        filed = receipts_of(service, sender.phone.device)
        assert len(filed) == len(set(filed))
        assert {op["id"] for op in sender.answered} <= set(filed)
        for op in sender.unanswered:
            _, _, content = service.post("/sync", line_of(op), NDJSON)
            [result] = json.loads(content)["results"]
            assert (result["status"], result["repeat"]) == ("accepted", op["id"] in filed)
            told["on file"] += op["id"] in filed
    return told


def test_kill_9_loses_nothing_that_was_answered_for(service: Service) -> None:
    """Ten kills with four phones sending; some requests did go unanswered, or it would prove nothing."""
    assert kills(service, 10)["unanswered"] >= 10


@pytest.mark.long
def test_kill_9_five_hundred_times(capfd: pytest.CaptureFixture[str], service: Service) -> None:
    """The same at length; the figures are printed."""
    told = kills(service, 500)
    with capfd.disabled():
        sys.stdout.write(f"\n500 kills: {dict(told)}\n")
    assert told["unanswered"] >= 500
    assert 0 < told["on file"] < told["unanswered"]


def test_a_command_hands_its_work_to_the_running_service(service: Service, tmp_path: Path) -> None:
    """`layby receive` while the service runs: filed by the service, the receipt beside the file."""
    phone = Phone()
    opening = phone.opening(phone.new_id())
    bundle = tmp_path / "evening.txt"
    line = line_of(opening)
    end = b"end 1 %b\n" % hashlib.sha256(line).hexdigest().encode()
    bundle.write_bytes(b"layby-bundle 1 %b 1/1\n" % phone.device.encode() + line + end)
    done = run("--folder", str(service.folder), "receive", str(bundle))
    assert done.returncode == 0, done.stderr
    assert '"accepted"' in (tmp_path / "evening-receipt.txt").read_text()
    _, _, content = service.post("/sync", line_of(opening), NDJSON)
    assert json.loads(content)["results"][0]["repeat"] is True


def test_a_damaged_file_is_handed_over_as_it_is(service: Service, tmp_path: Path) -> None:
    """Bytes that aren't text, and letters beyond ASCII: the intact lines are filed, the rest named; status 1."""
    phone = Phone()
    visit = phone.new_id()
    bundle = tmp_path / "evening.txt"
    lines = body_of(phone.opening(visit), phone.plate(visit, "ÄÖ 4127"))
    bundle.write_bytes(b"layby-bundle 1 %b 1/1\n%b\xff\xfe\xd8\n" % (phone.device.encode(), lines))
    done = run("--folder", str(service.folder), "receive", str(bundle))
    assert done.returncode == 1, done.stderr
    told = (tmp_path / "evening-receipt.txt").read_text()
    assert told.count('"accepted"') == 2
    assert told.count('"unreadable"') == 2


def test_work_is_done_here_when_no_service_runs(folder: Path, rulebook: dict[str, Any]) -> None:
    """And a folder that no service holds is reported as busy."""

    def work() -> str:
        with Logbook(folder, rulebook):
            return "done here"

    assert remote.run_or_hand_over(folder, "receive", {}, work) == "done here"
    with Logbook(folder, rulebook), pytest.raises(FolderBusy):
        remote.run_or_hand_over(folder, "receive", {}, work)


def test_what_the_service_refuses_is_told(service: Service) -> None:
    """The code and the sentence of the problem come back."""

    def busy() -> None:
        raise FolderBusy(folder=str(service.folder))

    with pytest.raises(remote.HandedBack) as caught:
        remote.run_or_hand_over(service.folder, "evening", {"day": "tomorrow"}, busy)
    assert caught.value.values["said"] == "no_such_day"


def test_a_note_of_a_service_long_gone_helps_nobody(folder: Path, rulebook: dict[str, Any]) -> None:
    """A stale note beside a held folder: the folder is busy, and the sentence says so."""
    with Logbook(folder, rulebook):
        remote.leave_note(folder, Endpoint("127.0.0.1", Service(folder).port), "k")

        def busy() -> None:
            raise FolderBusy(folder=str(folder))

        with pytest.raises(FolderBusy):
            remote.run_or_hand_over(folder, "receive", {}, busy)


def test_serving_loads_nothing_slow() -> None:
    """The application loads neither the refrigerant library nor the press."""
    loaded = "import sys, server.app, server.service, server.http.body_reader"
    code = loaded + "; print({'CoolProp', 'weasyprint'} & set(sys.modules))"
    done = children.run([sys.executable, "-c", code], cwd=ROOT, check=True)
    assert done.stdout == "set()\n"
