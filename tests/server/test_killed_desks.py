"""Two services over one database, killed again and again under load, and so are the database's own processes.

Real services, a real PostgreSQL server, a real SMTP peer; phones with ledgers of their own say what was acknowledged.
"""

from __future__ import annotations

import asyncio
import json
import os
import random
import signal
import sys
import threading
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from email import message_from_bytes
from email.policy import default
from pathlib import Path
from typing import Any

import psycopg
import pytest
from aiosmtpd.smtp import SMTP, Envelope, Session

from tests.reports.test_mail import Peer, listening
from tests.server.test_service import receipts_of, refuses, soon, worker_of
from tests.support.postgres import server
from tests.support.service import Service, layby
from tests.support.threads import join
from tests.support.vans import AWAY, PAUSE_S, Van, asked

SENDER = "office@aldercoast.example"
SEED = 20
VANS = 3
# So many more answers come between two kills, and one at a desk, so that each kill meets the load.
ANSWERS_BETWEEN = 8
# Every so many kills, the next one waits until a letter is being handed over.
HANDING_OVER = 4
# The peer takes this long to say 250 [s].
PEER_THINKS_S = 0.1


@dataclass
class Taken:
    """A letter as the peer took it: to whom, which, and when its sender began to hand it over [s, monotonic]."""

    to: str
    message_id: str
    begun: float


class SlowPeer(Peer):
    """A peer that notes when each letter began to be handed over, and takes its time before it says 250."""

    def __init__(self) -> None:
        super().__init__()
        self.letters: list[Taken] = []
        self.begun: dict[int, float] = {}

    async def handle_MAIL(  # noqa: N802 -- aiosmtpd's name
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        """Accept any sender."""
        envelope.mail_from = address
        envelope.mail_options.extend(options)
        self.begun[id(envelope)] = time.monotonic()
        return "250 OK"

    async def handle_DATA(  # noqa: N802 -- aiosmtpd's name
        self, server: SMTP, session: Session, envelope: Envelope
    ) -> str:
        """It has the letter from now on, whether or not its sender lives to hear so."""
        message = message_from_bytes(bytes(envelope.content or b""), policy=default)
        [to] = envelope.rcpt_tos
        self.letters.append(Taken(to, str(message["Message-ID"]), self.begun.pop(id(envelope))))
        await asyncio.sleep(PEER_THINKS_S)
        return await super().handle_DATA(server, session, envelope)


@dataclass
class Post:
    """What people at the desks did and were told: which visits are approved, and when each address was told "sent"."""

    vans: Sequence[Van]
    asked_for: list[str] = field(default_factory=list)
    approved: dict[str, str] = field(default_factory=dict)
    told_sent: dict[str, float] = field(default_factory=dict)
    complaints: list[Any] = field(default_factory=list)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def next_visit(self) -> dict[str, Any] | None:
        """A visit that nobody at a desk has taken on yet; None if there is none."""
        with self.lock:
            for van in self.vans:
                for visit in list(van.visits):
                    if visit["id"] not in self.asked_for:
                        self.asked_for.append(visit["id"])
                        return visit
        return None

    def see(self, rows: list[dict[str, Any]]) -> None:
        """Take in what a desk said of sheets."""
        for row in rows:
            to = self.approved.get(row["visit"])
            if row["state"] == "failed":
                self.complaints.append(row)
            elif row["state"] == "sent" and to is not None:
                self.told_sent.setdefault(to, time.monotonic())


class Clerk(threading.Thread):
    """A person at a desk who prints, approves and sends one visit after the other, again until there is an answer."""

    def __init__(self, desks: Sequence[Service], own: int, post: Post) -> None:
        super().__init__(daemon=True, name=f"clerk {own}")
        self.desks, self.own, self.post = desks, own, post
        self.stop = threading.Event()
        self.answered = self.unanswered = 0

    def run(self) -> None:
        """Visit after visit."""
        while not self.stop.is_set():
            visit = self.post.next_visit()
            if visit is None:
                time.sleep(PAUSE_S)
                continue
            while not self.is_approved(visit):
                pass
            self.send()

    def is_approved(self, visit: dict[str, Any]) -> bool:
        """Print and approve a visit; whether a desk said so."""
        if self.ask("sheet", visit=visit["id"]) is None:
            return False
        rows = self.ask("approve", visits=[visit["id"]], all=False)
        if rows is None:
            return False
        self.post.see(rows)
        if rows[0]["state"] not in ("approved", "queued", "sent"):
            return False
        self.post.approved[visit["id"]] = visit["customer"]["email"]
        return True

    def send(self) -> list[dict[str, Any]]:
        """Send whatever is approved; the rows of a desk that answered."""
        while (rows := self.ask("send")) is None:
            pass
        self.post.see(rows)
        return list(rows)

    def ask(self, name: str, **what: Any) -> Any:
        """One task of the desk; None if no answer came, and the next one asks the other desk."""
        service = self.desks[self.own]
        try:
            headers = {"Content-Type": "application/json", **service._owner()}
        except (OSError, ValueError):
            headers = {}
        answer = asked(service, f"/desk/{name}", json.dumps(what).encode(), headers) if headers else None
        if answer is not None and answer[0] == 200:
            self.answered += 1
            return json.loads(answer[1])["result"]
        if answer is not None and answer[0] not in (AWAY, 401):
            self.post.complaints.append((name, answer))
        self.unanswered += 1
        self.own = 1 - self.own
        time.sleep(PAUSE_S)
        return None


@dataclass
class Load:
    """Everybody who is at work while something is killed."""

    vans: Sequence[Van]
    clerks: Sequence[Clerk]
    peer: SlowPeer

    def answers(self) -> tuple[int, int]:
        """How many answers the phones and the people at the desks have."""
        return sum(len(van.answers) for van in self.vans), sum(clerk.answered for clerk in self.clerks)

    def goes_on(self, what: str) -> None:
        """Wait until both have more than now."""
        phones, people = self.answers()
        soon(lambda: self.answers()[0] >= phones + ANSWERS_BETWEEN and self.answers()[1] > people,
             f"answers before {what}")


# Three ways to be killed ---------------------------------------------------------------------------------------------


def kill_service(service: Service) -> None:
    """Kill -9, the worker first, so that nothing of it lives on; then started again."""
    os.kill(worker_of(service), signal.SIGKILL)
    service.kill()
    soon(lambda: refuses(service.port), "the port to refuse")
    service.start()


def end_connection(url: str, chance: random.Random) -> None:
    """One of the connections of the services is ended by the database; whoever waits or writes there loses it."""
    with psycopg.connect(server().url, autocommit=True) as connection:
        rows = connection.execute("SELECT pid FROM pg_stat_activity WHERE datname = %s AND backend_type = %s",
                                  (url.rpartition("/")[2], "client backend")).fetchall()
        if rows:
            connection.execute("SELECT pg_terminate_backend(%s)", (chance.choice(sorted(pid for (pid,) in rows)),))


def plan_of(kills: int, chance: random.Random) -> list[str]:
    """Which kills, in which order: of services, of connections, of the database's processes, a third each."""
    plan = [("service", "connection", "backend")[number % 3] for number in range(kills)]
    chance.shuffle(plan)
    return plan


def carry_out(plan: list[str], desks: Sequence[Service], load: Load, url: str, chance: random.Random) -> None:
    """One kill after the other, each once phones and people at the desks have more answers than before."""
    for number, kill in enumerate(plan):
        load.goes_on(f"the next kill, of a {kill}")
        if number % HANDING_OVER:
            time.sleep(chance.random() / 3)
        else:
            soon(lambda: bool(load.peer.begun), "a letter to be handed over")
        if kill == "service":
            kill_service(chance.choice(desks))
        elif kill == "connection":
            end_connection(url, chance)
        else:
            server().kill_backend(url, chance)


# What must hold afterwards -------------------------------------------------------------------------------------------


def check_entries(vans: Sequence[Van], desks: Sequence[Service], url: str) -> None:
    """Each line that was answered for is on file once, with its first answer; every desk gives that answer again."""
    with psycopg.connect(url) as connection:
        rows = connection.execute("SELECT line, result FROM records").fetchall()
    count = Counter(bytes(line) for line, _ in rows)
    kept = {bytes(line): json.loads(result) for line, result in rows}
    for van in vans:
        assert van.complaints == []
        assert van.answers.keys() == van.lines.keys()
        for name, line in van.lines.items():
            assert (count[line[:-1]], kept[line[:-1]]) == (1, van.answers[name])
        for service in desks:
            assert sorted(receipts_of(service, van.phone.device)) == sorted(van.answers)
            check_answers(van, service)


def check_answers(van: Van, service: Service) -> None:
    """All that a phone has, handed in again: nothing is new, and nothing is answered otherwise."""
    names = list(van.answers)
    for start in range(0, len(names), 50):
        own = names[start : start + 50]
        status, content = asked(service, "/sync", b"".join(van.lines[name] for name in own), van.headers) or (0, b"")
        assert status == 200, content
        assert json.loads(content)["results"] == [{**van.answers[name], "repeat": True} for name in own]


def check_letters(letters: list[Taken], post: Post) -> int:
    """What is promised of letters; how many were in doubt and went twice.

    Each approved sheet went to its customer, under one Message-ID. Once a desk said "sent", its letter never goes
    again. Between the peer's taking it and the desk's note, a kill leaves it in doubt: whoever sends next can't know,
    so it goes again, under the same Message-ID, which tells a mail program that it is the same.
    """
    by_address: dict[str, list[Taken]] = {}
    for letter in letters:
        by_address.setdefault(letter.to, []).append(letter)
    assert by_address.keys() == set(post.approved.values())
    for to, own in by_address.items():
        assert len({letter.message_id for letter in own}) == 1
        assert [letter for letter in own if letter.begun > post.told_sent[to]] == []
    assert len({own[0].message_id for own in by_address.values()}) == len(by_address)
    return len(letters) - len(by_address)


@pytest.fixture
def url(monkeypatch: pytest.MonkeyPatch) -> str:
    """A database with this version's tables, which services and commands that start from now on share."""
    made = server().fresh()
    monkeypatch.setenv("LAYBY_DATABASE", made)
    return made


@pytest.mark.parametrize("kills", [6, pytest.param(100, marks=pytest.mark.long)])
def test_kills_under_load_cost_nothing_that_was_acknowledged(
    url: str, tmp_path: Path, kills: int, capfd: pytest.CaptureFixture[str]
) -> None:
    """Phones send and letters go while services, connections and the database's processes are killed, by chance."""
    chance = random.Random(SEED)
    desks = [Service(tmp_path / name).start() for name in ("one", "two")]
    desks[1].tokens = desks[0].tokens
    peer = SlowPeer()
    with listening(peer) as port:
        account = ["smtp.host=127.0.0.1", f"smtp.port={port}", "smtp.security=none", f"smtp.from={SENDER}"]
        assert "Saved" in layby(desks[0].folder, "settings", "mail.server", *account)[1]
        vans = [Van(desks, f"a{number:05x}", SEED) for number in range(VANS)]
        post = Post(vans)
        clerks = [Clerk(desks, number, post) for number in range(2)]
        load, threads = Load(vans, clerks, peer), [*vans, *clerks]
        try:
            for thread in threads:
                thread.start()
            carry_out(plan_of(kills, chance), desks, load, url, chance)
        finally:
            for thread in threads:
                thread.stop.set()
        join(*threads)
        soon(lambda: not any(clerk.send() for clerk in clerks), "all letters to be sent")
    told = {"answers": load.answers()[0], "no answer": sum(van.unanswered for van in vans),
            "letters": len(post.approved), "no answer at a desk": sum(clerk.unanswered for clerk in clerks)}
    try:
        check_entries(vans, desks, url)
        assert post.complaints == []
        told["letters in doubt, gone twice"] = check_letters(peer.letters, post)
    finally:
        for service in desks:
            service.stop()
        with capfd.disabled():
            sys.stdout.write(f"\n{kills} kills, seed {SEED}: {told}\n")
    assert told["no answer"] >= kills // 3
    assert len(post.approved) >= kills // 6
