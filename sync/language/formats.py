"""How numbers, days and lists are written for one reader, by the Unicode CLDR through Babel.

Nothing is calculated here: a number comes in as it is, and is rounded by the rulebook's rule.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal

from babel import Locale
from babel.dates import format_date, format_skeleton
from babel.lists import format_list
from babel.numbers import format_decimal

from sync.kernel.units import round_half_away
from sync.language.locales import locale_of

MINUS = "\u2212"
HYPHEN = "-"


class Formats:
    """The conventions of one language and region."""

    def __init__(self, tag: str) -> None:
        """Take a language tag that Babel knows, such as es-MX; a region without its own conventions has its language's.

        Args:
            tag: the language, with a region or without [tag]
        """
        self.locale = Locale.parse(locale_of(tag))
        self.point: str = self.locale.number_symbols["latn"]["decimal"]

    def number(self, value: float, decimals: int) -> str:
        """A number, rounded half away from zero, with grouped thousands and a true minus sign.

        Args:
            value: the number [any unit]
            decimals: how many decimals to write [count]

        Returns:
            The number as text [text]
        """
        return self.exact(Decimal(f"{round_half_away(float(value), decimals):.{decimals}f}"), decimals)

    def exact(self, value: Decimal, decimals: int) -> str:
        """A decimal number, possibly money, with all its decimals and a true minus sign [text]."""
        pattern = "#,##0" + ("." + "0" * decimals if decimals else "")
        written = str(format_decimal(abs(value), format=pattern, locale=self.locale))
        return MINUS + written if value < 0 else written

    def day(self, day: date | datetime) -> str:
        """A day with its month in words, such as 12 June 2026 [text]."""
        return str(format_date(day, format="long", locale=self.locale))

    def full_day(self, day: date | datetime) -> str:
        """A day with its weekday, such as Friday 12 June 2026, for the start of a title [text]."""
        text = str(format_date(day, format="full", locale=self.locale))
        return text[:1].upper() + text[1:]

    def month(self, day: date | datetime) -> str:
        """A month and its year, such as June 2026 [text]."""
        return str(format_skeleton("yMMMM", day, locale=self.locale))

    def short_day(self, day: date | datetime) -> str:
        """A day with its month shortened, such as 12 Jun 2026 [text]."""
        return str(format_date(day, format="medium", locale=self.locale))

    def listed(self, items: Sequence[str]) -> str:
        """Things in a list, with "and" before the last [text]."""
        return str(format_list(list(items), style="standard", locale=self.locale)) if items else ""

    def row(self, items: Sequence[str]) -> str:
        """Things in a list, without "and" [text]."""
        return ", ".join(items)
