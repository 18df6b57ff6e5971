"""Notes: the desk's own records that aren't operations, such as the progress of a sheet or what was erased.

Nothing here says what a note changes; `posting` does. A note is written once the thing it reports is safe on disk.
"""

from __future__ import annotations

import hashlib
import json
from typing import Literal, TypedDict, cast

from sync.kernel.json_tree import JsonObject
from sync.records.store.interface import Entry, Record
from sync.wire import op_line

# A state that a sheet entered; a whole sheet record taken over from an earlier format; when a letter was handed to the
# mail server; what was erased; a refused entry that a person has seen to.
Kind = Literal["sheet.state", "sheet.record", "letter.handed", "erasure", "entry.aside"]
NOTED = "noted"
_JSON = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), allow_nan=False)


class Note(TypedDict):
    """One note: its id [UUID version 7], its kind, the visit it is about, when [ms since 1970], and what it says."""

    id: str
    device: str
    kind: Kind
    visit: str | None
    at: int
    body: JsonObject


def entry_of(kind: Kind, visit: str | None, body: JsonObject, at_ms: int, identifier: str | None = None) -> Entry:
    """A note as it is appended: framed like an operation, so that one reader serves both.

    Args:
        kind: what it reports [code]
        visit: which visit it is about, None if none [UUID version 7 or None]
        body: what it says [JSON object]
        at_ms: when [ms since 1970]
        identifier: its id; a fresh one if None [UUID version 7]

    Returns:
        the entry [Entry]
    """
    note: Note = {
        "id": identifier or op_line.new_id(at_ms), "device": op_line.DESK, "kind": kind, "visit": visit, "at": at_ms,
        "body": body,
    }
    content = _JSON.encode(note).encode("utf-8")
    digest = op_line.digest(content)
    line = digest.encode("ascii") + b" " + content
    return Entry(at_ms, {"id": note["id"], "status": "noted", "digest": digest}, line)


def id_from(at_ms: int, *names: str) -> str:
    """An id that is the same whenever the same thing is noted again [UUID version 7]."""
    fresh, digest = op_line.new_id(at_ms), hashlib.sha256("\n".join(names).encode("utf-8")).hexdigest()
    return f"{fresh[:15]}{digest[:3]}-8{digest[3:6]}-{digest[6:18]}"


def note_in(record: Record) -> Note | None:
    """The note that a record holds; None if it holds none [Note]."""
    if record.result["status"] != NOTED:
        return None
    # Only `entry_of` writes these records.
    return cast(Note, json.loads(record.line[op_line.DIGEST_LENGTH + 1 :]))
