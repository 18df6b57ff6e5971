"""What is held about one customer: found by id, mail address, telephone, name or visit, and handed out as files.

Nothing here changes a record; `erasure` does, from what is found here.
"""

from __future__ import annotations

import json
import os
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, cast

from sync.errors import LaybyError
from sync.isolation import Odd, apart
from sync.kernel.operation import Op
from sync.kernel.visit import Visit
from sync.records.image_headers import NotAPhoto, head_of
from sync.records.locks import ALONE
from sync.records.logbook import Logbook, UnknownVisit
from sync.records.photos import PhotoStore
from sync.records.record import ERASED, FILED, FiledRecord, kind_and_body
from sync.records.safe_files import sync_folder
from sync.wire import op_line

_PHOTO = re.compile(rb'"sha256"\s*:\s*"([0-9a-f]{64})"')
_DIGITS = re.compile(r"\D+")
# Fewer digits than these are no telephone number that could be meant.
_PHONE_DIGITS = 5
ENDINGS = {"image/jpeg": "jpg", "image/png": "png", "image/webp": "webp"}
OF_VISITS = ("sheets", "outgoing", "spool")


class UnknownCustomer(LaybyError):
    """Nothing that is filed names that customer."""

    code = "unknown_customer"


@dataclass
class Held:
    """What is held about a customer.

    `visits` are folded, by id, oldest first; `customers` and `vehicles` the ids of cards that are of no other's visit;
    `records` the journal's records, refused ones among them; `photos` those that no other visit shows; `devices` those
    that took part.
    """

    visits: dict[str, Visit]
    customers: set[str] = field(default_factory=set)
    vehicles: set[str] = field(default_factory=set)
    records: list[FiledRecord] = field(default_factory=list)
    photos: set[str] = field(default_factory=set)
    devices: set[str] = field(default_factory=set)


def held_about(logbook: Logbook, wanted: str) -> Held:
    """Everything that is held about a customer.

    Args:
        logbook: the open logbook [Logbook]
        wanted: the customer's id, mail address, telephone or name as it stands in a visit now, in any capitals and
            spaces; or the id of a visit, which then is meant alone [text]

    Returns:
        what is held [Held]

    Raises:
        UnknownCustomer: no visit is found by it.
    """
    with logbook.writing():
        if op_line.is_id(wanted) and logbook.visit_heads(wanted) is not None:
            visits, customers = {wanted: _folded(logbook, wanted, {})}, set[str]()
        else:
            visits, customers = _visits_of(logbook, wanted)
        if not visits:
            raise UnknownCustomer(customer=wanted)
        return _gathered(logbook, Held(dict(sorted(visits.items())), customers))


# Finding the visits --------------------------------------------------------------------------------------------------


def _plain(text: Any) -> str:
    return " ".join(str(text).casefold().split())


def _matches(customer: dict[str, Any], wanted: str) -> bool:
    if any(_plain(customer[key]) == _plain(wanted) for key in ("id", "email", "name") if customer.get(key)):
        return True
    digits = _DIGITS.sub("", wanted)
    phone = _DIGITS.sub("", str(customer.get("phone") or ""))
    return len(digits) >= _PHONE_DIGITS and not re.search("[a-z]", wanted.casefold()) and phone == digits


def _filed(logbook: Logbook) -> Iterator[FiledRecord]:
    for record in logbook.journal.records():
        filed = FiledRecord(record, logbook.kinds)
        if filed.status != ERASED:
            yield filed


def _unwrapped(op: Op) -> tuple[str, dict[str, Any]]:
    """The kind and body of an operation, or of the one that a mending stands for."""
    return kind_and_body(op)


def _visits_of(logbook: Logbook, wanted: str) -> tuple[dict[str, Visit], set[str]]:
    """The visits whose customer is the one wanted, and the ids that the customer goes by."""
    said: dict[str, list[dict[str, Any]]] = {}
    ids: set[str] = set()
    merged: list[set[str]] = []
    for filed in _filed(logbook):
        if filed.status not in FILED or b'"customer' not in filed.record.line:
            continue
        kind, body = _unwrapped(filed.op)
        if kind == "customer.merge":
            merged.append({str(body["keep"]), str(body["drop"])})
        elif kind == "customer.set" and _matches(body, wanted):
            ids.add(str(body["id"]))
        elif filed.op["visit"] is not None and isinstance(body.get("set", body).get("customer"), dict):
            said.setdefault(filed.op["visit"], []).append(body.get("set", body)["customer"])
    found = {visit: _folded(logbook, visit, customers[-1]) for visit, customers in said.items()
             if any(_matches(customer, wanted) for customer in customers)}
    found = {visit: folded for visit, folded in found.items()
             if _matches(cast(dict[str, Any], folded.get("customer") or {}), wanted)}
    ids |= {str(folded["customer"]["id"]) for folded in found.values() if folded["customer"].get("id")}
    for _ in merged:
        for pair in merged:
            ids |= pair if pair & ids else set()
    for visit in _with_ids(said, ids) - found.keys():
        folded = _folded(logbook, visit, said[visit][-1])
        if (folded.get("customer") or {}).get("id") in ids:
            found[visit] = folded
    return found, ids


def _folded(logbook: Logbook, visit_id: str, customer: dict[str, Any]) -> Visit:
    """A visit; of one that cannot be worked out its id and what was last said of its customer: it goes along."""

    def listable() -> Visit:
        visit = logbook.visit(visit_id)
        row(visit)
        return visit

    visit = apart(visit_id, listable, UnknownVisit)
    return cast(Visit, {"id": visit_id, "customer": customer}) if isinstance(visit, Odd) else visit


def _with_ids(said: dict[str, list[dict[str, Any]]], ids: set[str]) -> set[str]:
    return {visit for visit, customers in said.items() if any(customer.get("id") in ids for customer in customers)}


# Gathering what belongs to them --------------------------------------------------------------------------------------


def _gathered(logbook: Logbook, held: Held) -> Held:
    vehicles = {str(visit["vehicle"]["id"]) for visit in held.visits.values() if (visit.get("vehicle") or {}).get("id")}
    photos_elsewhere: set[str] = set()
    cards: list[tuple[str, FiledRecord]] = []
    names = sorted({*held.visits, *held.customers, *vehicles})
    named = re.compile(b"|".join(re.escape(name.encode("utf-8")) for name in names))
    for filed in _filed(logbook):
        if not named.search(filed.record.line):
            # Most lines; what is not named in them need not be read.
            photos_elsewhere.update(name.decode("ascii") for name in _PHOTO.findall(filed.record.line))
            continue
        visit = filed.outline["visit"]
        shown = {name.decode("ascii") for name in _PHOTO.findall(filed.record.line)}
        if visit in held.visits or (visit is None and _is_refused_for(filed, held)):
            held.records.append(filed)
            held.photos |= shown
        elif filed.status in FILED and visit is None:
            cards += [(card, filed) for card in _cards_of(filed.op)]
        else:
            photos_elsewhere |= shown
            if b'"vehicle"' in filed.record.line:
                vehicles -= _vehicles_in(filed)
    held.photos -= photos_elsewhere
    held.vehicles = vehicles
    about = {*vehicles, *held.customers, *held.visits}
    mine = {id(filed): filed for card, filed in cards if card in about}
    held.records = sorted([*held.records, *mine.values()], key=_offset)
    held.devices = {str(filed.outline["device"]) for filed in held.records if filed.outline["device"]}
    return held


def _is_refused_for(filed: FiledRecord, held: Held) -> bool:
    """Whether a refused line names the customer somewhere, where it is of no visit or too damaged to say of which."""
    names = (*held.visits, *held.customers)
    return filed.status not in FILED and any(f'"{name}"'.encode() in filed.record.line for name in names)


def _offset(filed: FiledRecord) -> int:
    return filed.record.offset


def _cards_of(op: Op) -> list[str]:
    """The ids of vehicles, customers and visits that an operation beside the visits is about."""
    _, body = _unwrapped(op)
    return [str(body[key]) for key in ("id", "vehicle", "visit", "keep", "drop") if isinstance(body.get(key), str)]


def _vehicles_in(filed: FiledRecord) -> set[str]:
    if filed.status not in FILED:
        return set()
    _, body = _unwrapped(filed.op)
    vehicle = body.get("set", body).get("vehicle")
    return {str(vehicle["id"])} if isinstance(vehicle, dict) and vehicle.get("id") else set()


# Handing it out ------------------------------------------------------------------------------------------------------

ABOUT = """What is held about one customer, as of {at}.

visits/    each visit as one JSON file: numbers in the unit that their name ends in
entries/   every entry as it was made on the phone, one a line: its SHA-256 and its JSON
sheets/    the job sheets, as PDF
letters/   the letters with the sheets, as a mail program opens them
photos/    the photos, named by their SHA-256
"""


def export(logbook: Logbook, wanted: str, file: Path, now_ms: int) -> dict[str, Any]:
    """Write everything that is held about a customer into one zip file of readable files.

    Args:
        logbook: the open logbook [Logbook]
        wanted: as for `held_about` [text]
        file: where to write; replaced whole [path]
        now_ms: the time to note [ms since 1970]

    Returns:
        {file, visits: rows as from `row`, photos: how many} [JSON object]

    Raises:
        UnknownCustomer: nothing is found.
        OSError: the disk did not take it; an earlier file of that name stands.
    """
    with ALONE:
        return _exported(logbook, held_about(logbook, wanted), file, now_ms)


def _exported(logbook: Logbook, held: Held, file: Path, now_ms: int) -> dict[str, Any]:
    beside = file.with_name(f".{file.name}.new")
    try:
        with open(beside, "wb", opener=lambda path, flags: os.open(path, flags, 0o600)) as written:
            with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as archive:
                at = datetime.fromtimestamp(now_ms / 1000, UTC).isoformat(timespec="minutes")
                archive.writestr("README.txt", ABOUT.format(at=at))
                photos = _put_all(archive, logbook, held)
            written.flush()
            os.fsync(written.fileno())
        os.replace(beside, file)
    except OSError:
        if beside.is_file():
            beside.unlink()
        raise
    sync_folder(file.parent)
    return {"file": str(file), "visits": [row(visit) for visit in held.visits.values()], "photos": photos}


def _put_all(archive: zipfile.ZipFile, logbook: Logbook, held: Held) -> int:
    for visit_id, visit in held.visits.items():
        archive.writestr(f"visits/{visit_id}.json", json.dumps(visit, ensure_ascii=False, indent=1) + "\n")
        for folder in OF_VISITS:
            for path in files_of(logbook.folder / folder, visit_id):
                archive.writestr(f"{'sheets' if folder == 'sheets' else 'letters'}/{path.name}", path.read_bytes())
    entries: dict[str, bytes] = {}
    for filed in held.records:
        name = filed.outline["visit"] or "beside-the-visits"
        entries[name] = entries.get(name, b"") + filed.record.line + b"\n"
    for name, lines in entries.items():
        archive.writestr(f"entries/{name}.txt", lines)
    return _put_photos(archive, logbook, held)


def _put_photos(archive: zipfile.ZipFile, logbook: Logbook, held: Held) -> int:
    """All photos that the visits show, those that another visit shows as well among them."""
    store, count = PhotoStore(logbook.folder, logbook.floor_bytes), 0
    names = {one["sha256"] for visit in held.visits.values() for one in visit.get("photos") or []} | held.photos
    for name in sorted(names):
        content = store.bytes_of(name)
        if content is not None:
            archive.writestr(f"photos/{name}.{_ending(content)}", content)
            count += 1
    return count


def _ending(content: bytes) -> str:
    try:
        return ENDINGS[head_of(content).media_type]
    except NotAPhoto:
        return "bin"


def files_of(folder: Path, visit_id: str) -> list[Path]:
    """The files in a folder that are of one visit: their names begin with its id [paths]."""
    return sorted(folder.glob(f"{visit_id}-*"))


def row(visit: Visit) -> dict[str, Any]:
    """What a person knows a visit by: {visit, started_at, name, email, phone, vehicle} [JSON object]."""
    customer, vehicle = visit.get("customer") or {}, visit.get("vehicle") or {}
    told = {key: customer.get(key) for key in ("name", "email", "phone")}
    named = [str(vehicle[key]) for key in ("make", "model", "plate") if vehicle.get(key)]
    return {"visit": visit["id"], "started_at": visit.get("started_at"), **told, "vehicle": " ".join(named) or None}
