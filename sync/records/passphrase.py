"""The passphrase of the desk's pages: a hash that is slow to guess, the key that sets it, and who knew it before.

Nothing here knows HTTP or who is signed in. Neither the passphrase nor the key nor a browser's mark is kept in clear.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import secrets
import unicodedata
from typing import TypedDict

from sync.errors import LaybyError
from sync.records.locks import PASSPHRASE, claimed
from sync.records.store.files import Files, read_or_set_aside

FILE = "passphrase.json"
KEY_MS = 60 * 60_000
# Length makes a passphrase hard to guess; certain kinds of characters aren't required.
LEAST, MOST = 12, 200
# 32 MB of memory and about a tenth of a second per try; r and p as RFC 7914 recommends.
COST: dict[str, int] = {"n": 2**15, "r": 8, "p": 1}
MEMORY_MOST = 64 * 1024 * 1024

# Browsers that have known the passphrase; beyond this number, those that signed in longest ago are forgotten.
KNOWN_MOST = 20


class _Stored(TypedDict):
    """What the file holds: the hash and its parameters, the key for setting another, marks of browsers."""

    salt: str | None
    cost: dict[str, int]
    hash: str
    key: str | None
    key_until: int
    known: list[str]


class PassphraseLength(LaybyError):
    """The passphrase is too short or far too long."""

    code = "passphrase_length"


class NoSettingKey(LaybyError):
    """The key for setting the passphrase is wrong, was used, or expired."""

    code = "no_setting_key"


class Passphrase:
    """The passphrase of one desk, in one small file. Nothing is read or made before it is needed.

    Args of the constructor:
        files: where it is [Files]
    """

    def __init__(self, files: Files) -> None:
        self.files = files

    @property
    def edition(self) -> str | None:
        """A different text for each passphrase that is set; None before the first [text]."""
        return self._read()["salt"]

    def open_setting(self, now_ms: int) -> str:
        """A fresh key that can set the passphrase once within the hour; an earlier key is cancelled.

        Args:
            now_ms: now [ms since 1970]

        Returns:
            the key, told here and never again [text]
        """
        key = secrets.token_urlsafe(32)
        with claimed(PASSPHRASE, self.files.claim):
            self._write({**self._read(), "key": _sha256(key), "key_until": now_ms + KEY_MS})
        return key

    def is_setting_open(self, now_ms: int) -> bool:
        """Whether a key that was handed out can still be used."""
        stored = self._read()
        return stored["key"] is not None and now_ms < stored["key_until"]

    def opens_setting(self, key: str, now_ms: int) -> bool:
        """Whether the key can still be used; asking doesn't use it up."""
        stored = self._read()
        fits = stored["key"] is not None and hmac.compare_digest(stored["key"], _sha256(key))
        return fits and now_ms < stored["key_until"]

    def set(self, key: str, text: str, now_ms: int) -> None:
        """Set the passphrase; the key is used up.

        Args:
            key: from `open_setting` [text]
            text: the passphrase [text]
            now_ms: now [ms since 1970]

        Raises:
            PassphraseLength: nothing is set, and the key still works.
            NoSettingKey: nothing is set.
        """
        if not LEAST <= len(text) <= MOST:
            raise PassphraseLength(least=LEAST, most=MOST)
        with claimed(PASSPHRASE, self.files.claim):
            if not self.opens_setting(key, now_ms):
                raise NoSettingKey
            salt = secrets.token_hex(16)
            self._write({"salt": salt, "cost": COST, "hash": _hash(text, salt, COST), "key": None, "key_until": 0,
                         "known": []})

    def remember(self) -> str:
        """A mark for a browser that has shown the passphrase; the next passphrase makes it void [text]."""
        mark = secrets.token_urlsafe(32)
        with claimed(PASSPHRASE, self.files.claim):
            stored = self._read()
            self._write({**stored, "known": [*stored["known"], _sha256(mark)][-KNOWN_MOST:]})
        return mark

    def remembers(self, mark: str) -> bool:
        """Whether a browser that shows this mark has known the current passphrase."""
        shown = _sha256(mark)
        return any(hmac.compare_digest(one, shown) for one in self._read()["known"])

    def fits(self, text: str) -> bool:
        """Whether this is the passphrase; False before one is set. Takes its time, the same for right and wrong."""
        stored = self._read()
        if stored["salt"] is None or len(text) > MOST:
            return False
        return hmac.compare_digest(stored["hash"], _hash(text, stored["salt"], stored["cost"]))

    def _read(self) -> _Stored:
        # Without it nobody is let in until the folder's owner sets another one.
        nothing: _Stored = {"salt": None, "cost": COST, "hash": "", "key": None, "key_until": 0, "known": []}
        return read_or_set_aside(self.files, FILE, _shaped) or nothing

    def _write(self, stored: _Stored) -> None:
        self.files.write(FILE, json.dumps(stored).encode("ascii"))


def _shaped(content: bytes) -> _Stored:
    """What the file holds, checked part by part, whatever it may have become meanwhile."""
    tree = json.loads(content)
    stored: _Stored = {
        "salt": tree["salt"], "cost": dict(tree["cost"]), "hash": tree["hash"], "key": tree["key"],
        "key_until": tree["key_until"], "known": list(tree.get("known", [])),
    }
    texts = [stored["hash"], *stored["known"], stored["salt"] or "", stored["key"] or ""]
    numbers = [stored["key_until"], *stored["cost"].values()]
    if stored["cost"].keys() != COST.keys() or not all(isinstance(text, str) for text in texts):
        raise TypeError(FILE)
    if not all(isinstance(number, int) for number in numbers) or any(
            stored["cost"][name] > most for name, most in COST.items()):
        raise ValueError(FILE)
    bytes.fromhex(stored["salt"] or "")
    return stored


def _sha256(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()


def _hash(text: str, salt: str, cost: dict[str, int]) -> str:
    # Composed first, so that two keyboards that write one accent differently open the same door.
    composed = unicodedata.normalize("NFC", text).encode("utf-8", "replace")
    return hashlib.scrypt(composed, salt=bytes.fromhex(salt), maxmem=MEMORY_MOST, dklen=32, **cost).hex()
