"""CSV that opens as it is: no formula from a customer's text, numbers as numbers, every text complete.

Read back with the standard library's reader. What starts a formula: OWASP, CSV injection, from memory.
"""

from __future__ import annotations

import csv
import io
from decimal import Decimal

import pytest

from reports.spreadsheet import table


def read(content: bytes) -> list[list[str]]:
    """The rows as any reader of RFC 4180 sees them."""
    return list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")))


@pytest.mark.parametrize("text", [
    "=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", " =1", "\u00a0=1", "＝1+1", "＋1", "－1", "＠x",
    "=cmd|' /C calc'!A0", '=HYPERLINK("http://x.example";"y")', "-2+3", "+49 555",
])
def test_no_text_becomes_a_formula(text: str) -> None:
    """It is kept letter for letter after an apostrophe, in headings as well as cells."""
    heads, row = read(table([text], [[text]]))
    assert row == heads == ["'" + text]


@pytest.mark.parametrize("text", ["Noor Halloran", "12,5", "a=b", "1G4AH59H45G118341", "Ångström; \"x\", y\nz", ""])
def test_plain_text_is_untouched(text: str) -> None:
    """Separators, quotes and line ends inside a cell stay inside it."""
    assert read(table(["a"], [[text]]))[1] == [text]


def test_numbers_stay_numbers() -> None:
    """Negative ones too, none in powers of ten; no cell is empty by accident."""
    content = table(["a", "b", "c", "d"], [[-12.5, Decimal("1234567.10"), 0.00001, None]])
    assert content.splitlines()[1] == b'-12.5,1234567.10,0.00001,""'


def test_a_spreadsheet_knows_the_letters() -> None:
    """UTF-8 with its mark, CR LF at each line's end."""
    content = table(["Größe"], [["Жанна"], ["王"]])
    assert content.startswith(b"\xef\xbb\xbf")
    assert content.count(b"\r\n") == 3
    assert read(content) == [["Größe"], ["Жанна"], ["王"]]


def test_a_row_that_does_not_fit_is_refused() -> None:
    """A cell under the wrong heading would be worse than none."""
    with pytest.raises(ValueError) as refused:
        table(["a", "b"], [["x"]])
    assert "1 cells under 2 heads" in str(refused.value)
