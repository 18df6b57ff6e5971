"""The errors of Layby: one root, one class a cause, a stable code and the offending values.

No sentence lives here: the words of each code are rulebook data, so that they can be read and translated.
"""

from __future__ import annotations

from typing import Any


class LaybyError(Exception):
    """Root of all errors that Layby raises on purpose.

    `code` is stable; `values` hold what was offending and fill the blanks of its sentence.
    """

    code = "layby"

    def __init__(self, **values: Any) -> None:
        super().__init__(self.code, values)
        self.values = values

    def __str__(self) -> str:
        listed = ", ".join(f"{name}={value!r}" for name, value in self.values.items())
        return f"{self.code}: {listed}" if listed else self.code


class OutOfRange(LaybyError):
    """A value lies outside the range of the table that would answer for it."""

    code = "out_of_range"


class UnknownName(LaybyError):
    """A unit, refrigerant or code that the rulebook does not hold."""

    code = "unknown_name"


class RulebookDrift(LaybyError):
    """A committed table differs from what the builder makes now."""

    code = "rulebook_drift"


class DiskFull(LaybyError):
    """Too little room to write safely; nothing was written."""

    code = "disk_full"


class DiskWithoutNames(DiskFull):
    """The file system has room and no more names for files (inodes); nothing was written."""

    code = "disk_without_names"


class JournalFailed(LaybyError):
    """The disk did not take a write or could not say so; nothing more is written until a new start."""

    code = "journal_failed"
