"""The mail queue: approved sheets become letters, letters are made safe on disk, and only then are they sent.

Each letter keeps one Message-ID for all its tries. Only one thing can't be known: whether a server had accepted a
letter when this process was killed before noting it. Such a letter goes again under the same Message-ID.
"""

from __future__ import annotations

import hashlib
import re
import time
from dataclasses import dataclass
from datetime import datetime
from email.utils import parseaddr
from functools import partial
from typing import TypedDict

from reports import mail
from reports.mail_data import Answer, Delivery, Person, Server
from server import settings as folder_settings
from server.tasks.evening_rows import reason_of, row_of, unfiled
from server.tasks.messages import EveningRow
from server.tasks.sheet_data import inputs_of, outline_of
from sync.isolation import Odd, apart
from sync.kernel.books import Rulebook
from sync.kernel.reason import Reason
from sync.kernel.visit import Visit
from sync.records.locks import SENDING
from sync.records.logbook import Logbook, UnknownVisit
from sync.records.sheet_record import SheetPost, SheetRecord, State, StateEntry, state_of
from sync.records.sheet_records import SheetRecords
from sync.records.store.files import Holds
from sync.sheet.letter import letter
from sync.sheet.sheet_data import Sheet, SheetSettings

MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS
# Waiting times after the first, second, ... try that a server deferred; the last one repeats (common practice).
WAITS_MIN = (5, 15, 60, 180, 360)
GIVE_UP_MS = 5 * 24 * 60 * MINUTE_MS

# `from` is a keyword of the language.
Sender = TypedDict("Sender", {"from": str, "copy": str | None, "per_hour": int})


class Account(Server, Sender):
    """The mail server in the settings, whom letters come from, who gets a copy, how many may go per hour (0: any)."""


@dataclass
class MailQueue:
    """What every step of a letter needs: the records, the words, the server, the time, and that nobody else sends."""

    logbook: Logbook
    sheet_records: SheetRecords
    rulebook: Rulebook
    smtp: Account | None
    settings: SheetSettings
    now_ms: int
    holds: Holds


def send(
    logbook: Logbook, sheet_records: SheetRecords, rulebook: Rulebook, now_ms: int | None = None
) -> list[EveningRow]:
    """Send every approved sheet, and try again what waits.

    Running it again sends nothing twice. Without a mail server in the settings, each letter is left as a file.

    Args:
        logbook: the open logbook [Logbook]
        sheet_records: the sheets of the same folder [SheetRecords]
        rulebook: the rulebook [Rulebook]
        now_ms: the current time; the clock's if None [ms since 1970]

    Returns:
        a row for each sheet in progress as from `make_sheets`, with its present state and reason [list]

    Raises:
        BadSettings: the folder's settings can't be used.
    """
    settings = folder_settings.load(logbook.files)
    at_ms = time.time_ns() // 1_000_000 if now_ms is None else now_ms
    with logbook.claim(SENDING) as holds:
        queue = MailQueue(logbook, sheet_records, rulebook, settings["smtp"], settings["sheet"], at_ms,
                          holds or (lambda: None))
        return [_row_apart(visit_id, digest, queue) for visit_id, digest in sheet_records.underway()]


def _row_apart(visit_id: str, digest: str, queue: MailQueue) -> EveningRow:
    """One sheet's row, whatever its visit or its letter trips over."""
    row = apart(visit_id, partial(_row, visit_id, digest, queue))
    if not isinstance(row, Odd):
        return row
    record = apart(visit_id, partial(queue.sheet_records.record, visit_id, digest))
    shown = None if isinstance(record, Odd) else record
    return row_of(outline_of(queue.logbook, visit_id), shown, row.reason, queue.rulebook)


def _row(visit_id: str, digest: str, queue: MailQueue) -> EveningRow:
    try:
        filed = apart(visit_id, partial(queue.logbook.visit, visit_id), UnknownVisit)
        visit = outline_of(queue.logbook, visit_id) if isinstance(filed, Odd) else filed
    except UnknownVisit:
        visit = unfiled(visit_id)
    record = _moved_on(queue.sheet_records.record(visit_id, digest), queue)
    return row_of(visit, record, None, queue.rulebook)


def _moved_on(record: SheetRecord, queue: MailQueue) -> SheetRecord:
    """One sheet one step further: from approved to queued, from queued to sent, waiting or failed."""
    if not record["file"] or not queue.sheet_records.is_certain(record):
        return _note(record, queue, "failed", reason_of("sheet_record_lost"))
    if state_of(record) == "approved":
        record = _queued(record, queue)
    if state_of(record) == "queued" and queue.smtp and _is_due(record, queue):
        wait_ms = _wait_for_room(queue, queue.smtp["per_hour"])
        if wait_ms:
            return _held_back(record, wait_ms, queue.smtp["per_hour"], queue)
        record = _tried(record, queue.smtp, queue)
    return record


def _wait_for_room(queue: MailQueue, most: int) -> int:
    """How long until the hourly limit allows another letter; 0 if it may go now [ms]."""
    times = queue.sheet_records.handed(None, queue.now_ms - HOUR_MS) if most else []
    return times[-most] + HOUR_MS - queue.now_ms if most and len(times) >= most else 0


def _held_back(record: SheetRecord, wait_ms: int, most: int, queue: MailQueue) -> SheetRecord:
    """A letter that the hourly limit keeps waiting; reported once, not at every run."""
    reason = reason_of("mail_hourly", limit=most, next=_clock(queue.now_ms + wait_ms))
    last = record["states"][-1].get("reason")
    return record if last and last["code"] == reason["code"] else _note(record, queue, "queued", reason)


def _clock(at_ms: int) -> str:
    return datetime.fromtimestamp(at_ms / 1000).astimezone().strftime("%H:%M")


def _note(
    record: SheetRecord, queue: MailQueue, state: State, reason: Reason | None, more: SheetPost | None = None
) -> SheetRecord:
    """Note a sheet's next state, unless another service noted one since it was read: the claim was lost meanwhile.

    That a letter was sent is noted in any case, because it is so.
    """
    entry: StateEntry = {"state": state, "at": queue.now_ms, "reason": reason}
    with queue.logbook.writing():
        now = queue.sheet_records.record(record["visit"], record["revision"])
        if state != "sent" and now["states"] != record["states"]:
            return now
        return queue.sheet_records.note(record["visit"], record["revision"], entry, more)


def _queued(record: SheetRecord, queue: MailQueue) -> SheetRecord:
    """The letter, written and safe on disk, or why it can't be."""
    try:
        sheet = inputs_of(queue.logbook, record["visit"], queue.rulebook, queue.settings)
    except UnknownVisit:
        return _note(record, queue, "failed", reason_of("sheet_changed"))
    if sheet.data is None or sheet.reason:
        return _note(record, queue, "failed", sheet.reason)
    if sheet.revision != record["revision"]:
        return _note(record, queue, "failed", reason_of("sheet_changed"))
    try:
        spooled = apart(record["visit"], partial(_spooled, sheet.visit, sheet.data, record, queue), mail.MailFault)
    except mail.MailFault as fault:
        return _note(record, queue, "failed", reason_of(fault.code, **fault.values))
    return _note(record, queue, "failed", spooled.reason) if isinstance(spooled, Odd) else spooled


def _spooled(visit: Visit, data: Sheet, record: SheetRecord, queue: MailQueue) -> SheetRecord:
    text, letters = letter(visit, data, queue.rulebook), record["letters"] + 1
    name = f"{record['visit']}-{record['revision'][:12]}-{letters}.eml"
    sender, reply_to = senders_of(visit, queue.smtp)
    to = [_recipient(visit)]
    # Short, so that the header stays on one line: some servers stumble over a folded Message-ID.
    message_id = f"<{hashlib.sha256(name.encode()).hexdigest()[:24]}@{_domain(sender)}>"
    message = mail.compose({
        "sender": sender, "reply_to": reply_to, "recipients": to, "message_id": message_id,
        "language": text["language"], "subject": text["subject"], "paragraphs": text["paragraphs"],
        "date": datetime.fromtimestamp(queue.now_ms / 1000).astimezone(),
        "attachments": [{"name": text["file"], "kind": "application/pdf",
                         "content": queue.sheet_records.pdf(record)}],
    })
    more: SheetPost = {
        "recipients": [mail.address(person["address"]) for person in to], "message_id": message_id, "spool": name,
        "letters": letters, "tries": 0, "next_try": None, "queued_at": queue.now_ms, "taken": [], "refused": [],
    }
    if queue.smtp is None:
        queue.sheet_records.leave(name, message)
        return _note(record, queue, "sent", reason_of("left_as_file", file=f"outgoing/{name}"), more)
    queue.sheet_records.spool(name, message)
    return _note(record, queue, "queued", None, more)


def _recipient(visit: Visit) -> Person:
    customer = visit.get("customer") or {}
    if not customer.get("email"):
        raise mail.MailFault("no_address")
    return {"name": customer.get("name") or "", "address": customer["email"]}


def senders_of(visit: Visit, smtp: Account | None) -> tuple[Person | None, Person | None]:
    """Who the letter is from and who gets the answer: the account in the settings, and the technician."""
    technician = visit.get("technician") or {}
    name = technician.get("business") or technician.get("name") or ""
    own: Person | None = {"name": name, "address": technician["email"]} if technician.get("email") else None
    if smtp is None:
        return own, None
    shown, account = parseaddr(str(smtp["from"]))
    sender: Person = {"name": shown or name, "address": account or str(smtp["from"])}
    return sender, own if own and own["address"] != sender["address"] else None


def _domain(sender: Person | None) -> str:
    return mail.address(sender["address"]).rpartition("@")[2] if sender else "layby.invalid"


def _is_due(record: SheetRecord, queue: MailQueue) -> bool:
    return record["next_try"] is None or record["next_try"] <= queue.now_ms


def _tried(record: SheetRecord, smtp: Account, queue: MailQueue) -> SheetRecord:
    envelope = mail.address(parseaddr(str(smtp["from"]))[1] or str(smtp["from"]))
    if smtp["per_hour"]:
        # Counted before it is handed over, so that a kill in between can only delay the next one.
        queue.sheet_records.handed(queue.now_ms, queue.now_ms - HOUR_MS)
    # Another service may be sending if the claim was lost.
    queue.holds()
    try:
        outcome = _delivered(queue.sheet_records.letter(record), envelope, record["recipients"], smtp)
    except mail.MailFault as fault:
        return _note(record, queue, "queued", reason_of(fault.code, **fault.values))
    record = _written_down(record, outcome, queue)
    if state_of(record) != "queued":
        queue.sheet_records.unspool(record)
    return record


def _delivered(letter: bytes, envelope: str, recipients: list[str], smtp: Account) -> Delivery:
    """Hand a letter over, with a copy for the desk's own mailbox; what became of the copy changes nothing."""
    own = smtp.get("copy")
    copies = [mail.address(own)] if own and mail.address(own) not in recipients else []
    outcome = mail.deliver(letter, envelope, [*recipients, *copies], smtp)
    return {
        "accepted": [name for name in outcome["accepted"] if name not in copies],
        "later": [answer for answer in outcome["later"] if answer["address"] not in copies],
        "refused": [answer for answer in outcome["refused"] if answer["address"] not in copies],
    }


def _written_down(record: SheetRecord, outcome: Delivery, queue: MailQueue) -> SheetRecord:
    """What the server said, as the sheet's next state."""
    refused = [*record["refused"], *outcome["refused"]]
    accepted = [*record["taken"], *outcome["accepted"]]
    more: SheetPost = {"taken": accepted, "refused": refused}
    if outcome["later"]:
        return _put_off(record, outcome, more, queue)
    if not accepted:
        return _note(record, queue, "failed", reason_of("mail_refused", **_in_words(refused)), more)
    return _note(record, queue, "sent", reason_of("mail_partial", **_in_words(refused)) if refused else None, more)


def _put_off(record: SheetRecord, outcome: Delivery, more: SheetPost, queue: MailQueue) -> SheetRecord:
    answers, tries = _in_words(outcome["later"]), record["tries"] + 1
    if queue.now_ms - (record["queued_at"] or 0) >= GIVE_UP_MS:
        return _note(record, queue, "failed", reason_of("mail_gave_up", **answers), more)
    # A server that answered asked for time; one that was never reached is tried at the next opportunity.
    wait_min = WAITS_MIN[min(tries, len(WAITS_MIN)) - 1] if any(answer["code"] for answer in outcome["later"]) else 0
    next_try = queue.now_ms + wait_min * MINUTE_MS
    reason = reason_of("mail_later", **answers, next=_clock(next_try))
    rest = [answer["address"] for answer in outcome["later"]]
    more = {**more, "recipients": rest, "tries": tries, "next_try": next_try}
    return _note(record, queue, "queued", reason, more)


def _in_words(answers: list[Answer]) -> dict[str, str]:
    """The addresses and what the server said about them, as one line of text each."""
    text = "; ".join(dict.fromkeys(f"{answer['code'] or ''} {answer['text']}".strip() for answer in answers))
    return {"addresses": ", ".join(answer["address"] for answer in answers), "said": re.sub(r"\s+", " ", text)[:500]}
