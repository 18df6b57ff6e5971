"""Handing over: a visit becomes another technician's, with the reason why.

Nothing here knows a page or a command. What the visit says of the former technician goes with them.
"""

from __future__ import annotations

from sync.kernel.json_tree import JsonObject
from sync.records.logbook import Logbook
from sync.records.person import Person
from sync.work.desk_operations import Batch

# Personal, so it would be false of whoever comes after.
_PERSONAL = ("certificate_no", "certificate_until", "phone", "email")


def hand_over(logbook: Logbook, visit_id: str, person: Person, why: str, when: tuple[int, int]) -> bool:
    """Make a visit somebody's; their phones are told all of it.

    Args:
        logbook: where it is filed [Logbook]
        visit_id: the visit [UUIDv7]
        person: whose it is from now on [Person]
        why: the reason, kept with the visit [text]
        when: now and the local offset [ms since 1970, minutes]

    Returns:
        False if it was theirs, and nothing is filed [bool]

    Raises:
        UnknownVisit: nothing of it is filed.
        NotFiled: the logbook refused it; the reason says why.
    """
    with logbook.writing():
        technician = logbook.visit(visit_id).get("technician") or {}
        if technician.get("id") == person["id"]:
            return False
        heads = (logbook.visit_heads(visit_id) or {"heads": {}})["heads"]
        said: JsonObject = {"id": person["id"], "name": person["name"]}
        said |= dict.fromkeys(name for name in _PERSONAL if technician.get(name) is not None)
        base = {f"/technician/{name}": next(iter(heads.get(f"/technician/{name}") or []), None) for name in said}
        batch = Batch(logbook, visit_id, when)
        batch.add("visit.set", {"technician": said}, base)
        batch.explain(why)
        batch.file()
        return True
