"""Which cautions fit a visit: by vehicle, refrigerant and work; anything unknown counts as the worse case.

The cautions, when they fit and before which deed they are read are rulebook data; nothing here is confirmed or shown.
"""

from __future__ import annotations

from typing import cast

from sync.kernel.books import CautionRow, Deed, Rulebook
from sync.kernel.condition import Condition
from sync.kernel.json_tree import JsonObject
from sync.kernel.visit import Visit


def _lists_any(visit: Visit, name: str, codes: list[str]) -> bool:
    # What a row names is data, so that the visit is read as a tree here.
    tree = cast(JsonObject, visit)
    return any(item.get("code", item.get("kind")) in codes for item in cast(list[JsonObject], tree.get(name) or []))


def _holds(visit: Visit, condition: Condition) -> bool:
    if "list" in condition:
        return _lists_any(visit, condition["list"], condition["codes"])
    section, name = condition["field"].split(".")
    tree = cast(JsonObject, visit)
    return cast(JsonObject, tree.get(section) or {}).get(name) in condition["in"]


def _is_standing(visit: Visit, caution: CautionRow) -> bool:
    fits = False
    for group in caution["when"]:
        whole = True
        for condition in group:
            if not _holds(visit, condition):
                whole = False
        fits = fits or whole
    return fits


def _is_done(visit: Visit, caution: CautionRow) -> bool:
    return any(_lists_any(visit, deed["list"], deed["codes"]) for deed in caution.get("deeds") or [])


def standing_cautions(visit: Visit, rulebook: Rulebook) -> list[str]:
    """The cautions to be read before the first reading, in the rulebook's order.

    Args:
        visit: the visit as far as it is known [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        their codes [list]
    """
    return [caution["code"] for caution in rulebook["cautions"]["cautions"] if _is_standing(visit, caution)]


def cautions_for(visit: Visit, rulebook: Rulebook) -> list[str]:
    """All cautions that fit, those of the deeds that are noted included, in the rulebook's order.

    Args:
        visit: the visit as far as it is known [JSON object]
        rulebook: the rulebook [books by name]

    Returns:
        their codes [list]
    """
    cautions: list[str] = []
    for caution in rulebook["cautions"]["cautions"]:
        if _is_standing(visit, caution) or _is_done(visit, caution):
            cautions.append(caution["code"])
    return cautions


def cautions_at(name: str, code: str, rulebook: Rulebook) -> list[str]:
    """The cautions that are read before a deed, in the rulebook's order.

    Args:
        name: the list that the deed is noted in [name]
        code: the deed's code or kind [code]
        rulebook: the rulebook [books by name]

    Returns:
        their codes [list]
    """
    return [
        caution["code"] for caution in rulebook["cautions"]["cautions"] if len(_deeds(caution, name, code)) > 0
    ]


def deed_at(name: str, code: str, rulebook: Rulebook) -> Deed | None:
    """What begins with a deed of which a caution is read.

    Args:
        name: the list that the deed is noted in [name]
        code: the deed's code or kind [code]
        rulebook: the rulebook [books by name]

    Returns:
        the row of its first caution that has a clock, else of its first caution; None without one [JSON object]
    """
    found: Deed | None = None
    for caution in rulebook["cautions"]["cautions"]:
        for deed in _deeds(caution, name, code):
            if found is None or ("clock" in deed and "clock" not in found):
                found = deed
    return found


def _deeds(caution: CautionRow, name: str, code: str) -> list[Deed]:
    return [deed for deed in caution.get("deeds") or [] if deed["list"] == name and code in deed["codes"]]
