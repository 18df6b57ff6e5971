"""What a person types into a field of the settings, as a value, and a value as it stands in its field.

Nothing is read from or written to a file here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from email.utils import parseaddr
from pathlib import Path

from reports import mail
from server.tasks.setting_rows import Entry
from sync.errors import LaybyError
from sync.kernel.books import Rulebook
from sync.kernel.json_tree import Json, JsonObject
from sync.kernel.units import from_canonical, round_half_away, to_canonical
from sync.language.reader import words_of
from sync.work.typed_values import Unreadable, read_number
from sync.work.typed_values import value_of as typed_value

DECIMALS = 2
_HOST = re.compile(r"[A-Za-z0-9]([A-Za-z0-9.-]*[A-Za-z0-9])?|\[?[0-9A-Fa-f:.]+\]?", re.ASCII)
_UNPRINTABLE = re.compile(r"[\x00-\x1f\x7f]")


class Unfit(LaybyError):
    """A text that its field can't hold; the code says why."""

    def __init__(self, code: str, **values: str | float) -> None:
        self.code = f"setting_{code}"
        super().__init__(**values)


@dataclass(frozen=True)
class Reader:
    """What reading a field needs besides its text: words and units of the rulebook, the desk's units and its folder."""

    rulebook: Rulebook
    units: dict[str, str]
    place: str

    def unit_of(self, entry: Entry) -> str:
        """The unit in which a field is typed [code]; "" where it has none."""
        return self.units[{"temperature_difference": "temperature"}.get(entry.quantity, entry.quantity)] \
            if entry.quantity else ""

    def languages(self) -> list[str]:
        """The languages a sheet can be in [tags]."""
        return sorted(tag for tag in self.rulebook["words"] if "-" not in tag)

    def value(self, entry: Entry, typed: str) -> Json:
        """A field's value from what was typed; None clears it.

        Raises:
            Unfit, Unreadable: it can't be taken; the sentence says what to do.
        """
        text = typed if entry.kind == "secret" else typed.strip()
        if text == "":
            if entry.needed:
                raise Unfit("missing")
            return None
        if len(text) > entry.most and entry.kind not in ("whole", "number", "rate"):
            raise Unfit("long", limit=entry.most)
        if _UNPRINTABLE.search(text):
            raise Unfit("unprintable")
        return _READ.get(entry.kind, _text)(self, entry, text)

    def text(self, entry: Entry, value: Json) -> str:
        """A value as it stands in its field [text]; a password never does."""
        if value is None or entry.kind == "secret":
            return ""
        if entry.kind == "picture":
            # The digest after it is for the mark of what was shown.
            return str(value).rpartition(" ")[0]
        if isinstance(value, int | float) and not isinstance(value, bool) and entry.kind == "number":
            unit = self.unit_of(entry)
            shown = from_canonical(entry.quantity, unit, float(value), self.rulebook) if unit else float(value)
            return f"{round_half_away(shown, DECIMALS):.{DECIMALS}f}".rstrip("0").rstrip(".")
        return str(value)


def _text(_: Reader, __: Entry, text: str) -> Json:
    return text


def _host(_: Reader, __: Entry, text: str) -> Json:
    if not _HOST.fullmatch(text):
        raise Unfit("host", text=text)
    return text


def _email(_: Reader, __: Entry, text: str) -> Json:
    try:
        mail.address(text)
    except mail.MailFault as fault:
        raise Unfit("email", text=text) from fault
    return text


def _sender(reader: Reader, entry: Entry, text: str) -> Json:
    _email(reader, entry, parseaddr(text)[1] or text)
    return text


def _day(_: Reader, __: Entry, text: str) -> Json:
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError as error:
        raise Unfit("day", text=text) from error


def _whole(_: Reader, entry: Entry, text: str) -> Json:
    if not (text.isascii() and text.isdigit() and len(text) <= 9 and 1 <= int(text) <= entry.most):
        raise Unfit("whole", text=text, most=entry.most)
    return int(text)


def _number(reader: Reader, entry: Entry, text: str) -> Json:
    number, unit = read_number(text, ""), reader.unit_of(entry)
    value = to_canonical(entry.quantity, unit, number, reader.rulebook) if unit else number
    if not 0 < value <= entry.most:
        raise Unfit("number", text=text)
    return value


def _money(reader: Reader, _: Entry, text: str) -> Json:
    return typed_value({"type": "money"}, text, None, "", reader.rulebook)


def _rate(reader: Reader, entry: Entry, text: str) -> Json:
    rate = str(_money(reader, entry, text))
    if not 0 <= float(rate) <= entry.most:
        raise Unfit("number", text=text)
    return rate


def _currency(_: Reader, __: Entry, text: str) -> Json:
    code = text.upper()
    if not re.fullmatch(r"[A-Z]{3}", code):
        raise Unfit("currency", text=text)
    return code


def _choice(_: Reader, entry: Entry, text: str) -> Json:
    if text not in entry.choices:
        raise Unfit("choice", text=text)
    return text


def _language(reader: Reader, _: Entry, text: str) -> Json:
    if text.split("-")[0] not in reader.languages():
        raise Unfit("choice", text=text)
    return text


def _picture(_: Reader, __: Entry, ___: str) -> Json:
    # It comes as a file, never as what is typed.
    raise Unfit("picture_missing")


def _folder(reader: Reader, _: Entry, text: str) -> Json:
    place = Path(text).expanduser()
    if not place.is_absolute():
        raise Unfit("folder_relative", text=text)
    try:
        is_inside = place.resolve().is_relative_to(Path(reader.place).resolve())
        is_file = place.exists() and not place.is_dir()
    except OSError as error:
        raise Unfit("folder_unusable", text=text) from error
    if is_inside:
        raise Unfit("folder_inside", text=text)
    if is_file:
        raise Unfit("folder_unusable", text=text)
    return str(place)


_READ = {"host": _host, "email": _email, "sender": _sender, "day": _day, "whole": _whole, "number": _number,
         "money": _money, "rate": _rate, "currency": _currency, "choice": _choice, "language": _language,
         "folder": _folder, "picture": _picture}  # fmt: skip


def sentence(error: Unfit | Unreadable, label: str, rulebook: Rulebook) -> str:
    """What is wrong with a field, and what to do [text].

    Args:
        error: why its text can't be taken [Unfit or Unreadable]
        label: what the field is called [text]
        rulebook: the rulebook [Rulebook]
    """
    error.values["where"] = label
    return words_of(rulebook).error(error)


def at(tree: JsonObject, path: str) -> Json:
    """What stands at a dotted path, None where nothing does [JSON value]."""
    node: Json = tree
    for name in path.split("."):
        node = node.get(name) if isinstance(node, dict) else None
    return node


def put(tree: JsonObject, path: str, value: Json) -> None:
    """Set what stands at a dotted path, or take it out if None; an object that is left empty goes with it."""
    *outer, name = path.split(".")
    nodes = [tree]
    for step in outer:
        inner = nodes[-1].get(step)
        if not isinstance(inner, dict):
            inner = nodes[-1][step] = {}
        nodes.append(inner)
    if value is None:
        nodes[-1].pop(name, None)
    else:
        nodes[-1][name] = value
    for node, step in reversed(list(zip(nodes[:-1], outer, strict=True))):
        if node[step] == {}:
            del node[step]
