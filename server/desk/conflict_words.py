"""What a person has to settle, in words: two values side by side, and a refused entry with what to do about it.

Nothing here asks for or files anything.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TypedDict, cast

from server.desk.choices import control_of, value_words
from server.desk.pages import date_words
from server.desk.visit_words import conflict_field, conflict_value
from sync.kernel.books import Rulebook
from sync.kernel.json_tree import Json, JsonObject
from sync.kernel.visit import Typed, Visit
from sync.language.reader import words_of
from sync.wire.faults import Fault
from sync.wire.op_line import DESK
from sync.work.disputes import Disagreement, Refused
from sync.work.visit_sections import UNASKED, Field, label_of

LINES_MOST = 10
# What an entry's shape adds around its values.
BODY = "/body/"
# What was typed beside a value, which goes with that value.
TYPED = "/typed/"
# The visit that something is about, None for a card, and what it is called.
Named = tuple[Visit | None, str]


class ShownValue(TypedDict):
    """One of the values that disagree: who said so and when, and whether it stands for now."""

    op: str
    value: str
    who: str
    stands: bool


class ShownDisagreement(TypedDict):
    """A field with its values side by side."""

    what: str
    id: str
    name: str
    field: str
    values: list[ShownValue]


class ShownRefusal(TypedDict):
    """A refused entry: what it was, line by line, why it was refused, and what to do."""

    number: int
    visit: str | None
    name: str
    title: str
    came: str
    lines: list[str]
    why: list[str]
    more: int
    todo: str


def disagreement_words(
    one: Disagreement, beside: list[Disagreement], named: Named, phones: Mapping[str, str], rulebook: Rulebook
) -> ShownDisagreement:
    """A field that entries disagree about, in words [ShownDisagreement]."""
    conflict, words, (visit, name) = one["conflict"], words_of(rulebook), named
    if visit is not None:
        field, typed = conflict_field(conflict, visit, rulebook), _typed(one, beside)
        texts = [conflict_value(conflict, value["value"], visit, rulebook, typed.get(value["op"]))
                 for value in conflict["values"]]
    else:
        code = f"fields.visit.{one['what']}.{conflict['pointer'][1:]}"
        field = words.say(code) if words.has(code) else conflict["pointer"][1:]
        texts = [_plain(value["value"]) for value in conflict["values"]]
    values = [ShownValue(op=value["op"], value=text or words.say("conflicts.nothing"), stands=place == 0,
                         who=_who(value["device"], value["at"], phones, rulebook))
              for place, (value, text) in enumerate(zip(conflict["values"], texts, strict=True))]
    return {"what": one["what"], "id": one["id"], "name": name, "field": field, "values": values}


def _typed(one: Disagreement, beside: list[Disagreement]) -> dict[str, Typed]:
    """What was typed for each of the values that disagree, by the entry."""
    parts = one["conflict"]["pointer"].split("/")[1:]
    pointer = f"{TYPED}{f'{parts[1]}.{parts[-1]}' if len(parts) > 2 else '.'.join(parts)}"
    found = [other["conflict"] for other in beside if other["id"] == one["id"]]
    return {value["op"]: cast(Typed, value["value"]) for conflict in found if conflict["pointer"] == pointer
            for value in conflict["values"] if isinstance(value["value"], dict)}


def refusal_words(one: Refused, name: str, phones: Mapping[str, str], rulebook: Rulebook) -> ShownRefusal:
    """A refused entry in words [ShownRefusal]."""
    words, problem = words_of(rulebook), one["problem"]
    rules = rulebook["kinds"]["kinds"]
    scope = (rules[one["kind"]].get("list") if one["kind"] in rules else None) or "visit"
    code = f"desk.visit.item.{scope}"
    faults = problem.get("errors") or []
    why = [_fault(fault, scope, rulebook) for fault in faults] if problem["code"] == "shape" else []
    todo = f"conflicts.todo.{problem['code']}"
    return {
        "number": one["number"], "visit": one["visit"], "name": name,
        "title": words.say(code) if words.has(code) else words.say("desk.find.visit"),
        "came": _who(one["device"] or "", one["at"], phones, rulebook),
        "lines": [_line(scope, path, value, rulebook) for path, value in _leaves(one["body"])][:LINES_MOST],
        "why": why[:LINES_MOST] or [problem["detail"]], "more": max(0, len(why) - LINES_MOST),
        "todo": words.say(todo) if words.has(todo) else words.say("conflicts.todo.shape"),
    }


def _fault(fault: Fault, scope: str, rulebook: Rulebook) -> str:
    """What is wrong in one place of an entry, in the reader's language [sentence]."""
    words, pointer = words_of(rulebook), fault["pointer"]
    # The sentence that was kept is in the language of the day it came; what fills it is kept beside it.
    known = {"value": fault["value"], "found": _plain(fault["value"])}
    detail = words.of_error(fault["code"], known) or fault["detail"]
    path = pointer.removeprefix(BODY).replace("/", ".") if pointer.startswith(BODY) else ""
    return words.say("desk.visit.fault", where=_label(scope, path, rulebook), detail=detail) if path else detail


def _label(scope: str, path: str, rulebook: Rulebook) -> str:
    """What a field of an entry is called; what nobody asks for by itself is named readably."""
    row = rulebook["fields"]["scopes"].get(scope, {}).get(path)
    words = words_of(rulebook)
    if row is None or not ("step" in row or f"{scope}.{path}" in UNASKED):
        return path.rpartition(".")[2].replace("_", " ")
    return label_of(Field(path, scope, path, None, row, None, ""), words)


def _line(scope: str, path: str, value: Json, rulebook: Rulebook) -> str:
    said = _said(scope, path, value, rulebook)
    return words_of(rulebook).say("desk.visit.told", field=_label(scope, path, rulebook), value=said)


def _said(scope: str, path: str, value: Json, rulebook: Rulebook) -> str:
    """What an entry says in a field: a code in words, anything else as it came."""
    row, text = rulebook["fields"]["scopes"].get(scope, {}).get(path), _plain(value)
    if row is None or control_of(row) != "choice" or not isinstance(value, str):
        return text
    return value_words(Field(path, scope, path, None, row, None, text), text, rulebook)


def _leaves(tree: JsonObject, path: str = "") -> Iterator[tuple[str, Json]]:
    """What an entry says, by the paths of its values; without the ids that people don't read."""
    for name, value in tree.items():
        if isinstance(value, dict):
            yield from _leaves(value, f"{path}{name}.")
        elif name != "id" and value is not None:
            yield f"{path}{name}", value


def _plain(value: Json) -> str:
    if isinstance(value, list):
        return ", ".join(_plain(one) for one in value)
    if isinstance(value, dict):
        return ", ".join(_plain(one) for _, one in _leaves(value))
    return f"{value:g}" if isinstance(value, float) else "" if value is None else str(value)


def _who(device: str, at_ms: int, phones: Mapping[str, str], rulebook: Rulebook) -> str:
    """Who made an entry, and when."""
    words = words_of(rulebook)
    if device == DESK:
        return words.say("conflicts.by_desk", at=date_words(at_ms))
    name = phones.get(device) or (words.say("conflicts.device", device=device[:8]) if device else "")
    return words.say("conflicts.by", name=name, at=date_words(at_ms)) if name else date_words(at_ms)
