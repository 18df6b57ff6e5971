"""The arguments that each task takes: whether the request has them, each of its kind, before the task begins.

Nothing here does a task; the task itself finds out whether a day, a visit or a file exists.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import PurePath

from sync.errors import LaybyError

# A star after a kind: the task can't be done without it. Others may be left out, or null.
DAY = {"day": "text"}
ARGUMENTS: dict[str, dict[str, str]] = {
    "evening": {**DAY, "person": "text"}, "look": {**DAY, "person": "text"}, "reminders": DAY,
    "day": {**DAY, "technician": "text"},
    "ledger": {"first": "text*", "last": "text", "refrigerant": "text", "vehicle": "text", "cylinder": "text",
               "technician": "text"},
    "sheet": {"visit": "text*"},
    "approve": {"visits": "texts", "all": "truth", "complete": "truth"},
    "visit": {"id": "text*"}, "customer": {"id": "text*"},
    "amend": {"visit": "text*", "section": "text*", "typed": "fields*", "why": "text*", "seen": "text"},
    "send": {}, "send_test": {}, "letters": {}, "letter": {"visit": "text*"},
    "returned": {"visit": "text*", "why": "text*"},
    "log": {"visit": "text*", "test": "text*", "title": "text", "text": "text", "file": "path", "match": "texts",
            "zero": "text", "add": "truth"},
    "unlog": {"visit": "text*", "test": "text*", "number": "text*"},
    "receive": {"files": "paths*"},
    "find": {"text": "text*"},
    "backup": {"file": "path*"},
    "held": {"customer": "text*"},
    "export": {"customer": "text*", "file": "path*"},
    "erase": {"customer": "text*"},
    "rebuild": {"page": "text"}, "troubles": {"all": "truth"},
    "card": {"what": "text*", "id": "text*", "fields": "fields"},
    "vehicle": {"id": "text*"},
    "chart": {"id": "text*", "chart": "chart*"}, "history": {"id": "text*"},
    "mark": {"id": "text*", "visit": "text*", "test": "text*", "healthy": "truth*"},
    "conflicts": {}, "settle": {"what": "text*", "id": "text*", "entry": "text*"}, "aside": {"number": "text*"},
    "merge": {"keep": "text*", "drop": "text*"},
    "pair": {"person": "text"}, "devices": {}, "new_passphrase": {}, "people": {}, "begin_people": {"person": "text*"},
    "invite": {"person": "text*", "role": "text*"}, "invite_again": {"person": "text*"},
    "change_role": {"person": "text*", "role": "text*"}, "end_person": {"person": "text*"},
    "phone_of": {"device": "text*", "person": "text*"},
    "hand_over": {"visit": "text*", "person": "text*", "why": "text"},
    "revoke": {"device": "text*"},
    "settings": {}, "setting": {"row": "text*", "typed": "fields", "seen": "text", "remove": "truth"},
}  # fmt: skip


class BadArguments(LaybyError):
    """The arguments of a task are incomplete or of another kind; `wanted` says what each has to be."""

    code = "bad_arguments"


def check_arguments(name: str, arguments: Mapping[str, object]) -> None:
    """Check that a task can begin.

    Args:
        name: the task [text]
        arguments: what the request has; unknown ones are ignored [by name]

    Raises:
        BadArguments: everything that is missing or of another kind.
    """
    wanted = []
    for argument, written in ARGUMENTS[name].items():
        kind = written.removesuffix("*")
        value = arguments.get(argument)
        may_lack = argument in arguments if kind == "chart" else kind == written
        if not (may_lack if value is None else _IS[kind](value)):
            wanted.append(f"{argument}: {_CALLED[kind]}")
    if wanted:
        raise BadArguments(task=name, wanted="; ".join(wanted))


def _is_text(value: object) -> bool:
    return isinstance(value, str) and "\0" not in value


def _is_path(value: object) -> bool:
    return isinstance(value, str) and _is_text(value) and PurePath(value).name != ""


def _is_list_of(kind: Callable[[object], bool]) -> Callable[[object], bool]:
    return lambda value: isinstance(value, list) and all(kind(one) for one in value)


def _are_fields(value: object) -> bool:
    return isinstance(value, dict) and all(_is_text(one) for one in value.values())


_IS: dict[str, Callable[[object], bool]] = {
    "text": _is_text, "texts": _is_list_of(_is_text), "path": _is_path, "paths": _is_list_of(_is_path),
    "truth": lambda value: isinstance(value, bool), "fields": _are_fields,
    "chart": lambda value: isinstance(value, dict),
}  # fmt: skip
# As a program writes them: a person who sees this has two versions of Layby, or writes a program.
_CALLED = {
    "text": "string", "path": "path", "paths": "path[]", "texts": "string[]", "truth": "boolean",
    "fields": "{name: string}", "chart": "object | null",
}  # fmt: skip
