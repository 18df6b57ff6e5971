"""Which cautions fit a visit: by vehicle, refrigerant and work; anything unknown counts as the worse case.

The cautions and their conditions are rulebook data; nothing here is confirmed or shown.
"""

from __future__ import annotations

from typing import cast

from sync.kernel.books import Rulebook
from sync.kernel.condition import Condition
from sync.kernel.json_tree import JsonObject
from sync.kernel.visit import Visit


def _holds(visit: Visit, condition: Condition) -> bool:
    # The data decides what a condition names, so the visit is read as a tree here.
    tree = cast(JsonObject, visit)
    if "list" in condition:
        for item in cast(list[JsonObject], tree.get(condition["list"]) or []):
            if item.get("code", item.get("kind")) in condition["codes"]:
                return True
        return False
    section, name = condition["field"].split(".")
    return cast(JsonObject, tree.get(section) or {}).get(name) in condition["in"]


def cautions_for(visit: Visit, rulebook: Rulebook) -> list[str]:
    """The cautions that fit, in the rulebook's order.

    Args:
        visit: the visit as far as it is known [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        their codes [list]
    """
    cautions: list[str] = []
    for caution in rulebook["cautions"]["cautions"]:
        fits = False
        for group in caution["when"]:
            whole = True
            for condition in group:
                if not _holds(visit, condition):
                    whole = False
            fits = fits or whole
        if fits:
            cautions.append(caution["code"])
    return cautions
