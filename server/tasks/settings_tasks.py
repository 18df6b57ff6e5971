"""The tasks for the settings: every row as its fields stand, and one row changed, all or nothing.

A form carries the mark of what it showed, so that two browsers never overwrite each other unseen.
"""

from __future__ import annotations

import copy
import hashlib
import json
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TypedDict, cast

from server import settings as folder_settings
from server.settings import BadSettings
from server.tasks import logo
from server.tasks.mail_test import forget_trial
from server.tasks.messages import TaskArguments
from server.tasks.setting_rows import (
    LISTS,
    LOGO,
    LOGO_FILE,
    LOGO_MOST,
    NEW,
    OF_LIST,
    PARTS,
    REMOVABLE,
    SENDER,
    UNITS,
    VARIABLES,
    Entry,
)
from server.tasks.setting_values import Reader, Unfit, at, put, sentence
from server.tasks.task import Task
from sync.errors import LaybyError
from sync.kernel.books import Rulebook
from sync.kernel.json_tree import Json, JsonObject
from sync.language.reader import language, words_of
from sync.records.locks import SETTINGS, claimed
from sync.records.logbook import Logbook
from sync.records.store.files import Files
from sync.work.amendments import ChangedMeanwhile
from sync.work.typed_values import Unreadable

# Where pressures are read in psi and temperatures in °F, as on a phone that speaks a language of there.
_CUSTOMARY = re.compile(r".*-(US|LR|MM)")


class UnknownSetting(LaybyError):
    """A row of the settings, or a field of one, that there is not."""

    code = "unknown_setting"


class SettingRefused(LaybyError):
    """A change that was not saved; `sentences` say what is wrong, each by the field it is about."""

    code = "setting_refused"

    def __init__(self, sentences: dict[str, str]) -> None:
        self.sentences = sentences
        super().__init__(faults=" ".join(sentences.values()))


class SettingField(TypedDict):
    """A field as it stands: its text, the unit it is typed in, the variable that overrides it, both "" without.

    `is_set` is whether there is a value; a password is never shown.
    """

    name: str
    kind: str
    text: str
    unit: str
    choices: list[str]
    variable: str
    is_set: bool


class SettingRow(TypedDict):
    """A row: its code, its fields, the mark of what they show, and whether it can be taken away."""

    code: str
    fields: list[SettingField]
    seen: str
    removable: bool


@dataclass(frozen=True)
class _Row:
    """A row and where its entries stand; `index` is its place in the list `of`, None for one to be added."""

    code: str
    entries: tuple[Entry, ...]
    of: str = ""
    index: int | None = None


def rows_of(files: Files, rulebook: Rulebook) -> list[SettingRow]:
    """All rows of a desk's settings, in the order of the page.

    Args:
        files: of the logbook [Files]
        rulebook: the rulebook [Rulebook]

    Returns:
        the rows, each list's entries in their order and one to be added after them [SettingRow each]

    Raises:
        BadSettings: the settings can't be read.
    """
    tree = _tree(files)
    reader = reader_of(tree, files, rulebook)
    return [_shown(row, tree, reader) for row in _rows(tree)]


def change(files: Files, row: str, typed: Mapping[str, str], seen: str | None, rulebook: Rulebook) -> bool:
    """Change one row.

    Args:
        files: of the logbook [Files]
        row: its code [text]
        typed: what was typed by the names of its fields; those that aren't named stay [texts by name]
        seen: the mark of what was shown, None where nobody showed any [text or None]
        rulebook: the rulebook [Rulebook]

    Returns:
        whether anything is different now

    Raises:
        UnknownSetting: there is no such row or field. ChangedMeanwhile: it isn't what was shown any more.
        SettingRefused: something typed can't be taken; nothing is saved. BadSettings: the settings can't be read.
    """
    with claimed(SETTINGS, files.claim):
        tree = _tree(files)
        reader, found = reader_of(tree, files, rulebook), _found(row, tree, seen, rulebook, files)
        values = _values(found, typed, _holder(found, tree), reader)
        return _saved(files, tree, _changed(tree, found, values), found, reader)


def remove(files: Files, row: str, seen: str | None, rulebook: Rulebook) -> bool:
    """Take one row away: an entry of a list, or a setting that can be done without [whether anything is different now].

    Raises:
        UnknownSetting: there is no such row, or it can't be taken away. ChangedMeanwhile, BadSettings: as in `change`.
    """
    with claimed(SETTINGS, files.claim):
        tree = _tree(files)
        found = _found(row, tree, seen, rulebook, files)
        if row == LOGO:
            return logo.take_away(files)
        if not _is_removable(found):
            raise UnknownSetting(setting=row[:80])
        after = copy.deepcopy(tree)
        if found.of:
            del _list_in(after, found.of)[cast(int, found.index)]
        else:
            put(after, REMOVABLE[row], None)
        return _saved(files, tree, after, found, reader_of(tree, files, rulebook))


def change_logo(files: Files, content: bytes, seen: str | None, rulebook: Rulebook) -> bool:
    """Keep a picture as the business's logo [whether anything is different now].

    Raises:
        SettingRefused: it can't be taken; the one before stays. ChangedMeanwhile, BadSettings: as in `change`.
    """
    with claimed(SETTINGS, files.claim):
        _found(LOGO, _tree(files), seen, rulebook, files)
        try:
            return logo.keep(files, content)
        except Unfit as error:
            raise SettingRefused({LOGO_FILE: sentence(error, label_of(LOGO_FILE, rulebook), rulebook)}) from error


def reader_of(tree: JsonObject, files: Files, rulebook: Rulebook) -> Reader:
    """What reads the fields: in the units of the settings, else in those of the reader's language [Reader]."""
    usual = {"pressure": "psi", "temperature": "f"} if _CUSTOMARY.fullmatch(language()) else {
        "pressure": "bar", "temperature": "c"}
    units = {name: str(at(tree, f"units.{name}") or unit) for name, unit in usual.items()}
    known = {name: unit if unit in rulebook["units"][name]["units"] else usual[name] for name, unit in units.items()}
    return Reader(rulebook, known, files.place)


def _tree(files: Files) -> JsonObject:
    # Read from JSON, and an object; the logo lies beside it.
    return {**cast(JsonObject, folder_settings.tree_of(files)), **logo.as_setting(files)}


def _list_in(tree: JsonObject, name: str) -> list[Json]:
    entries = tree.get(name)
    return entries if isinstance(entries, list) else []


def _rows(tree: JsonObject) -> list[_Row]:
    rows = []
    for part, inner in PARTS.items():
        name = LISTS.get(part, "")
        listed = [_Row(f"{part}.{place}", OF_LIST[name], name, place if place != NEW else None)
                  for place in (*range(len(_list_in(tree, name))), NEW)] if name else []
        own = [_Row(f"{part}.{code}", entries) for code, entries in inner.items()]
        rows += [*listed, *own] if part == "prices" else [*own, *listed]
    return [_with_sender(row, tree) for row in rows]


def _with_sender(row: _Row, tree: JsonObject) -> _Row:
    """The row of the mail server asks for the sender as well, as long as there is none."""
    lacks = row.code == "mail.server" and not at(tree, SENDER.path)
    return replace(row, entries=(*row.entries, SENDER)) if lacks else row


def _found(code: str, tree: JsonObject, seen: str | None, rulebook: Rulebook, files: Files) -> _Row:
    row = next((one for one in _rows(tree) if one.code == code), None)
    if row is None:
        raise UnknownSetting(setting=code[:80])
    if seen not in (None, _shown(row, tree, reader_of(tree, files, rulebook))["seen"]):
        raise ChangedMeanwhile
    return row


def _holder(row: _Row, tree: JsonObject) -> JsonObject:
    """Where the paths of a row begin: in an entry of its list, or at the top."""
    if not row.of:
        return tree
    entry = None if row.index is None else _list_in(tree, row.of)[row.index]
    return entry if isinstance(entry, dict) else {}


def _shown(row: _Row, tree: JsonObject, reader: Reader) -> SettingRow:
    fields = [_field(entry, at(_holder(row, tree), entry.path), reader) for entry in row.entries]
    # Of a password the mark says only whether there is one.
    texts = json.dumps([one["is_set"] if one["kind"] == "secret" else at(_holder(row, tree), one["name"])
                        for one in fields], sort_keys=True)
    seen = hashlib.sha256(texts.encode("utf-8", "surrogatepass")).hexdigest()[:16]
    is_set = any(one["is_set"] for one in fields)
    return {"code": row.code, "fields": fields, "seen": seen, "removable": _is_removable(row) and is_set}


def _field(entry: Entry, value: Json, reader: Reader) -> SettingField:
    variable = VARIABLES.get(entry.path, "")
    above = os.environ.get(variable, "") if variable else ""
    usual = reader.units.get(entry.path.rpartition(".")[2], "") if entry.path.startswith(f"{UNITS}.") else ""
    text = above if above and entry.kind != "secret" else reader.text(entry, value) or usual
    choices = [*entry.choices]
    if entry.kind == "language":
        choices = list(dict.fromkeys([*reader.languages(), *([text] if text else [])]))
    return {"name": entry.path, "kind": entry.kind, "text": text, "unit": reader.unit_of(entry), "choices": choices,
            "variable": variable if above else "", "is_set": bool(above) or value not in (None, "")}


def _is_removable(row: _Row) -> bool:
    return row.code in (*REMOVABLE, LOGO) or (bool(row.of) and row.index is not None)


def _values(row: _Row, typed: Mapping[str, str], holder: JsonObject, reader: Reader) -> dict[str, Json]:
    """The value of each field that was typed, or that is missing and can't be.

    Raises:
        UnknownSetting: the row has no such field. SettingRefused: everything that can't be taken.
    """
    entries = {entry.path: entry for entry in row.entries}
    unknown = sorted(set(typed) - set(entries))
    if unknown:
        raise UnknownSetting(setting=f"{row.code} {unknown[0][:80]}")
    values, faults = dict[str, Json](), dict[str, str]()
    for name, entry in entries.items():
        if name not in typed and not (entry.needed and at(holder, name) is None):
            continue
        try:
            values[name] = reader.value(entry, typed.get(name, ""))
        except (Unfit, Unreadable) as error:
            faults[name] = sentence(error, label_of(name, reader.rulebook), reader.rulebook)
    if faults:
        raise SettingRefused(faults)
    return values


def label_of(name: str, rulebook: Rulebook) -> str:
    """What a field is called [text]."""
    return words_of(rulebook).say(f"settings.field.{name.rpartition('.')[2]}")


def _changed(tree: JsonObject, row: _Row, values: dict[str, Json]) -> JsonObject:
    after = copy.deepcopy(tree)
    if row.of and row.index is None:
        after[row.of] = [*_list_in(after, row.of), {name: value for name, value in values.items() if value is not None}]
        return after
    for name, value in values.items():
        put(_holder(row, after), name, value)
    return after


def _saved(files: Files, before: JsonObject, after: JsonObject, row: _Row, reader: Reader) -> bool:
    if after == before:
        return False
    try:
        folder_settings.of(after, {})
    except BadSettings as error:
        raise SettingRefused({row.entries[0].path: words_of(reader.rulebook).error(error)}) from error
    kept = {name: value for name, value in after.items() if name != logo.NAME}
    files.write(folder_settings.FILE, json.dumps(kept, indent=2, ensure_ascii=False).encode("utf-8"))
    if after.get("smtp") != before.get("smtp"):
        forget_trial(files)
    return True


def _settings(logbook: Logbook, _: TaskArguments) -> list[SettingRow]:
    return rows_of(logbook.files, logbook.rulebook)


def _setting(logbook: Logbook, arguments: TaskArguments) -> bool:
    row, seen = str(arguments["row"]), arguments.get("seen")
    if arguments.get("remove"):
        return remove(logbook.files, row, seen, logbook.rulebook)
    if row == LOGO and arguments.get("file"):
        with open(arguments["file"], "rb") as file:
            return change_logo(logbook.files, file.read(LOGO_MOST + 1), seen, logbook.rulebook)
    return change(logbook.files, row, arguments.get("typed") or {}, seen, logbook.rulebook)


TASKS: dict[str, Task] = {"settings": _settings, "setting": _setting}
