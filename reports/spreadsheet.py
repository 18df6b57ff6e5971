"""Tables as CSV files that a spreadsheet opens as they are: text stays text, numbers stay numbers.

It adds nothing up and knows no column's meaning.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from decimal import Decimal

Cell = str | int | float | Decimal | None

# What a spreadsheet takes for the start of a formula, in the character widths that some of them treat as equal.
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def table(columns: Sequence[str], rows: Sequence[Sequence[Cell]]) -> bytes:
    """A table with its headings.

    Args:
        columns: the headings [texts]
        rows: one cell per column; numbers as numbers, None for an empty cell [list]

    Returns:
        CSV in UTF-8 with a byte order mark, lines ended by CR LF [bytes]

    Raises:
        ValueError: a row is longer or shorter than the headings.

    Source: RFC 4180; cells that begin like a formula get an apostrophe (OWASP, CSV injection, from memory).
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
    writer.writerow([safe(head) for head in columns])
    for row in rows:
        if len(row) != len(columns):
            raise ValueError(f"a row of {len(row)} cells under {len(columns)} heads")
        writer.writerow([_cell(cell) for cell in row])
    return b"\xef\xbb\xbf" + text.getvalue().encode("utf-8", "replace")


def _cell(cell: Cell) -> Cell | Decimal:
    if cell is None:
        return ""
    # As a decimal it is written plainly, never as 1e-05.
    return safe(cell) if isinstance(cell, str) else _Plain(format(Decimal(str(cell)), "f"))


class _Plain(float):
    """A number whose text is the one given: the writer leaves numbers unquoted and writes their text."""

    def __new__(cls, text: str) -> _Plain:
        number = super().__new__(cls, text)
        number.text = text
        return number

    text: str

    def __str__(self) -> str:
        return self.text

    __repr__ = __str__


def safe(text: str) -> str:
    """Text that no spreadsheet takes for a formula: if it begins like one, it gets an apostrophe in front."""
    plain = text.replace("\x00", "")
    return "'" + plain if plain.lstrip(" \u00a0").startswith(FORMULA) or plain.startswith(FORMULA) else plain
