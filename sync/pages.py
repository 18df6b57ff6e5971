"""The pages of the logbook: which page shows what of a journal record, and how a record changes it.

Nothing here reads or writes a file; `logbook` does, and the journal stays the truth.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property, lru_cache
from typing import Any

from sync import feed, fold, oplines
from sync.journal import Record

FILED = ("accepted", "conflict")
ERASED = "erased"
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

# What a visit is found by, on the page of its month; the order is that of the fields of a row.
FOUND_BY = {
    "/started_at": "started_at",
    "/vehicle/id": "vehicle",
    "/vehicle/plate": "plate",
    "/vehicle/vin": "vin",
    "/vehicle/make": "make",
    "/vehicle/model": "model",
    "/customer/id": "customer_id",
    "/customer/name": "customer",
    "/outcome": "outcome",
}

Entry = dict[str, Any]
Kinds = dict[str, Any]
Leaf = tuple[str, Any]


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
    """A journal record, with what its operation says of itself; what was just read anyway can be given to it."""

    def __init__(self, record: Record, kinds: Kinds, op: dict[str, Any] | None = None) -> None:
        self.record = record
        self.kinds = kinds
        if op is not None:
            self.op = op
        # The operations of the same visit that were filed before this one, as its entry lists them.
        self.before: list[Entry] = []
        # The devices that take part in the vehicle or customer of one beside the visits.
        self.parties: list[str] = []
        self.status = str(record.result["status"])
        self.id: str | None = record.result["id"]

    def placed(self, record: Record) -> Filed:
        """The same operation under the record that it was given in the journal."""
        made = Filed(record, self.kinds, self.op)
        made.leaves = self.leaves
        return made

    @cached_property
    def op(self) -> dict[str, Any]:
        """The operation, for one that was filed [JSON object]."""
        parsed: dict[str, Any] = json.loads(self.record.line[oplines.DIGEST_LENGTH + 1 :])
        return parsed

    @cached_property
    def leaves(self) -> list[Leaf]:
        """What the operation sets, for one that was filed [(pointer, value) each]."""
        return fold.leaves(self.op["body"], self.op["kind"], self.kinds)

    @cached_property
    def subject(self) -> tuple[str, str]:
        """What a filed operation is about: ("visit", its id), or ("vehicle" or "customer", its id)."""
        return subject(self.op, self.kinds)

    @property
    def filed(self) -> bool:
        """Whether the operation counts, rather than being kept aside."""
        return self.status in FILED

    @property
    def in_visit(self) -> bool:
        """Whether the record is a filed operation of a visit."""
        return self.filed and self.op["visit"] is not None

    @cached_property
    def told(self) -> dict[str, list[Entry]]:
        """What each device has to be told because of the record; `before` and `parties` must be set."""
        return feed.entries(self)

    @cached_property
    def names(self) -> list[Leaf]:
        """The leaves that a visit is found by, as (field of a row, value)."""
        return [(FOUND_BY[pointer], value) for pointer, value in self.leaves if pointer in FOUND_BY]

    @cached_property
    def started_days(self) -> list[str]:
        """The pages of the local days that the operation says its visit started on."""
        return [local_day_page(value) for pointer, value in self.leaves if pointer == "/started_at" and value]

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


@lru_cache(maxsize=4096)
def day_page(identifier: str) -> str:
    """The page of the UTC day in a UUID version 7."""
    return day_name(oplines.made_ms(identifier) // DAY_MS)


def local_day_page(started_at: str) -> str:
    """The page of the local day on which a visit started."""
    return f"days/{datetime.fromisoformat(started_at).date().isoformat()}"


@lru_cache(maxsize=4096)
def month_page(visit: str) -> str:
    """The page of the UTC month in a visit's id, where visits are found by what they are called."""
    return f"months/{day_page(visit).removeprefix('days/')[:7]}"


def card_page(what: str, identifier: str) -> str:
    """The page with the card of a vehicle or customer: one of 4096 of its sort, so that each stays small."""
    return f"{what}s/{hashlib.sha256(identifier.encode()).hexdigest()[:3]}"


def subject(op: dict[str, Any], kinds: Kinds) -> tuple[str, str]:
    """What an operation, or the one that a mending stands for, is about: its sort and its id."""
    if op["visit"] is not None:
        return "visit", str(op["visit"])
    inner = fold.unwrapped(op, kinds)
    rule = kinds["kinds"][inner["kind"]]
    return str(rule["of"]), str(inner["body"][rule["key"]])


def card_pages(op: dict[str, Any], kinds: Kinds) -> list[tuple[str, str]]:
    """(page, id) of every card that an operation beside the visits stands on; a merging stands on both."""
    what, identifier = subject(op, kinds)
    inner = fold.unwrapped(op, kinds)
    ids = [identifier]
    if kinds["kinds"][inner["kind"]]["does"] == "merge":
        ids.append(str(inner["body"]["drop"]))
    return [(card_page(what, each), each) for each in ids]


def digest_page(digest: str) -> str:
    """The page that finds a refused line by its bytes."""
    return f"refused/{digest[:2]}"


def device_page(device: str, seq: int) -> str:
    """The page with a device's receipts round a seq; fourteen digits, so that names sort as numbers do."""
    return f"devices/{device}/{seq // RECEIPTS_A_PAGE:014d}"


def actual_digest(line: bytes) -> str:
    """The digest of the bytes a line carries, whatever it claims."""
    return oplines.digest(oplines.parts(line)[1])


def pages_of(filed: Filed) -> set[str]:
    """The names of all pages that a record changes."""
    names: set[str] = set()
    if filed.status == ERASED:
        return names
    if filed.by_digest:
        names.add(digest_page(actual_digest(filed.record.line)))
    elif filed.id is not None:
        names.add(day_page(filed.id))
    outline = filed.outline
    if outline["device"] is not None and outline["seq"] is not None:
        names.add(device_page(outline["device"], outline["seq"]))
    if filed.in_visit:
        names.add(day_page(filed.op["visit"]))
        names.update(filed.started_days)
        if filed.names or opens(filed.op, filed.kinds):
            names.add(month_page(filed.op["visit"]))
    elif filed.filed:
        names.update(name for name, _ in card_pages(filed.op, filed.kinds))
    names.update(feed.pages_of(filed))
    return names


def post(page: Page, filed: Filed) -> None:
    """Enter on a page what a record means for it. Entering a record twice changes nothing.

    Args:
        page: one of `pages_of` the record [Page]
        filed: the record [Filed]
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
        feed.post(page.table("feed"), page.name, filed)
    elif page.name.startswith("months/"):
        _post_month(page, filed)
    elif page.name.startswith(("vehicles/", "customers/")):
        _post_card(page, filed)
    else:
        _post_day(page, filed, place)


def _post_month(page: Page, filed: Filed) -> None:
    row = page.table("rows").setdefault(filed.op["visit"], {"also": []})
    for name, value in filed.names:
        before = row.get(name)
        if before and before != value and name in ("plate", "vin", "customer") and before not in row["also"]:
            # What it was once called it is still found by.
            row["also"].append(before)
        row[name] = value


def _post_card(page: Page, filed: Filed) -> None:
    for name, identifier in card_pages(filed.op, filed.kinds):
        if name == page.name:
            entry = page.table("cards").setdefault(identifier, {**new_visit(), "opened": True})
            if all(op["id"] != filed.id for op in entry["ops"]):
                enter(entry, filed)


def _post_day(page: Page, filed: Filed, place: Entry) -> None:
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


def new_visit() -> Entry:
    """The entry of a visit of which nothing is filed yet."""
    return {"opened": False, "ops": [], "heads": {}, "stand_ins": {}, "summary": {}}


def draft_of(entry: Entry) -> Entry:
    """A copy of a visit's entry that `set_heads` and new operations may change without changing the entry."""
    return {
        "opened": entry["opened"],
        "ops": list(entry["ops"]),
        "heads": dict(entry["heads"]),
        "stand_ins": dict(entry["stand_ins"]),
    }


def enter(entry: Entry, filed: Filed) -> None:
    """Add a filed operation to its visit's entry: its place, the new heads, the summary."""
    op, record = filed.op, filed.record
    told = {"id": op["id"], "digest": record.result["digest"], "status": filed.status}
    told |= {"device": op["device"], "seq": op["seq"], "offset": record.offset, "length": record.length}
    entry["ops"].append(told)
    set_heads(entry, filed)
    for pointer, value in filed.leaves:
        if pointer in SUMMARY:
            entry["summary"][SUMMARY[pointer]] = value


def opens(op: dict[str, Any], kinds: Kinds) -> bool:
    """Whether an operation opens its visit, or mends one that does."""
    kind = op["body"]["kind"] if op["kind"] == "op.mend" else op["kind"]
    return bool(kinds["kinds"][kind].get("opens"))


def set_heads(entry: Entry, filed: Filed) -> None:
    """Move the heads of what an operation sets: what it builds on or settles goes, it comes."""
    op, heads = filed.op, entry["heads"]
    if opens(op, filed.kinds):
        entry["opened"] = True
    if op["kind"] == "op.mend":
        _stand_in(entry["stand_ins"], op, {pointer for pointer, _ in filed.leaves})
    for pointer, _ in filed.leaves:
        before = heads.get(pointer)
        if before:
            gone = superseded(entry, op, pointer)
            before = [head for head in before if head not in gone]
        heads[pointer] = [*(before or ()), op["id"]]


def _stand_in(stand_ins: dict[str, str], op: dict[str, Any], pointers: set[str]) -> None:
    """Note what stands for a mended operation: its mending, and on a pointer left out what the mending builds on."""
    replaced = op["body"]["replaces"]
    stand_ins[replaced] = op["id"]
    for pointer, base in op["base"].items():
        if base is not None and pointer not in pointers:
            stand_ins[f"{replaced} {pointer}"] = base


def standing(entry: Entry, name: str, pointer: str) -> str:
    """The id of what stands for an operation on a pointer; itself where nobody mended it."""
    stand_ins = entry["stand_ins"]
    for _ in stand_ins:
        found = stand_ins.get(f"{name} {pointer}") or stand_ins.get(name)
        if found is None:
            break
        name = found
    return name


def settled(op: dict[str, Any]) -> list[str]:
    """The ids that a settling operation, a correction, or the mending of one, names as settled [op ids]."""
    kind, body = op["kind"], op["body"]
    if kind == "op.mend":
        kind, body = body["kind"], body["body"]
    return list(body.get("of") or []) if kind in ("conflict.settle", "vehicle.set", "customer.set") else []


def superseded(entry: Entry, op: dict[str, Any], pointer: str) -> list[str]:
    """The ids that an operation follows on one pointer; a mended one is followed where its mending stands."""
    named = [op["base"].get(pointer), *settled(op)]
    return [standing(entry, name, pointer) for name in named if name is not None]


def disagrees(entry: Entry, filed: Filed) -> bool:
    """Whether an operation sets something that others set meanwhile, so that a person must settle it.

    Args:
        entry: its visit, before the operation [JSON object]
        filed: the operation [Filed]

    Returns:
        True where on some pointer none of the heads is one that the operation names [bool]
    """
    for pointer, _ in filed.leaves:
        heads = entry["heads"].get(pointer)
        if heads and not set(heads) & set(superseded(entry, filed.op, pointer)):
            return True
    return False


def not_seen(entry: Entry, op: dict[str, Any]) -> list[str]:
    """The ids that an operation builds on and that are not filed with its visit [op ids]."""
    named = {base for base in (*op["base"].values(), *settled(op)) if base is not None}
    if not named:
        return []
    return sorted(named - {filed["id"] for filed in entry["ops"]} - entry["stand_ins"].keys())
