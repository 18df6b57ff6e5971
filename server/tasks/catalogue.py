"""The desk's tasks: what a command of `layby` asks of an open logbook, whoever holds it.

Nothing here knows HTTP or the terminal; rows and receipts go back as plain data.
"""

from __future__ import annotations

import contextlib
import dataclasses
import time
from collections.abc import Callable
from typing import Any

from server.tasks import record_tasks, sheet_tasks
from sync.records.locks import SHEETS
from sync.records.logbook import Logbook
from sync.records.pairing import Pairings
from sync.records.passphrase import Passphrase

Given = dict[str, Any]


def _passphrase(logbook: Logbook, given: Given) -> Any:
    return Passphrase(logbook.folder).open_setting(_now_ms())


def _pair(logbook: Logbook, given: Given) -> Any:
    return dataclasses.asdict(Pairings(logbook.folder).offer(_now_ms()))


def _devices(logbook: Logbook, given: Given) -> Any:
    return Pairings(logbook.folder).devices()


def _revoke(logbook: Logbook, given: Given) -> Any:
    return Pairings(logbook.folder).revoke(str(given["device"]), _now_ms())


def _now_ms() -> int:
    return time.time_ns() // 1_000_000


TASKS: dict[str, Callable[[Logbook, Given], Any]] = {
    **sheet_tasks.TASKS,
    **record_tasks.TASKS,
    "new_passphrase": _passphrase,
    "pair": _pair,
    "devices": _devices,
    "revoke": _revoke,
}


def carry_out(logbook: Logbook, name: str, given: Given) -> Any:
    """Do one task with the logbook open here.

    Args:
        logbook: the open logbook [Logbook]
        name: one of TASKS [text]
        given: of evening, look, reminders and day {day}, of ledger {first, last}, of sheet {visit}, of approve
            {visits, all}, of receive {files} as whole paths, of find {text}, of card {what, id, fields}, of merge
            {keep, drop}, of revoke {device: name or id} [JSON object]

    Returns:
        rows for evening, look, approve, send and post; {code, values, text} of send_test and each of reminders; paths
        for sheet, day and ledger; for each file received {device, part, receipt, entries, photos, repeats, faults} as
        `bundle_intake.tally` has it; the visits found, as the search gives them; a card; the offer of pair; the
        devices, or the one that was revoked; the key for setting the passphrase [JSON value]

    Raises:
        NoSuchDay: the day cannot be read. Whatever the task itself raises.
    """
    with SHEETS.together() if name in sheet_tasks.WRITING else contextlib.nullcontext():
        return TASKS[name](logbook, given)
