"""The vans of a firm: whose each visit is, by the technician that the visit names.

A van is one technician's visits. Nothing is added up here and nothing is worded.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sync.kernel.visit import Visit

# Of two people with one name, as much of the id as tells them apart at a glance.
SHOWN_OF_ID = 4


@dataclass(frozen=True)
class Van:
    """One technician of a period: `key` tells vans apart, `label` is shown, `chosen_by` is what chooses it again.

    All three are "" for the visits that name nobody.
    """

    key: str
    label: str
    chosen_by: str


NOBODY = Van("", "", "")


class Vans:
    """Whose the visits of a period are.

    Visits with the same `technician.id` are one van's, whatever name they give. A visit without an id goes by its name:
    to the one id of the period that has this name, otherwise to a van of that name alone. So a period in which a desk
    began to give ids has nobody twice.

    Args of the constructor:
        visits: all visits of the period in order of time, the void ones among them [list]
    """

    def __init__(self, visits: Sequence[Visit]) -> None:
        self._ids: dict[str, set[str]] = {}
        for visit in visits:
            named, name = _id(visit), _name(visit)
            if named and name:
                self._ids.setdefault(name_key(name), set()).add(named)
        self._called: dict[str, set[str]] = {}
        latest: dict[str, Visit] = {}
        for visit in visits:
            key = self._key(visit)
            self._called.setdefault(name_key(_name(visit)), set()).add(key)
            # An id is called as whoever wrote it called it; who writes only a name may write it anyhow.
            latest[key] = max(visit, latest.get(key, visit), key=_says)
        self._vans = {key: self._van(key, _name(visit)) for key, visit in latest.items() if key}

    def of(self, visit: Visit) -> Van:
        """The van of one of the visits; NOBODY if it names no technician [Van]."""
        return self._vans.get(self._key(visit), NOBODY)

    def split(self, visits: Iterable[Visit]) -> list[tuple[Van, list[Visit]]]:
        """Visits by van, in the order of their labels, those of nobody last [pairs]."""
        parts: dict[Van, list[Visit]] = {}
        for visit in visits:
            parts.setdefault(self.of(visit), []).append(visit)
        return sorted(parts.items(), key=lambda part: order(part[0]))

    def named(self, visits: Iterable[Visit]) -> list[Van]:
        """The vans that visits name, in the order of their labels [list]."""
        return [van for van, _ in self.split(visits) if van.key]

    def chosen(self, wanted: str) -> list[Van]:
        """The vans that a text chooses: the one with this id, otherwise all with this name.

        Args:
            wanted: an id, or a name whose case and spaces don't matter [text]

        Returns:
            none if nobody in the period is called so [list]
        """
        by_id = self._vans.get(_ID + wanted.strip())
        keys = {by_id.key} if by_id else self._called.get(name_key(wanted), set())
        return [self._vans[key] for key in sorted(keys) if key]

    def _key(self, visit: Visit) -> str:
        if _id(visit):
            return _ID + _id(visit)
        name = name_key(_name(visit))
        ids = self._ids.get(name, set())
        if len(ids) == 1:
            return _ID + next(iter(ids))
        return _NAME + name if name else ""

    def _van(self, key: str, name: str) -> Van:
        named = key.removeprefix(_ID) if key.startswith(_ID) else ""
        if not name:
            return Van(key, named, named)
        if len(self._called[name_key(name)]) == 1 or not named:
            return Van(key, name, name)
        return Van(key, f"{name} ({named[-SHOWN_OF_ID:]})", named)


_ID, _NAME = "id ", "name "


def name_key(name: str) -> str:
    """A name as it is compared: neither case nor spaces matter, nor how an accent is encoded [text]."""
    return "".join(unicodedata.normalize("NFKC", name).casefold().split())


def order(van: Van) -> tuple[bool, str, str]:
    """By which vans are sorted: by label, nobody last [key]."""
    return not van.key, name_key(van.label), van.key


def _says(visit: Visit) -> int:
    return bool(_name(visit)) + bool(_name(visit) and _id(visit))


def _id(visit: Visit) -> str:
    # Earlier versions also filed things that aren't texts, and this looks at all visits of a period together.
    return str((visit.get("technician") or {}).get("id") or "").strip()


def _name(visit: Visit) -> str:
    return " ".join(str((visit.get("technician") or {}).get("name") or "").split())
