"""The tasks for what a person has to settle: entries that disagree, and entries that were refused.

Nothing here knows HTTP or the terminal.
"""

from __future__ import annotations

from server.tasks.instant import now
from server.tasks.messages import TaskArguments
from server.tasks.task import Task
from sync.kernel.json_tree import Json
from sync.language.reader import words_of
from sync.records.logbook import Logbook, UnknownVisit
from sync.wire import op_line
from sync.work import desk_operations, disputes
from sync.work.disputes import VISIT, Disputes, NoDispute


def _conflicts(logbook: Logbook, _: TaskArguments) -> Disputes:
    return disputes.disputes(logbook)


def _settle(logbook: Logbook, arguments: TaskArguments) -> None:
    """The values of an entry count; of a vehicle's or customer's card, the value of its field."""
    what, identifier, chosen = str(arguments["what"]), str(arguments["id"]), str(arguments["entry"])
    if what == VISIT:
        if not op_line.is_id(identifier):
            raise UnknownVisit(visit=identifier[:80])
        why = words_of(logbook.rulebook).say("conflicts.why")
        disputes.settle(logbook, identifier, chosen, why, now())
        return
    if what not in ("vehicle", "customer"):
        raise NoDispute(name=what[:80])
    fields: dict[str, Json] = {}
    for one in disputes.disagreements_of(logbook, what, identifier):
        value = next((value for value in one["conflict"]["values"] if value["op"] == chosen), None)
        if value is not None:
            fields[one["conflict"]["pointer"][1:]] = value["value"]
    if not fields:
        raise NoDispute(name=identifier[:80])
    desk_operations.correct(logbook, what, identifier, fields, now())


def _aside(logbook: Logbook, arguments: TaskArguments) -> None:
    number = str(arguments["number"])
    if not number.isdecimal() or len(number) > 12:
        raise NoDispute(name=number[:80])
    disputes.set_aside(logbook, int(number), now()[0])


TASKS: dict[str, Task] = {"conflicts": _conflicts, "settle": _settle, "aside": _aside}
