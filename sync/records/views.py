"""The pages of the logbook: which page shows what of a journal record, and how a record changes it.

Nothing here reads or writes a file; `view_cache` does, and the journal stays the truth.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from sync.kernel.fold import unwrapped
from sync.records import change_feed
from sync.records.heads import enter, new_visit, opens
from sync.records.record import ERASED, Entry, FiledRecord, Kinds, actual_digest, subject
from sync.records.view_names import card_page, day_page, device_page, digest_page, month_page


@dataclass
class Page:
    """One page in memory: tables of entries by their key, and the journal offset up to which it is complete."""

    name: str
    covers: int = 0
    tables: dict[str, dict[str, Entry]] = field(default_factory=dict)
    changed: bool = False

    def table(self, name: str) -> dict[str, Entry]:
        """A table by its name, made when first asked for."""
        return self.tables.setdefault(name, {})


def card_pages(op: dict[str, Any], kinds: Kinds) -> list[tuple[str, str]]:
    """(page, id) of every card that an operation beside the visits stands on; a merging stands on both."""
    what, identifier = subject(op, kinds)
    inner = unwrapped(op, kinds)
    ids = [identifier]
    if kinds["kinds"][inner["kind"]]["does"] == "merge":
        ids.append(str(inner["body"]["drop"]))
    return [(card_page(what, each), each) for each in ids]


def pages_of(filed: FiledRecord) -> set[str]:
    """The names of all pages that a record changes."""
    names: set[str] = set()
    if filed.status == ERASED:
        return names
    if filed.by_digest:
        names.add(digest_page(actual_digest(filed.record.line)))
    elif filed.id is not None:
        names.add(day_page(filed.id))
    outline = filed.outline
    if filed.is_receipt and outline["device"] is not None and outline["seq"] is not None:
        names.add(device_page(outline["device"], outline["seq"]))
    if filed.in_visit:
        names.add(day_page(filed.op["visit"]))
        names.update(filed.started_days)
        if filed.names or opens(filed.op, filed.kinds):
            names.add(month_page(filed.op["visit"]))
    elif filed.filed:
        names.update(name for name, _ in card_pages(filed.op, filed.kinds))
    names.update(change_feed.pages_of(filed))
    return names


def post(page: Page, filed: FiledRecord) -> None:
    """Enter on a page what a record means for it. Entering a record twice changes nothing.

    Args:
        page: one of `pages_of` the record [Page]
        filed: the record [FiledRecord]
    """
    record = filed.record
    place = {"offset": record.offset, "length": record.length}
    page.changed = True
    if page.name.startswith("refused/"):
        page.table("lines").setdefault(actual_digest(record.line), place)
    elif page.name.startswith("devices/"):
        key = f"{filed.outline['seq']} {record.offset}"
        told = {"seq": filed.outline["seq"], "id": filed.id, "status": filed.status}
        page.table("receipts")[key] = {**told, "digest": record.result["digest"]}
    elif page.name.startswith("changes/"):
        change_feed.post(page.table("feed"), page.name, filed)
    elif page.name.startswith("months/"):
        _post_month(page, filed)
    elif page.name.startswith(("vehicles/", "customers/")):
        _post_card(page, filed)
    else:
        _post_day(page, filed, place)


def _post_month(page: Page, filed: FiledRecord) -> None:
    row = page.table("rows").setdefault(filed.op["visit"], {"also": []})
    for name, value in filed.names:
        before = row.get(name)
        if before and before != value and name in ("plate", "vin", "customer") and before not in row["also"]:
            # What it was once called it is still found by.
            row["also"].append(before)
        row[name] = value


def _post_card(page: Page, filed: FiledRecord) -> None:
    for name, identifier in card_pages(filed.op, filed.kinds):
        if name == page.name:
            entry = page.table("cards").setdefault(identifier, {**new_visit(), "opened": True})
            if all(op["id"] != filed.id for op in entry["ops"]):
                enter(entry, filed)


def _post_day(page: Page, filed: FiledRecord, place: Entry) -> None:
    if not filed.by_digest and filed.id is not None and day_page(filed.id) == page.name:
        page.table("ops").setdefault(filed.id, place)
    if not filed.in_visit:
        return
    visit = filed.op["visit"]
    if page.name in filed.started_days:
        page.table("started").setdefault(visit, {})
    if day_page(visit) == page.name:
        entry = page.table("visits").setdefault(visit, new_visit())
        if all(op["id"] != filed.id for op in entry["ops"]):
            enter(entry, filed)
