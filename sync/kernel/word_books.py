"""The rulebook's books of words and drawings, as types; groups and codes come from the data.

No rule of the kernel reads them: verdicts carry codes and values.
"""

from __future__ import annotations

from typing import TypedDict

from sync.kernel.condition import Condition

# The words of one language: groups of sentences by code; a sentence with plural forms is a group of these.
WordTree = dict[str, "WordTree | str"]


class Strip(TypedDict):
    """A quantity that is drawn against its yardsticks: as which quantity, on which side, and its scale [its unit]."""

    of: str
    quantity: str
    side: str
    low: float
    high: float


class StripsBook(TypedDict):
    """Of what kind each figure of evidence is, what is drawn, causes by family and those for certified people.

    `asked_at` is where the phone asks for a check: the step and, in it, the field or list entry.
    """

    figures: dict[str, str]
    strips: list[Strip]
    families: dict[str, list[str]]
    certified: list[str]
    asked_at: dict[str, list[str]]


class SheetNote(TypedDict):
    """A note of the sheet's own, and its groups of conditions, one of which must hold."""

    code: str
    when: list[list[Condition]]


class SheetLayout(TypedDict):
    """The sheet's conditions and notes in their order, and the unknowns that it names.

    `enthalpy_kj_kg` is the unit of enthalpy for a unit of temperature [kJ/kg]; `figure_decimals` are the decimals of
    page one's large numbers by quantity and unit [count].
    """

    conditions: list[str]
    notes: list[SheetNote]
    unknown_shown: list[str]
    enthalpy_kj_kg: dict[str, float]
    figure_decimals: dict[str, dict[str, int]]
    letter_countries: list[str]


class CurrenciesBook(TypedDict):
    """Decimals of the currencies that don't have two, by ISO 4217 code."""

    minor_digits: dict[str, int]
