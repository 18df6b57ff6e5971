"""The commands of an evening: sheets made, approved and sent, and the books of a day or a period.

Nothing is made or sent here; the tasks do that, in whichever process holds the folder.
"""

from __future__ import annotations

import argparse

from server.cli.language import DESK, say, words
from server.process.dispatch import desk
from server.tasks.desk_words import state_words
from server.tasks.messages import EveningRow, Remark

Arguments = argparse.Namespace


def sheet(arguments: Arguments) -> int:
    """Make one visit's sheet now and say where it is."""
    print(desk(arguments, "sheet", visit=arguments.visit))
    return 0


def _tell(rows: list[EveningRow], nothing: str) -> int:
    """Print the rows of an evening; 1 if one of them needs a person."""
    for row in sorted(rows, key=lambda row: str(row["started_at"])):
        when = str(row["started_at"] or "")[11:16]
        name = " · ".join(part for part in (row["place"], row["customer"], row["vehicle"]) if part)
        print(f"{when}  {name}\n       {state_words(row, words(DESK))}" + (f", {row['file']}" if row["file"] else ""))
        for remark in filter(None, [row["reason"], *row["notes"]]):
            print(f"       {remark['text']}")
        print(f"       {row['visit']}")
    if not rows:
        print(nothing)
    return 1 if any(row["reason"] and row["state"] != "sent" for row in rows) else 0


def evening(arguments: Arguments) -> int:
    """Make the day's sheets and list what is ready."""
    status = _tell(desk(arguments, "evening", day=arguments.day, person=arguments.person), say("evening.none"))
    reminders: list[Remark] = desk(arguments, "reminders", day=arguments.day)
    if reminders:
        print(f"\n{say('evening.also_open')}", *(f"  {reminder['text']}" for reminder in reminders), sep="\n")
    return status


def approve(arguments: Arguments) -> int:
    """Approve sheets that a person has looked at."""
    rows = desk(arguments, "approve", visits=arguments.visits, all=arguments.all)
    return _tell(rows, say("approve.none"))


def send(arguments: Arguments) -> int:
    """Mail the approved sheets, each once."""
    if arguments.test:
        outcome: Remark = desk(arguments, "send_test")
        print(outcome["text"])
        return 0 if outcome["code"] in ("mail_test", "mail_test_file") else 1
    return _tell(desk(arguments, "send"), say("send.none"))


def returned(arguments: Arguments) -> int:
    """Note that a letter that was sent came back, and why."""
    row: EveningRow = desk(arguments, "returned", visit=arguments.visit, why=arguments.why or "")
    _tell([row], "")
    return 0


def day(arguments: Arguments) -> int:
    """Write the day page (visits, distance, money, cylinders) as PDF and as CSV."""
    print(*desk(arguments, "day", day=arguments.day, technician=arguments.technician), sep="\n")
    return 0


def ledger(arguments: Arguments) -> int:
    """Write the ledger of refrigerant of a period, as PDF and as CSV."""
    print(*desk(arguments, "ledger", first=arguments.first, last=arguments.last, refrigerant=arguments.refrigerant,
                vehicle=arguments.vehicle, cylinder=arguments.cylinder, technician=arguments.technician), sep="\n")
    return 0
