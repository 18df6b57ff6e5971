"""The tasks for the people of a desk: who signs in, as what, with which phones, and whose a visit is.

Nothing here knows HTTP or the terminal.
"""

from __future__ import annotations

import dataclasses
import time

from server.tasks.instant import now
from server.tasks.messages import Invitation, TaskArguments
from server.tasks.task import Task
from sync.errors import LaybyError
from sync.language.reader import words_of
from sync.records.logbook import Logbook, UnknownVisit
from sync.records.pairing import Device, Pairings
from sync.records.passphrase import Passphrase
from sync.records.people import People
from sync.records.person import ROLES, PeopleSignIn, Person, Role
from sync.wire import op_line
from sync.work import handing_over


class NoSuchRole(LaybyError):
    """Nobody can work here as that."""

    code = "no_such_role"


def _passphrase(logbook: Logbook, _: TaskArguments) -> str:
    people = People(logbook.files).active()
    if people:
        raise PeopleSignIn(known=", ".join(person["name"] for person in people))
    return Passphrase(logbook.files).open_setting(_now_ms())


def _people(logbook: Logbook, _: TaskArguments) -> list[Person]:
    return People(logbook.files).everybody()


def _begin(logbook: Logbook, arguments: TaskArguments) -> Person:
    """The first person; the phones that are paired are theirs."""
    pairings, passphrase = Pairings(logbook.files), Passphrase(logbook.files)
    person = People(logbook.files).begin(str(arguments["person"]), passphrase.secret, _now_ms())
    # It would let in whoever knows it, should the people ever be lost.
    passphrase.retire()
    for device in pairings.devices():
        if device["revoked_at"] is None:
            pairings.sign_in(device["device"], person["id"])
    return person


def _invite(logbook: Logbook, arguments: TaskArguments) -> Invitation:
    role = _role(arguments)
    return _invitation(*People(logbook.files).invite(str(arguments["person"]), role, _now_ms()))


def _invite_again(logbook: Logbook, arguments: TaskArguments) -> Invitation:
    return _invitation(*People(logbook.files).invite_again(str(arguments["person"]), _now_ms()))


def _invitation(key: str, person: Person) -> Invitation:
    return {"key": key, "until": person["invited_until"], "person": person}


def _change_role(logbook: Logbook, arguments: TaskArguments) -> Person:
    return People(logbook.files).change_role(str(arguments["person"]), _role(arguments))


def _end(logbook: Logbook, arguments: TaskArguments) -> Person:
    """Somebody signs in no more, and their phones are shut out."""
    person, pairings = People(logbook.files).end(str(arguments["person"]), _now_ms()), Pairings(logbook.files)
    for device in pairings.devices():
        if device["person"] == person["id"] and device["revoked_at"] is None:
            pairings.revoke(device["device"], _now_ms())
    return person


def _role(arguments: TaskArguments) -> Role:
    role = str(arguments["role"])
    if role not in ROLES:
        raise NoSuchRole(role=role[:40], known=", ".join(ROLES))
    return role


def _pair(logbook: Logbook, arguments: TaskArguments) -> dict[str, str | int]:
    name = str(arguments.get("person") or "")
    person = People(logbook.files).named(name)["id"] if name else ""
    return dataclasses.asdict(Pairings(logbook.files).offer(_now_ms(), person))


def _devices(logbook: Logbook, _: TaskArguments) -> list[Device]:
    return Pairings(logbook.files).devices()


def _revoke(logbook: Logbook, arguments: TaskArguments) -> Device:
    return Pairings(logbook.files).revoke(str(arguments["device"]), _now_ms())


def _phone_of(logbook: Logbook, arguments: TaskArguments) -> Device:
    person = People(logbook.files).named(str(arguments["person"]))
    return Pairings(logbook.files).sign_in(str(arguments["device"]), person["id"])


def _hand_over(logbook: Logbook, arguments: TaskArguments) -> bool:
    """Whether the visit was somebody else's before."""
    visit_id, person = str(arguments["visit"]), People(logbook.files).named(str(arguments["person"]))
    if not op_line.is_id(visit_id):
        raise UnknownVisit(visit=visit_id[:80])
    why = str(arguments.get("why") or "") or words_of(logbook.rulebook).say("desk.hand_over.why", name=person["name"])
    return handing_over.hand_over(logbook, visit_id, person, why, now())


def _now_ms() -> int:
    return time.time_ns() // 1_000_000


TASKS: dict[str, Task] = {
    "new_passphrase": _passphrase, "people": _people, "begin_people": _begin, "invite": _invite,
    "invite_again": _invite_again, "change_role": _change_role, "end_person": _end, "pair": _pair,
    "devices": _devices, "revoke": _revoke, "phone_of": _phone_of, "hand_over": _hand_over,
}  # fmt: skip
