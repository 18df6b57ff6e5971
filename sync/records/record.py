"""A journal record with what its operation says about itself: what it is about and what it sets.

Nothing here reads the journal, and nothing here changes a view.
"""

from __future__ import annotations

import json
from datetime import datetime
from functools import cached_property
from typing import cast

from sync.kernel import fold
from sync.kernel.books import KindsBook
from sync.kernel.card import subjects_of
from sync.kernel.json_tree import JsonObject
from sync.kernel.operation import Leaf, Op
from sync.records.store.interface import Record
from sync.records.store.note import NOTED, Note, note_in
from sync.wire import op_line
from sync.wire.op_line import Outline
from sync.wire.results import Result, Status

FILED = ("accepted", "conflict")
# The status of a record of which nothing is left.
BLANK = ("erased", "lost")
# Lines refused for what they are or who brought them, so that the id stays free for the real operation.
BY_BYTES = ("id_reused", "damaged", "not_its_own", "not_its_person")
# Nobody can say that the named device wrote these, so they don't count as its receipts.
_NOBODYS = ("damaged", "not_its_own")

# What finds a visit, on the view of its month; the order is that of the fields of a row.
FOUND_BY = {
    "/started_at": "started_at",
    "/vehicle/id": "vehicle",
    "/vehicle/plate": "plate",
    "/vehicle/vin": "vin",
    "/vehicle/make": "make",
    "/vehicle/model": "model",
    "/customer/id": "customer_id",
    "/customer/name": "customer",
    "/outcome": "outcome",
}


class FiledRecord:
    """A journal record, with what its operation says about itself; parts that were just read can be passed in."""

    def __init__(self, record: Record, kinds: KindsBook, op: Op | None = None) -> None:
        self.record = record
        self.kinds = kinds
        if op is not None:
            self.op = op
        self.status: Status = record.result["status"]
        self.id = record.result["id"]

    def placed(self, record: Record) -> FiledRecord:
        """The same operation under the record it was given in the journal."""
        filed = FiledRecord(record, self.kinds, self.op)
        filed.leaves = self.leaves
        return filed

    @cached_property
    def op(self) -> Op:
        """The operation, for one that was filed [Op]."""
        # Its shape was checked at the border before it was filed.
        return cast(Op, json.loads(self.record.line[op_line.DIGEST_LENGTH + 1 :]))

    @property
    def note(self) -> Note | None:
        """The note that the record holds; None if it holds none [Note]."""
        return None if self.status != NOTED else note_in(self.record)

    @cached_property
    def leaves(self) -> list[Leaf]:
        """What the operation sets, for one that was filed [(pointer, value) each]."""
        return fold.leaves(self.op["body"], self.op["kind"], self.kinds)

    @cached_property
    def subject(self) -> tuple[str, str]:
        """What a filed operation is about: ("visit", its id), or ("vehicle" or "customer", its id)."""
        return subject(self.op, self.kinds)

    @property
    def filed(self) -> bool:
        """Whether the operation counts, rather than being kept aside."""
        return self.status in FILED

    @property
    def is_receipt(self) -> bool:
        """Whether the device that the line names has to be told the result."""
        return _problem_code(self.record.result) not in _NOBODYS

    @property
    def visit(self) -> str | None:
        """The visit of a filed operation; None for one beside the visits, and for what was not filed."""
        return self.op["visit"] if self.filed else None

    @cached_property
    def names(self) -> list[Leaf]:
        """The leaves that find a visit, as (field of a row, value)."""
        return [(FOUND_BY[pointer], value) for pointer, value in self.leaves if pointer in FOUND_BY]

    @cached_property
    def started_days(self) -> list[str]:
        """The local days on which the operation says its visit started [YYYY-MM-DD each]."""
        # A text by its shape; something else from an earlier version raises, and the caller ignores it.
        starts = [cast(str, value) for pointer, value in self.leaves if pointer == "/started_at" and value]
        return [local_day(started_at) for started_at in starts]

    @cached_property
    def outline(self) -> Outline:
        """{id, device, seq, visit}, as far as they can be told [Outline]."""
        if self.filed:
            return cast(Outline, self.op)
        return op_line.outline(op_line.parts(self.record.line)[1])

    @property
    def by_digest(self) -> bool:
        """Whether the record is stored under its hash alone: its id is unreadable, taken, or not to be trusted."""
        return found_by_digest(self.record.result)


def found_by_digest(result: Result) -> bool:
    """Whether a result belongs on a view of digests rather than under the operation's id."""
    return result["id"] is None or _problem_code(result) in BY_BYTES


def _problem_code(result: Result) -> str | None:
    return result["problem"]["code"] if result.get("problem") else None


def kind_and_body(op: Op) -> tuple[str, JsonObject]:
    """The kind and body of a filed operation, or of the one in a replacement [code, JSON object]."""
    if op["kind"] != "op.mend":
        return op["kind"], op["body"]
    # The shape of a replacement was checked before it was filed: it holds another operation's kind and body.
    return str(op["body"]["kind"]), cast(JsonObject, op["body"]["body"])


def subject(op: Op, kinds: KindsBook) -> tuple[str, str]:
    """What an operation, or the one in a replacement, is about: the sort and the id."""
    if op["visit"] is not None:
        return "visit", op["visit"]
    return subjects_of(op, kinds)[0]


def local_day(started_at: str) -> str:
    """The local day on which a visit started [YYYY-MM-DD]."""
    return datetime.fromisoformat(started_at).date().isoformat()


def actual_digest(line: bytes) -> str:
    """The digest of the bytes a line carries, whatever it claims."""
    return op_line.digest(op_line.parts(line)[1])
