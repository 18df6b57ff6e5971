"""The cards of the vehicles and customers on file: read from the logbook, with the visits they belong to.

Nothing here is stored and nothing is judged; what a card says is `card`'s affair.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any, cast

from sync.kernel import card
from sync.kernel.operation import Op
from sync.records.logbook import Logbook
from sync.records.record import unwrapped

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
        over = card.merged(cast(list[dict[str, Any]], ops), logbook.kinds)
        stands = over.get(identifier, identifier)
        mine = {one for one in ids if over.get(one, one) == stands}
        about = [op for op in ops if str(unwrapped(op, logbook.kinds)["body"].get("id", stands)) == stands]
        return {**_card(logbook, "customer", stands, mine, about), "ids": sorted(mine)}


def connected(logbook: Logbook, identifier: str) -> tuple[set[str], list[Op]]:
    """The ids that mergings connect with one, and the operations on their cards [texts, JSON objects]."""
    ids, pending, ops = {identifier}, [identifier], dict[str, Op]()
    while pending:
        for op in logbook.card_ops("customer", pending.pop()):
            ops[op["id"]] = op
            body = unwrapped(op, logbook.kinds)["body"]
            reached = {str(body[name]) for name in ("keep", "drop") if name in body} - ids
            ids |= reached
            pending += sorted(reached)
    return ids, list(ops.values())


def _card(logbook: Logbook, what: str, identifier: str, ids: set[str], ops: list[Op]) -> dict[str, Any]:
    visits = logbook.search.visits_of(what, ids)
    stated = []
    for visit_id in visits[:STATED_MOST][::-1]:
        visit = cast(dict[str, Any], logbook.visit(visit_id))
        if not visit.get("void") and visit.get(what):
            at = datetime.fromisoformat(visit["started_at"]).timestamp() * 1000
            stated.append({"at": at, "fields": {**visit[what], "id": identifier}})
    known = card.card_of(what, stated, cast(list[dict[str, Any]], ops), logbook.kinds)
    return {"id": identifier, **known, "visits": visits}
