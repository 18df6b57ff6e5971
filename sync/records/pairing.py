"""Pairing: the one open offer of a code and the devices that took one up, in the folder for its owner's eyes only.

Nothing here knows HTTP, a QR code or a screen. No code and no token is kept, only what proves one when it is shown.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import logging
import secrets
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sync.errors import LaybyError
from sync.records.safe_files import Unreadable, make_folder, write_whole

FILE = "devices.json"
CODE_BYTES = 16
CODE_MS = 10 * 60_000
# Eight digits: quick on a phone's keypad with gloves on. An offer takes five tries in all, so a guess at one comes true
# once in twenty million offers, and an offer stands for five minutes only when its owner has asked for it.
SHORT_DIGITS = 8
SHORT_MS = 5 * 60_000
TRIES_MOST = 5
TOKEN_BYTES = 32
NAME_MOST = 60
# A phone that sends all day is not written down at each request.
SEEN_EVERY_MS = 5 * 60_000

log = logging.getLogger("layby.pairing")

Device = dict[str, Any]
# One for the process, not for an object: several may be open over one folder.
_LOCK = threading.RLock()


class NoOffer(LaybyError):
    """No code is open: none was asked for, or it was used, ran out, or was tried too often."""

    code = "no_pairing_offer"


class WrongCode(LaybyError):
    """The code is not the one that is open; `left` tries remain."""

    code = "wrong_pairing_code"


class UnknownDevice(LaybyError):
    """No paired device bears that name or id; `known` lists those that are paired."""

    code = "unknown_device"


@dataclass(frozen=True)
class Offer:
    """A code to be shown once: the long one for the QR code, the short one for typing, and how long each is taken."""

    code: str
    short: str
    code_until_ms: int
    short_until_ms: int


@dataclass(frozen=True)
class Claim:
    """What a phone shows and calls itself: the code as it came, its device id, a name for people."""

    code: str
    device: str
    name: str


class Pairings:
    """The offer and the devices of one folder, in one small file of mode 0600.

    One process at a time, as for the logbook in the same folder; any number of threads.
    """

    def __init__(self, folder: Path) -> None:
        """Nothing is read or made before it is asked for.

        Args:
            folder: the logbook's folder [path]
        """
        self.folder = Path(folder)

    def offer(self, now_ms: int) -> Offer:
        """Open a fresh code; an earlier one that is still open is void.

        Args:
            now_ms: now [ms since 1970]

        Returns:
            the code, told here and never again [Offer]
        """
        code, short = secrets.token_hex(CODE_BYTES), f"{secrets.randbelow(10**SHORT_DIGITS):0{SHORT_DIGITS}d}"
        made = Offer(code, short, now_ms + CODE_MS, now_ms + SHORT_MS)
        with _LOCK:
            kept = self._read()
            kept["offer"] = {
                "code": _proof(code), "code_until": made.code_until_ms,
                "short": _proof(short), "short_until": made.short_until_ms, "tries": 0,
            }
            self._write(kept)
        return made

    def pair(self, claim: Claim, now_ms: int) -> tuple[str, Device]:
        """Take up the open offer; it is void afterwards, and a token that this device had before is worth nothing.

        Args:
            claim: the code that is shown, and who shows it [Claim]
            now_ms: now [ms since 1970]

        Returns:
            the token, told here and never again, and the device as from `devices` [text, mapping]

        Raises:
            NoOffer: no code is open.
            WrongCode: it is another one; that counts as a try.
        """
        token = secrets.token_urlsafe(TOKEN_BYTES)
        with _LOCK:
            kept = self._read()
            self._take_up(kept, claim.code, now_ms)
            others = [device for device in kept["devices"] if device["device"] != claim.device]
            device = {
                "device": claim.device, "name": _free_name(claim.name, others), "token": _proof(token),
                "paired_at": now_ms, "last_seen": now_ms, "revoked_at": None,
            }
            kept.update(offer=None, devices=[*others, device])
            self._write(kept)
        return token, _told(device)

    def device_of(self, token: str, now_ms: int) -> Device | None:
        """The paired device that a token belongs to, as from `devices`; None where it belongs to none."""
        proof, found = _proof(token), None
        with _LOCK:
            kept = self._read()
            for device in kept["devices"]:
                # Each is compared, so that the time taken does not tell which of them came near.
                if hmac.compare_digest(device["token"], proof) and device["revoked_at"] is None:
                    found = device
            if found is not None and now_ms - found["last_seen"] >= SEEN_EVERY_MS:
                found["last_seen"] = now_ms
                try:
                    self._write(kept)
                except OSError as error:
                    # A full disk is said by what is to be filed, which keeps room free; a token is good all the same.
                    log.warning("when a phone was last seen could not be noted: %s", error)
        return None if found is None else _told(found)

    def devices(self) -> list[Device]:
        """All that were ever paired, in the order of their pairing.

        Returns:
            {device, name, paired_at, last_seen, revoked_at}, instants in ms since 1970, revoked_at None while the token
            is good [list]
        """
        with _LOCK:
            return [_told(device) for device in self._read()["devices"]]

    def revoke(self, name: str, now_ms: int) -> Device:
        """Let a device's token be worth nothing from now on; what it has filed stays filed.

        Args:
            name: the device's name or its id [text]
            now_ms: now [ms since 1970]

        Returns:
            the device as from `devices` [mapping]

        Raises:
            UnknownDevice: none that is paired bears that name.
        """
        with _LOCK:
            kept = self._read()
            paired = [device for device in kept["devices"] if device["revoked_at"] is None]
            named = [device for device in paired if name in (device["device"], device["name"])]
            if not named:
                raise UnknownDevice(name=name, known=", ".join(device["name"] for device in paired) or "none")
            named[0]["revoked_at"] = now_ms
            self._write(kept)
        return _told(named[0])

    def _take_up(self, kept: dict[str, Any], code: str, now_ms: int) -> None:
        """See that the code is the open one; a wrong one is counted before anybody is told."""
        offer = kept["offer"]
        if offer is None or now_ms >= offer["code_until"] or offer["tries"] >= TRIES_MOST:
            raise NoOffer
        shown = "".join(code.split()).replace("-", "").lower()
        form = "short" if len(shown) <= SHORT_DIGITS else "code"
        if now_ms < offer[f"{form}_until"] and hmac.compare_digest(offer[form], _proof(shown)):
            return
        offer["tries"] += 1
        self._write(kept)
        raise WrongCode(left=TRIES_MOST - offer["tries"])

    def _read(self) -> dict[str, Any]:
        path = self.folder / FILE
        try:
            kept = json.loads(path.read_bytes())
            return {"offer": kept["offer"], "devices": list(kept["devices"])}
        except FileNotFoundError:
            return {"offer": None, "devices": []}
        except (ValueError, KeyError, TypeError) as error:
            # Never taken for "no devices": a person decides whether to pair all phones anew.
            raise Unreadable(file=str(path)) from error

    def _write(self, kept: dict[str, Any]) -> None:
        make_folder(self.folder)
        write_whole(self.folder / FILE, json.dumps(kept, ensure_ascii=False, indent=1).encode("utf-8"))


def _proof(secret: str) -> str:
    """What is kept in place of a secret [64 hex digits].

    A plain hash is enough for a random token of 256 bits and a random code of 128. The short code could be found from
    its hash by trying all of them, but only by who can read the folder, and within its five minutes.
    """
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()


def _free_name(name: str, others: list[Device]) -> str:
    """The name, or with a number where another device that is paired bears it already."""
    plain = " ".join("".join(sign if sign.isprintable() else " " for sign in name).split())[:NAME_MOST] or "Phone"
    taken = {device["name"] for device in others if device["revoked_at"] is None}
    free, number = plain, 1
    while free in taken:
        number += 1
        free = f"{plain} {number}"
    return free


def _told(device: Device) -> Device:
    return {key: value for key, value in device.items() if key != "token"}
