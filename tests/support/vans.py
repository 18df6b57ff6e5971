"""Phones that hand in without a pause to several services over one database, each with a ledger of what was answered.

No test lives here. The ledger is a phone's own: it holds what came back over the network and nothing else.
"""

from __future__ import annotations

import copy
import http.client
import json
import random
import threading
import time
from collections.abc import Sequence
from typing import Any
from urllib.parse import urlsplit

from tests.support.children import PATIENCE_S
from tests.support.ops import Phone, line_of, uuid7
from tests.support.service import Service
from tests.support.sheet_visits import SINGLE, STARTED_MS, operations

Answer = dict[str, Any]
# Between two tries of whoever found nobody.
PAUSE_S = 0.02
BETWEEN_VISITS_S = 1.0
# What a desk may answer with if its database is away.
AWAY = 503


def asked(service: Service, path: str, body: bytes, headers: dict[str, str]) -> tuple[int, bytes] | None:
    """One request to a service that may be killed meanwhile.

    Args:
        service: which one
        path: of the route
        body: what is handed in
        headers: what else is said

    Returns:
        status and content; None if no whole answer came
    """
    connection = http.client.HTTPConnection("127.0.0.1", urlsplit(service.url).port, timeout=PATIENCE_S)
    try:
        connection.request("POST", path, body, headers)
        response = connection.getresponse()
        return response.status, response.read()
    except (http.client.HTTPException, OSError):
        return None
    finally:
        connection.close()


def mailable(phone: Phone, number: int) -> dict[str, Any]:
    """A visit of an invented customer with an address of its own, at a vehicle of its own."""
    visit = copy.deepcopy(SINGLE)
    name = f"{phone.device}-{number}"
    visit["id"] = uuid7(STARTED_MS + number, int(phone.device, 16))
    visit["customer"] |= {"id": f"c{name}", "email": f"{name}@gorse.example"}
    visit["vehicle"]["id"] = f"v{name}"
    return visit


def disputed(phone: Phone) -> bytes:
    """The lines of a visit with one field that two entries disagree on, and one entry that no desk accepts."""
    visit = phone.new_id()
    lines = [phone.opening(visit), phone.plate(visit, "LT 482"), phone.plate(visit, "LT 428"),
             phone.test(visit, low_kpa_g="much"), phone.test(visit, "b2", low_kpa_g=150)]
    return b"".join(map(line_of, lines))


class Van(threading.Thread):
    """A phone that files visit after visit until `stop`; it hands in each line again until it has an answer.

    `answers` has the first answer to each line, `lines` what was sent, both by the op's id; `visits` those that may be
    mailed and were answered for whole, `complaints` what no desk may ever answer.

    Args of the constructor:
        desks: the services, all over one database
        device: its id [lower-case hex]
        seed: of its choices
    """

    def __init__(self, desks: Sequence[Service], device: str, seed: int) -> None:
        super().__init__(daemon=True, name=f"van {device}")
        self.desks = desks
        self.phone = Phone(device, STARTED_MS)
        self.headers = {"Content-Type": "application/x-ndjson", **desks[0].bearer(device)}
        self.chance = random.Random(f"{device} {seed}")
        self.stop = threading.Event()
        self.lines: dict[str, bytes] = {}
        self.answers: dict[str, Answer] = {}
        self.visits: list[dict[str, Any]] = []
        self.complaints: list[Any] = []
        self.tries = self.unanswered = 0

    def run(self) -> None:
        """Visit after visit; the last one to its end."""
        number = 0
        while not self.stop.wait(self.chance.random() * BETWEEN_VISITS_S):
            number += 1
            if number % 3:
                self.hand_in(disputed(self.phone))
                continue
            visit = mailable(self.phone, number)
            self.hand_in(operations(visit, self.phone))
            self.visits.append(visit)

    def hand_in(self, lines: bytes) -> None:
        """Hand in lines until each is answered for; now and then also one that was answered for before."""
        own = {json.loads(line[65:])["id"]: line for line in lines.splitlines(keepends=True)}
        if self.answers and self.chance.random() < 0.3:
            again = self.chance.choice(list(self.answers))
            own = {again: self.lines[again], **own}
        self.lines.update(own)
        while waiting := list(own.values()):
            count = self.chance.randint(1, len(waiting))
            for result in self.sent(waiting[:count]):
                self.take(result)
                own.pop(result["id"], None)

    def sent(self, lines: list[bytes]) -> list[Answer]:
        """The answers to lines from whichever service has one; [] if none came."""
        self.tries += 1
        answer = asked(self.chance.choice(self.desks), "/sync", b"".join(lines), self.headers)
        if answer is None or answer[0] == AWAY:
            self.unanswered += 1
            time.sleep(PAUSE_S)
            return []
        if answer[0] != 200:
            self.complaints.append(answer)
            return []
        results: list[Answer] = json.loads(answer[1])["results"]
        return results

    def take(self, result: Answer) -> None:
        """Note an answer; a later one has to be the same."""
        told = {key: value for key, value in result.items() if key != "repeat"}
        first = self.answers.setdefault(result["id"], told)
        if told != first or told["status"] == "deferred":
            self.complaints.append((first, result))
