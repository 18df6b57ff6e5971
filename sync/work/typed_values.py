"""What a person types into a field of a visit, as a value, and a value as a person reads it there.

What a field may hold is said by its row in the book of fields; the shapes of the wire check it once more.
"""

from __future__ import annotations

import re

from sync.errors import LaybyError
from sync.kernel.books import Rulebook
from sync.kernel.fields_book import FieldRow
from sync.kernel.json_tree import Json
from sync.kernel.units import from_canonical, round_half_away, to_canonical
from sync.kernel.visit import Typed, Units
from sync.language.formats import MINUS

DECIMALS = 4
YES, NO = "yes", "no"
QUOTED_MOST = 40
_NUMBER = re.compile(r"[+-]?(\d{1,12}([.,]\d{0,12})?|[.,]\d{1,12})", re.ASCII)
_POINTED = re.compile(r"[+-]?\d*\.\d*", re.ASCII)
_GROUPED = re.compile(r"[+-]?\d{1,3}([., \u00a0\u202f]\d{3})+([.,]\d+)?", re.ASCII)
_LOCAL = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d)?", re.ASCII)
_MONEY = re.compile(r"-?\d{1,12}(\.\d{1,6})?", re.ASCII)


class Unreadable(LaybyError):
    """A text that is no value of its field; `where` names the field, `text` is what was typed."""

    def __init__(self, code: str, where: str, text: str) -> None:
        self.code = code
        super().__init__(where=where, text=text[:QUOTED_MOST])


def read_number(typed: str, where: str) -> float:
    """The number that a person typed, with either decimal mark.

    Args:
        typed: what was typed, not empty [text]
        where: what its field is called [text]

    Returns:
        the number [any unit]

    Raises:
        Unreadable: it is no number, or could be read as two.
    """
    text = typed.strip().replace(MINUS, "-")
    if _GROUPED.fullmatch(text) and not _POINTED.fullmatch(text):
        raise Unreadable("chart_two_readings", where, text)
    if not _NUMBER.fullmatch(text):
        raise Unreadable("chart_not_a_number", where, text)
    return float(text.replace(",", "."))


def unit_of(row: FieldRow, units: Units, rulebook: Rulebook) -> str | None:
    """The unit that a field is read in by whoever reads in these units [code], None where it has no quantity."""
    quantity = row.get("quantity")
    if quantity is None:
        return None
    wanted = {"temperature_difference": "temperature"}.get(quantity, quantity)
    codes = rulebook["units"][quantity]["units"]
    chosen = row.get("unit") or {**units}.get(wanted)
    return str(chosen) if chosen in codes else next(iter(codes))


def value_of(row: FieldRow, typed: str, unit: str | None, where: str, rulebook: Rulebook) -> Json:
    """A field's value from what was typed; None clears it.

    Args:
        row: the field's row in the book of fields [FieldRow]
        typed: what was typed [text]
        unit: the unit it was typed in, None where the field has none [code]
        where: what the field is called [text]
        rulebook: the rulebook [Rulebook]

    Returns:
        a value that the shapes of the wire have still to check [JSON value]

    Raises:
        Unreadable: a number, a sum or a choice was to be typed and is not one.
    """
    text, kind = typed.strip(), row["type"].partition(" ")[0]
    if text == "":
        return None
    if kind in ("number", "whole"):
        return _number(row, text, unit, where, rulebook)
    if kind == "oneof":
        return int(read_number(text, where))
    if kind == "truth":
        return {YES: True, NO: False}.get(text)
    if kind == "codes":
        return list[Json](text.split())
    if kind == "money":
        return _money(text, where)
    return text.upper() if row.get("capitals") else text


def _number(row: FieldRow, text: str, unit: str | None, where: str, rulebook: Rulebook) -> Json:
    number = read_number(text, where)
    if row["type"] == "whole":
        return int(number) if number.is_integer() else number
    quantity = row.get("quantity")
    return number if quantity is None or unit is None else to_canonical(quantity, unit, number, rulebook)


def _money(text: str, where: str) -> str:
    plain = text.replace(MINUS, "-").replace(",", ".").removeprefix("+")
    if plain.startswith("."):
        plain = "0" + plain
    if not _MONEY.fullmatch(plain.removesuffix(".")):
        raise Unreadable("typed_not_money", where, text)
    return plain.removesuffix(".")


def local_time(text: str, like: str) -> str:
    """A time as a browser's field gives it, with the offset of another time [ISO 8601]; any other text as it is."""
    offset = re.search(r"(Z|[+-]\d\d:\d\d)$", like)
    return text + (offset[1] if offset else "Z") if _LOCAL.fullmatch(text) else text


def is_same(row: FieldRow, typed: str, text: str) -> bool:
    """Whether what came back from a field is what stood there; a browser's field of time leaves out the offset."""
    if row["type"] != "time":
        return typed.strip() == text
    plain = typed.strip()
    return plain == text or (plain + ":00" if len(plain) == len("2026-06-12T09:05") else plain) == text[:19]


def text_of(row: FieldRow, value: Json, unit: str | None, typed: Typed | None, rulebook: Rulebook) -> str:
    """A value as it stands in its field.

    Args:
        row: the field's row in the book of fields [FieldRow]
        value: the value, None where nothing was recorded [JSON value]
        unit: the unit it is read in, None where it has none [code]
        typed: what was typed when it was recorded, if that is known [Typed or None]
        rulebook: the rulebook [Rulebook]

    Returns:
        what was typed where that was in the same unit, else as many decimals as it needs [text]
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return YES if value else NO
    if isinstance(value, list):
        return " ".join(str(one) for one in value)
    quantity = row.get("quantity")
    if not isinstance(value, int | float):
        return str(value)
    if quantity is None or unit is None:
        return f"{round_half_away(float(value), DECIMALS):.{DECIMALS}f}".rstrip("0").rstrip(".")
    if typed and typed.get("unit") == unit and _is_of(typed["text"], float(value), quantity, unit, rulebook):
        return typed["text"]
    number = round_half_away(from_canonical(quantity, unit, float(value), rulebook), DECIMALS)
    return f"{number:.{DECIMALS}f}".rstrip("0").rstrip(".")


def _is_of(text: str, value: float, quantity: str, unit: str, rulebook: Rulebook) -> bool:
    """Whether what was typed is still what the value says."""
    try:
        number = read_number(text, "")
    except Unreadable:
        return False
    return abs(to_canonical(quantity, unit, number, rulebook) - value) < 1e-6
