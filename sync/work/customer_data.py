"""The data on one customer: found by id, mail address, telephone, name or visit, with everything that belongs to it.

Nothing here changes a record or writes a file; `erasure` and `customer_export` do, with what is found here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TypedDict, cast

from sync.errors import LaybyError
from sync.isolation import Odd, apart
from sync.kernel.json_tree import Json, JsonObject
from sync.kernel.operation import Op
from sync.kernel.visit import Visit
from sync.records.change_feed import handed_among
from sync.records.logbook import Logbook, UnknownVisit
from sync.records.record import BLANK, FILED, FiledRecord, kind_and_body
from sync.wire import op_line

_PHOTO = re.compile(rb'"sha256"\s*:\s*"([0-9a-f]{64})"')
_DIGITS = re.compile(r"\D+")
# With fewer digits than this, it isn't a telephone number that could be meant.
_PHONE_DIGITS = 5


class UnknownCustomer(LaybyError):
    """Nothing on file names that customer."""

    code = "unknown_customer"


@dataclass
class CustomerData:
    """All data on a customer.

    `visits` are folded, by id, oldest first; `customers` and `vehicles` are the ids of cards that belong to no other
    customer's visit; `records` are the journal's records, including refused ones and notes on sheets; `photos` are
    those that no other visit shows; `devices` are those that took part.
    """

    visits: dict[str, Visit]
    customers: set[str] = field(default_factory=set)
    vehicles: set[str] = field(default_factory=set)
    records: list[FiledRecord] = field(default_factory=list)
    photos: set[str] = field(default_factory=set)
    devices: set[str] = field(default_factory=set)

    @property
    def entries(self) -> list[FiledRecord]:
        """The records that are somebody's entries, without the desk's notes on sheets [FiledRecord each]."""
        return [filed for filed in self.records if filed.note is None]


class CustomerVisit(TypedDict):
    """What a person recognises a visit of a customer by."""

    visit: str
    started_at: str | None
    name: str | None
    email: str | None
    phone: str | None
    vehicle: str | None


def data_about(logbook: Logbook, wanted: str) -> CustomerData:
    """All data on a customer.

    Args:
        logbook: the open logbook [Logbook]
        wanted: the customer's id, mail address, telephone or name as now in a visit, in any capitals and spaces; or the
            id of a visit, which then is meant alone [text]

    Returns:
        the data [CustomerData]

    Raises:
        UnknownCustomer: it matches no visit.
    """
    if op_line.is_id(wanted) and logbook.visit_heads(wanted) is not None:
        visits, customers = {wanted: _folded(logbook, wanted, {})}, set[str]()
    else:
        visits, customers = _visits_of(logbook, wanted)
    if not visits:
        raise UnknownCustomer(customer=wanted)
    return _gathered(logbook, CustomerData(dict(sorted(visits.items())), customers))


def row(visit: Visit) -> CustomerVisit:
    """What a person recognises a visit by [CustomerVisit]."""
    customer, vehicle = visit.get("customer") or {}, visit.get("vehicle") or {}
    words = [word for word in (vehicle.get("make"), vehicle.get("model"), vehicle.get("plate")) if word]
    return {
        "visit": visit["id"], "started_at": visit.get("started_at"), "name": customer.get("name"),
        "email": customer.get("email"), "phone": customer.get("phone"), "vehicle": " ".join(words) or None,
    }


# Finding the visits --------------------------------------------------------------------------------------------------


def _plain(text: Json) -> str:
    return " ".join(str(text).casefold().split())


def _matches(customer: JsonObject, wanted: str) -> bool:
    if any(_plain(customer[key]) == _plain(wanted) for key in ("id", "email", "name") if customer.get(key)):
        return True
    digits = _DIGITS.sub("", wanted)
    phone = _DIGITS.sub("", str(customer.get("phone") or ""))
    return len(digits) >= _PHONE_DIGITS and not re.search("[a-z]", wanted.casefold()) and phone == digits


def _records(logbook: Logbook) -> Iterator[FiledRecord]:
    for record in logbook.store.records():
        filed = FiledRecord(record, logbook.kinds)
        if filed.status not in BLANK:
            yield filed


def _member(body: JsonObject, name: str) -> JsonObject | None:
    """An object that a body sets, or sets by settling; None if it sets none of that name."""
    settings = body.get("set", body)
    member = settings.get(name) if isinstance(settings, dict) else None
    return member if isinstance(member, dict) else None


class _Mentions:
    """What the journal says about customers: in visits by their ids, on cards, and in merges."""

    def __init__(self, logbook: Logbook, wanted: str) -> None:
        self.of_visits: dict[str, list[JsonObject]] = {}
        self.ids: set[str] = set()
        self.mergings: list[set[str]] = []
        for filed in _records(logbook):
            if filed.status not in FILED or b'"customer' not in filed.record.line:
                continue
            kind, body = kind_and_body(filed.op)
            customer = _member(body, "customer")
            if kind == "customer.merge":
                self.mergings.append({str(body["keep"]), str(body["drop"])})
            elif kind == "customer.set" and _matches(body, wanted):
                self.ids.add(str(body["id"]))
            elif filed.op["visit"] is not None and customer is not None:
                self.of_visits.setdefault(filed.op["visit"], []).append(customer)

    def with_ids(self, ids: set[str]) -> set[str]:
        """The visits that ever named one of these customers."""
        return {
            visit for visit, customers in self.of_visits.items() if any(one.get("id") in ids for one in customers)
        }


def _visits_of(logbook: Logbook, wanted: str) -> tuple[dict[str, Visit], set[str]]:
    """The visits whose customer is the one wanted, and the ids used for the customer."""
    mentions = _Mentions(logbook, wanted)
    visits = {
        visit: _folded(logbook, visit, customers[-1])
        for visit, customers in mentions.of_visits.items() if any(_matches(one, wanted) for one in customers)
    }
    visits = {visit: folded for visit, folded in visits.items() if _matches(_customer(folded), wanted)}
    ids = mentions.ids | {str(_customer(folded)["id"]) for folded in visits.values() if _customer(folded).get("id")}
    for _ in mentions.mergings:
        for pair in mentions.mergings:
            ids |= pair if pair & ids else set()
    for visit in mentions.with_ids(ids) - visits.keys():
        folded = _folded(logbook, visit, mentions.of_visits[visit][-1])
        if _customer(folded).get("id") in ids:
            visits[visit] = folded
    return visits, ids


def _folded(logbook: Logbook, visit_id: str, customer: JsonObject) -> Visit:
    """A visit; for one that can't be evaluated, its id and its customer's latest data, so that it is included."""

    def listable() -> Visit:
        visit = logbook.visit(visit_id)
        row(visit)
        return visit

    visit = apart(visit_id, listable, UnknownVisit)
    # The rest of its shape is what can't be evaluated.
    return cast(Visit, {"id": visit_id, "customer": customer}) if isinstance(visit, Odd) else visit


def _customer(visit: Visit) -> JsonObject:
    return cast(JsonObject, visit.get("customer") or {})


# Gathering what belongs to them --------------------------------------------------------------------------------------


def _gathered(logbook: Logbook, data: CustomerData) -> CustomerData:
    vehicles = {str(visit["vehicle"]["id"]) for visit in data.visits.values() if (visit.get("vehicle") or {}).get("id")}
    photos_elsewhere: set[str] = set()
    cards: list[tuple[str, FiledRecord]] = []
    names = sorted({*data.visits, *data.customers, *vehicles})
    any_name = re.compile(b"|".join(re.escape(name.encode("utf-8")) for name in names))
    for filed in _records(logbook):
        photos = {name.decode("ascii") for name in _PHOTO.findall(filed.record.line)}
        if not any_name.search(filed.record.line):
            # Most lines; they need not be read.
            photos_elsewhere |= photos
            continue
        visit = filed.outline["visit"]
        if visit in data.visits or (visit is None and _is_refused_for(filed, data)):
            data.records.append(filed)
            data.photos |= photos
        elif filed.status in FILED and visit is None:
            cards += [(card, filed) for card in _cards_of(filed.op)]
        else:
            photos_elsewhere |= photos
            if b'"vehicle"' in filed.record.line:
                vehicles -= _vehicles_in(filed)
    data.photos -= photos_elsewhere
    data.vehicles = vehicles
    about = {*vehicles, *data.customers, *data.visits}
    own = {id(filed): filed for card, filed in cards if card in about}
    data.records = sorted([*data.records, *own.values()], key=_number)
    data.devices = {str(filed.outline["device"]) for filed in data.entries if filed.outline["device"]}
    data.devices |= handed_among(heads for visit in data.visits if (heads := logbook.visit_heads(visit)) is not None)
    return data


def _is_refused_for(filed: FiledRecord, data: CustomerData) -> bool:
    """Whether a refused line names the customer anywhere, if it has no visit or is too damaged to name one."""
    names = (*data.visits, *data.customers)
    return filed.status not in FILED and any(f'"{name}"'.encode() in filed.record.line for name in names)


def _number(filed: FiledRecord) -> int:
    return filed.record.number


def _cards_of(op: Op) -> list[str]:
    """The ids of vehicles, customers and visits that an operation beside the visits is about."""
    _, body = kind_and_body(op)
    return [str(body[key]) for key in ("id", "vehicle", "visit", "keep", "drop") if isinstance(body.get(key), str)]


def _vehicles_in(filed: FiledRecord) -> set[str]:
    vehicle = _member(kind_and_body(filed.op)[1], "vehicle") if filed.status in FILED else None
    return {str(vehicle["id"])} if vehicle and vehicle.get("id") else set()
