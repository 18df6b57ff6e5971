"""Answers, as types: what became of an operation, the receipts of a device, and the visits that a search finds.

Nothing here judges or words anything; the published shapes of these answers are tables in `responses`.
"""

from __future__ import annotations

from typing import Literal, NotRequired, TypedDict

from sync.wire.faults import Fault

# The last three stand in the journal alone, no answer bears them: a record that was erased or lost, of which a blank is
# left, and a note of the desk's own.
Status = Literal["accepted", "conflict", "rejected", "deferred", "erased", "lost", "noted"]


class Problem(TypedDict):
    """Why an operation was refused or has to wait."""

    code: str
    detail: str
    errors: NotRequired[list[Fault]]


class Result(TypedDict):
    """What became of one op line; `id` is null where none can be read, `digest` is the one that the line claims."""

    id: str | None
    status: Status
    digest: str
    problem: NotRequired[Problem]


class RepeatableResult(Result):
    """The same as it is answered: whether this was so before the line came in again."""

    repeat: bool


class Receipt(TypedDict):
    """What was answered for the operation of a device that bears a number."""

    seq: int
    id: str | None
    status: Status
    digest: str


class Receipts(TypedDict):
    """Receipts by number; `next` is the number to go on behind, null at the end."""

    receipts: list[Receipt]
    next: int | None


class VisitRow(TypedDict):
    """One visit in a list of those that were found."""

    id: str
    day: str | None
    customer: str | None
    vehicle: str | None
    plate: str | None
    vin: str | None
    outcome: str | None
    vehicle_id: str | None
    customer_id: str | None


class VisitRows(TypedDict):
    """The visits that were found, newest first, and whether there are more."""

    visits: list[VisitRow]
    more: bool
