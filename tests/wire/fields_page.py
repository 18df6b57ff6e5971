"""The page of all fields, sync/rulebook/FIELDS.md, made from the book of fields and its words.

`python -m tests.wire.fields_page --write` writes it; without that it is printed. No test lives here.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from sync import rulebook as books
from sync.kernel.fields_book import FieldRow
from sync.language.words import Words

PAGE = books.FOLDER / "FIELDS.md"
HEAD = """# Every field

`python -m tests.wire.fields_page --write` makes this page from [fields.json](fields.json) and its words; a test
compares them. [README.md](README.md) says what each key of a row means, [fields.py](../wire/fields.py) how a type is
written. `*` marks a required field.
"""
COLUMNS = "| path | type | unit | step | what it is |\n| --- | --- | --- | --- | --- |"
# What each scope is, in the order of the page.
SCOPES = {
    "visit": "What is set in a visit, leaf by leaf",
    "record": "What else a visit holds",
    "tests": "An item of `tests`: a test",
    "rests": "An item of `rests`: a reading at rest",
    "work": "An item of `work`",
    "refrigerant_moves": "An item of `refrigerant_moves`",
    "charges": "An item of `charges`: a line of the bill",
    "checks": "An item of `checks`",
    "cautions": "An item of `cautions`",
    "consent": "An item of `consent`",
    "advice": "An item of `advice`",
    "photos": "An item of `photos`",
    "item": "What else an operation on an item carries",
    "signature": "`signature`, and the body of `signature.add`",
    "verdict_shown": "`verdict_shown`, and the body of `verdict.shown`",
    "trace": "A point of a trace",
    "trace.add": "The body of `trace.add`",
    "trace.strike": "The body of `trace.strike`",
    "item.strike": "The body of `item.strike`",
    "visit.void": "The body of `visit.void`",
    "sheet.approve": "The body of `sheet.approve`",
    "change.note": "The body of `change.note`",
    "baseline.mark": "The body of `baseline.mark`",
    "customer.merge": "The body of `customer.merge`",
    "op.mend": "The body of `op.mend`",
    "conflict.settle": "The body of `conflict.settle`, whose `set` holds what is settled",
    "card": "What `vehicle.set` and `customer.set` carry besides the fields of `vehicle` and `customer`",
    "operation": "An operation",
}


def page(rulebook: Any) -> str:
    """The whole page [Markdown]."""
    parts = [HEAD]
    for scope, title in SCOPES.items():
        rows = _rows(rulebook, scope)
        parts.append("\n".join([f"## {title}\n", COLUMNS, *rows]) + "\n")
    return "\n".join(parts)


def _rows(rulebook: Any, scope: str) -> Iterator[str]:
    for path, row in rulebook["fields"]["scopes"][scope].items():
        star = "*" if row.get("required") else ""
        words = _what(rulebook, f"{scope}.{path}", row).replace("|", "\\|")
        yield f"| `{path}{star}` | {row['type']} | {_unit(rulebook, row)} | {row.get('step', '')} | {words} |"


def _what(rulebook: Any, code: str, row: FieldRow) -> str:
    """The label that the phone shows; if there is none or it doesn't say everything, the book's own note."""
    words = Words(rulebook["words"])
    label = words.find(f"fields.{row.get('label', code)}")
    parts = [label if isinstance(label, str) else "", dict(row).get("about", "")]
    return ": ".join(str(part) for part in parts if part)


def _unit(rulebook: Any, row: FieldRow) -> str:
    """The unit in which the value is kept: the quantity's canonical one, or the only one."""
    if "quantity" in row:
        quantity = row["quantity"]
        unit = rulebook["units"][quantity]["canonical"]
        return Words(rulebook["words"]).unit(quantity, unit)
    return Words(rulebook["words"]).say(f"fields.suffix.{row['suffix']}") if "suffix" in row else ""


if __name__ == "__main__":
    if "--write" in sys.argv[1:]:
        Path(PAGE).write_text(page(books.load()), "utf-8")
    else:
        sys.stdout.write(page(books.load()))
