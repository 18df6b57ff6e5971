"""Posting: which views a journal record stands on, and what it changes on each of them.

Nothing here reads or writes a file; `view_cache` does, and the journal stays the truth.
"""

from __future__ import annotations

from typing import cast

from sync.kernel.books import KindsBook
from sync.kernel.card import subjects_of
from sync.kernel.json_tree import JsonObject
from sync.kernel.operation import Op
from sync.records import change_feed
from sync.records.change_feed import Feed
from sync.records.heads import enter, new_heads, opens
from sync.records.record import ERASED, FiledRecord, actual_digest
from sync.records.views import View, card_view, day_view, device_view, digest_view, month_view


def card_views(op: Op, kinds: KindsBook) -> list[tuple[str, str]]:
    """(view, id) of every card that an operation beside the visits stands on; a merging stands on both."""
    return [(card_view(what, identifier), identifier) for what, identifier in subjects_of(op, kinds)]


def views_of(filed: FiledRecord, feed: Feed) -> set[str]:
    """The names of all views that a record changes.

    Args:
        filed: the record [FiledRecord]
        feed: what devices are to be told because of it, as `Logbook.feed_of` gives it [FeedItem each, by device]

    Returns:
        their names [texts]
    """
    names: set[str] = set()
    if filed.status == ERASED:
        return names
    if filed.by_digest:
        names.add(digest_view(actual_digest(filed.record.line)))
    elif filed.id is not None:
        names.add(day_view(filed.id))
    outline = filed.outline
    if filed.is_receipt and outline["device"] is not None and outline["seq"] is not None:
        names.add(device_view(outline["device"], outline["seq"]))
    visit = filed.visit
    if visit is not None:
        names.add(day_view(visit))
        names.update(f"days/{day}" for day in filed.started_days)
        if filed.names or opens(filed.op, filed.kinds):
            names.add(month_view(visit))
    elif filed.filed:
        names.update(name for name, _ in card_views(filed.op, filed.kinds))
    names.update(change_feed.views_of(filed, feed))
    return names


def post(view: View, filed: FiledRecord, feed: Feed) -> None:
    """Enter on a view what a record means for it. Entering a record twice changes nothing.

    Args:
        view: one of `views_of` the record; changed [View]
        filed: the record [FiledRecord]
        feed: as for `views_of` [FeedItem each, by device]
    """
    view.changed = True
    folder, _, rest = view.name.partition("/")
    if folder == "refused":
        view.lines.setdefault(actual_digest(filed.record.line), filed.record.place)
    elif folder == "devices":
        _post_receipt(view, filed)
    elif folder == "changes":
        change_feed.post(view.feed, filed, feed.get(rest.partition("/")[0], []))
    elif folder == "months":
        _post_month(view, filed)
    elif folder in ("vehicles", "customers"):
        _post_card(view, filed)
    else:
        _post_day(view, filed)


def _post_receipt(view: View, filed: FiledRecord) -> None:
    seq = filed.outline["seq"]
    if seq is not None:
        view.receipts[f"{seq} {filed.record.offset}"] = {
            "seq": seq, "id": filed.id, "status": filed.status, "digest": filed.record.result["digest"],
        }


def _post_month(view: View, filed: FiledRecord) -> None:
    visit = filed.visit
    if visit is None:
        return
    row = view.rows.setdefault(visit, {"also": []})
    # What a record names are fields of a row.
    fields = cast(JsonObject, row)
    for name, value in filed.names:
        before = fields.get(name)
        if name in ("plate", "vin", "customer") and before and before != value and before not in row["also"]:
            # What it was once called it is still found by.
            row["also"].append(before)
        fields[name] = value


def _post_card(view: View, filed: FiledRecord) -> None:
    for name, identifier in card_views(filed.op, filed.kinds):
        if name == view.name:
            heads = view.cards.setdefault(identifier, {**new_heads(), "opened": True})
            if all(op["id"] != filed.id for op in heads["ops"]):
                enter(heads, filed)


def _post_day(view: View, filed: FiledRecord) -> None:
    if not filed.by_digest and filed.id is not None and day_view(filed.id) == view.name:
        view.ops.setdefault(filed.id, filed.record.place)
    visit = filed.visit
    if visit is None:
        return
    if view.name.removeprefix("days/") in filed.started_days:
        view.started.setdefault(visit, {})
    if day_view(visit) == view.name:
        heads = view.visits.setdefault(visit, new_heads())
        if all(op["id"] != filed.id for op in heads["ops"]):
            enter(heads, filed)
