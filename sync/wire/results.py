"""Answers, as types: what happened to an operation, the receipts of a device, and the visits that a search finds.

Nothing here judges or words anything; the published shapes of these answers are tables in `responses`.
"""

from __future__ import annotations

from typing import Literal, NotRequired, TypedDict

from sync.wire.faults import Fault

# The last three occur only in the journal, in no answer: a record that was erased or lost and left a blank, and a note
# of the desk's own.
Status = Literal["accepted", "conflict", "rejected", "deferred", "erased", "lost", "noted"]


class Problem(TypedDict):
    """Why an operation was refused or must wait."""

    code: str
    detail: str
    errors: NotRequired[list[Fault]]


class Result(TypedDict):
    """What happened to one op line; `id` is null if none can be read, `digest` is the one that the line claims."""

    id: str | None
    status: Status
    digest: str
    problem: NotRequired[Problem]


class RepeatableResult(Result):
    """The same as an answer, with whether it was already so before the line came in again."""

    repeat: bool


class Receipt(TypedDict):
    """The answer to the operation of a device with a certain number."""

    seq: int
    id: str | None
    status: Status
    digest: str


class Receipts(TypedDict):
    """Receipts by number; `next` is the number after which to continue, null at the end."""

    receipts: list[Receipt]
    next: int | None


class VisitRow(TypedDict):
    """One visit in a list of search results."""

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
    """The visits found, newest first, and whether there are more."""

    visits: list[VisitRow]
    more: bool
