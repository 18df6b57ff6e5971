"""The desk's errands: what a command of `layby` asks of an open logbook, whoever holds it.

Nothing here knows HTTP or the terminal; rows and receipts go back as plain data.
"""

from __future__ import annotations

import contextlib
import dataclasses
import time
from collections.abc import Callable
from typing import Any

from server.tasks import errand_records, errand_sheets
from sync.records.logbook import Logbook
from sync.records.pairing import Pairings
from sync.records.passphrase import Passphrase
from sync.records.turns import SHEETS

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


ERRANDS: dict[str, Callable[[Logbook, Given], Any]] = {
    **errand_sheets.ERRANDS,
    **errand_records.ERRANDS,
    "new_passphrase": _passphrase,
    "pair": _pair,
    "devices": _devices,
    "revoke": _revoke,
}


def carry_out(logbook: Logbook, name: str, given: Given) -> Any:
    """Do one errand with the logbook open here.

    Args:
        logbook: the open logbook [Logbook]
        name: one of ERRANDS [text]
        given: of evening, look, reminders and day {day}, of ledger {first, last}, of sheet {visit}, of approve
            {visits, all}, of receive {files} as whole paths, of find {text}, of card {what, id, fields}, of merge
            {keep, drop}, of revoke {device: name or id} [JSON object]

    Returns:
        rows for evening, look, approve, send and post; {code, values, text} of send_test and each of reminders; paths
        for sheet, day and ledger; for each file received {device, part, receipt, entries, photos, repeats, faults} as
        `carried.tally` has it; the visits found, as the register gives them; a card; the offer of pair; the devices,
        or the one that was revoked; the key for setting the passphrase [JSON value]

    Raises:
        NoSuchDay: the day cannot be read. Whatever the errand itself raises.
    """
    with SHEETS.together() if name in errand_sheets.WRITING else contextlib.nullcontext():
        return ERRANDS[name](logbook, given)
