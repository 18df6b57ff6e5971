"""What finds a visit: the words and numbers of its row, and what a text asks for. Every store follows this one rule.

Nothing here looks anything up. The rule: every word of the text must be a part of a word of the customer's name, of
the plate or of the vehicle number, as written or without what stands between their signs, or the beginning of the day.
Or the whole text, without what stands between, is a part of plate or number. Former names count like the present ones,
capitals never do, and of anything longer than 64 signs only these are compared.
"""

from __future__ import annotations

import re

from sync.kernel.json_tree import Json
from sync.kernel.signs import BETWEEN
from sync.records.store.register import RegisterRow, Ways
from sync.records.views import MonthRow
from sync.wire.results import VisitRow

COMPARED_MOST = 64
_SIGNS = re.compile(f"[{re.escape(BETWEEN)}\\s]+")
# Neither a database nor the lines of a search can take these.
_SPACES = {0x00: " ", 0x0A: " ", 0x1F: " "}


def squeezed(text: str) -> str:
    """A plate or VIN as it is compared, by the kernel's rule of what stands between its letters."""
    return _SIGNS.sub("", text.casefold())


def without_spaces(text: str) -> str:
    """A make or model as compared: lower case, no spaces."""
    return "".join(text.casefold().split())


def clean(text: str) -> str:
    """A text without what an earlier version accepted and no database takes: NUL and halves of characters."""
    return text if text.isprintable() else text.encode("utf-8", "replace").decode("utf-8").translate(_SPACES)


def ways_of(text: str) -> Ways:
    """What a text asks for.

    Args:
        text: as it was typed [text]

    Returns:
        the ways in which a visit may be found: by all words, or by the whole; none for a text without a word [Ways]
    """
    asked = clean(text)
    words = [word[:COMPARED_MOST] for word in asked.casefold().split()]
    whole = [squeezed(asked)[:COMPARED_MOST]]
    return [way for way in (words, whole if whole != words else []) if any(way)]


def day_of(row: MonthRow) -> str | None:
    """The local day on which a visit started [YYYY-MM-DD], None if that isn't known."""
    started_at = _text(row.get("started_at"))
    return None if started_at is None else started_at[:10]


def names_of(row: MonthRow) -> list[str]:
    """What a visit's customer and vehicle are and were called, as it was typed [texts]."""
    return [clean(str(name)) for name in (row.get("customer"), row.get("plate"), row.get("vin"), *row["also"]) if name]


def marks_of(row: MonthRow) -> list[str]:
    """Plates and vehicle numbers of a visit, among its other former names, as they were typed [texts]."""
    return [clean(str(mark)) for mark in (row.get("plate"), row.get("vin"), *row["also"]) if mark]


def vehicle_of(row: MonthRow) -> str | None:
    """The id of a visit's vehicle [text or None]."""
    return _id(row.get("vehicle"))


def customer_of(row: MonthRow) -> str | None:
    """The id of a visit's customer [text or None]."""
    return _id(row.get("customer_id"))


def called(row: MonthRow) -> tuple[str, str]:
    """Make and model of a visit's vehicle, as compared [texts]."""
    return without_spaces(str(row.get("make") or "")), without_spaces(str(row.get("model") or ""))


def shown(visit: str, row: MonthRow) -> VisitRow:
    """What a list shows of a visit [VisitRow]."""
    return {
        "id": visit,
        "day": day_of(row),
        "customer": _text(row.get("customer")),
        "vehicle": " ".join(str(part) for part in (row.get("make"), row.get("model")) if part) or None,
        "plate": _text(row.get("plate")),
        "vin": _text(row.get("vin")),
        "outcome": _text(row.get("outcome")),
        "vehicle_id": _text(row.get("vehicle")),
        "customer_id": _text(row.get("customer_id")),
    }


def register_row(month: str, visit: str, row: MonthRow) -> RegisterRow:
    """What a register keeps of a visit: with each word and mark, all that is left of it from any sign on.

    Args:
        month: the name of the view of its month [months/YYYY-MM]
        visit: its id [UUID version 7]
        row: its row there [MonthRow]

    Returns:
        its row in a register [RegisterRow]
    """
    day = clean(day_of(row) or "").casefold()
    whole = [word for name in names_of(row) for word in name.casefold().split()]
    whole += [squeezed(mark) for mark in marks_of(row)]
    words = {word[start : start + COMPARED_MOST] for word in whole for start in range(len(word))}
    words |= {day} if day else set()
    name = month_name(month)
    make, model = called(row)
    return RegisterRow(visit, name, f"{name} {day:10} {visit}", _cleaned(vehicle_of(row)), _cleaned(customer_of(row)),
                       called_text(make, model), sorted(words), shown(visit, row))


def month_name(view: str) -> str:
    """The name of a month in a register, by that of its view [7 signs]."""
    return f"{view.removeprefix('months/'):7}"


def called_text(make: str, model: str) -> str:
    """Make and model, as `without_spaces` writes them, as one text [text]."""
    return clean(f"{make} {model}")


def _cleaned(value: str | None) -> str | None:
    return None if value is None else clean(value)


def _text(value: Json) -> str | None:
    # An earlier version may have accepted something that isn't a text.
    return None if value is None else str(value)


def _id(value: Json) -> str | None:
    return value if isinstance(value, str) else None
