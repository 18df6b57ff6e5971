"""The service's answers: tables of shape, written like those of a visit in `fields`, and the same as types.

Nothing here checks anything. The published description of the service is made from the tables, and tests compare the
answers and the types with them. The types that records share with the answers are in `results`.
"""

from __future__ import annotations

from typing import Literal, NotRequired, TypedDict, final

from sync.kernel.reason import Reason
from sync.kernel.vehicle import Baseline, Chart
from sync.wire.faults import Fault
from sync.wire.fields import ListOf, Shape
from sync.wire.results import Problem, RepeatableResult, Status

FAULT = Shape({"pointer*": "text 2000", "code*": "text 60", "detail*": "text 2000", "value": "any"})

# RFC 9457, with the stable code and, in particular, the faults.
PROBLEM = Shape({
    "type*": "text 200",
    "title*": "text 200",
    "status*": "whole",
    "code*": "text 60",
    "detail*": "text 4000",
    "errors": ListOf(FAULT, 200),
})


class ProblemDetails(TypedDict):
    """What is wrong with a request itself."""

    type: str
    title: str
    status: int
    code: str
    detail: str
    errors: NotRequired[list[Fault]]


# What is wrong with one operation; the answer as a whole isn't a problem.
REFUSAL = Shape({"code*": "text 60", "detail*": "text 4000", "errors": ListOf(FAULT, 200)})

RESULTS = Shape({
    "results*": ListOf(
        Shape({
            "id": "op",
            "status*": "words accepted conflict rejected deferred",
            "digest*": "digest",
            "repeat*": "truth",
            "problem": REFUSAL,
        }),
        50,
    )
})


class Results(TypedDict):
    """The results of one batch, in the order of its lines."""

    results: list[RepeatableResult]


class PhotoResult(TypedDict):
    """What happened to a photo that was carried by hand."""

    status: Status
    repeat: NotRequired[bool]
    problem: NotRequired[Problem]


@final
class LineOfOp(RepeatableResult):
    """What happened to an op line of a part carried by hand."""

    line: int


@final
class LineOfPhoto(PhotoResult):
    """What happened to a piece of a photo in a part carried by hand; `offset` is where the piece begins [bytes]."""

    line: int
    photo: str
    offset: int


@final
class UnreadableLine(TypedDict):
    """A line of a part carried by hand that is neither; with `count`, that many such lines from this one on."""

    line: int
    status: Literal["unreadable"]
    count: NotRequired[int]
    problem: Problem


LineResult = LineOfOp | LineOfPhoto | UnreadableLine


class LineFault(TypedDict):
    """What is wrong with a line of a part carried by hand, as a sentence."""

    line: int
    detail: str


class Tally(TypedDict):
    """What happened to a part carried by hand: op lines and photos by status, repeats, ten faults, further ones."""

    entries: dict[str, int]
    photos: dict[str, int]
    repeats: int
    faults: list[LineFault]
    more: int


RECEIPTS = Shape({
    "receipts*": ListOf(
        Shape({"seq*": "whole", "id": "op", "status*": "words accepted conflict rejected", "digest*": "digest"}),
        1_000_000,
    ),
    "next": "whole",
})


# Whom a phone is signed in as.
SIGNED_IN = Shape({"id*": "op", "name*": "text 60"})
# Each kind of change has some of these; the types below say which.
CHANGES = Shape({
    "cursor*": "text 60",
    "changes*": ListOf(
        Shape({
            "kind*": "words op sheet baseline erased",
            "line": "text 200000",
            "visit": "op",
            "revision": "hex",
            "state": "words made approved queued sent failed",
            "at": "whole",
            "reason": Shape({"code*": "text 60", "values*": "object"}),
            "vehicle": "id",
            "baseline": "part vehicle.baseline",
            "chart": "part vehicle.chart",
            "visits": ListOf("op", 100_000),
            "customers": ListOf("id", 100_000),
            "vehicles": ListOf("id", 100_000),
        }),
        1_000_000,
    ),
    "more*": "truth",
    "person": SIGNED_IN,
})


class OpChange(TypedDict):
    """An op line that another device wrote."""

    kind: Literal["op"]
    line: str


class SheetChange(TypedDict):
    """The progress of a visit's sheet; `at` in ms since 1970."""

    kind: Literal["sheet"]
    visit: str
    revision: str
    state: str
    at: int
    reason: Reason | None


class BaselineChange(TypedDict):
    """What a vehicle is now measured by: its baseline, empty if no test was marked, and its maker's chart."""

    kind: Literal["baseline"]
    vehicle: str
    baseline: Baseline
    chart: NotRequired[Chart]


class ErasedChange(TypedDict):
    """What was erased: ids of visits, and of customers and vehicles that went with them."""

    kind: Literal["erased"]
    visits: list[str]
    customers: NotRequired[list[str]]
    vehicles: NotRequired[list[str]]


Change = OpChange | SheetChange | BaselineChange | ErasedChange


class SignedIn(TypedDict):
    """The person whom a phone is signed in as."""

    id: str
    name: str


class Changes(TypedDict):
    """What a device has to be told after a cursor, and whether more follows."""

    cursor: str
    changes: list[Change]
    more: bool
    person: NotRequired[SignedIn | None]


FOUND = Shape({
    "visits*": ListOf(
        Shape({
            "id*": "op",
            "day": "text 10",
            "customer": "text 200",
            "vehicle": "text 201",
            "plate": "text 40",
            "vin": "text 40",
            "outcome": "code outcome",
            "vehicle_id": "id",
            "customer_id": "id",
        }),
        50,
    ),
    "more*": "truth",
})


PAIRED = Shape({
    "token*": "text 100", "device*": "text 64", "name*": "text 100", "paired_at*": "whole", "person": SIGNED_IN,
    "others*": ListOf(Shape({"name*": "text 100", "last_seen*": "whole"}), 1000),
})


class OtherPhone(TypedDict):
    """Another phone that this desk knows, and when the desk last heard from it [ms since 1970]."""

    name: str
    last_seen: int


class Paired(TypedDict):
    """A newly paired phone: its token, which is told only now, and the other paired phones."""

    token: str
    device: str
    name: str
    paired_at: int
    others: list[OtherPhone]
    person: SignedIn | None


# How much of a photo has arrived, as the headers of an answer say it [bytes].
UploadHeaders = TypedDict("UploadHeaders", {"Upload-Offset": str, "Upload-Length": str})
