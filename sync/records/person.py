"""A person of a desk: what is kept and shown of them, and the rules about names, roles and passkeys.

Values only: nothing here reads or writes a file.
"""

from __future__ import annotations

from typing import Literal, TypedDict, cast

from sync.errors import LaybyError
from sync.kernel.json_tree import JsonObject
from sync.records import secret
from sync.records.secret import Secret
from sync.wire import op_line

NAME_MOST = 60
PASSKEYS_MOST = 10

Role = Literal["owner", "office", "technician"]
# Each may do what those after it may.
ROLES: tuple[Role, ...] = ("owner", "office", "technician")


class NoPersonName(LaybyError):
    """A person needs a name of at most so many signs."""

    code = "no_person_name"


class PeopleSignIn(LaybyError):
    """People sign in by name already, so there is no passphrase for everybody; `known` lists them."""

    code = "people_sign_in"


class PersonNameTaken(LaybyError):
    """Another person who signs in here has that name."""

    code = "person_name_taken"


class UnknownPerson(LaybyError):
    """Nobody of that name or id works here; `known` lists who does."""

    code = "unknown_person"


class TooManyPasskeys(LaybyError):
    """A person has as many passkeys as anybody may have."""

    code = "too_many_passkeys"


class LastOwner(LaybyError):
    """Without this person no owner could sign in any more."""

    code = "last_owner"


class Person(TypedDict):
    """Somebody who works here, or did until `ended_at`; instants in ms since 1970.

    `joined` says whether there is a passphrase yet, `invited_until` how long an invitation is open, 0 if none is;
    `passkeys` counts them.
    """

    id: str
    name: str
    role: Role
    added_at: int
    ended_at: int | None
    joined: bool
    invited_until: int
    passkeys: int


class Passkey(TypedDict):
    """The public half of a passkey: its id and key [base64url], how often it signed, and a name for its owner."""

    id: str
    key: str
    count: int
    name: str


class StoredPerson(TypedDict):
    """What the file holds of one person."""

    id: str
    name: str
    role: Role
    added_at: int
    ended_at: int | None
    secret: Secret
    passkeys: list[Passkey]


def plain(name: str) -> str:
    """A person's name without what can't be seen, and single spaces [text]."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in name).split())


def person_in(tree: JsonObject) -> StoredPerson:
    kept = cast(StoredPerson, tree)
    person: StoredPerson = {
        "id": kept["id"], "name": kept["name"], "role": kept["role"], "added_at": kept["added_at"],
        "ended_at": kept["ended_at"], "secret": secret.shaped(cast(JsonObject, kept["secret"])),
        "passkeys": [_passkey(one) for one in kept["passkeys"]],
    }
    if person["role"] not in ROLES or not op_line.is_id(person["id"]) or not isinstance(person["name"], str):
        raise ValueError("person")
    if not isinstance(person["added_at"], int) or not isinstance(person["ended_at"], (int, type(None))):
        raise TypeError("person")
    return person


def _passkey(kept: Passkey) -> Passkey:
    return {"id": str(kept["id"]), "key": str(kept["key"]), "count": int(kept["count"]), "name": str(kept["name"])}


def new_person(name: str, role: Role, others: list[StoredPerson], now_ms: int) -> StoredPerson:
    called = plain(name)
    if not 0 < len(called) <= NAME_MOST:
        raise NoPersonName(most=NAME_MOST)
    if any(is_called(one["name"], called) and one["ended_at"] is None for one in others):
        raise PersonNameTaken(name=called)
    return {"id": op_line.new_id(now_ms), "name": called, "role": role, "added_at": now_ms, "ended_at": None,
            "secret": secret.unset(), "passkeys": []}


def is_called(one: str, other: str) -> bool:
    return plain(one).casefold() == plain(other).casefold()


def stored_named(stored: list[StoredPerson], name: str) -> StoredPerson:
    active = [one for one in stored if one["ended_at"] is None]
    found = [one for one in active if one["id"] == name or is_called(one["name"], name)]
    if not found:
        raise UnknownPerson(name=name[:NAME_MOST], known=", ".join(one["name"] for one in active) or "–")
    return found[0]


def has_owner(stored: list[StoredPerson]) -> bool:
    """Whether some owner can sign in."""
    return any(one["role"] == "owner" and one["ended_at"] is None and one["secret"]["salt"] for one in stored)


def without_secret(person: StoredPerson) -> Person:
    return {
        "id": person["id"], "name": person["name"], "role": person["role"], "added_at": person["added_at"],
        "ended_at": person["ended_at"], "joined": person["secret"]["salt"] is not None,
        "invited_until": person["secret"]["key_until"] if person["secret"]["key"] else 0,
        "passkeys": len(person["passkeys"]),
    }
