"""The words of the sheet in one language, as types: the parts of the `sheet_words` book that code takes by their names.

Nothing here holds a word. All other groups of the book are sentences by code, and are looked up by group and code.
"""

from __future__ import annotations

from typing import TypedDict


class NumberStyle(TypedDict):
    """How a number is written."""

    point: str
    group: str
    minus: str


# `and` is a word of the language.
ListStyle = TypedDict("ListStyle", {"comma": str, "and": str, "semicolon": str})


class SmallWords(TypedDict):
    """Of the small print: the instruments by their names; the rest are sentences."""

    named: dict[str, str]


class SheetWords(TypedDict):
    """The parts of the book taken by name; a template's blanks stand in braces."""

    number: NumberStyle
    list: ListStyle
    months: list[str]
    date: str
    month_year: str
    page: list[str]
    role_at: str
    row_unit: str
    reading: str
    not_taken: str
    not_noted: str
    not_rinsed: str
    condition_yes_no: dict[str, list[str]]
    check_note: str
    co2e: str
    co2e_move: str
    unknown_shown: list[str]
    small: SmallWords
