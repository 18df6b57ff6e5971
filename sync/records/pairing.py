"""Pairing: the one open offer of a code and the devices that took one up, in a file beside the records.

Nothing here knows HTTP, a QR code or a screen. No code or token is kept, only what verifies one when it is shown.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import logging
import secrets
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TypedDict, cast

from sync.errors import LaybyError
from sync.kernel.json_tree import JsonObject
from sync.records.locks import DEVICES, claimed
from sync.records.store.files import Files, read_or_set_aside

FILE = "devices.json"
CODE_BYTES = 16
CODE_MS = 10 * 60_000
# Eight digits: quick on a phone's keypad with gloves on. An offer takes five tries, so one offer in twenty million is
# guessed, and it lasts only five minutes after its owner asked for it. The long code takes any number of tries: nobody
# guesses 128 bits, and a limit would let strangers cancel what the owner has opened.
SHORT_DIGITS = 8
SHORT_MS = 5 * 60_000
TRIES_MOST = 5
TOKEN_BYTES = 32
NAME_MOST = 60
# A phone that sends all day isn't written down at each request.
SEEN_EVERY_MS = 5 * 60_000

log = logging.getLogger("layby.pairing")


class NoOffer(LaybyError):
    """No code is open: none was asked for, or it was used or expired."""

    code = "no_pairing_offer"


class WrongCode(LaybyError):
    """The short code isn't the open one; `left` tries remain."""

    code = "wrong_pairing_code"


class WrongLongCode(LaybyError):
    """The long code isn't the open one; it may be tried again."""

    code = "wrong_long_code"


class ShortCodeVoid(LaybyError):
    """The short code expired or was tried too often; the long one of the same offer still works."""

    code = "short_code_void"


class AlreadyPaired(LaybyError):
    """The device's id belongs to a paired phone called `name`, whose token was not shown."""

    code = "already_paired"


class UnknownDevice(LaybyError):
    """No paired device has that name or id; `known` lists the paired ones."""

    code = "unknown_device"


@dataclass(frozen=True)
class Offer:
    """A code to be shown once: the long one for the QR code, the short one for typing, and how long each works."""

    code: str
    short: str
    code_until_ms: int
    short_until_ms: int


@dataclass(frozen=True)
class Claim:
    """What a phone sends: the code as entered, its device id, a name for people, its token if any."""

    code: str
    device: str
    name: str
    token: str = ""


class Device(TypedDict):
    """A device that was paired at some time; instants in ms since 1970, `revoked_at` is null while its token works.

    `person` is who it is signed in as, "" for nobody.
    """

    device: str
    name: str
    paired_at: int
    last_seen: int
    revoked_at: int | None
    person: str


class _StoredDevice(Device):
    """`persons` are all it was ever signed in as: what it wrote for one of them may come in much later."""

    token: str
    persons: list[str]


class _StoredOffer(TypedDict):
    code: str
    code_until: int
    short: str
    short_until: int
    tries: int
    person: str


class _Stored(TypedDict):
    """What the file holds; of code and token only the verifiers."""

    offer: _StoredOffer | None
    devices: list[_StoredDevice]


class Pairings:
    """The offer and the devices of one desk, in one small file; any number of threads.

    Nothing is read or made before it is needed.

    Args of the constructor:
        files: where it is [Files]
    """

    def __init__(self, files: Files) -> None:
        self.files = files

    def offer(self, now_ms: int, person: str = "") -> Offer:
        """Open a fresh code; an earlier one that is still open is cancelled.

        Args:
            now_ms: now [ms since 1970]
            person: whom the phone that takes it up is signed in as, "" for nobody [id]

        Returns:
            the code, told here and never again [Offer]
        """
        code, short = secrets.token_hex(CODE_BYTES), f"{secrets.randbelow(10**SHORT_DIGITS):0{SHORT_DIGITS}d}"
        offer = Offer(code, short, now_ms + CODE_MS, now_ms + SHORT_MS)
        with claimed(DEVICES, self.files.claim):
            stored = self._read()
            stored["offer"] = {
                "code": _proof(code), "code_until": offer.code_until_ms,
                "short": _proof(short), "short_until": offer.short_until_ms, "tries": 0, "person": person,
            }
            self._write(stored)
        return offer

    def pair(self, claim: Claim, now_ms: int) -> tuple[str, Device]:
        """Take up the open offer. It is then void, and a token that this device had before is worthless.

        A device that is already paired has to show that token, because a code alone doesn't show whose the id is.

        Args:
            claim: the code that is shown, and who shows it [Claim]
            now_ms: now [ms since 1970]

        Returns:
            the token, told here and never again, and the device [text, Device]

        Raises:
            NoOffer: no code is open.
            WrongCode: the short code is wrong; that counts as a try.
            WrongLongCode: the long code is wrong.
            ShortCodeVoid: the short code no longer works.
            AlreadyPaired: the id is somebody else's; the offer stays open.
        """
        token = secrets.token_urlsafe(TOKEN_BYTES)
        with claimed(DEVICES, self.files.claim):
            stored = self._read()
            person = self._take_up(stored, claim.code, now_ms)
            _see_whose_id(stored["devices"], claim)
            others = [device for device in stored["devices"] if device["device"] != claim.device]
            before = [device["persons"] for device in stored["devices"] if device["device"] == claim.device]
            device: _StoredDevice = {
                "device": claim.device, "name": _free_name(claim.name, others), "token": _proof(token),
                "paired_at": now_ms, "last_seen": now_ms, "revoked_at": None, "person": person,
                "persons": _with(before[0] if before else [], person),
            }
            self._write({"offer": None, "devices": [*others, device]})
        return token, _without_token(device)

    def device_of(self, token: str, now_ms: int) -> Device | None:
        """The paired device that a token belongs to [Device]; None if there is none."""
        owner = _owner_of(token, self._read())
        if owner is not None and now_ms - owner["last_seen"] >= SEEN_EVERY_MS:
            owner = self._seen(token, now_ms)
        return None if owner is None else _without_token(owner)

    def _seen(self, token: str, now_ms: int) -> _StoredDevice | None:
        """Note when a device was last seen; looked up again, because others may have changed what is kept."""
        with claimed(DEVICES, self.files.claim):
            stored = self._read()
            owner = _owner_of(token, stored)
            if owner is not None:
                owner["last_seen"] = now_ms
                try:
                    self._write(stored)
                except OSError as error:
                    # What is to be filed reports a full disk and keeps room free; the token works all the same.
                    log.warning("when a phone was last seen could not be noted: %s", error)
        return owner

    def devices(self) -> list[Device]:
        """All that were ever paired, in the order of their pairing [Device each]."""
        with claimed(DEVICES, self.files.claim):
            return [_without_token(device) for device in self._read()["devices"]]

    def revoke(self, name: str, now_ms: int) -> Device:
        """Make a device's token worthless from now on; what it filed stays filed.

        Args:
            name: the device's name or its id [text]
            now_ms: now [ms since 1970]

        Returns:
            the device [Device]

        Raises:
            UnknownDevice: no paired device has that name.
        """
        def revoked(device: _StoredDevice) -> None:
            device["revoked_at"] = now_ms

        return self._changed(name, revoked)

    def sign_in(self, name: str, person: str) -> Device:
        """Sign a paired device in as somebody else.

        Args:
            name: the device's name or its id [text]
            person: who, "" for nobody [id]

        Returns:
            the device [Device]

        Raises:
            UnknownDevice: no paired device has that name.
        """
        def signed_in(device: _StoredDevice) -> None:
            device["person"], device["persons"] = person, _with(device["persons"], person)

        return self._changed(name, signed_in)

    def _changed(self, name: str, change: Callable[[_StoredDevice], None]) -> Device:
        with claimed(DEVICES, self.files.claim):
            stored = self._read()
            device = _named(stored, name)
            change(device)
            self._write(stored)
        return _without_token(device)

    def person_of(self, device: str) -> str:
        """Who a device is signed in as, "" for nobody [id]."""
        return next((one["person"] for one in self._read()["devices"] if one["device"] == device), "")

    def persons_of(self, device: str) -> list[str] | None:
        """Everybody a device was ever signed in as; None if it was never paired here [ids]."""
        return next((one["persons"] for one in self._read()["devices"] if one["device"] == device), None)

    def _take_up(self, stored: _Stored, code: str, now_ms: int) -> str:
        """Check that the code is the open one; a wrong short code is counted before anybody is told.

        Returns:
            whom the offer signs in, "" for nobody [id]
        """
        offer = stored["offer"]
        if offer is None or now_ms >= offer["code_until"]:
            raise NoOffer
        shown = "".join(code.split()).replace("-", "").lower()
        proof = _proof(shown)
        if len(shown) > SHORT_DIGITS:
            if not hmac.compare_digest(offer["code"], proof):
                raise WrongLongCode
        elif now_ms >= offer["short_until"] or offer["tries"] >= TRIES_MOST:
            raise ShortCodeVoid
        elif not hmac.compare_digest(offer["short"], proof):
            offer["tries"] += 1
            self._write(stored)
            raise WrongCode(left=TRIES_MOST - offer["tries"])
        return offer["person"]

    def _read(self) -> _Stored:
        # Without it no phone is known: each waits, loses nothing, and is paired again with a code.
        return read_or_set_aside(self.files, FILE, _shaped) or {"offer": None, "devices": []}

    def _write(self, stored: _Stored) -> None:
        self.files.write(FILE, json.dumps(stored, ensure_ascii=False, indent=1).encode("utf-8"))


def _shaped(content: bytes) -> _Stored:
    """What the file holds, checked part by part, whatever it may have become meanwhile."""
    tree = json.loads(content)
    offer = tree["offer"]
    return {
        "offer": None if offer is None else cast(
            _StoredOffer, _parts({"person": "", **offer}, _StoredOffer.__annotations__)),
        "devices": [_device(device) for device in tree["devices"]],
    }


def _device(tree: JsonObject) -> _StoredDevice:
    # Before several people could sign in, no device had a person.
    parts = _parts({"person": "", **tree}, _StoredDevice.__annotations__.keys() - {"persons"})
    persons = tree.get("persons", [])
    if not isinstance(persons, list) or not all(isinstance(person, str) for person in persons):
        raise TypeError("persons")
    return cast(_StoredDevice, {**parts, "persons": persons})


def _parts(tree: JsonObject, names: Iterable[str]) -> JsonObject:
    """The parts with those names: numbers if the name means a time or a count, otherwise texts.

    Raises:
        TypeError, KeyError: one is missing, or of another kind.
    """
    parts = {name: tree[name] for name in names}
    for name, value in parts.items():
        is_number = name.endswith(("_at", "_until", "_seen", "tries"))
        wanted = (int, type(None)) if name == "revoked_at" else int if is_number else str
        if not isinstance(value, wanted) or isinstance(value, bool):
            raise TypeError(name)
    return parts


def _proof(secret: str) -> str:
    """What is kept in place of a secret [64 hex digits].

    A plain hash is enough for a random token of 256 bits and a random code of 128. The short code could be found from
    its hash by trying all of them, but only by somebody who can read the folder, and within its five minutes.
    """
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()


def _owner_of(token: str, stored: _Stored) -> _StoredDevice | None:
    """The paired device that a token belongs to; None if there is none."""
    proof, owner = _proof(token), None
    for device in stored["devices"]:
        # All are compared, so that the time taken doesn't reveal which of them was close.
        if hmac.compare_digest(device["token"], proof) and device["revoked_at"] is None:
            owner = device
    return owner


def _named(stored: _Stored, name: str) -> _StoredDevice:
    paired = [device for device in stored["devices"] if device["revoked_at"] is None]
    named = [device for device in paired if name in (device["device"], device["name"])]
    if not named:
        raise UnknownDevice(name=name, known=", ".join(device["name"] for device in paired) or "–")
    return named[0]


def _with(persons: list[str], person: str) -> list[str]:
    """The persons and one more, the last who signed in being the last; nobody is none."""
    return [*(one for one in persons if one != person), person] if person else persons


def _see_whose_id(devices: list[_StoredDevice], claim: Claim) -> None:
    """Check that the id is new, or was revoked, or is claimed with its present token."""
    proof = _proof(claim.token)
    for device in devices:
        is_paired = device["device"] == claim.device and device["revoked_at"] is None
        if is_paired and not hmac.compare_digest(device["token"], proof):
            raise AlreadyPaired(name=device["name"])


def _free_name(name: str, others: list[_StoredDevice]) -> str:
    """The name, with a number if another paired device already has it."""
    plain = " ".join("".join(sign if sign.isprintable() else " " for sign in name).split())[:NAME_MOST] or "Phone"
    in_use = {device["name"] for device in others if device["revoked_at"] is None}
    free, number = plain, 1
    while free in in_use:
        number += 1
        free = f"{plain} {number}"
    return free


def _without_token(device: _StoredDevice) -> Device:
    return {
        "device": device["device"], "name": device["name"], "paired_at": device["paired_at"],
        "last_seen": device["last_seen"], "revoked_at": device["revoked_at"], "person": device["person"],
    }
