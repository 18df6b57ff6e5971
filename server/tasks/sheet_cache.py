"""The latest sheets that were worked out, used again as long as nothing that they rest on has changed.

A day's page works out every sheet of the day to show its state, even in the middle of an evening. Nothing is worked out
here.
"""

from __future__ import annotations

import json
from collections import OrderedDict
from dataclasses import dataclass
from typing import Generic, TypeVar
from weakref import WeakKeyDictionary

from sync.kernel.visit import Visit
from sync.records.findable import squeezed
from sync.records.logbook import Logbook
from sync.records.photos import PhotoStore

MOST = 64

_Sheet = TypeVar("_Sheet")
# What a visit has on file: the number of operations, the number of the latest, how many are lost.
State = tuple[int, int, int]


def state_of(logbook: Logbook, visit_id: str) -> State:
    """What a visit has on file now; anything filed for it changes this [State]."""
    heads = logbook.visit_heads(visit_id)
    if heads is None or not heads["ops"]:
        return (0, 0, 0)
    return (len(heads["ops"]), heads["ops"][-1]["number"], len(heads["missing"]))


def same_vehicle(logbook: Logbook, visit: Visit) -> set[str]:
    """The other visits of a visit's vehicle, by its id or its vehicle number [UUIDv7 each]."""
    vehicle = visit.get("vehicle") or {}
    same: set[str] = set(logbook.search.visits_of("vehicle", {vehicle["id"]})) if vehicle.get("id") else set()
    if vehicle.get("vin"):
        mark = squeezed(vehicle["vin"])
        rows = logbook.search.find(vehicle["vin"])["visits"]
        same |= {row["id"] for row in rows if row["vin"] and squeezed(row["vin"]) == mark}
    return same - {visit["id"]}


def photos_here(logbook: Logbook, visit: Visit) -> list[str]:
    """The photos of a visit that are completely here [64 hex digits each]."""
    store = PhotoStore(logbook.files)
    sizes = {photo["sha256"]: store.offset(photo["sha256"]) for photo in visit.get("photos") or []}
    return [digest for digest, (offset, length) in sizes.items() if length is not None and offset == length]


@dataclass(frozen=True)
class Ground:
    """What a sheet was worked out from: states, photos, and the caller's other arguments."""

    state: State
    asked: str
    beside: dict[str, State]
    photos: list[str]


def ground_of(logbook: Logbook, visit: Visit, *asked: object) -> Ground:
    """What a visit's sheet rests on now.

    Args:
        logbook: the open logbook [Logbook]
        visit: as it is folded now [Visit]
        asked: what else the sheet depends on [anything that JSON can hold]

    Returns:
        the ground [Ground]
    """
    beside = {other: state_of(logbook, other) for other in same_vehicle(logbook, visit)}
    text = json.dumps(asked, sort_keys=True)
    return Ground(state_of(logbook, visit["id"]), text, beside, photos_here(logbook, visit))


class SheetCache(Generic[_Sheet]):
    """The sheets of each open logbook, the latest few."""

    def __init__(self) -> None:
        self._of: WeakKeyDictionary[Logbook, OrderedDict[str, tuple[Visit, Ground, _Sheet]]] = WeakKeyDictionary()

    def get(self, logbook: Logbook, visit_id: str, *asked: object) -> _Sheet | None:
        """A sheet that is still valid; None if there is none.

        Args:
            logbook: the open logbook [Logbook]
            visit_id: the visit [UUIDv7]
            asked: what else the sheet depends on [anything that JSON can hold]

        Returns:
            what `put` was given [anything or None]
        """
        entry = self._of.get(logbook, OrderedDict()).get(visit_id)
        if entry is None:
            return None
        visit, ground, sheet = entry
        # The state first: while it is the same, so is the visit.
        same = ground.state == state_of(logbook, visit_id) and ground == ground_of(logbook, visit, *asked)
        return sheet if same else None

    def put(self, logbook: Logbook, visit: Visit, ground: Ground, sheet: _Sheet) -> None:
        """Keep a sheet that was worked out from a visit on that ground, or on a newer one."""
        sheets = self._of.setdefault(logbook, OrderedDict())
        sheets[visit["id"]] = (visit, ground, sheet)
        while len(sheets) > MOST:
            sheets.popitem(last=False)
