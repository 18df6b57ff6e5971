"""What is wrong with the records of a desk, for a person: damage, files set aside, an erasure that can't finish.

Nothing here repairs anything.
"""

from __future__ import annotations

from sync.kernel.json_tree import JsonObject
from sync.kernel.reason import Reason
from sync.records.erasure import PLAN
from sync.records.logbook import Logbook
from sync.records.views import LOST_VIEW

FILES_MOST = 10


def troubles(logbook: Logbook) -> list[Reason]:
    """Everything known to be wrong; what doesn't read back is known once everything has been read.

    Args:
        logbook: the open logbook [Logbook]

    Returns:
        codes of the rulebook's wording with their values, the most serious first; [] if all is well [Reason each]
    """
    store, found = logbook.store, list[Reason]()
    if store.refusal is not None:
        found.append({"code": f"trouble_{store.refusal.code}", "values": dict(store.refusal.values)})
    if store.damage:
        found.append({"code": "trouble_damage", "values": {"count": len(store.damage)}})
    with logbook.lock:
        lost = len(logbook.view(LOST_VIEW).lost)
    if lost:
        found.append({"code": "trouble_lost", "values": {"count": lost}})
    if logbook.files.size(PLAN) is not None:
        found.append({"code": "trouble_erasure", "values": {}})
    if logbook.left_out:
        found.append({"code": "remind_left_out", "values": {"count": len(logbook.left_out)}})
    names = store.aside
    if names:
        values: JsonObject = {"files": ", ".join(names[:FILES_MOST]), "folder": logbook.files.place}
        more = len(names) - FILES_MOST
        if more > 0:
            found.append({"code": "trouble_aside_more", "values": {**values, "count": more}})
        else:
            found.append({"code": "trouble_aside", "values": values})
    return found
