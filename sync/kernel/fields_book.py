"""The rulebook's `fields` book, as types: every field of a visit and of what operations say, one row each.

The kernel reads the plausible ranges in it and nothing else; only those of a test's readings judge.
"""

from __future__ import annotations

from typing import Required, TypedDict


class SheetPlace(TypedDict, total=False):
    """A row of the sheet's table of readings: its place, its label, and whether it stays if nobody read it."""

    order: Required[int]
    label: Required[str]
    kept: bool
    strong: bool
    decimals: int


class FieldRow(TypedDict, total=False):
    """A field: what it may hold, where the phone asks for it, what is plausible, and its row on the sheet.

    `range` is in canonical units, `high_r744` its upper end with R-744. `when` is the path of the field that this one
    depends on and the codes that call for it, None for any value. README.md beside the book explains each key.
    """

    type: Required[str]
    required: bool
    label: str
    labels: dict[str, str]
    quantity: str
    suffix: str
    range: list[float]
    high_r744: float
    step: str
    mark: str
    when: list[str | list[str] | None]
    of: list[str]
    kind: str
    codes: str
    hidden: bool
    first: bool
    held: bool
    carried: bool
    folded: bool
    priced: bool
    noted: bool
    side: str
    large: bool
    long: bool
    capitals: bool
    names: bool
    inputmode: str
    check: str
    unit: str
    customary: str
    empty: str
    clock: str
    then: str
    sets_clock: bool
    offers: str
    meaning: str
    sheet: SheetPlace


class ShownRow(TypedDict, total=False):
    """A derived quantity that has a row on the sheet, and the quantity it is written as."""

    quantity: str
    sheet: Required[SheetPlace]


class FieldsBook(TypedDict):
    """Fields by what they belong to and by path, and the derived quantities of the sheet."""

    scopes: dict[str, dict[str, FieldRow]]
    derived: dict[str, ShownRow]
