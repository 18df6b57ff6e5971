"""The passphrase of a desk that one person works at: its secret, in one small file beside the records.

Nothing here knows HTTP or who is signed in. Where several people sign in, `people` keeps a secret of each instead.
"""

from __future__ import annotations

import json

from sync.errors import LaybyError
from sync.records import secret
from sync.records.locks import PASSPHRASE, claimed
from sync.records.secret import Secret
from sync.records.store.files import Files, read_or_set_aside

FILE = "passphrase.json"
KEY_MS = 60 * 60_000


class NoSettingKey(LaybyError):
    """The key for setting a passphrase is wrong, was used, or expired."""

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
        return self.secret["salt"]

    @property
    def secret(self) -> Secret:
        """What is kept of it [Secret]."""
        # Without it nobody is let in until the folder's owner sets another one.
        return read_or_set_aside(self.files, FILE, lambda content: secret.shaped(json.loads(content))) or secret.unset()

    def open_setting(self, now_ms: int) -> str:
        """A fresh key that can set the passphrase once within the hour; an earlier key is cancelled.

        Args:
            now_ms: now [ms since 1970]

        Returns:
            the key, told here and never again [text]
        """
        with claimed(PASSPHRASE, self.files.claim):
            key, after = secret.with_key(self.secret, now_ms + KEY_MS)
            self._write(after)
        return key

    def is_setting_open(self, now_ms: int) -> bool:
        """Whether a key that was handed out can still be used."""
        return secret.is_open(self.secret, now_ms)

    def opens_setting(self, key: str, now_ms: int) -> bool:
        """Whether the key can still be used; asking doesn't use it up."""
        return secret.opens(self.secret, key, now_ms)

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
        secret.check_length(text)
        with claimed(PASSPHRASE, self.files.claim):
            # Before the slow hash, which strangers must not be able to order.
            if not self.opens_setting(key, now_ms):
                raise NoSettingKey
            self._write(secret.of_passphrase(text))

    def remember(self) -> str:
        """A mark for a browser that has shown the passphrase; the next passphrase makes it void [text]."""
        with claimed(PASSPHRASE, self.files.claim):
            mark, after = secret.with_mark(self.secret)
            self._write(after)
        return mark

    def remembers(self, mark: str) -> bool:
        """Whether a browser that shows this mark has known the current passphrase."""
        return secret.has_mark(self.secret, mark)

    def fits(self, text: str) -> bool:
        """Whether this is the passphrase; False before one is set. Takes its time, the same for right and wrong."""
        return secret.fits(self.secret, text)

    def retire(self) -> None:
        """Let nobody in by it any more; another can be set."""
        with claimed(PASSPHRASE, self.files.claim):
            self._write(secret.unset())

    def _write(self, after: Secret) -> None:
        self.files.write(FILE, json.dumps(after).encode("ascii"))
