"""What became of a visit's sheets, what was corrected of it and where its entries disagree, in words for its page.

Nothing here asks for or files anything.
"""

from __future__ import annotations

from typing import TypedDict

from server.desk.choices import value_words
from server.desk.pages import date_words
from server.tasks.desk_words import record_state
from sync.kernel.books import Rulebook
from sync.kernel.json_tree import Json
from sync.kernel.operation import Conflict
from sync.kernel.visit import Typed, Visit
from sync.language.reader import words_of
from sync.records.sheet_record import SheetRecord
from sync.work.typed_values import text_of, unit_of
from sync.work.visit_history import ChangedPlace, Correction
from sync.work.visit_sections import UNASKED, Field, label_of, units_of


class SheetWords(TypedDict):
    """One revision of a sheet: its number, its state, since when, to whom, and its digest."""

    number: int
    revision: str
    state: str
    words: str
    at: str
    to: str


class CorrectionWords(TypedDict):
    """One correction: when, why, and a line for each field."""

    at: str
    why: str
    lines: list[str]


class ConflictWords(TypedDict):
    """A field that two entries set to different values: what it is called, and the value of each with when it came."""

    field: str
    values: list[str]


def sheet_words(record: SheetRecord, rulebook: Rulebook) -> SheetWords:
    """One revision of a sheet in words [SheetWords]."""
    state = record_state(record)
    return {"number": record["number"], "revision": record["revision"], "state": state,
            "words": words_of(rulebook).say(f"desk.state.{state}"), "at": date_words(record["states"][-1]["at"]),
            "to": ", ".join(record["recipients"])}


def correction_words(correction: Correction, visit: Visit, rulebook: Rulebook) -> CorrectionWords:
    """One correction in words [CorrectionWords]."""
    lines = [_changed(place, visit, rulebook) for place in correction["places"]]
    return {"at": date_words(correction["at"]), "why": correction["why"], "lines": lines}


def _changed(place: ChangedPlace, visit: Visit, rulebook: Rulebook) -> str:
    words = words_of(rulebook)
    field = _field(place["scope"] or "visit", place["path"], visit, rulebook)
    before, after = _value(field, place["before"], rulebook), _value(field, place["after"], rulebook)
    name = place["path"] if field is None or not _is_named(field) else label_of(field, words)
    if not before:
        return words.say("desk.visit.was_empty", field=name, value=after)
    return words.say("desk.visit.was" if after else "desk.visit.was_cleared", field=name, value=after, before=before)


def conflict_words(conflict: Conflict, visit: Visit, rulebook: Rulebook) -> ConflictWords:
    """Where entries disagree, in words [ConflictWords]."""
    words = words_of(rulebook)
    values = [words.say("desk.visit.one_says", value=conflict_value(conflict, one["value"], visit, rulebook) or "–",
                        at=date_words(one["at"]), device=one["device"][:8]) for one in conflict["values"]]
    return {"field": conflict_field(conflict, visit, rulebook), "values": values}


def conflict_field(conflict: Conflict, visit: Visit, rulebook: Rulebook) -> str:
    """What the field is called that entries disagree about [text]."""
    scope, path = _place_of(conflict, rulebook)
    field = _field(scope, path, visit, rulebook)
    return label_of(field, words_of(rulebook)) if field and _is_named(field) else path


def conflict_value(
    conflict: Conflict, value: Json, visit: Visit, rulebook: Rulebook, typed: Typed | None = None
) -> str:
    """One of the values that disagree, in words, as it was typed if that is known, "" for nothing [text]."""
    return _value(_field(*_place_of(conflict, rulebook), visit, rulebook), value, rulebook, typed)


def _place_of(conflict: Conflict, rulebook: Rulebook) -> tuple[str, str]:
    """The scope of a field and its path there."""
    parts = conflict["pointer"].split("/")[1:]
    is_item = parts[0] in rulebook["fields"]["scopes"] and len(parts) > 2
    return (parts[0], ".".join(parts[2:])) if is_item else ("visit", ".".join(parts))


def _field(scope: str, path: str, visit: Visit, rulebook: Rulebook) -> Field | None:
    row = rulebook["fields"]["scopes"][scope].get(path)
    if row is None:
        return None
    return Field(path, scope, path, None, row, unit_of(row, units_of(visit), rulebook), "")


def _is_named(field: Field) -> bool:
    """Whether there are words for a field: those that no form asks for have none."""
    return ("step" in field.row and not field.row.get("hidden")) or f"{field.scope}.{field.path}" in UNASKED


def _value(field: Field | None, value: Json, rulebook: Rulebook, typed: Typed | None = None) -> str:
    if value is None:
        return ""
    if field is None:
        return str(value)
    return value_words(field, text_of(field.row, value, field.unit, typed, rulebook), rulebook)
