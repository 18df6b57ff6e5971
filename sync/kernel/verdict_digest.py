"""The digest of a verdict as it was shown: the same text, byte for byte, from the desk's judgement and the phone's.

Nothing here judges, compares or words anything; its twin is pwa/visit/shown.js.
"""

from __future__ import annotations

import hashlib
import json
from decimal import Decimal
from math import isfinite
from typing import Any

# Left out, so that the digest tells whether the verdict differs and not who reached it: the editions, which travel
# beside the digest, and what the desk alone works out.
BESIDE = frozenset({"rulebook", "app", "cycle"})
DESK_ONLY = frozenset({"ideal_cop", "specific_work_kj_kg"})


def number_text(value: float) -> str:
    """A number as RFC 8785 (JSON Canonicalization Scheme) section 3.2.2.3 writes it: ECMAScript's shortest form.

    Args:
        value: a finite number [any unit]

    Returns:
        its text [characters]

    Raises:
        ValueError: the number is not finite.
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


def canonical(value: Any) -> str:
    """JSON in the one form of RFC 8785: names sorted, no space, numbers as `number_text` writes them.

    Args:
        value: None, truth, number, text, list or object of these [JSON value]

    Returns:
        its text [characters]

    Raises:
        ValueError: it holds a number that is not finite.
    """
    if value is None or isinstance(value, (bool, str)):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, (int, float)):
        return number_text(value)
    if isinstance(value, list | tuple):
        return f"[{','.join(canonical(one) for one in value)}]"
    return "{" + ",".join(f"{canonical(name)}:{canonical(value[name])}" for name in sorted(value)) + "}"


def verdict_digest(assessment: dict[str, Any]) -> str:
    """What `verdict.shown` carries as `digest`, worked out again from a judgement of the desk.

    Args:
        assessment: what `assess` or `diagnose` gives [JSON object]

    Returns:
        SHA-256 over the canonical text without the editions and the desk's own figures [64 hex digits]

    Raises:
        ValueError: it holds a number that is not finite.
    """
    tests = [
        {**test, "derived": {name: figure for name, figure in test["derived"].items() if name not in DESK_ONLY}}
        for test in assessment["tests"]
    ]
    shown = {name: value for name, value in assessment.items() if name not in BESIDE}
    return hashlib.sha256(canonical({**shown, "tests": tests}).encode()).hexdigest()
