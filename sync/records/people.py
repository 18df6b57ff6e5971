"""People: who works at a desk that several sign in at, as what, and the secret of each, in one small file.

Nothing here knows HTTP or who is signed in. A desk with nobody in it is one person's, who has its single passphrase.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import TypeVar

from sync.records import secret
from sync.records.locks import PASSPHRASE, claimed
from sync.records.passphrase import NoSettingKey
from sync.records.person import (
    PASSKEYS_MOST,
    LastOwner,
    Passkey,
    PeopleSignIn,
    Person,
    Role,
    StoredPerson,
    TooManyPasskeys,
    has_owner,
    is_called,
    new_person,
    person_in,
    stored_named,
    without_secret,
)
from sync.records.secret import Secret
from sync.records.store.files import Files, read_or_set_aside

FILE = "people.json"
# Long enough for a letter that is read after a weekend.
INVITATION_MS = 7 * 24 * 3600 * 1000

_Result = TypeVar("_Result")


class People:
    """The people of one desk, in one small file; any number of threads and services.

    Args of the constructor:
        files: where it is [Files]
    """

    def __init__(self, files: Files) -> None:
        self.files = files

    def everybody(self) -> list[Person]:
        """All who ever worked here, in the order they were added; [] for a desk of one person [Person each]."""
        return [without_secret(one) for one in self._read()]

    def active(self) -> list[Person]:
        """Those who work here now [Person each]."""
        return [one for one in self.everybody() if one["ended_at"] is None]

    def of(self, identifier: str) -> Person | None:
        """Somebody by their id, gone or not; None if nobody ever had it [Person]."""
        return next((one for one in self.everybody() if one["id"] == identifier), None)

    def named(self, name: str) -> Person:
        """Somebody who works here, by name or id [Person].

        Raises:
            UnknownPerson: nobody has it.
        """
        return without_secret(stored_named(self._read(), name))

    def begin(self, name: str, own: Secret, now_ms: int) -> Person:
        """The first person, an owner, who keeps the passphrase that was the desk's; a desk that has people stays.

        Args:
            name: the person's [text]
            own: the secret to sign in with from now on [Secret]
            now_ms: now [ms since 1970]

        Returns:
            the person [Person]

        Raises:
            NoPersonName: it is empty or too long.
            PeopleSignIn: somebody was first.
        """
        with claimed(PASSPHRASE, self.files.claim):
            stored = self._read()
            if stored:
                raise PeopleSignIn(known=", ".join(one["name"] for one in self.active()))
            person = new_person(name, "owner", stored, now_ms)
            person["secret"] = {**own, "key": None, "key_until": 0}
            self._write([person])
        return without_secret(person)

    def invite(self, name: str, role: Role, now_ms: int) -> tuple[str, Person]:
        """Add a person, and a key with which they set their passphrase within the week.

        Args:
            name: the person's, which nobody else here has [text]
            role: as what they work [Role]
            now_ms: now [ms since 1970]

        Returns:
            the key, told here and never again, and the person [text, Person]

        Raises:
            NoPersonName, PersonNameTaken: nobody is added.
        """
        with claimed(PASSPHRASE, self.files.claim):
            stored = self._read()
            person = new_person(name, role, stored, now_ms)
            key, person["secret"] = secret.with_key(person["secret"], now_ms + INVITATION_MS)
            self._write([*stored, person])
        return key, without_secret(person)

    def invite_again(self, name: str, now_ms: int) -> tuple[str, Person]:
        """Another key for somebody who lost theirs or forgot the passphrase; the passphrase works until it is used.

        Args:
            name: the person's name or id [text]
            now_ms: now [ms since 1970]

        Returns:
            the key, told here and never again, and the person [text, Person]

        Raises:
            UnknownPerson: nobody has it.
        """

        def again(person: StoredPerson) -> str:
            key, person["secret"] = secret.with_key(person["secret"], now_ms + INVITATION_MS)
            return key

        return self._changed(name, again)

    def invited_by(self, key: str, now_ms: int) -> Person | None:
        """Whose key this is, while it can still be used [Person or None]."""
        # All are compared, so that the time taken doesn't reveal which of them was close.
        whose = [one for one in self._read() if secret.opens(one["secret"], key, now_ms) and one["ended_at"] is None]
        return without_secret(whose[0]) if whose else None

    def join(self, key: str, text: str, now_ms: int) -> Person:
        """Set a person's passphrase; the key is used up.

        Args:
            key: from `invite` or `invite_again` [text]
            text: the passphrase [text]
            now_ms: now [ms since 1970]

        Returns:
            the person [Person]

        Raises:
            PassphraseLength: nothing is set, and the key still works.
            NoSettingKey: nothing is set.
        """
        secret.check_length(text)
        with claimed(PASSPHRASE, self.files.claim):
            stored = self._read()
            invited = self.invited_by(key, now_ms)
            if invited is None:
                raise NoSettingKey
            person = next(one for one in stored if one["id"] == invited["id"])
            person["secret"] = secret.of_passphrase(text)
            self._write(stored)
        return without_secret(person)

    def sign_in(self, name: str, text: str) -> Person | None:
        """The person of that name, if that is their passphrase; takes its time in any case [Person or None]."""
        named = [one for one in self._read() if one["ended_at"] is None and is_called(one["name"], name)]
        fits = secret.fits(named[0]["secret"] if named else secret.unset(), text)
        return without_secret(named[0]) if named and fits else None

    def edition(self, identifier: str) -> str | None:
        """A different text for each passphrase that a person sets; None without one, or once they are gone [text]."""
        editions = [one["secret"]["salt"] for one in self._read()
                    if one["id"] == identifier and one["ended_at"] is None]
        return editions[0] if editions else None

    def change_role(self, name: str, role: Role) -> Person:
        """Let somebody work as something else [Person].

        Raises:
            UnknownPerson: nobody has that name or id.
            LastOwner: nothing is changed.
        """

        def changed(person: StoredPerson) -> None:
            person["role"] = role

        return self._changed(name, changed)[1]

    def end(self, name: str, now_ms: int) -> Person:
        """Let somebody sign in no more; what they made keeps their name [Person].

        Raises:
            UnknownPerson: nobody has that name or id.
            LastOwner: nothing is changed.
        """

        def gone(person: StoredPerson) -> None:
            person["ended_at"], person["passkeys"] = now_ms, []
            person["secret"] = secret.unset()

        return self._changed(name, gone)[1]

    def passkeys(self, identifier: str) -> list[Passkey]:
        """The passkeys of a person [Passkey each]."""
        return next((one["passkeys"] for one in self._read() if one["id"] == identifier), [])

    def add_passkey(self, identifier: str, passkey: Passkey) -> None:
        """Let somebody sign in with one more passkey.

        Raises:
            UnknownPerson: nobody who works here has that id.
            TooManyPasskeys: nothing is added.
        """

        def more(person: StoredPerson) -> None:
            if len(person["passkeys"]) >= PASSKEYS_MOST:
                raise TooManyPasskeys(most=PASSKEYS_MOST)
            person["passkeys"].append(passkey)

        self._changed(identifier, more)

    def remove_passkey(self, identifier: str, passkey: str) -> None:
        """Let a passkey open nothing any more; harmless if it isn't theirs."""

        def less(person: StoredPerson) -> None:
            person["passkeys"] = [one for one in person["passkeys"] if one["id"] != passkey]

        self._changed(identifier, less)

    def by_passkey(self, passkey: str) -> tuple[Person, Passkey] | None:
        """Whose a passkey is, and what is kept of it; None if nobody's who works here [Person, Passkey]."""
        return next(((without_secret(person), one) for person in self._read() for one in person["passkeys"]
                     if one["id"] == passkey and person["ended_at"] is None), None)

    def use_passkey(self, passkey: str, count: int) -> None:
        """Note how often a passkey has signed; one that was copied would count differently."""
        with claimed(PASSPHRASE, self.files.claim):
            stored = self._read()
            for one in [one for person in stored for one in person["passkeys"] if one["id"] == passkey]:
                one["count"] = count
            self._write(stored)

    def remember(self, identifier: str) -> str:
        """A mark for a browser that somebody signed in with; their next passphrase makes it void [text]."""

        def marked(person: StoredPerson) -> str:
            mark, person["secret"] = secret.with_mark(person["secret"])
            return mark

        return self._changed(identifier, marked)[0]

    def remembers(self, mark: str) -> bool:
        """Whether somebody signed in with the browser that shows this mark."""
        return any(secret.has_mark(one["secret"], mark) for one in self._read())

    def _changed(self, name: str, change: Callable[[StoredPerson], _Result]) -> tuple[_Result, Person]:
        with claimed(PASSPHRASE, self.files.claim):
            stored = self._read()
            person = stored_named(stored, name)
            could = has_owner(stored)
            result = change(person)
            if could and not has_owner(stored):
                raise LastOwner(name=person["name"])
            self._write(stored)
        return result, without_secret(person)

    def _read(self) -> list[StoredPerson]:
        # Without it the desk is one person's again, whose passphrase its folder's owner can set.
        return read_or_set_aside(self.files, FILE, _shaped) or []

    def _write(self, stored: list[StoredPerson]) -> None:
        self.files.write(FILE, json.dumps({"people": stored}, ensure_ascii=False, indent=1).encode("utf-8"))


def _shaped(content: bytes) -> list[StoredPerson]:
    """What the file holds, checked part by part, whatever it may have become meanwhile."""
    return [person_in(tree) for tree in json.loads(content)["people"]]
