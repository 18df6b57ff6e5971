"""Vehicle identification numbers: what can be said of one at a glance, never a reason to refuse it.

Nothing here looks a number up. Numbers from outside North America need neither the check digit nor the year.
"""

from __future__ import annotations

from math import floor
from typing import Literal

VinState = Literal["empty", "length", "letters", "right", "differs", "elsewhere"]

LENGTH = 17
NUMERALS = "0123456789"
LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ"
LETTER_VALUES = (1, 2, 3, 4, 5, 6, 7, 8, 1, 2, 3, 4, 5, 7, 9, 2, 3, 4, 5, 6, 7, 8, 9)
WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
# The tenth character: one code per year from 1980 on, starting again in 2010.
YEARS = "ABCDEFGHJKLMNPRSTVWXY123456789"
# ISO 3780: the first character of a maker in North America.
NORTH_AMERICA = "12345"
SMALL = "abcdefghijklmnopqrstuvwxyz"
CAPITAL = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
SPACE = " \t\n\r\f\v\u00a0\u2007\u2009\u202f"


def _bare(text: str) -> str:
    """A text without white space, in capitals."""
    bare = ""
    for letter in text:
        if letter in SMALL:
            bare = bare + CAPITAL[SMALL.index(letter)]
        elif letter not in SPACE:
            bare = bare + letter
    return bare


def _has_its_letters(vin: str) -> bool:
    return all(letter in NUMERALS or letter in LETTERS for letter in vin)


def check_digit(vin: str) -> str:
    """The check digit that a number should have in its ninth place.

    Args:
        vin: 17 characters that such a number may contain [text]

    Returns:
        "0" to "9" or "X" [text]

    Valid for: numbers of North America.

    Source: 49 CFR 565.15, tables III to V: transliteration, weights, remainder of a division by 11.
    """
    total = 0
    for i in range(LENGTH):
        letter = vin[i]
        value = NUMERALS.index(letter) if letter in NUMERALS else LETTER_VALUES[LETTERS.index(letter)]
        total = total + value * WEIGHTS[i]
    rest = total - 11 * floor(total / 11)
    return "X" if rest == 10 else NUMERALS[rest]


def vin_state(text: str) -> VinState:
    """What can be said about a number as typed, ignoring spaces and case.

    Args:
        text: what was typed [text]

    Returns:
        "empty", "letters" (a character that no number contains), "length", "right" (the digit fits), "differs", or
        "elsewhere": made outside North America, where no check digit is required, and it doesn't fit [code]

    Source: 49 CFR 565.15; ISO 3780 for the first character.
    """
    vin = _bare(text)
    if len(vin) == 0:
        return "empty"
    if not _has_its_letters(vin):
        return "letters"
    if len(vin) != LENGTH:
        return "length"
    if check_digit(vin) == vin[8]:
        return "right"
    return "differs" if vin[0] in NORTH_AMERICA else "elsewhere"


def model_year(text: str) -> int | None:
    """The model year of a North American number.

    Args:
        text: what was typed [text]

    Returns:
        the year; None for any other number [year]

    Valid for: 1980 to 2039; a letter in the seventh place means 2010 or later.

    Source: 49 CFR 565.15, table VII.
    """
    vin = _bare(text)
    if len(vin) != LENGTH or not _has_its_letters(vin) or vin[0] not in NORTH_AMERICA or vin[9] not in YEARS:
        return None
    later = 30 if vin[6] in LETTERS else 0
    return 1980 + YEARS.index(vin[9]) + later


def vin_in(read: str) -> str | None:
    """The number inside the text of a barcode: some put a letter I in front for an imported vehicle.

    Args:
        read: the text of the barcode [text]

    Returns:
        the number; None if there is none [text]

    Source: ANSI MH10.8.2, data identifier I, from memory.
    """
    bare = _bare(read)
    vin = bare[1:] if len(bare) == LENGTH + 1 and bare.startswith("I") else bare
    return vin if len(vin) == LENGTH and _has_its_letters(vin) else None
