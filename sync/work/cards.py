"""The cards of the vehicles and customers on file: read from the logbook, with the visits they belong to.

Nothing here is stored and nothing is judged; what a card says is `card`'s affair.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any, cast

from sync.isolation import each_apart
from sync.kernel import card, fold
from sync.kernel.json_tree import JsonObject
from sync.kernel.operation import Op, Statement
from sync.kernel.visit import Visit
from sync.records.logbook import Logbook

# A fleet's visits beyond these add nothing to what is known of it now.
STATED_MOST = 100


def vehicle(logbook: Logbook, identifier: str) -> dict[str, Any]:
    """A vehicle as known now.

    Args:
        logbook: the open logbook [Logbook]
        identifier: its id [text]

    Returns:
        {id, fields, conflicts, heads, visits}; visits newest first, fields empty for one that is not on file
        [JSON object]
    """
    with logbook.lock:
        ops = logbook.card_ops("vehicle", identifier)
        return _card(logbook, "vehicle", identifier, {identifier}, ops)


def customer(logbook: Logbook, identifier: str) -> dict[str, Any]:
    """A customer as known now, under the id that stands after all mergings.

    Args:
        logbook: the open logbook [Logbook]
        identifier: any id the customer was written down under [text]

    Returns:
        {id, ids, fields, conflicts, heads, visits}; `ids` are all ids that are shown under this one, visits newest
        first [JSON object]
    """
    with logbook.lock:
        ids, ops = connected(logbook, identifier)
        over = card.merged(ops, logbook.kinds)
        stands = over.get(identifier, identifier)
        mine = {one for one in ids if over.get(one, one) == stands}
        about = [op for op in ops if str(fold.unwrapped(op, logbook.kinds)["body"].get("id", stands)) == stands]
        return {**_card(logbook, "customer", stands, mine, about), "ids": sorted(mine)}


def connected(logbook: Logbook, identifier: str) -> tuple[set[str], list[Op]]:
    """The ids that mergings connect with one, and the operations on their cards [texts, JSON objects]."""
    ids, pending, ops = {identifier}, [identifier], dict[str, Op]()
    while pending:
        for op in logbook.card_ops("customer", pending.pop()):
            ops[op["id"]] = op
            body = fold.unwrapped(op, logbook.kinds)["body"]
            reached = {str(body[name]) for name in ("keep", "drop") if name in body} - ids
            ids |= reached
            pending += sorted(reached)
    return ids, list(ops.values())


def _card(logbook: Logbook, what: str, identifier: str, ids: set[str], ops: list[Op]) -> dict[str, Any]:
    visits = logbook.search.visits_of(what, ids)
    each, _ = each_apart(visits[:STATED_MOST][::-1], lambda visit: _stated(logbook.visit(visit), what, identifier))
    stated = [one for one in each if one]
    return {"id": identifier, **card.card_of(what, stated, ops, logbook.kinds), "visits": visits}


def _stated(visit: Visit, what: str, identifier: str) -> Statement | None:
    """What a visit states of its vehicle or customer; None where it states nothing."""
    # What a vehicle or customer holds is JSON through and through.
    fields = cast(JsonObject, visit.get("vehicle") if what == "vehicle" else visit.get("customer"))
    if visit.get("void") or not fields:
        return None
    at = datetime.fromisoformat(visit["started_at"]).timestamp() * 1000
    return {"at": at, "fields": {**fields, "id": identifier}}
