"""What a field of a form can hold: its control, its choices and the words of its values, by the book of fields.

Nothing here reads or files what was typed.
"""

from __future__ import annotations

from sync.kernel.books import Rulebook
from sync.kernel.fields_book import FieldRow
from sync.language.reader import words_of
from sync.work.typed_values import NO, YES
from sync.work.visit_sections import Field

YES_NO = (YES, NO)
CHOSEN = ("code", "unit", "oneof", "truth")


def control_of(row: FieldRow) -> str:
    """Which control a field has on a form [code]."""
    kind = row["type"].partition(" ")[0]
    if kind in CHOSEN or "codes" in row:
        return "choice"
    if kind == "codes":
        return "ticks"
    if kind == "time":
        return "time"
    if kind in ("number", "whole", "money"):
        return "number"
    return "long" if row.get("long") else "text"


def choices_of(field: Field, rulebook: Rulebook) -> list[tuple[str, str]]:
    """What can be chosen in a field, (code, words) each; [] where it is typed."""
    words = words_of(rulebook)
    kind, _, book = field.row["type"].partition(" ")
    if kind == "truth":
        return [(code, words.say(f"desk.visit.{code}")) for code in YES_NO]
    if kind == "unit":
        return [(code, words.unit(book, code)) for code in rulebook["units"][book]["units"]]
    group = _group(field.row)
    codes = list(rulebook["vocabularies"].get(group) or []) if group else []
    # What an earlier version or a phone recorded beside the codes stays a choice.
    if field.text and field.text not in codes and kind != "codes" and group:
        codes.append(field.text)
    return [(code, words.term(group, code)) for code in codes]


def value_words(field: Field, text: str, rulebook: Rulebook) -> str:
    """What stands in a field in words, with its unit [text]."""
    words = words_of(rulebook)
    kind, _, book = field.row["type"].partition(" ")
    if kind == "truth" and text in YES_NO:
        return words.say(f"desk.visit.{text}")
    if kind == "unit":
        return words.unit(book, text)
    if kind == "time":
        return text[:16].replace("T", " ")
    group = _group(field.row)
    if group:
        return ", ".join(words.term(group, code) for code in (text.split() if kind == "codes" else [text]))
    suffix = suffix_of(field, rulebook)
    return f"{text}\u00a0{suffix}" if suffix and text else text


def suffix_of(field: Field, rulebook: Rulebook) -> str:
    """The unit behind a number, "" where it has none [label]."""
    words = words_of(rulebook)
    if field.unit is not None:
        return words.unit(field.row["quantity"], field.unit)
    suffix = field.row.get("suffix")
    return words.say(f"fields.suffix.{suffix}") if suffix else ""


def _group(row: FieldRow) -> str:
    """The vocabulary that a field is chosen from, "" where it is none."""
    kind, _, book = row["type"].partition(" ")
    return row.get("codes") or (book if kind in ("code", "codes") else "")
