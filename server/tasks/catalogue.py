"""The desk's tasks: what a command of `layby` asks of an open logbook, in whichever process holds it.

Nothing here knows HTTP or the terminal; rows and receipts go back as plain data.
"""

from __future__ import annotations

import contextlib
from typing import Any

from server.tasks import (
    customer_tasks,
    dispute_tasks,
    history_tasks,
    letters,
    logger_tasks,
    people_tasks,
    record_tasks,
    settings_tasks,
    sheet_tasks,
    visit_tasks,
)
from server.tasks.arguments import check_arguments
from server.tasks.messages import TaskArguments
from server.tasks.task import Task
from sync.records.locks import SHEETS
from sync.records.logbook import Logbook

TASKS: dict[str, Task] = {
    **sheet_tasks.TASKS,
    **record_tasks.TASKS,
    **visit_tasks.TASKS,
    **customer_tasks.TASKS,
    **history_tasks.TASKS,
    **settings_tasks.TASKS,
    **letters.TASKS,
    **dispute_tasks.TASKS,
    **logger_tasks.TASKS,
    **people_tasks.TASKS,
}


def carry_out(logbook: Logbook, name: str, arguments: TaskArguments) -> Any:
    """Do one task with the logbook open here.

    Args:
        logbook: the open logbook [Logbook]
        name: one of TASKS [text]
        arguments: of evening and look {day, person}, of reminders {day}, of day {day, technician}, of ledger {first,
            last, refrigerant, vehicle, cylinder, technician}, of sheet and letter {visit}, of approve {visits, all,
            complete}, of returned {visit, why}, of visit, customer, vehicle and history {id}, of amend {visit, section,
            typed, why, seen}, of log {visit, test, title and text, or file, match, zero, add}, of unlog {visit, test,
            number}, of mark {id, visit, test, healthy}, of receive {files} as whole paths, of find {text}, of card
            {what, id, fields}, of chart {id, chart}, of merge {keep, drop}, of settle {what, id, entry}, of aside
            {number}, of revoke {device: name or id}, of pair, begin_people, invite_again and end_person {person: name
            or id}, of invite and change_role {person, role}, of phone_of {device, person}, of hand_over {visit, person,
            why}, of setting {row, typed, seen, remove} [TaskArguments]

    Returns:
        rows for evening, look, approve, send and letters, one for returned; a remark of send_test, and each of
        reminders; paths for sheet, day and ledger; a letter's text; a tally for each file received; the visits found,
        as the search gives them; what is known of a visit, a customer or a vehicle; how many operations amend took; a
        logger's file as it was read; how many entries unlog struck; a card; what waits to be settled; the offer of
        pair; the devices, or the one that was revoked or given to somebody; the rows of settings, and whether setting
        changed one; the key for setting the passphrase; a person, all of them, or an invitation; whether hand_over
        changed anything [JSON value, as the task's own signature says]

    Raises:
        BadArguments: some are missing or of another kind. NoSuchDay: the day can't be read. And anything the task
            itself raises.
    """
    check_arguments(name, arguments)
    with SHEETS.together(logbook.store.claim) if name in sheet_tasks.WRITING else contextlib.nullcontext():
        return TASKS[name](logbook, arguments)
