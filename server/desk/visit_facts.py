"""A visit in words, part by part: what stands in each, and the form in which one of them is corrected.

Nothing here asks for or files anything; which fields there are is said by the book of fields.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypedDict, cast

from server.desk.choices import choices_of, control_of, suffix_of, value_words
from sync.kernel.books import Rulebook
from sync.kernel.json_tree import JsonObject
from sync.kernel.visit import Visit
from sync.language.reader import words_of
from sync.work.visit_sections import (
    NEW,
    REMOVED,
    SECTIONS,
    SORT,
    TEST,
    Field,
    at,
    fields_of,
    items_of,
    label_of,
    mark_of,
)

# What of a test is told on its line; the rest is on its form.
OF_TEST = ("conditions.ambient_c", "readings.low_kpa_g", "readings.high_kpa_g", "readings.vent_c")
# Fields whose words say by themselves what they are.
PLAIN = (
    "customer.name", "customer.phone", "customer.email", "customer.address", "place.label", "vehicle.year",
    "vehicle.make", "vehicle.model", "vehicle.plate", "complaint", "outcome", "next_visit", "technician.name",
    "technician.business", "technician.phone", "technician.email", "text", "code", "kind", "note", "role",
)  # fmt: skip
UNTOLD = ("units.customer.pressure", "units.customer.temperature", "customer.language", "customer.country")


class Fact(TypedDict):
    """A part of a visit on its line; `lines` is empty where nothing is recorded."""

    code: str
    title: str
    lines: list[str]


class Control(TypedDict):
    """A field of a form: `kind` is the control's, `now` what stands there where something else was typed."""

    name: str
    label: str
    kind: str
    text: str
    suffix: str
    choices: list[tuple[str, str]]
    now: str
    capitals: bool


class Group(TypedDict):
    """Fields that belong together: of the visit, of an item of a list, or of one to be added."""

    title: str
    remove: str
    is_new: bool
    removed: bool
    controls: list[Control]


class Form(TypedDict):
    """The form of one part of a visit, with the mark of what it shows."""

    code: str
    title: str
    seen: str
    groups: list[Group]


def facts_of(visit: Visit, rulebook: Rulebook) -> list[Fact]:
    """All parts of a visit in their order, each test a part of its own.

    Args:
        visit: the visit [Visit]
        rulebook: the rulebook [Rulebook]

    Returns:
        what is recorded in each, in words [Fact each]
    """
    facts: list[Fact] = []
    for section in SECTIONS:
        if section == TEST:
            facts += [_test_fact(visit, str(test["id"]), rulebook) for test in items_of(visit, TEST)]
        else:
            facts.append({"code": section, "title": title_of(section, visit, rulebook),
                          "lines": _lines(section, visit, rulebook)})
    return facts


def title_of(section: str, visit: Visit, rulebook: Rulebook) -> str:
    """What a part of a visit is called [text]."""
    words = words_of(rulebook)
    name, _, test = section.partition(".")
    if name != TEST:
        return words.say(f"desk.visit.part.{name}")
    found = next(one for one in items_of(visit, TEST) if one["id"] == test)
    return words.say("desk.visit.test", role=words.term("role", str(found.get("role"))), time=str(found["at"])[11:16])


def _test_fact(visit: Visit, test: str, rulebook: Rulebook) -> Fact:
    code = f"{TEST}.{test}"
    shown = [field for field in fields_of(code, visit, rulebook) if field.path in OF_TEST and field.text]
    return {"code": code, "title": title_of(code, visit, rulebook),
            "lines": [", ".join(told(field, rulebook) for field in shown)] if shown else []}


def _lines(section: str, visit: Visit, rulebook: Rulebook) -> list[str]:
    """The fields of the visit on one line, and a line for each item of a list."""
    by_item: dict[tuple[str, str | None], list[str]] = {}
    for field in fields_of(section, visit, rulebook):
        if field.text and field.path not in UNTOLD and not (field.scope != "visit" and field.path == "at"):
            by_item.setdefault((field.scope, field.item), []).append(told(field, rulebook))
    return [", ".join(parts) for parts in by_item.values()]


def told(field: Field, rulebook: Rulebook) -> str:
    """A field and what stands in it, in words [text]."""
    value = value_words(field, field.text, rulebook)
    if field.path in PLAIN:
        return value
    return words_of(rulebook).say("desk.visit.told", field=label_of(field, words_of(rulebook)), value=value)


def form_of(section: str, visit: Visit, rulebook: Rulebook, typed: Mapping[str, str] | None = None) -> Form:
    """The form of one part of a visit.

    Args:
        section: which [text]
        visit: the visit [Visit]
        rulebook: the rulebook [Rulebook]
        typed: what was typed before, by the names of the fields, None at first [texts by name]

    Returns:
        its fields with what stands there, or what was typed [Form]

    Raises:
        UnknownSection: the visit has no such part.
    """
    fields = fields_of(section, visit, rulebook)
    if typed is not None:
        shown = {field.name for field in fields}
        fields = [field for field in fields_of(section, visit, rulebook, extra=True)
                  if field.name in shown or field.name in typed]
    groups: dict[tuple[str, str | None], list[Field]] = {}
    for field in fields:
        groups.setdefault((field.scope, field.item), []).append(field)
    return {"code": section, "title": title_of(section, visit, rulebook),
            "seen": mark_of(fields_of(section, visit, rulebook)),
            "groups": [_group(key, members, visit, typed or {}, rulebook) for key, members in groups.items()]}


def _group(
    key: tuple[str, str | None], fields: list[Field], visit: Visit, typed: Mapping[str, str], rulebook: Rulebook
) -> Group:
    (scope, item), words = key, words_of(rulebook)
    holder = next((one for one in items_of(visit, scope) if one["id"] == item), cast(JsonObject, {}))
    sort = str(at(holder, SORT.get(scope, "")) or "")
    is_item = item is not None and item != NEW
    title = words.say(f"desk.visit.add.{scope}") if item == NEW else words.say(f"desk.visit.item.{scope}") \
        if is_item and scope != TEST else ""
    remove = f"{scope}.{item}.{REMOVED}" if is_item else ""
    return {"title": title, "remove": remove, "is_new": item == NEW, "removed": bool(typed.get(remove)),
            "controls": [_control(field, sort, typed, rulebook) for field in fields]}


def _control(field: Field, sort: str, typed: Mapping[str, str], rulebook: Rulebook) -> Control:
    text = typed.get(field.name, field.text)
    now = value_words(field, field.text, rulebook) if text != field.text and field.text else ""
    kind = control_of(field.row)
    return {"name": field.name, "label": label_of(field, words_of(rulebook), sort), "kind": kind,
            "text": text[:19] if kind == "time" else text, "suffix": suffix_of(field, rulebook),
            "choices": choices_of(field, rulebook), "now": now, "capitals": bool(field.row.get("capitals"))}
