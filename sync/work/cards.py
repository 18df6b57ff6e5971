"""The cards of the vehicles and customers on file: read from the logbook, with the visits they belong to.

Nothing here is stored and nothing is judged; `card` decides what a card says.
"""

from __future__ import annotations

from datetime import datetime
from typing import cast

from sync.isolation import each_apart
from sync.kernel import card, fold
from sync.kernel.json_tree import Json, JsonObject
from sync.kernel.operation import Card, Op, Statement
from sync.kernel.vehicle import Chart
from sync.kernel.verdict_digest import canonical
from sync.kernel.visit import Visit
from sync.records.findable import without_spaces
from sync.records.logbook import Logbook

# More of a fleet's visits than these add nothing to what is known of it now.
STATED_MOST = 100
# Vehicles of one model whose charts are looked at, and charts that are offered.
ALIKE_MOST, CHARTS_MOST = 20, 3


class FiledCard(Card):
    """A card with its id and its visits."""

    id: str
    visits: list[str]


class CustomerCard(FiledCard):
    """A customer's card, with all ids that are shown under this one."""

    ids: list[str]


def vehicle(logbook: Logbook, identifier: str) -> FiledCard:
    """A vehicle as known now.

    Args:
        logbook: the open logbook [Logbook]
        identifier: its id [text]

    Returns:
        {id, fields, conflicts, heads, visits}; visits newest first, fields empty if it isn't on file [FiledCard]
    """
    with logbook.lock:
        ops = logbook.card_ops("vehicle", identifier)
        return _card(logbook, "vehicle", identifier, {identifier}, ops)


def chart_of(card: Card) -> Chart | None:
    """The maker's chart on a vehicle's card [Chart], or None."""
    # Its shape was checked before it was filed.
    return cast("Chart | None", card["fields"].get("chart"))


def charts_alike(logbook: Logbook, card: FiledCard) -> list[Chart]:
    """The charts of other vehicles of the same make, model and year, for a person to choose from.

    Args:
        logbook: the open logbook [Logbook]
        card: the vehicle's own card [FiledCard]

    Returns:
        each once, the newest visit's first; [] if make, model or year is unknown [Chart each]
    """
    model = _model(card)
    if not all(model):
        return []
    charts: dict[str, Chart] = {}
    with logbook.lock:
        alike = [one for one in logbook.search.vehicles_called(*model[:2]) if one != card["id"]][:ALIKE_MOST]
        visits = logbook.search.visits_by(set(alike))
        for other in (vehicle(logbook, one) for one in alike if _has_chart(logbook, one, visits[one])):
            chart = chart_of(other)
            if chart is not None and _model(other) == model:
                charts.setdefault(canonical(cast(Json, chart)), chart)
    return list(charts.values())[:CHARTS_MOST]


def _has_chart(logbook: Logbook, identifier: str, visits: list[str]) -> bool:
    """Whether anything filed for a vehicle ever set a chart: told by the heads, without folding its visits."""
    card_heads = logbook.card_heads("vehicle", identifier)
    if card_heads is not None and "/chart" in card_heads["heads"]:
        return True
    each = (logbook.visit_heads(visit) for visit in visits[:STATED_MOST])
    return any(heads is not None and "/vehicle/chart" in heads["heads"] for heads in each)


def _model(card: Card) -> tuple[str, str, str]:
    """Make, model and year as compared, "" for each that is unknown [texts]."""
    make, model, year = (without_spaces(str(card["fields"].get(name) or "")) for name in ("make", "model", "year"))
    return make, model, year


def customer(logbook: Logbook, identifier: str) -> CustomerCard:
    """A customer as known now, under the id that remains after all merges.

    Args:
        logbook: the open logbook [Logbook]
        identifier: any id under which the customer was entered [text]

    Returns:
        {id, ids, fields, conflicts, heads, visits}; `ids` are all ids that are shown under this one, visits newest
        first [CustomerCard]
    """
    with logbook.lock:
        ids, ops = connected(logbook, identifier)
        over = card.merged(ops, logbook.kinds)
        root = over.get(identifier, identifier)
        mine = {one for one in ids if over.get(one, one) == root}
        about = [op for op in ops if str(fold.unwrapped(op, logbook.kinds)["body"].get("id", root)) == root]
        return {**_card(logbook, "customer", root, mine, about), "ids": sorted(mine)}


def connected(logbook: Logbook, identifier: str) -> tuple[set[str], list[Op]]:
    """The ids that merges connect with one, and the operations on their cards [texts, Op each]."""
    ids, pending, ops = {identifier}, [identifier], dict[str, Op]()
    while pending:
        for op in logbook.card_ops("customer", pending.pop()):
            ops[op["id"]] = op
            body = fold.unwrapped(op, logbook.kinds)["body"]
            reached = {str(body[name]) for name in ("keep", "drop") if name in body} - ids
            ids |= reached
            pending += sorted(reached)
    return ids, list(ops.values())


def _card(logbook: Logbook, what: str, identifier: str, ids: set[str], ops: list[Op]) -> FiledCard:
    visits = logbook.search.visits_of(what, ids)
    each, _ = each_apart(visits[:STATED_MOST][::-1], lambda visit: _statement(logbook.visit(visit), what, identifier))
    statements = [statement for statement in each if statement is not None]
    return {"id": identifier, **card.card_of(what, statements, ops, logbook.kinds), "visits": visits}


def _statement(visit: Visit, what: str, identifier: str) -> Statement | None:
    """What a visit states about its vehicle or customer; None if nothing."""
    fields = visit.get("vehicle") if what == "vehicle" else visit.get("customer")
    if visit.get("void") or not fields:
        return None
    at = datetime.fromisoformat(visit["started_at"]).timestamp() * 1000
    # The content of a visit came as JSON.
    return {"at": at, "fields": {**cast(JsonObject, fields), "id": identifier}}
