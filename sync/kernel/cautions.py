"""Which cautions fit a visit: by vehicle, by refrigerant, by work; what is not known counts as the worse case.

The cautions and when they fit are rulebook data, nothing here is confirmed or shown.
"""

from __future__ import annotations

from typing import Any


def _holds(visit: dict[str, Any], condition: dict[str, Any]) -> bool:
    if "list" in condition:
        for item in visit.get(condition["list"]) or []:
            if item.get("code", item.get("kind")) in condition["codes"]:
                return True
        return False
    section, name = condition["field"].split(".")
    return (visit.get(section) or {}).get(name) in condition["in"]


def cautions_for(visit: dict[str, Any], rulebook: dict[str, Any]) -> list[dict[str, Any]]:
    """The cautions that fit, in the rulebook's order.

    Args:
        visit: the visit as far as it is known [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        [{code, text}] [list]
    """
    found = []
    for caution in rulebook["cautions"]["cautions"]:
        fits = False
        for group in caution["when"]:
            whole = True
            for condition in group:
                if not _holds(visit, condition):
                    whole = False
            fits = fits or whole
        if fits:
            found.append({"code": caution["code"], "text": caution["text"]})
    return found
