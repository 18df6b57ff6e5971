"""Faults of shape as plain data: where, which code, what was there, in words.

Nothing here decides what a fault is; `json_parsing` and `schemas` do. The words come from the rulebook.
"""

from __future__ import annotations

import json
from typing import NotRequired, TypedDict

from sync.kernel.json_tree import Json
from sync.language.words import Words

Scalar = bool | int | float | str | None

SHOWN = 80


class Fault(TypedDict):
    """One fault: a JSON pointer, the code, its sentence and the value there; `limits` until it is worded."""

    pointer: str
    code: str
    detail: str
    value: Scalar
    limits: NotRequired[dict[str, Scalar]]


def shown(value: Json) -> Scalar:
    """A value in a form that a fault may repeat: short, and valid in any JSON text.

    Args:
        value: what was found [any JSON value]

    Returns:
        Numbers, truth values and null as they are, text cut to 80 characters, anything else as null [JSON scalar]
    """
    if isinstance(value, str):
        cut = value if len(value) <= SHOWN else value[:SHOWN] + "…"
        return cut.encode("utf-8", "replace").decode("utf-8")
    if isinstance(value, float) and not -float("inf") < value < float("inf"):
        return str(value)
    return value if value is None or isinstance(value, (bool, int, float)) else None


def fault(pointer: str, code: str, value: Json = None, **limits: Scalar) -> Fault:
    """One fault, still without its sentence.

    Args:
        pointer: JSON pointer (RFC 6901) to the place, "" for the whole [text]
        code: which fault [code]
        value: the value there [any JSON value]
        limits: what else the sentence needs, such as `limit` [numbers or texts]

    Returns:
        {pointer, code, detail, value}; `detail` is the bare code until `worded` [Fault]
    """
    result: Fault = {"pointer": pointer, "code": code, "detail": _bare(code), "value": shown(value)}
    if limits:
        result["limits"] = limits
    return result


def _bare(code: str) -> str:
    return code.replace("_", " ")


def worded(faults: list[Fault], words: Words) -> list[Fault]:
    """The same faults with the rulebook's sentences.

    Args:
        faults: as made by `fault` [list]
        words: the words of a language [Words]

    Returns:
        {pointer, code, detail, value} each; a fault that has its sentence keeps it, and a code without wording is
        spelled out [list]
    """
    result: list[Fault] = []
    for one in faults:
        detail = one["detail"]
        if detail == _bare(one["code"]):
            # As JSON writes it, so that a text, a number and nothing at all can be told apart.
            found = json.dumps(one["value"], ensure_ascii=False)
            values = {"found": found, "value": one["value"], **one.get("limits", {})}
            detail = words.of_error(one["code"], values) or detail
        result.append({"pointer": one["pointer"], "code": one["code"], "detail": detail, "value": one["value"]})
    return result
