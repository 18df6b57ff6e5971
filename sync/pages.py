"""The pages of the logbook: which page shows what of a journal record, and how a record changes it.

Nothing here reads or writes a file; `logbook` does, and the journal stays the truth.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property
from typing import Any

from sync import fold, oplines
from sync.journal import Record

FILED = ("accepted", "conflict")
DAY_MS = 86_400_000
DAYS_TO_1970 = date(1970, 1, 1).toordinal()
RECEIPTS_A_PAGE = 500

# What people look a visit up by, kept beside it so that a list need not fold every visit.
SUMMARY = {
    "/started_at": "started_at",
    "/vehicle/plate": "plate",
    "/vehicle/vin": "vin",
    "/customer/name": "customer",
    "/place/label": "place",
}

Entry = dict[str, Any]


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


class Filed:
    """A journal record, with what its operation says of itself."""

    def __init__(self, record: Record) -> None:
        self.record = record
        self.status = str(record.result["status"])
        self.id: str | None = record.result["id"]

    @cached_property
    def op(self) -> dict[str, Any]:
        """The operation, for one that was filed [JSON object]."""
        parsed: dict[str, Any] = json.loads(self.record.line[oplines.DIGEST_LENGTH + 1 :])
        return parsed

    @cached_property
    def outline(self) -> dict[str, Any]:
        """{id, device, seq, visit}, as far as they can be told [JSON object]."""
        if self.status in FILED:
            return self.op
        return oplines.outline(oplines.parts(self.record.line)[1])

    @property
    def by_digest(self) -> bool:
        """Whether the record is found by its bytes alone: its id is unreadable, spoken for, or not to be trusted."""
        return found_by_digest(self.record.result)


def found_by_digest(result: dict[str, Any]) -> bool:
    """Whether a result belongs on a page of digests rather than under the operation's id."""
    problem = result.get("problem") or {}
    return result["id"] is None or problem.get("code") in ("id_reused", "damaged")


def day_name(ordinal: int) -> str:
    """The page of a day, given as days since 1970; days that no calendar holds have a page as well."""
    try:
        return f"days/{date.fromordinal(DAYS_TO_1970 + ordinal).isoformat()}"
    except (ValueError, OverflowError):
        return f"days/day-{ordinal}"


def day_page(identifier: str) -> str:
    """The page of the UTC day in a UUID version 7."""
    return day_name(oplines.made_ms(identifier) // DAY_MS)


def local_day_page(started_at: str) -> str:
    """The page of the local day on which a visit started."""
    return f"days/{datetime.fromisoformat(started_at).date().isoformat()}"


def digest_page(digest: str) -> str:
    """The page that finds a refused line by its bytes."""
    return f"refused/{digest[:2]}"


def device_page(device: str, seq: int) -> str:
    """The page with a device's receipts round a seq; twelve digits, so that names sort as numbers do."""
    return f"devices/{device}/{seq // RECEIPTS_A_PAGE:014d}"


def actual_digest(line: bytes) -> str:
    """The digest of the bytes a line carries, whatever it claims."""
    return oplines.digest(oplines.parts(line)[1])


def started_days(filed: Filed, kinds: dict[str, Any]) -> list[str]:
    """The pages of the local days that an operation says its visit started on."""
    found = []
    for pointer, value in _leaves(filed, kinds):
        if pointer == "/started_at" and isinstance(value, str):
            found.append(local_day_page(value))
    return found


def _leaves(filed: Filed, kinds: dict[str, Any]) -> list[tuple[str, Any]]:
    return fold.leaves(filed.op["body"], filed.op["kind"], kinds)


def pages_of(filed: Filed, kinds: dict[str, Any]) -> set[str]:
    """The names of all pages that a record changes."""
    names = set()
    if filed.by_digest:
        names.add(digest_page(actual_digest(filed.record.line)))
    elif filed.id is not None:
        names.add(day_page(filed.id))
    outline = filed.outline
    if outline["device"] is not None and outline["seq"] is not None:
        names.add(device_page(outline["device"], outline["seq"]))
    if filed.status in FILED:
        names.add(day_page(filed.op["visit"]))
        names.update(started_days(filed, kinds))
    return names


def post(page: Page, filed: Filed, kinds: dict[str, Any]) -> None:
    """Enter on a page what a record means for it. Entering a record twice changes nothing.

    Args:
        page: one of `pages_of` the record [Page]
        filed: the record [Filed]
        kinds: the rulebook's `kinds` book [JSON object]
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
    else:
        _post_day(page, filed, place, kinds)


def _post_day(page: Page, filed: Filed, place: Entry, kinds: dict[str, Any]) -> None:
    if not filed.by_digest and filed.id is not None and day_page(filed.id) == page.name:
        page.table("ops").setdefault(filed.id, place)
    if filed.status not in FILED:
        return
    visit = filed.op["visit"]
    if page.name in started_days(filed, kinds):
        page.table("started").setdefault(visit, {})
    if day_page(visit) == page.name:
        entry = page.table("visits").setdefault(visit, new_visit())
        if all(op["id"] != filed.id for op in entry["ops"]):
            enter(entry, filed, kinds)


def new_visit() -> Entry:
    """The entry of a visit of which nothing is filed yet."""
    return {"opened": False, "ops": [], "heads": {}, "stand_ins": {}, "summary": {}}


def enter(entry: Entry, filed: Filed, kinds: dict[str, Any]) -> None:
    """Add a filed operation to its visit's entry: its place, the new heads, the summary."""
    op, record = filed.op, filed.record
    told = {"id": op["id"], "digest": record.result["digest"], "status": filed.status}
    told |= {"device": op["device"], "seq": op["seq"], "offset": record.offset, "length": record.length}
    entry["ops"].append(told)
    set_heads(entry, op, kinds)
    for pointer, value in _leaves(filed, kinds):
        if pointer in SUMMARY:
            entry["summary"][SUMMARY[pointer]] = value


def set_heads(entry: Entry, op: dict[str, Any], kinds: dict[str, Any]) -> None:
    """Move the heads of what an operation sets: what it builds on or settles goes, it comes."""
    if kinds["kinds"][op["kind"]].get("opens") or _mends_an_opening(op, kinds):
        entry["opened"] = True
    if op["kind"] == "op.mend":
        entry["stand_ins"][op["body"]["replaces"]] = op["id"]
    for pointer, _ in fold.leaves(op["body"], op["kind"], kinds):
        gone = superseded(entry, op, pointer)
        entry["heads"][pointer] = [head for head in entry["heads"].get(pointer, []) if head not in gone] + [op["id"]]


def _mends_an_opening(op: dict[str, Any], kinds: dict[str, Any]) -> bool:
    return op["kind"] == "op.mend" and bool(kinds["kinds"].get(op["body"]["kind"], {}).get("opens"))


def superseded(entry: Entry, op: dict[str, Any], pointer: str) -> list[str]:
    """The ids that an operation follows on one pointer; a mended one is followed where its mending stands."""
    named = [op["base"].get(pointer)]
    inner = op["body"] if op["kind"] != "op.mend" else op["body"]["body"]
    if op["kind"] == "conflict.settle" or op["body"].get("kind") == "conflict.settle":
        named += inner["of"]
    return [entry["stand_ins"].get(name, name) for name in named if name is not None]


def disagrees(entry: Entry, op: dict[str, Any], kinds: dict[str, Any]) -> bool:
    """Whether an operation sets something that others set meanwhile, so that a person must settle it.

    Args:
        entry: its visit, before the operation [JSON object]
        op: the operation [JSON object]
        kinds: the rulebook's `kinds` book [JSON object]

    Returns:
        True where on some pointer none of the heads is one that the operation names [bool]
    """
    for pointer, _ in fold.leaves(op["body"], op["kind"], kinds):
        heads = entry["heads"].get(pointer, [])
        if heads and not set(heads) & set(superseded(entry, op, pointer)):
            return True
    return False


def not_seen(entry: Entry, op: dict[str, Any]) -> list[str]:
    """The ids that an operation builds on and that are not filed with its visit [op ids]."""
    known = {filed["id"] for filed in entry["ops"]} | entry["stand_ins"].keys()
    inner = op["body"]["body"] if op["kind"] == "op.mend" else op["body"]
    named = [base for base in op["base"].values() if base is not None]
    if "of" in inner and (op["kind"] == "conflict.settle" or op["body"].get("kind") == "conflict.settle"):
        named += inner["of"]
    return sorted({name for name in named if name not in known})
