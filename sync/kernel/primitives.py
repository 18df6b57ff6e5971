"""What each language does in its own way and both must do alike: a number's text, quoting, the order of names.

The emitter doesn't translate these bodies; `sync/emitter/runtime.js` has them under the same names. No rule is here.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from decimal import Decimal
from math import isfinite
from typing import TypeAlias

# A whole number of any size, which JavaScript keeps separate from other numbers.
Whole: TypeAlias = int


def number_text(value: float) -> str:
    """A number as RFC 8785 (JSON Canonicalization Scheme) section 3.2.2.3 writes it: ECMAScript's shortest form.

    Args:
        value: a finite number [any unit]

    Returns:
        its text [characters]

    Raises:
        ValueError: the number is not finite.

    Source: ECMA-262, Number::toString.
    """
    number = float(value)
    if not isfinite(number):
        raise ValueError(f"{value} has no text in JSON")
    if number == 0:
        return "0"
    sign = "-" if number < 0 else ""
    _, digit_row, exponent = Decimal(repr(abs(number))).normalize().as_tuple()
    digits = "".join(str(digit) for digit in digit_row)
    point = len(digits) + int(exponent)
    if len(digits) <= point <= 21:
        return sign + digits + "0" * (point - len(digits))
    if 0 < point <= 21:
        return f"{sign}{digits[:point]}.{digits[point:]}"
    if -6 < point <= 0:
        return f"{sign}0.{'0' * -point}{digits}"
    head = digits[0] + ("." + digits[1:] if len(digits) > 1 else "")
    return f"{sign}{head}e{'+' if point > 0 else '-'}{abs(point - 1)}"


def quoted(text: str) -> str:
    """A text in JSON quotes, with letters of any language unescaped (RFC 8785, section 3.2.2.2)."""
    return json.dumps(text, ensure_ascii=False)


def names_in_order(names: Iterable[str]) -> list[str]:
    """The names of an object in the order of their UTF-16 code units (RFC 8785, section 3.2.3)."""
    in_order = sorted(names)
    if "".join(in_order).isascii():
        return in_order  # nearly always, and then the order is the same
    return sorted(in_order, key=lambda name: name.encode("utf-16-be", "surrogatepass"))
