"""The settings in words, row by row: what stands in each, the form in which one of them is changed, each part's state.

Nothing here reads or changes a setting.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import TypedDict

from server.tasks.setting_rows import NEW
from server.tasks.settings_tasks import SettingField, SettingRow
from sync.language.formats import Formats
from sync.language.reader import language
from sync.language.words import Words

# Choices that have an empty one, which then has words of its own.
MAY_BE_EMPTY = ("sheet.paper",)
INPUTS = {"day": "date", "secret": "password", "picture": "file"}
MODES = {"email": "email", "sender": "email", "whole": "numeric", "number": "decimal", "money": "decimal",
         "rate": "decimal"}  # fmt: skip
# Fields that say something even where nothing is set.
TOLD_EMPTY = ("paper", "language", "keep", "copy")


class SettingControl(TypedDict):
    """A field of a form: `input` is the kind of its control, `now` what stands there where something else was typed."""

    name: str
    label: str
    input: str
    mode: str
    text: str
    note: str
    choices: list[tuple[str, str]]
    now: str
    fault: str
    variable: str


class SettingForm(TypedDict):
    """The form of one row, with the mark of what it shows, and whether it can be taken away."""

    code: str
    seen: str
    controls: list[SettingControl]
    removable: bool


class SettingFact(TypedDict):
    """A row on its line: `value` is empty where nothing is set; `action` is the word of the link that opens it."""

    code: str
    title: str
    value: str
    action: str
    variables: list[str]


class Teller:
    """What puts rows into words, in the reader's language."""

    def __init__(self, words: Words) -> None:
        self.words = words
        self.formats = Formats(language())

    def fact(self, row: SettingRow) -> SettingFact:
        """A row on its line [SettingFact]."""
        texts, code = {one["name"]: one["text"] for one in row["fields"]}, row["code"]
        part, _, name = code.partition(".")
        value = self.value(row)
        title = texts["text"] if part == "prices" and name.isdigit() else texts["name"] if name.isdigit() \
            else self.say(f"row.{part}.{name}")
        action = "check" if code == "instruments.zero" else "add" if name == NEW else "change" if value else "enter"
        variables = sorted({one["variable"] for one in row["fields"]} - {""})
        return {"code": code, "title": title, "value": value, "action": self.say(f"action.{action}"),
                "variables": variables}

    def say(self, code: str, **values: str | float) -> str:
        """A sentence of the settings [text]."""
        return self.words.say(f"settings.{code}", **values)

    def value(self, row: SettingRow) -> str:
        """What stands in a row [text]; "" where nothing does."""
        fields = {one["name"].rpartition(".")[2]: one for one in row["fields"]}
        told = [self.field(name, one, fields) for name, one in fields.items()]
        return ", ".join(text for text in told if text)

    def field(self, name: str, one: SettingField, beside: Mapping[str, SettingField]) -> str:
        """What stands in a field, as it is told on the row's line [text]."""
        if name == "keep" and not beside["into"]["is_set"]:
            return ""
        if not one["is_set"]:
            return self.say(f"unset.{name}") if name in TOLD_EMPTY else self.choice(name, one["text"])
        if one["kind"] == "secret":
            return self.say("kept_secret")
        if name in ("text", "user", "security") or (name == "name" and "until" in beside):
            return ""  # the row's title says it, or only its form
        text = self.written(one)
        return self.say(f"told.{name}", value=text) if self.words.has(f"settings.told.{name}") else text

    def written(self, one: SettingField) -> str:
        """A field's text as people write it [text]."""
        if one["kind"] == "day":
            return self.formats.day(date.fromisoformat(one["text"]))
        if one["choices"]:
            return self.choice(one["name"].rpartition(".")[2], one["text"])
        text = one["text"]
        if one["kind"] in ("number", "money", "rate"):
            text = text.replace(".", self.formats.point)
        return f"{text}\u00a0{self.unit(one)}" if one["unit"] else text

    def choice(self, name: str, code: str) -> str:
        """A code of a field in words [text]; "" for none."""
        if code == "":
            return ""
        if name in ("pressure", "temperature"):
            return self.words.unit(name, code)
        if name == "language":
            return self.words.term("language", code)
        return self.say(f"choice.{code}") if self.words.has(f"settings.choice.{code}") else code

    def unit(self, one: SettingField) -> str:
        """How the unit of a number is written; a difference of temperatures is in °C or °F like the readings [text]."""
        quantity = "temperature" if one["unit"] in ("c", "f") else "pressure"
        return self.words.unit(quantity, one["unit"])

    def form(self, row: SettingRow, typed: Mapping[str, str] | None, faults: Mapping[str, str]) -> SettingForm:
        """The form of one row.

        Args:
            row: as it stands now [SettingRow]
            typed: what was typed before, None at first [texts by name]
            faults: what is wrong with it [sentences by name]

        Returns:
            its fields with what stands there, or what was typed [SettingForm]
        """
        controls = [self.control(one, typed or {}, faults) for one in row["fields"]]
        return {"code": row["code"], "seen": row["seen"], "controls": controls, "removable": row["removable"]}

    def control(self, one: SettingField, typed: Mapping[str, str], faults: Mapping[str, str]) -> SettingControl:
        """A field of a form [SettingControl]."""
        name, text = one["name"].rpartition(".")[2], typed.get(one["name"], one["text"])
        is_secret = one["kind"] == "secret"
        differs = text != one["text"] and one["is_set"] and not is_secret
        label = self.say(f"field.{name}")
        choices = [(code, self.choice(name, code)) for code in one["choices"]]
        if one["name"] in MAY_BE_EMPTY:
            choices.insert(0, ("", self.say(f"unset.{name}")))
        return {"name": one["name"], "label": f"{label}, {self.unit(one)}" if one["unit"] else label,
                "input": "choice" if choices else INPUTS.get(one["kind"], "text"),
                "mode": MODES.get(one["kind"], "text"), "text": "" if is_secret else text, "choices": choices,
                "note": self.say(f"note.{name}") if self.words.has(f"settings.note.{name}") else "",
                "now": self.written(one) if differs else "", "fault": faults.get(one["name"], ""),
                "variable": one["variable"]}
