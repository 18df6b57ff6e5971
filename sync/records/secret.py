"""A secret that lets somebody in at the desk: a hash that is slow to guess, the key that sets it, known browsers.

Values only: nothing here reads or writes a file or knows HTTP. Neither the passphrase nor the key nor a browser's mark
is kept in clear.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import unicodedata
from typing import TypedDict, cast

from sync.errors import LaybyError
from sync.kernel.json_tree import JsonObject

# Length makes a passphrase hard to guess; certain kinds of characters aren't required.
LEAST, MOST = 12, 200
# 32 MB of memory and about a tenth of a second per try; r and p as RFC 7914 recommends.
COST: dict[str, int] = {"n": 2**15, "r": 8, "p": 1}
MEMORY_MOST = 64 * 1024 * 1024

# Browsers that have known the passphrase; beyond this number, those that signed in longest ago are forgotten.
KNOWN_MOST = 20


class Secret(TypedDict):
    """What is kept: the hash and its parameters, the key for setting another [ms since 1970], marks of browsers."""

    salt: str | None
    cost: dict[str, int]
    hash: str
    key: str | None
    key_until: int
    known: list[str]


class PassphraseLength(LaybyError):
    """The passphrase is too short or far too long."""

    code = "passphrase_length"


def unset() -> Secret:
    """A secret that lets nobody in yet [Secret]."""
    return {"salt": None, "cost": COST, "hash": "", "key": None, "key_until": 0, "known": []}


def check_length(text: str) -> None:
    """Check that a text may become a passphrase.

    Raises:
        PassphraseLength: it is too short or too long.
    """
    if not LEAST <= len(text) <= MOST:
        raise PassphraseLength(least=LEAST, most=MOST)


def of_passphrase(text: str) -> Secret:
    """The secret for a passphrase; no key is open, no browser known [Secret].

    Raises:
        PassphraseLength: it is too short or too long.
    """
    check_length(text)
    salt = secrets.token_hex(16)
    return {**unset(), "salt": salt, "hash": _hash(text, salt, COST)}


def fits(secret: Secret, text: str) -> bool:
    """Whether this is the passphrase; takes its time, the same for right and wrong, and for a secret that is unset."""
    if len(text) > MOST:
        return False
    found = _hash(text, secret["salt"] or "00" * 16, secret["cost"])
    return hmac.compare_digest(secret["hash"], found) and secret["salt"] is not None


def with_key(secret: Secret, until_ms: int) -> tuple[str, Secret]:
    """A fresh key that can set another passphrase once; an earlier key is cancelled.

    Args:
        secret: as it is now [Secret]
        until_ms: how long the key works [ms since 1970]

    Returns:
        the key, told here and never again, and the secret as it is then [text, Secret]
    """
    key = secrets.token_urlsafe(32)
    return key, {**secret, "key": _sha256(key), "key_until": until_ms}


def is_open(secret: Secret, now_ms: int) -> bool:
    """Whether a key that was handed out can still be used."""
    return secret["key"] is not None and now_ms < secret["key_until"]


def opens(secret: Secret, key: str, now_ms: int) -> bool:
    """Whether this key can still be used; asking doesn't use it up."""
    return is_open(secret, now_ms) and hmac.compare_digest(str(secret["key"]), _sha256(key))


def with_mark(secret: Secret) -> tuple[str, Secret]:
    """A mark for a browser that has shown the passphrase; the next passphrase makes it void [text, Secret]."""
    mark = secrets.token_urlsafe(32)
    return mark, {**secret, "known": [*secret["known"], _sha256(mark)][-KNOWN_MOST:]}


def has_mark(secret: Secret, mark: str) -> bool:
    """Whether a browser that shows this mark has known the current passphrase."""
    shown = _sha256(mark)
    return any(hmac.compare_digest(one, shown) for one in secret["known"])


def shaped(tree: JsonObject) -> Secret:
    """A secret as it was kept, checked part by part, whatever it may have become meanwhile [Secret].

    Raises:
        TypeError, KeyError, ValueError: it isn't one any more.
    """
    kept = cast(Secret, {**tree, "known": tree.get("known", [])})
    secret: Secret = {
        "salt": kept["salt"], "cost": dict(kept["cost"]), "hash": kept["hash"], "key": kept["key"],
        "key_until": kept["key_until"], "known": list(kept["known"]),
    }
    texts = [secret["hash"], *secret["known"], secret["salt"] or "", secret["key"] or ""]
    numbers = [secret["key_until"], *secret["cost"].values()]
    if secret["cost"].keys() != COST.keys() or not all(isinstance(text, str) for text in texts):
        raise TypeError("secret")
    if not all(isinstance(number, int) for number in numbers) or any(
            secret["cost"][name] > most for name, most in COST.items()):
        raise ValueError("secret")
    bytes.fromhex(secret["salt"] or "")
    return secret


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()


def _hash(text: str, salt: str, cost: dict[str, int]) -> str:
    # Composed first, so that two keyboards that write one accent differently open the same door.
    composed = unicodedata.normalize("NFC", text).encode("utf-8", "replace")
    return hashlib.scrypt(composed, salt=bytes.fromhex(salt), maxmem=MEMORY_MOST, dklen=32, **cost).hex()
