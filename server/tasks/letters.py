"""The tasks of the letters: which wait, went or came back; one marked as returned by a person; one to be read.

Nothing is printed or sent here.
"""

from __future__ import annotations

import time
from typing import TypedDict

from server import settings as folder_settings
from server.tasks.desk_words import record_state, state_of_row
from server.tasks.evening_rows import reason_of, row_of, unfiled
from server.tasks.mail_answers import meaning_of
from server.tasks.messages import EveningRow, TaskArguments
from server.tasks.task import Task
from sync.errors import LaybyError
from sync.isolation import Odd, apart
from sync.kernel.visit import Visit
from sync.records.locks import SENDING
from sync.records.logbook import Logbook, UnknownVisit
from sync.records.sheet_record import CAME_BACK, SheetRecord, StateEntry, at_of, state_of
from sync.records.sheet_records import SheetRecords
from sync.wire import op_line

# Letters that went are listed from the newest on; older ones are found by their visits.
WENT_MOST = 50
WHY_MOST = 1000


class NotSent(LaybyError):
    """No letter of a visit is out that could have come back."""

    code = "not_sent"


class NoReturnReason(LaybyError):
    """A letter was marked as returned without a reason."""

    code = "no_return_reason"


class ReturnReasonLong(LaybyError):
    """The reason is longer than `limit` characters."""

    code = "return_reason_long"


class Unwritten(LaybyError):
    """A visit has no letter to read; `why` says why."""

    code = "no_letter"


class LetterRow(EveningRow):
    """A sheet on its way to the customer, or back: when it entered its state [ms since 1970], tried how often,
    to whom, and what the mail server's answer means (a code of `letters.said`, or None).
    """

    at: int
    tries: int
    recipients: list[str]
    means: str | None


class Letters(TypedDict):
    """The letters, the newest visit first, and whether more went than are listed."""

    rows: list[LetterRow]
    more: bool


class LetterText(TypedDict):
    """A letter as it would go; `sender` is "" where neither the settings nor the visit name one."""

    language: str
    sender: str
    reply_to: str
    recipient: str
    subject: str
    paragraphs: list[list[str]]
    file: str


def _letters(logbook: Logbook, _: TaskArguments) -> Letters:
    """Letters that wait for a person or for the mail, and the newest of those that went."""
    sheet_records = SheetRecords(logbook)
    records = {(one["visit"], one["revision"]): one for one in sheet_records.latest()}
    for visit, revision in sheet_records.underway():
        records.setdefault((visit, revision), sheet_records.record(visit, revision))
    newest = sorted(records.values(), key=lambda one: one["states"][-1]["at"], reverse=True)
    went = [one for one in newest if record_state(one) == "sent"]
    waits = [one for one in newest if record_state(one) != "sent"]
    rows = [_row(logbook, record) for record in [*waits, *went[:WENT_MOST]]]
    return {"rows": [row for row in rows if row is not None], "more": len(went) > WENT_MOST}


def _row(logbook: Logbook, record: SheetRecord) -> LetterRow | None:
    """A sheet's row; None for a visit that was declared void. If its visit can't be read, the record stays."""
    row = apart(record["visit"], lambda: _filed_row(logbook, record))
    if isinstance(row, Odd):
        from server.tasks.sheet_data import outline_of

        row = row_of(outline_of(logbook, record["visit"]), record, row.reason, logbook.rulebook)
    if row is None:
        return None
    last, is_told = record["states"][-1], state_of_row(row) in ("outbox", "returned")
    return {**row, "at": last["at"], "tries": record["tries"], "recipients": record["recipients"],
            "means": meaning_of(last["reason"]) if is_told else None}


def _filed_row(logbook: Logbook, record: SheetRecord) -> EveningRow | None:
    visit = _visit_of(logbook, record["visit"])
    return None if visit.get("void") else row_of(visit, record, None, logbook.rulebook)


def _visit_of(logbook: Logbook, visit_id: str) -> Visit:
    try:
        return logbook.visit(visit_id)
    except UnknownVisit:
        return unfiled(visit_id)


def _returned(logbook: Logbook, arguments: TaskArguments) -> EveningRow:
    """Note that the letter of a visit came back, with the reason; its row as it is now."""
    visit_id, why = _known(arguments["visit"]), " ".join(str(arguments["why"]).split()).rstrip(".")
    if not why:
        raise NoReturnReason
    if len(why) > WHY_MOST:
        raise ReturnReasonLong(limit=WHY_MOST)
    sheet_records = SheetRecords(logbook)
    with logbook.claim(SENDING):
        out = [record for record in sheet_records.records(visit_id) if state_of(record) == "sent"]
        if not out:
            raise NotSent(visit=visit_id)
        record = max(out, key=lambda one: at_of(one, "sent") or 0)
        reason = reason_of(CAME_BACK, why=why, addresses=", ".join(record["recipients"]))
        state: StateEntry = {"state": "failed", "at": time.time_ns() // 1_000_000, "reason": reason}
        record = sheet_records.note(visit_id, record["revision"], state)
    return row_of(_visit_of(logbook, visit_id), record, None, logbook.rulebook)


def _letter(logbook: Logbook, arguments: TaskArguments) -> LetterText:
    """The letter of a visit as it would go now."""
    from server.tasks.mail_queue import senders_of
    from server.tasks.sheet_data import inputs_of
    from sync.sheet.letter import letter

    visit_id, settings = _known(arguments["visit"]), folder_settings.load(logbook.files)
    inputs = inputs_of(logbook, visit_id, logbook.rulebook, settings["sheet"])
    if inputs.data is None or inputs.reason:
        why = row_of(inputs.visit, None, inputs.reason, logbook.rulebook)["reason"]
        raise Unwritten(visit=visit_id, why=why["text"] if why else "")
    text = letter(inputs.visit, inputs.data, logbook.rulebook)
    sender, reply_to = senders_of(inputs.visit, settings["smtp"])
    customer = inputs.visit.get("customer") or {}
    return {
        "language": text["language"], "subject": text["subject"], "paragraphs": text["paragraphs"],
        "file": text["file"], "sender": _named(sender["name"], sender["address"]) if sender else "",
        "reply_to": _named(reply_to["name"], reply_to["address"]) if reply_to else "",
        "recipient": _named(customer.get("name") or "", customer["email"]) if customer.get("email") else "",
    }


def _named(name: str, address: str) -> str:
    return f"{name} <{address}>" if name else address


def _known(visit: str) -> str:
    if not op_line.is_id(str(visit)):
        raise UnknownVisit(visit=str(visit)[:80])
    return str(visit)


TASKS: dict[str, Task] = {"letters": _letters, "returned": _returned, "letter": _letter}
