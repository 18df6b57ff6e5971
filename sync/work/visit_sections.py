"""The parts that a visit is shown and corrected in: which fields each holds, and what stands in each field now.

Which fields there are is said by the book of fields. Nothing here is filed; `amendments` does that.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import cast

from sync.errors import LaybyError
from sync.kernel.books import Rulebook
from sync.kernel.fields_book import FieldRow
from sync.kernel.json_tree import Json, JsonObject
from sync.kernel.visit import Units, Visit
from sync.language.words import Words
from sync.work.typed_values import text_of, unit_of

# In the order of a visit: what is set of the visit itself, by the beginning of its paths, and lists of items.
SECTIONS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "customer": (("customer.", "units.customer.", "place."), ()),
    "vehicle": (("vehicle.",), ()),
    "complaint": (("complaint",), ("checks", "rests")),
    "tests": ((), ()),
    "work": ((), ("work",)),
    "refrigerant_moves": ((), ("refrigerant_moves",)),
    "price": (("discount", "currency", "paid."), ("charges",)),
    "advice": ((), ("advice",)),
    "outcome": (("ended_at", "outcome", "next_visit", "distance_km"), ()),
    "technician": (("technician.",), ()),
}
TEST = "tests"
NEW, REMOVED = "new", "remove"
# Fields that the phone fills by itself and asks for nowhere, each with its own word of the desk.
UNASKED = {
    "visit.ended_at": "ended_at", "visit.technician.name": "technician", "visit.technician.business": "business",
    "visit.technician.phone": "phone", "visit.technician.email": "email",
    "visit.technician.certificate_no": "certificate_no", "visit.technician.certificate_until": "certificate_until",
    "tests.role": "role", "tests.at": "time", "work.code": "work", "work.at": "time", "refrigerant_moves.kind": "move",
    "refrigerant_moves.at": "time", "checks.code": "check", "checks.state": "check_state",
}  # fmt: skip
# What says of an item which of its fields there are.
SORT = {"work": "code", "refrigerant_moves": "kind"}


class UnknownSection(LaybyError):
    """A visit has no such part."""

    code = "unknown_section"


@dataclass(frozen=True)
class Field:
    """A field of a visit: its name on a form, where it belongs, its row, and what stands in it.

    `item` is the id of the list's item that it belongs to, `new` for one to be added, None for the visit itself.
    """

    name: str
    scope: str
    path: str
    item: str | None
    row: FieldRow
    unit: str | None
    text: str


def units_of(visit: Visit) -> Units:
    """The units that the technician read this visit in [Units]."""
    return (visit.get("units") or {}).get("technician") or {}


def items_of(visit: Visit, scope: str) -> list[JsonObject]:
    """The items of one of a visit's lists [JSON objects]."""
    return cast(list[JsonObject], cast(JsonObject, visit).get(scope) or [])


def parts_of(section: str, visit: Visit) -> tuple[tuple[str, ...], list[tuple[str, str]]]:
    """The beginnings of the paths, and each list's items, that a part of a visit is made of.

    Args:
        section: a name of SECTIONS, or "tests." with a test's id [text]
        visit: the visit [Visit]

    Returns:
        the beginnings, and (list, id) of each item; a list ends with the id `new` [texts, pairs]

    Raises:
        UnknownSection: there is none of that name.
    """
    name, _, test = section.partition(".")
    if name == TEST and any(one["id"] == test for one in visit.get("tests") or []):
        return (), [(TEST, test)]
    if name == TEST or test or name not in SECTIONS:
        raise UnknownSection(section=section[:80])
    paths, lists = SECTIONS[name]
    return paths, [(scope, item) for scope in lists
                   for item in (*(str(one["id"]) for one in items_of(visit, scope)), NEW)]


def fields_of(section: str, visit: Visit, rulebook: Rulebook, extra: bool = False) -> list[Field]:
    """The fields of a part of a visit, in the order of the form.

    Args:
        section: as for `parts_of` [text]
        visit: the visit [Visit]
        rulebook: the rulebook [Rulebook]
        extra: also those that what is recorded beside them does not call for [bool]

    Returns:
        each with what stands in it [Field each]

    Raises:
        UnknownSection: as for `parts_of`.
    """
    beginnings, items = parts_of(section, visit)
    tree = cast(JsonObject, visit)
    fields = [field for path, row in rulebook["fields"]["scopes"]["visit"].items()
              if path.startswith(beginnings) and _is_asked("visit", path, row)
              and (field := _field(("visit", path, None), row, tree, visit, rulebook))
              and (extra or _is_called_for(field, tree, tree))] if beginnings else []
    for scope, item in items:
        holder = next((one for one in items_of(visit, scope) if one["id"] == item), {})
        of_item = [_field((scope, path, item), row, holder, visit, rulebook)
                   for path, row in rulebook["fields"]["scopes"][scope].items() if _is_asked(scope, path, row)]
        fields += [field for field in of_item if extra or _is_called_for(field, holder, tree)]
    return fields


def _is_asked(scope: str, path: str, row: FieldRow) -> bool:
    if row.get("hidden") or row.get("kind") == "chart" or row.get("step") == "chart":
        return False
    return "step" in row or f"{scope}.{path}" in UNASKED


def _is_called_for(field: Field, holder: JsonObject, visit: JsonObject) -> bool:
    """Whether a form has a field: something stands in it, or what it leans on says that something could."""
    if field.text:
        return True
    sort = at(holder, SORT.get(field.scope, ""))
    if "of" in field.row and field.item != NEW and sort not in field.row["of"]:
        return False
    if "when" not in field.row:
        return True
    path, codes = str(field.row["when"][0]), field.row["when"][1]
    found = at(holder, path) if path.startswith(("readings.", "conditions.")) else at(visit, path)
    return found is not None if codes is None else found in codes


def _field(
    place: tuple[str, str, str | None], row: FieldRow, holder: JsonObject, visit: Visit, rulebook: Rulebook
) -> Field:
    scope, path, item = place
    unit = unit_of(row, units_of(visit), rulebook)
    typed = (visit.get("typed") or {}).get(typed_name(path, item))
    name = path if item is None else f"{scope}.{item}.{path}"
    text = text_of(row, at(holder, path), unit, typed, rulebook)
    return Field(name, scope, path, item, row, unit, text)


def typed_name(path: str, item: str | None) -> str:
    """Under which name `typed` keeps what was typed into a field [text]."""
    return path if item is None else f"{item}.{path.rpartition('.')[2]}"


def at(tree: JsonObject, path: str) -> Json:
    """What stands at a dotted path, None where nothing does [JSON value]."""
    node: Json = tree
    for name in path.split("."):
        node = node.get(name) if isinstance(node, dict) else None
    return node


def label_of(field: Field, words: Words, sort: str | None = None) -> str:
    """What a field is called, by the sort of its item where that matters [text]."""
    place = f"{field.scope}.{field.path}"
    if place in UNASKED:
        return words.say(f"desk.visit.field.{UNASKED[place]}")
    return words.say(f"fields.{field.row.get('labels', {}).get(sort or '') or field.row.get('label', place)}")


def mark_of(fields: list[Field]) -> str:
    """The mark of what stands in fields, by which a form tells whether somebody changed them meanwhile [text]."""
    texts = json.dumps({field.name: field.text for field in fields}, sort_keys=True)
    return hashlib.sha256(texts.encode("utf-8", "surrogatepass")).hexdigest()[:16]
