"""The task of one customer: the card, the visits and the letters.

Nothing here knows HTTP or the terminal; export and erasure are tasks of the records.
"""

from __future__ import annotations

from typing import TypedDict

from server.tasks.evening_rows import row_of
from server.tasks.messages import EveningRow, TaskArguments
from server.tasks.task import Task
from sync.isolation import each_apart
from sync.records.logbook import Logbook
from sync.records.sheet_record import SheetRecord
from sync.records.sheet_records import SheetRecords
from sync.work import cards
from sync.work.cards import CustomerCard
from sync.work.customer_data import UnknownCustomer

# Visits of one customer that are listed, the newest; a fleet has more.
VISITS_MOST = 100


class CustomerView(TypedDict):
    """A customer's card, the newest visits with the state of each one's sheet, and the letters, newest first."""

    card: CustomerCard
    visits: list[EveningRow]
    letters: list[SheetRecord]


def _customer(logbook: Logbook, arguments: TaskArguments) -> CustomerView:
    card = cards.customer(logbook, str(arguments["id"]))
    if not card["fields"] and not card["visits"]:
        raise UnknownCustomer(customer=str(arguments["id"])[:80])
    records, shown = SheetRecords(logbook), card["visits"][:VISITS_MOST]

    def row(visit: str) -> EveningRow:
        return row_of(logbook.visit(visit), records.newest(visit), None, logbook.rulebook)

    rows, _ = each_apart(shown, row)
    letters = [record for visit in shown for record in reversed(records.records(visit)) if record["recipients"]]
    return {"card": card, "visits": rows, "letters": letters}


TASKS: dict[str, Task] = {"customer": _customer}
