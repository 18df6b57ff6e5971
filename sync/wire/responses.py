"""The shapes of what the service answers, written as `fields` writes those of a visit.

Nothing here checks anything; the published description of the service is made from these tables, and tests hold the
answers to them.
"""

from __future__ import annotations

from sync.wire.fields import BASELINE, ListOf, Shape

FAULT: Shape = {"pointer*": "text 2000", "code*": "text 60", "detail*": "text 2000", "value": "any"}

# RFC 9457, with the stable code and the faults in particular.
PROBLEM: Shape = {
    "type*": "text 200",
    "title*": "text 200",
    "status*": "whole",
    "code*": "text 60",
    "detail*": "text 4000",
    "errors": ListOf(FAULT, 200),
}

# What is wrong with one operation; the answer as a whole is no problem.
REFUSAL: Shape = {"code*": "text 60", "detail*": "text 4000", "errors": ListOf(FAULT, 200)}

RESULTS: Shape = {
    "results*": ListOf(
        {
            "id": "op",
            "status*": "words accepted conflict rejected deferred",
            "digest*": "digest",
            "repeat*": "truth",
            "problem": REFUSAL,
        },
        50,
    )
}

RECEIPTS: Shape = {
    "receipts*": ListOf(
        {"seq*": "whole", "id": "op", "status*": "words accepted conflict rejected", "digest*": "digest"}, 1_000_000
    ),
    "next": "whole",
}

# Each kind of change has some of these: op a line; sheet a visit, revision, state, at, reason; baseline a vehicle and
# its baseline; erased a customer or visits.
CHANGES: Shape = {
    "cursor*": "text 60",
    "changes*": ListOf(
        {
            "kind*": "words op sheet baseline erased",
            "line": "text 200000",
            "visit": "op",
            "revision": "hex",
            "state": "words made approved queued sent failed",
            "at": "whole",
            "reason": {"code*": "text 60", "values*": "object"},
            "vehicle": "id",
            "baseline": BASELINE,
            "customer": "id",
            "visits": ListOf("op", 100_000),
        },
        1_000_000,
    ),
    "more*": "truth",
}

FOUND: Shape = {
    "visits*": ListOf(
        {
            "id*": "op",
            "day": "text 10",
            "customer": "text 200",
            "vehicle": "text 201",
            "plate": "text 40",
            "vin": "text 40",
            "outcome": "code outcome",
            "vehicle_id": "id",
            "customer_id": "id",
        },
        50,
    ),
    "more*": "truth",
}

PAIRED: Shape = {"token*": "text 100", "device*": "text 64", "name*": "text 100", "paired_at*": "whole"}
