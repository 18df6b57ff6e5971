"""Access: who is signed in, the least that each of the desk's pages asks of them, and which visits they may see.

Nothing here signs anybody in. A page that isn't named here is the owner's.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from flask import g

from server.http.problems import RequestFault
from server.http.sync_routes import logbook
from sync.records.logbook import UnknownVisit
from sync.records.people import People
from sync.records.person import ROLES, Role
from sync.work.technicians import Technicians


class Signed(NamedTuple):
    """Who is signed in: id and name, "" at a desk that has one passphrase for everybody, and as what."""

    person: str
    name: str
    role: Role


class Asks(NamedTuple):
    """What a page asks: the least role, and the field that names a visit, which has to be a technician's own."""

    role: Role
    visit: str = ""


ASKS = {
    # What a technician does: the own day, and what all share about vehicles and customers.
    "day": Asks("technician"), "make": Asks("technician"), "approve": Asks("technician", "sheet"),
    "mend": Asks("technician", "id"), "send": Asks("technician"),
    "find": Asks("technician"), "vehicles": Asks("technician"), "vehicle": Asks("technician"),
    "customer": Asks("technician"), "chart": Asks("technician"), "mark": Asks("technician", "test"),
    "visit": Asks("technician", "id"), "amend": Asks("technician", "id"), "make_one": Asks("technician", "id"),
    "photo": Asks("technician", "id"), "preview": Asks("technician", "id"), "revision": Asks("technician", "id"),
    "log": Asks("technician", "id"), "unlog": Asks("technician", "id"),
    "phones": Asks("technician"), "offer": Asks("technician"), "revoke": Asks("technician"),
    "sign_out": Asks("technician"), "own_passphrase": Asks("technician"),
    "passkeys": Asks("technician"), "add_passkey": Asks("technician"), "remove_passkey": Asks("technician"),
    # What the office does for all of them.
    "post": Asks("office"), "letter": Asks("office"), "letter_file": Asks("office"), "returned": Asks("office"),
    "resend": Asks("office"), "books": Asks("office"), "books_pdf": Asks("office"), "books_csv": Asks("office"),
    "conflicts": Asks("office"), "settle": Asks("office"), "aside": Asks("office"),
    "carry": Asks("office"), "receive": Asks("office"), "export": Asks("office"), "hand_over": Asks("office"),
    "phone_of": Asks("office"),
}  # fmt: skip
OWNER = Asks("owner")


def asked_by(endpoint: str) -> Asks:
    """What a page of the desk asks [Asks]."""
    return ASKS.get(endpoint.removeprefix("deskpages."), OWNER)


def signed_as(person: str) -> Signed:
    """Who a session's person is; the owner where there is one passphrase for everybody, "" [Signed].

    Raises:
        RequestFault: not_for_role, if nobody has that id any more.
    """
    if not person:
        return Signed("", "", "owner")
    someone = People(logbook().files).of(person)
    if someone is None:
        raise RequestFault("not_for_role")
    return Signed(someone["id"], someone["name"], someone["role"])


def who() -> Signed:
    """Who is signed in, on a page behind the door [Signed]."""
    signed: Signed = g.signed
    return signed


def is_at_least(role: Role) -> bool:
    """Whether whoever is signed in may do what a role may."""
    return ROLES.index(who().role) <= ROLES.index(role)


def may(name: str) -> bool:
    """Whether whoever is signed in may open a page of the desk, by its name."""
    return is_at_least(asked_by(name).role)


def sees(visit_id: str) -> bool:
    """Whether whoever is signed in may see a visit; the office sees all."""
    if is_at_least("office"):
        return True
    if "technicians" not in g:
        # A list asks for each of its rows.
        g.technicians = Technicians(logbook())
    return bool(g.technicians.of(visit_id) == who().person)


def check(endpoint: str, fields: Iterable[str]) -> None:
    """Let a request go on only if whoever is signed in may.

    Args:
        endpoint: of the page [name]
        fields: what the request has in the field that names a visit [texts]

    Raises:
        RequestFault: not_for_role.
        UnknownVisit: one of the visits is somebody else's; it reads as if there were none.
    """
    if not may(endpoint):
        raise RequestFault("not_for_role")
    if asked_by(endpoint).visit and not is_at_least("office"):
        for text in fields:
            # The form of approval names a sheet's visit and its revision.
            visit_id = text.partition(" ")[0]
            if not sees(visit_id):
                raise UnknownVisit(visit=visit_id[:80])
