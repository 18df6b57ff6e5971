"""Words and figures for one reader: the sheet's sentences filled in, numbers in the customer's units, dates, lists.

It decides nothing about a visit and lays out no page; the sentences themselves are rulebook data.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import cast

from sync.kernel.books import Rulebook, UnitRow
from sync.kernel.units import from_canonical, round_half_away
from sync.kernel.visit import Units, UnitsOfBoth
from sync.sheet.words import SheetWords

DEFAULT_UNITS: Units = {"pressure": "kpa", "temperature": "c", "mass": "g", "distance": "km", "altitude": "m"}
# A difference of temperature is read in the unit that temperatures are read in.
FOLLOWS = {"temperature_difference": "temperature"}


class Phrases:
    """The wording of one language and the units of one customer."""

    def __init__(self, rulebook: Rulebook, language: str, units: UnitsOfBoth | None) -> None:
        """Take the words of a language and the units a reader wants.

        Args:
            rulebook: the rulebook [Rulebook]
            language: a language of the `sheet_words` book [code]
            units: a visit's `units`; the customer's go before the technician's [UnitsOfBoth or None]

        Raises:
            KeyError: the language is not in the book.
        """
        self.rulebook = rulebook
        self.language = language
        book = rulebook["sheet_words"]["languages"][language]
        # A test holds the committed book to this type; the groups of sentences are looked up as one tree of texts.
        self.words = cast(SheetWords, book)
        self._groups = cast(dict[str, dict[str, str]], book)
        people: UnitsOfBoth = units or {}
        self._units: dict[str, str] = {}
        for wanted in (DEFAULT_UNITS, people.get("technician"), people.get("customer")):
            self._units |= {quantity: str(unit) for quantity, unit in (wanted or {}).items() if unit}

    def say(self, group: str, key: str, **values: str) -> str:
        """The sentence `key` of a group with its blanks filled."""
        return self._groups[group][key].format_map(values)

    def has(self, group: str, code: str) -> bool:
        """Whether the sheet's own words hold a sentence for a code."""
        return code in self._groups[group]

    def code(self, group: str, code: str) -> str:
        """The word for a code; a code nobody has written a word for yet shows as itself, legibly."""
        words = (self._groups.get(group, {}), self.rulebook["wording"]["codes"].get(group, {}))
        return next((book[code] for book in words if code in book), code.replace("_", " "))

    def unit_of(self, quantity: str) -> str:
        """The unit this reader wants for a quantity [code]."""
        return self._units[FOLLOWS.get(quantity, quantity)]

    def unit(self, quantity: str) -> str:
        """How the reader's unit for a quantity is written [label]."""
        return self._row(quantity)["label"]

    def in_unit(self, quantity: str, value: float) -> float:
        """A canonical value in the reader's unit, not rounded."""
        return from_canonical(quantity, self.unit_of(quantity), value, self.rulebook)

    def decimals(self, quantity: str) -> int:
        """How many decimals the reader's unit is written with."""
        return self._row(quantity)["decimals"]

    def figure(self, quantity: str, value: float, decimals: int | None = None) -> str:
        """A canonical value as the reader's figure without its unit."""
        places = self.decimals(quantity) if decimals is None else decimals
        return self.number(self.in_unit(quantity, value), places)

    def measure(self, quantity: str, value: float, decimals: int | None = None) -> str:
        """A canonical value as the reader's figure with its unit."""
        return f"{self.figure(quantity, value, decimals)}\u00a0{self.unit(quantity)}"

    def number(self, value: float, decimals: int) -> str:
        """A number as written in this language: rounded half away from zero, true minus sign, thousands grouped."""
        style = self.words["number"]
        rounded = round_half_away(float(value), decimals)
        text = f"{abs(rounded):,.{decimals}f}"
        text = text.replace(",", "\0").replace(".", style["point"]).replace("\0", style["group"])
        return style["minus"] + text if rounded < 0 else text

    def signed(self, quantity: str, value: float) -> str:
        """A change as the reader's figure with its sign, plus signs too."""
        text = self.figure(quantity, value)
        return text if text[0] == self.words["number"]["minus"] or not text.strip("0.,") else "+" + text

    def date(self, iso: str) -> str:
        """The local date of an instant, such as 14 July 2026."""
        at = moment(iso)
        return self.words["date"].format(day=at.day, month=self.words["months"][at.month - 1], year=at.year)

    def until(self, text: str) -> str:
        """A day given as YYYY-MM-DD or YYYY-MM, as a month and a year; anything else as it stands."""
        parts = text.split("-")
        if len(parts) not in (2, 3) or not all(part.isdigit() for part in parts) or not 1 <= int(parts[1]) <= 12:
            return text
        return self.words["month_year"].format(month=self.words["months"][int(parts[1]) - 1], year=parts[0])

    def listed(self, items: Sequence[str]) -> str:
        """Things in a row: a, b and c."""
        style = self.words["list"]
        if len(items) < 2:
            return "".join(items)
        return style["comma"].join(items[:-1]) + style["and"] + items[-1]

    def row(self, items: Sequence[str]) -> str:
        """Things in a row without a last "and": a, b, c."""
        return self.words["list"]["comma"].join(items)

    def semicolons(self, items: Sequence[str]) -> str:
        """Things in a row that may hold commas themselves: a; b; c."""
        return self.words["list"]["semicolon"].join(items)

    def _row(self, quantity: str) -> UnitRow:
        return self.rulebook["units"][quantity]["units"][self.unit_of(quantity)]


def moment(iso: str) -> datetime:
    """An ISO 8601 instant with its own offset, so that its clock reads as it did there."""
    return datetime.fromisoformat(iso)


def clock(iso: str) -> str:
    """The local time of an instant, such as 13:55."""
    return moment(iso).strftime("%H:%M")


def sentence(text: str) -> str:
    """A text that starts like a sentence: its first letter a capital, the rest as it stands."""
    return text[:1].upper() + text[1:]
