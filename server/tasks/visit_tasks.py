"""The tasks of one visit: all that is known of it, and a correction of it with the reason why.

Nothing here knows HTTP or the terminal, and no rule on what a field may hold lives here.
"""

from __future__ import annotations

import time
from datetime import datetime
from typing import TypedDict

from reports import mail
from server import settings as folder_settings
from server.tasks.messages import EveningRow, Gist, TaskArguments
from server.tasks.task import Task
from server.tasks.visit_gist import gist_of
from sync.kernel.fold import replay
from sync.kernel.operation import Conflict
from sync.kernel.visit import Visit
from sync.language.reader import words_of
from sync.records.logbook import Logbook, UnknownVisit
from sync.records.people import People
from sync.records.sheet_record import SheetRecord
from sync.records.sheet_records import SheetRecords
from sync.wire import op_line
from sync.work.amendments import Amendment, Unamended, amend
from sync.work.visit_history import Correction, corrections_of

EMAIL = "customer.email"


class Entries(TypedDict):
    """How many entries of a visit one device made, when the last of them [ms since 1970], and for whom [names]."""

    device: str
    count: int
    last: int
    people: list[str]


class VisitView(TypedDict):
    """All that is known of a visit: as it is, how its sheet stands, what was corrected and where entries disagree.

    `revision` is the number that its sheet bears or will bear, of so many `pages` of this `paper`, 0 if it can't be
    printed; `photos` are the digests of those that arrived.
    """

    visit: Visit
    row: EveningRow
    gist: Gist
    revision: int
    pages: int
    paper: str
    sheets: list[SheetRecord]
    corrections: list[Correction]
    conflicts: list[Conflict]
    entries: list[Entries]
    photos: list[str]


def _visit(logbook: Logbook, arguments: TaskArguments) -> VisitView:
    from server.tasks import evening
    from server.tasks.sheet_cache import photos_here
    from server.tasks.sheet_data import inputs_of

    visit_id = str(arguments["id"])
    if not op_line.is_id(visit_id):
        raise UnknownVisit(visit=visit_id[:80])
    sheet_records, rulebook = SheetRecords(logbook), logbook.rulebook
    settings = folder_settings.load(logbook.files)["sheet"]
    ops = logbook.ops(visit_id)
    if not ops:
        raise UnknownVisit(visit=visit_id)
    inputs = inputs_of(logbook, visit_id, rulebook, settings)
    replayed = replay(ops, logbook.kinds)
    devices = sorted({op["device"] for op in ops})
    of = {device: [op for op in ops if op["device"] == device] for device in devices}
    names = {person["id"]: person["name"] for person in People(logbook.files).everybody()}
    return {
        "visit": inputs.visit, "row": evening.row_now(inputs, sheet_records, rulebook),
        "gist": gist_of(inputs.visit, inputs.judged, rulebook),
        "revision": sheet_records.number_for(visit_id, inputs.revision),
        "pages": 0 if inputs.data is None or inputs.reason else 2 if inputs.data["technician"] else 1,
        "paper": inputs.data["paper"] if inputs.data else "",
        "sheets": [record for record in sheet_records.records(visit_id) if record["file"]],
        "corrections": corrections_of(ops, logbook.kinds), "conflicts": replayed["conflicts"],
        "entries": [{"device": device, "count": len(made), "last": max(op["at"] for op in made),
                     "people": list(dict.fromkeys(names[op["by"]] for op in made if op.get("by") in names))}
                    for device, made in of.items()],
        "photos": sorted(photos_here(logbook, inputs.visit)),
    }


def _amend(logbook: Logbook, arguments: TaskArguments) -> int:
    """How many operations a correction took."""
    visit_id = str(arguments["visit"])
    if not op_line.is_id(visit_id):
        raise UnknownVisit(visit=visit_id[:80])
    typed = arguments["typed"]
    _look_at_address(logbook, typed.get(EMAIL, ""))
    seen = arguments.get("seen")
    asked = Amendment(str(arguments["section"]), typed, str(arguments["why"]), str(seen) if seen else None)
    offset = datetime.now().astimezone().utcoffset()
    return amend(logbook, visit_id, asked, (time.time_ns() // 1_000_000, int(offset.total_seconds() // 60)
                                            if offset else 0))


def _look_at_address(logbook: Logbook, text: str) -> None:
    """A mail address is typed to be written to; one that cannot be is refused here and not by the first letter."""
    try:
        if text.strip():
            mail.address(text)
    except mail.MailFault as error:
        raise Unamended([words_of(logbook.rulebook).say("errors.typed_bad_address", text=text[:80])]) from error


TASKS: dict[str, Task] = {"visit": _visit, "amend": _amend}
