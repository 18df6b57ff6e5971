"""Faults of shape as plain data: where, which code, what was there, in words.

Nothing here decides what is a fault; `json_parsing` and `schemas` do, and the words come from the rulebook.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

Fault = dict[str, Any]

SHOWN = 80


def shown(value: Any) -> Any:
    """A value fit to be repeated in a fault: short, and valid in any JSON text.

    Args:
        value: what was found [any JSON value]

    Returns:
        Numbers, truths and null as they are, text cut to 80 characters, anything else as null [JSON scalar]
    """
    if isinstance(value, str):
        cut = value if len(value) <= SHOWN else value[:SHOWN] + "…"
        return cut.encode("utf-8", "replace").decode("utf-8")
    if isinstance(value, float) and not -float("inf") < value < float("inf"):
        return str(value)
    return value if value is None or isinstance(value, (bool, int, float)) else None


def fault(pointer: str, code: str, value: Any = None, **limits: Any) -> Fault:
    """One fault, still without its sentence.

    Args:
        pointer: JSON pointer (RFC 6901) to the place, "" for the whole [text]
        code: which fault [code]
        value: what stands there [any JSON value]
        limits: what the sentence needs besides, such as `limit` [numbers or texts]

    Returns:
        {pointer, code, detail, value}, with `detail` the bare code until `worded` [JSON object]
    """
    found = {"pointer": pointer, "code": code, "detail": _bare(code), "value": shown(value)}
    if limits:
        found["limits"] = limits
    return found


def _bare(code: str) -> str:
    return code.replace("_", " ")


def worded(faults: list[Fault], wording: Mapping[str, Any]) -> list[Fault]:
    """The same faults with the rulebook's sentences.

    Args:
        faults: as `fault` makes them [list]
        wording: the rulebook's `wording` book, its `errors` by code [templates]

    Returns:
        {pointer, code, detail, value} each; a fault that has its sentence keeps it, and a code without wording its bare
        words [list]
    """
    templates = wording.get("errors", {})
    told = []
    for found in faults:
        template = templates.get(found["code"])
        detail = found["detail"]
        if template is not None and detail == _bare(found["code"]):
            detail = template.format(value=found["value"], **found.get("limits", {}))
        told.append({"pointer": found["pointer"], "code": found["code"], "detail": detail, "value": found["value"]})
    return told
