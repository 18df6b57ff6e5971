"""The cards of the vehicles and customers on file: read from the logbook, with the visits they belong to.

Nothing here is stored and nothing is judged; what a card says is `card`'s affair.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any, cast

from sync.kernel import card
from sync.kernel.operation import Card, Op, Statement
from sync.records.logbook import Logbook
from sync.records.record import unwrapped

# A fleet's visits beyond these add nothing to what is known of it now.
STATED_MOST = 100


class FiledCard(Card):
    """A card with its id and the visits it belongs to."""

    id: str
    visits: list[str]


class CustomerCard(FiledCard):
    """A customer's, with all ids that are shown under this one."""

    ids: list[str]


def vehicle(logbook: Logbook, identifier: str) -> FiledCard:
    """A vehicle as known now.

    Args:
        logbook: the open logbook [Logbook]
        identifier: its id [text]

    Returns:
        {id, fields, conflicts, heads, visits}; visits newest first, fields empty for one that is not on file
        [FiledCard]
    """
    with logbook.lock:
        ops = logbook.card_ops("vehicle", identifier)
        return _card(logbook, "vehicle", identifier, {identifier}, ops)


def customer(logbook: Logbook, identifier: str) -> CustomerCard:
    """A customer as known now, under the id that stands after all mergings.

    Args:
        logbook: the open logbook [Logbook]
        identifier: any id the customer was written down under [text]

    Returns:
        {id, ids, fields, conflicts, heads, visits}; `ids` are all ids that are shown under this one, visits newest
        first [CustomerCard]
    """
    with logbook.lock:
        ids, ops = connected(logbook, identifier)
        over = card.merged(cast(list[dict[str, Any]], ops), logbook.kinds)
        root = over.get(identifier, identifier)
        mine = {one for one in ids if over.get(one, one) == root}
        about = [op for op in ops if str(unwrapped(op, logbook.kinds)["body"].get("id", root)) == root]
        return {**_card(logbook, "customer", root, mine, about), "ids": sorted(mine)}


def connected(logbook: Logbook, identifier: str) -> tuple[set[str], list[Op]]:
    """The ids that mergings connect with one, and the operations on their cards [texts, Op each]."""
    ids, pending, ops = {identifier}, [identifier], dict[str, Op]()
    while pending:
        for op in logbook.card_ops("customer", pending.pop()):
            ops[op["id"]] = op
            body = unwrapped(op, logbook.kinds)["body"]
            reached = {str(body[name]) for name in ("keep", "drop") if name in body} - ids
            ids |= reached
            pending += sorted(reached)
    return ids, list(ops.values())


def _card(logbook: Logbook, what: str, identifier: str, ids: set[str], ops: list[Op]) -> FiledCard:
    visits = logbook.search.visits_of(what, ids)
    statements: list[Statement] = []
    for visit_id in visits[:STATED_MOST][::-1]:
        visit = cast(dict[str, Any], logbook.visit(visit_id))
        if not visit.get("void") and visit.get(what):
            at = datetime.fromisoformat(visit["started_at"]).timestamp() * 1000
            statements.append({"at": at, "fields": {**visit[what], "id": identifier}})
    untyped = cast(list[dict[str, Any]], statements), cast(list[dict[str, Any]], ops)
    content = cast(Card, card.card_of(what, *untyped, logbook.kinds))
    return {"id": identifier, **content, "visits": visits}
