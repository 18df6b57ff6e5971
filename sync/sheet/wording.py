"""Words and figures for one reader: the sheet's sentences filled in, numbers in the customer's units, dates, lists.

It decides nothing about a visit and lays out no page; the sentences themselves are rulebook data.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from sync.kernel.books import Rulebook, UnitRow
from sync.kernel.units import from_canonical
from sync.kernel.visit import Units, UnitsOfBoth
from sync.language.formats import MINUS, Formats
from sync.language.words import Words

DEFAULT_UNITS: Units = {"pressure": "kpa", "temperature": "c", "mass": "g", "distance": "km", "altitude": "m"}
# A temperature difference is shown in the unit of the temperatures.
FOLLOWS = {"temperature_difference": "temperature"}


class Phrases:
    """The wording of one language and the units of one customer."""

    def __init__(self, rulebook: Rulebook, language: str, units: UnitsOfBoth | None) -> None:
        """Take the words of a language and the units a reader wants.

        Args:
            rulebook: the rulebook [Rulebook]
            language: a language tag [tag]
            units: a visit's `units`; the customer's override the technician's [UnitsOfBoth or None]
        """
        self.rulebook = rulebook
        self.language = language
        self.words = Words(rulebook["words"], language)
        self.formats = Formats(language)
        people: UnitsOfBoth = units or {}
        self._units: dict[str, str] = {}
        for wanted in (DEFAULT_UNITS, people.get("technician"), people.get("customer")):
            self._units |= {quantity: str(unit) for quantity, unit in (wanted or {}).items() if unit}

    def say(self, group: str, key: str, **values: str | float) -> str:
        """The sentence `key` of a group of the sheet's words, or of those that phone and sheet share."""
        return self.words.say(f"{self._book(group)}.{group}.{key}", **values)

    def alone(self, key: str, **values: str | float) -> str:
        """A sentence of the sheet's words that is in no group, with its blanks filled."""
        return self.words.say(f"sheet.{key}", **values)

    def cause(self, group: str, key: str, **values: str | float) -> str:
        """The sentence `key` of a group of the words of causes, evidence and yardsticks."""
        return self.words.say(f"causes.{group}.{key}", **values)

    def mail(self, key: str, **values: str | float) -> str:
        """A sentence of the letter."""
        return self.words.say(f"mail.{key}", **values)

    def has(self, group: str, code: str) -> bool:
        """Whether the sheet's own words have a sentence for a code."""
        return self.words.has(f"{self._book(group)}.{group}.{code}")

    def code(self, group: str, code: str) -> str:
        """The word for a code, the sheet's own before the trade's; one without a word is shown itself, readably."""
        return self.say(group, code) if self.has(group, code) else self.words.term(group, code)

    def _book(self, group: str) -> str:
        return "sheet" if self.words.has(f"sheet.{group}") else "visit"

    def unit_of(self, quantity: str) -> str:
        """The unit this reader wants for a quantity [code]."""
        return self._units[FOLLOWS.get(quantity, quantity)]

    def unit(self, quantity: str) -> str:
        """How the reader's unit for a quantity is written [label]."""
        return self.words.unit(quantity, self.unit_of(quantity))

    def in_unit(self, quantity: str, value: float) -> float:
        """A canonical value in the reader's unit, not rounded."""
        return from_canonical(quantity, self.unit_of(quantity), value, self.rulebook)

    def decimals(self, quantity: str) -> int:
        """The number of decimals for the reader's unit."""
        return self._row(quantity)["decimals"]

    def figure(self, quantity: str, value: float, decimals: int | None = None) -> str:
        """A canonical value as the reader's figure, without its unit."""
        places = self.decimals(quantity) if decimals is None else decimals
        return self.number(self.in_unit(quantity, value), places)

    def measure(self, quantity: str, value: float, decimals: int | None = None) -> str:
        """A canonical value as the reader's figure, with its unit."""
        return f"{self.figure(quantity, value, decimals)}\u00a0{self.unit(quantity)}"

    def number(self, value: float, decimals: int) -> str:
        """A number as written in this language: rounded half away from zero, true minus sign, thousands grouped."""
        return self.formats.number(value, decimals)

    def difference(self, value_k: float) -> str:
        """A temperature difference that a word beside it calls one: "6.1 °C" for 6.1 K."""
        return f"{self.figure('temperature_difference', value_k)}\u00a0{self.unit('temperature')}"

    def signed(self, quantity: str, value: float) -> str:
        """A change as the reader's figure with its sign, including plus signs."""
        text = self.figure(quantity, value)
        return text if text[0] == MINUS or not text.strip("0.,") else "+" + text

    def date(self, iso: str) -> str:
        """The local date of an instant, such as 14 July 2026."""
        return self.formats.day(moment(iso))

    def until(self, text: str) -> str:
        """A day given as YYYY-MM-DD, or YYYY-MM as a month and a year; anything else as it is."""
        parts = text.split("-")
        if len(parts) not in (2, 3) or not all(part.isdigit() for part in parts) or not 1 <= int(parts[1]) <= 12:
            return text
        return self.formats.month(date(int(parts[0]), int(parts[1]), 1))

    def listed(self, items: Sequence[str]) -> str:
        """Things in a list: a, b and c."""
        return self.formats.listed(items)

    def row(self, items: Sequence[str]) -> str:
        """Things in a list without "and": a, b, c."""
        return self.formats.row(items)

    def semicolons(self, items: Sequence[str]) -> str:
        """Things in a list that may contain commas: a; b; c."""
        return self.say("list", "semicolon").join(items)

    def _row(self, quantity: str) -> UnitRow:
        return self.rulebook["units"][quantity]["units"][self.unit_of(quantity)]


def moment(iso: str) -> datetime:
    """An ISO 8601 instant with its own offset, so that it shows the local time of its place."""
    return datetime.fromisoformat(iso)


def clock(iso: str) -> str:
    """The local time of an instant, such as 13:55."""
    return moment(iso).strftime("%H:%M")


def sentence(text: str) -> str:
    """A text that starts like a sentence: its first letter a capital, the rest unchanged."""
    return text[:1].upper() + text[1:]
