"""A journal record with what its operation says of itself: whom it is about, what it sets, who is told of it.

Nothing here reads the journal, and nothing here changes an entry or a page.
"""

from __future__ import annotations

import json
from functools import cached_property
from typing import Any, cast

from sync.kernel import fold
from sync.records import change_feed
from sync.records.journal import Record
from sync.records.view_names import local_day_page
from sync.wire import op_line

FILED = ("accepted", "conflict")
ERASED = "erased"
# Why a line was refused for what it is or who brought it, so that its id stays free for the operation itself.
BY_BYTES = ("id_reused", "damaged", "not_its_own")
# Of these nobody can say that the device they name wrote them; they are no receipts of its.
_NOBODYS = ("damaged", "not_its_own")

# What a visit is found by, on the page of its month; the order is that of the fields of a row.
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

Entry = dict[str, Any]
Kinds = dict[str, Any]
Leaf = tuple[str, Any]


class FiledRecord:
    """A journal record, with what its operation says of itself; what was just read anyway can be given to it."""

    def __init__(self, record: Record, kinds: Kinds, op: dict[str, Any] | None = None) -> None:
        self.record = record
        self.kinds = kinds
        if op is not None:
            self.op = op
        # The operations of the same visit that were filed before this one, as its entry lists them.
        self.before: list[Entry] = []
        # The devices that take part in the vehicle or customer of one beside the visits.
        self.parties: list[str] = []
        self.status = str(record.result["status"])
        self.id: str | None = record.result["id"]

    def placed(self, record: Record) -> FiledRecord:
        """The same operation under the record that it was given in the journal."""
        made = FiledRecord(record, self.kinds, self.op)
        made.leaves = self.leaves
        return made

    @cached_property
    def op(self) -> dict[str, Any]:
        """The operation, for one that was filed [JSON object]."""
        parsed: dict[str, Any] = json.loads(self.record.line[op_line.DIGEST_LENGTH + 1 :])
        return parsed

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
        """Whether the device that the line names has to be told of the result."""
        return (self.record.result.get("problem") or {}).get("code") not in _NOBODYS

    @property
    def in_visit(self) -> bool:
        """Whether the record is a filed operation of a visit."""
        return self.filed and self.op["visit"] is not None

    @cached_property
    def told(self) -> dict[str, list[Entry]]:
        """What each device has to be told because of the record; `before` and `parties` must be set."""
        return change_feed.entries(self)

    @cached_property
    def names(self) -> list[Leaf]:
        """The leaves that a visit is found by, as (field of a row, value)."""
        return [(FOUND_BY[pointer], value) for pointer, value in self.leaves if pointer in FOUND_BY]

    @cached_property
    def started_days(self) -> list[str]:
        """The pages of the local days that the operation says its visit started on."""
        return [local_day_page(value) for pointer, value in self.leaves if pointer == "/started_at" and value]

    @cached_property
    def outline(self) -> dict[str, Any]:
        """{id, device, seq, visit}, as far as they can be told [JSON object]."""
        if self.status in FILED:
            return self.op
        return cast(dict[str, Any], op_line.outline(op_line.parts(self.record.line)[1]))

    @property
    def by_digest(self) -> bool:
        """Whether the record is found by its bytes alone: its id is unreadable, spoken for, or not to be trusted."""
        return found_by_digest(self.record.result)


def found_by_digest(result: dict[str, Any]) -> bool:
    """Whether a result belongs on a page of digests rather than under the operation's id."""
    problem = result.get("problem") or {}
    return result["id"] is None or problem.get("code") in BY_BYTES


def subject(op: dict[str, Any], kinds: Kinds) -> tuple[str, str]:
    """What an operation, or the one that a mending stands for, is about: its sort and its id."""
    if op["visit"] is not None:
        return "visit", str(op["visit"])
    inner = fold.unwrapped(op, kinds)
    rule = kinds["kinds"][inner["kind"]]
    return str(rule["of"]), str(inner["body"][rule["key"]])


def actual_digest(line: bytes) -> str:
    """The digest of the bytes a line carries, whatever it claims."""
    return op_line.digest(op_line.parts(line)[1])
