"""Long work beside other requests: they are answered while it hangs; it is limited; every route is sorted.

A mail server that accepts connections and says nothing makes the work hang; nothing is timed.
"""

from __future__ import annotations

import json
import select
import socket
from contextlib import ExitStack
from pathlib import Path

import pytest

from server.app import create_app
from server.http.body_reader import LONG_THREADS, LONG_WAITING
from server.long_routes import FORMS, TASKS, is_long
from server.tasks import catalogue
from tests.server.test_body_reader import begin, status_on
from tests.support.ops import Phone, body_of
from tests.support.service import PATIENCE_S, Service

# The desk's tasks and forms that are answered at once: they look something up, or write a line.
SHORT_TASKS = {"look", "letters", "letter", "returned", "find", "held", "card", "vehicle", "chart", "merge", "pair",
               "devices", "revoke", "new_passphrase", "visit", "amend", "customer", "history", "mark", "settle",
               "settings", "setting", "unlog", "people", "begin_people", "invite", "invite_again", "change_role",
               "end_person", "phone_of", "hand_over"}  # fmt: skip
SHORT_FORMS = {"returned", "offer", "revoke", "chart", "amend", "mark", "settle", "set", "unset", "rebuild", "price",
               "unlog", "logo", "begin", "invite", "invite-again", "role", "end", "phone-of", "hand-over",
               "own-passphrase", "passkey", "passkey-remove"}  # fmt: skip


def silent_mail(service: Service, ends: ExitStack) -> socket.socket:
    """A mail server that accepts connections and says nothing, and the settings that send letters to it."""
    peer = ends.enter_context(socket.create_server(("127.0.0.1", 0), backlog=64))
    smtp = {"host": "127.0.0.1", "port": peer.getsockname()[1], "security": "none", "timeout_s": PATIENCE_S,
            "from": "office@aldercoast.example"}
    (service.folder / "settings.json").write_text(json.dumps({"smtp": smtp}), "utf-8")
    return peer


def asked(service: Service, ends: ExitStack) -> socket.socket:
    """A command's request for a test letter, sent off."""
    key = json.loads((service.folder / "service.json").read_text())["key"]
    sender = begin(service, "POST /desk/send_test", 2, Content_Type="application/json", Authorization=f"Bearer {key}")
    ends.enter_context(sender).sendall(b"{}")
    return sender


def test_phones_and_pages_are_answered_while_long_work_stands_still(service: Service) -> None:
    """All its threads and places are taken: one more is sent away with a sentence, everything else is served."""
    with ExitStack() as ends:
        peer = silent_mail(service, ends)
        letters = [asked(service, ends) for _ in range(LONG_THREADS + LONG_WAITING + 1)]
        turned_away, _, _ = select.select(letters, [], [], PATIENCE_S)
        [one] = turned_away
        letters.remove(one)
        said = one.recv(65_536)
        assert b" 503 " in said.splitlines()[0]
        assert b"retry-after: " in said.lower()
        assert b"long_work_waits" in said
        assert service.get("/page.js")[0] == 200
        assert service.get("/receipts")[0] == 200
        phone = Phone("cafe")
        status, _, content = service.post("/sync", body_of(phone.opening(phone.new_id())))
        assert (status, json.loads(content)["results"][0]["status"]) == (200, "accepted")
        assert select.select(letters, [], [], 0)[0] == [], "a letter was answered, so its work did not stand still"
        for _ in letters:
            peer.accept()[0].close()
        assert [status_on(letter) for letter in letters] == [200] * len(letters)


def test_who_shows_no_key_takes_no_place_of_long_work(service: Service) -> None:
    """Strangers' requests for long work are refused at once, however many; the owner's is accepted."""
    with ExitStack() as ends:
        peer = silent_mail(service, ends)
        letters = [asked(service, ends) for _ in range(LONG_THREADS + LONG_WAITING)]
        ends.enter_context(peer.accept()[0])
        for _ in range(3):
            with begin(service, "POST /desk/evening", 2, Content_Type="application/json") as stranger:
                stranger.sendall(b"{}")
                assert status_on(stranger) == 401
        assert select.select(letters, [], [], 0)[0] == []
        peer.close()


@pytest.mark.parametrize("name", sorted(catalogue.TASKS))
def test_every_task_is_long_or_short(name: str) -> None:
    """A new one has to be sorted."""
    assert (name in TASKS) != (name in SHORT_TASKS)
    assert is_long(f"/desk/{name}") == (name in TASKS)


def test_every_form_is_long_or_short(folder: Path) -> None:
    """A new form of the desk's pages has to be sorted; printing on request is long."""
    app = create_app({"FOLDER": folder})
    forms = {rule.rule.removeprefix("/desk/do/") for rule in app.url_map.iter_rules() if "/desk/do/" in rule.rule}
    printed = [rule.rule for rule in app.url_map.iter_rules() if rule.rule.endswith(".pdf")]
    app.extensions["layby"]["logbook"].close()
    assert forms == FORMS | SHORT_FORMS
    assert all(is_long(f"/desk/do/{form}") for form in FORMS)
    assert not any(is_long(f"/desk/do/{form}") for form in SHORT_FORMS)
    assert printed
    assert all(is_long(rule) for rule in printed)
