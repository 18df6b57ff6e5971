"""Posting: which views show a journal record, and what it changes on each of them.

Nothing here reads or writes a file; `view_cache` does, and the journal remains the truth.
"""

from __future__ import annotations

from typing import cast

from sync.kernel.books import KindsBook
from sync.kernel.card import subjects_of
from sync.kernel.json_tree import JsonObject
from sync.kernel.operation import Op
from sync.records import change_feed
from sync.records.attention import ASIDE
from sync.records.change_feed import Feed
from sync.records.heads import enter, new_heads, opens
from sync.records.record import BLANK, FiledRecord, actual_digest
from sync.records.sheet_record import UNDERWAY, after, key_of, revision_in, state_of
from sync.records.store.note import Note
from sync.records.views import (
    ERASED_VIEW,
    LOST_VIEW,
    UNDERWAY_VIEW,
    Place,
    View,
    card_view,
    day_view,
    device_view,
    digest_view,
    letter_view,
    month_view,
    sheet_view,
)


def card_views(op: Op, kinds: KindsBook) -> list[tuple[str, str]]:
    """(view, id) of every card that an operation beside the visits belongs to; a merge belongs to both."""
    return [(card_view(what, identifier), identifier) for what, identifier in subjects_of(op, kinds)]


def views_of(filed: FiledRecord, feed: Feed, stretch: int) -> set[str]:
    """The names of all views that a record changes.

    Args:
        filed: the record [FiledRecord]
        feed: what devices are to be told because of it, from `Projection.feed_of` [FeedItem each, by device]
        stretch: as in the store [count]

    Returns:
        their names [texts]
    """
    names: set[str] = set()
    if filed.status in BLANK:
        return {LOST_VIEW} if filed.status == "lost" else names
    note = filed.note
    if note is not None:
        return {*_views_of_note(note), *change_feed.views_of(filed, feed, stretch)}
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
    names.update(change_feed.views_of(filed, feed, stretch))
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
    if folder == "lost":
        view.lost[str(filed.record.number)] = _place(filed)
    elif folder == "refused":
        view.lines.setdefault(actual_digest(filed.record.line), _place(filed))
    elif folder == "devices":
        _post_receipt(view, filed)
    elif folder == "changes":
        change_feed.post(view.feed, filed, feed.get(rest.partition("/")[0], []))
    elif folder == "months":
        _post_month(view, filed)
    elif folder in ("vehicles", "customers"):
        _post_card(view, filed)
    elif (note := filed.note) is not None:
        _post_note(view, filed, note)
    else:
        _post_day(view, filed)


def _place(filed: FiledRecord) -> Place:
    return {"number": filed.record.number}


def _views_of_note(note: Note) -> list[str]:
    visit = note["visit"]
    if note["kind"] == "erasure":
        return [ERASED_VIEW]
    if note["kind"] == ASIDE:
        return []
    if visit is None:
        return [letter_view(note["at"])]
    return [sheet_view(visit), day_view(visit), UNDERWAY_VIEW]


def _post_note(view: View, filed: FiledRecord, note: Note) -> None:
    folder, visit, body = view.name.partition("/")[0], note["visit"], note["body"]
    if folder == "letters":
        view.letters[f"{note['at']} {filed.record.number}"] = _place(filed)
    elif folder == "erased":
        _post_erasure(view, filed, body)
    elif visit is None:
        return
    elif folder == "sheets":
        key = key_of(visit, revision_in(body))
        view.sheets[key] = after(view.sheets.get(key), visit, body, filed.record.number)
    elif folder == "underway":
        _post_underway(view, filed, visit, body)
    elif visit in view.visits and filed.record.number not in view.visits[visit]["notes"]:
        view.visits[visit]["notes"].append(filed.record.number)


def _post_underway(view: View, filed: FiledRecord, visit: str, body: JsonObject) -> None:
    state = state_of(after(None, visit, body, filed.record.number)["record"])
    key = key_of(visit, revision_in(body))
    if state in UNDERWAY:
        view.underway[key] = {**_place(filed), "visit": visit, "revision": revision_in(body)}
    else:
        view.underway.pop(key, None)


def _post_erasure(view: View, filed: FiledRecord, body: JsonObject) -> None:
    # Only an erasure writes this note.
    for erasure in cast(list[JsonObject], body["erasures"]):
        view.erasures[str(erasure["cursor"])] = erasure
    for name in cast(list[str], body["hashes"]):
        view.erased.setdefault(name, _place(filed))


def _post_receipt(view: View, filed: FiledRecord) -> None:
    seq = filed.outline["seq"]
    if seq is not None:
        view.receipts[f"{seq} {filed.record.number}"] = {
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
            # Former names still find it.
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
        view.ops.setdefault(filed.id, _place(filed))
    visit = filed.visit
    if visit is None:
        return
    if view.name.removeprefix("days/") in filed.started_days:
        view.started.setdefault(visit, {})
    if day_view(visit) == view.name:
        heads = view.visits.setdefault(visit, new_heads())
        if all(op["id"] != filed.id for op in heads["ops"]):
            enter(heads, filed)
