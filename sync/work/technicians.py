"""Technicians: whose a visit is, where several people sign in at a desk.

Nothing here knows who is asking. A visit names its technician; one that names nobody of this desk is that of the person
whose phone opened it.
"""

from __future__ import annotations

from collections.abc import Iterable

from sync.isolation import apart
from sync.records.heads import TECHNICIAN
from sync.records.logbook import Logbook
from sync.records.pairing import Pairings
from sync.records.people import People
from sync.wire import op_line


class Technicians:
    """Whose the visits of a logbook are; the people and the phones are read once.

    Args of the constructor:
        logbook: the open logbook [Logbook]
    """

    def __init__(self, logbook: Logbook) -> None:
        self.logbook = logbook
        self.names = {person["id"]: person["name"] for person in People(logbook.files).everybody()}
        devices = Pairings(logbook.files).devices() if self.names else []
        self._phones = {device["device"]: device["person"] for device in devices}

    def of(self, visit_id: str) -> str:
        """Whose a visit is [id]; "" if it is nobody's, or nothing of it is on file."""
        if not self.names or not op_line.is_id(visit_id):
            return ""
        named = apart(visit_id, lambda: self._named_in(visit_id))
        return named if isinstance(named, str) and named in self.names else self._opened_by(visit_id)

    def own(self, visits: Iterable[str], person: str) -> list[str]:
        """Those of some visits that are a person's, in their order [UUIDv7 each]."""
        return [visit_id for visit_id in visits if self.of(visit_id) == person]

    def _named_in(self, visit_id: str) -> str:
        heads = self.logbook.visit_heads(visit_id)
        if heads is None or TECHNICIAN not in heads["heads"]:
            # Nothing to fold for.
            return ""
        return str((self.logbook.visit(visit_id).get("technician") or {}).get("id") or "")

    def _opened_by(self, visit_id: str) -> str:
        heads = self.logbook.visit_heads(visit_id)
        return self._phones.get(heads["ops"][0]["device"], "") if heads and heads["ops"] else ""
