"""The errors of Layby: one root, one class for each cause, a stable code and the values that caused it.

No sentence lives here: the words for each code are rulebook data, so that they can be read and translated.
"""

from __future__ import annotations

from typing import Any


class LaybyError(Exception):
    """Root of all errors that Layby raises on purpose.

    `code` is stable; `values` hold what caused the error and fill the blanks of its sentence.
    """

    code = "layby"

    def __init__(self, **values: Any) -> None:
        super().__init__(self.code, values)
        self.values = values

    def __str__(self) -> str:
        listed = ", ".join(f"{name}={value!r}" for name, value in self.values.items())
        return f"{self.code}: {listed}" if listed else self.code


class OutOfRange(LaybyError):
    """A value lies outside the range of the table that should answer for it."""

    code = "out_of_range"


class UnknownName(LaybyError):
    """A unit, refrigerant or code that isn't in the rulebook."""

    code = "unknown_name"


class RulebookDrift(LaybyError):
    """A committed table differs from what the builder would make now."""

    code = "rulebook_drift"


class DiskFull(LaybyError):
    """Not enough room to write safely; nothing was written."""

    code = "disk_full"


class DiskWithoutNames(DiskFull):
    """The file system has room but no inodes left for new files; nothing was written."""

    code = "disk_without_names"


class JournalFailed(LaybyError):
    """The disk failed a write or couldn't confirm it; nothing more is written until the next start."""

    code = "journal_failed"


class Away(LaybyError, OSError):
    """Whatever keeps the records doesn't answer now; it may a moment later. Each store has its own, with its own code.

    To whoever writes views it is what a disk is that takes nothing now.
    """


class NotOwn(LaybyError):
    """A name that is a link, or leads through a link or out of the folder; `file` is the name within the folder."""

    code = "not_own_file"
