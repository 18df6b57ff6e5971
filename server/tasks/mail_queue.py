"""The post: approved sheets become letters, letters become safe on disk, and only then are they sent.

Each letter keeps one Message-ID for all its tries. The one thing that cannot be known is whether a server had taken a
letter when this process was killed before writing it down: such a letter goes again under the same Message-ID.
"""

from __future__ import annotations

import hashlib
import re
import threading
import time
from dataclasses import dataclass
from datetime import datetime
from email.utils import parseaddr
from functools import partial
from typing import Any, cast

from reports import mail
from server import settings as folder_settings
from server.tasks.evening_rows import row_of
from server.tasks.sheet_data import draft_of, outline_of
from sync.isolation import Odd, Reason, apart
from sync.kernel.json_tree import Json
from sync.kernel.visit import Visit
from sync.records.logbook import Logbook, UnknownVisit
from sync.records.sheet_record import SheetPost, SheetRecord, State, StateEntry, state_of
from sync.records.sheet_records import SheetRecords
from sync.sheet.letter import letter

MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS
# Waiting times after the first, second, ... try that a server put off; the last one repeats (common practice).
WAITS_MIN = (5, 15, 60, 180, 360)
GIVE_UP_MS = 5 * 24 * 60 * MINUTE_MS
# One post at a time: two that went side by side would both find a letter unsent and both hand it over.
_AT_WORK = threading.Lock()

Row = dict[str, Any]


@dataclass
class Post:
    """What every step of the post needs at hand."""

    logbook: Logbook
    sheet_records: SheetRecords
    rulebook: dict[str, Any]
    smtp: dict[str, Any] | None
    chosen: dict[str, Any]
    now_ms: int


def send(
    logbook: Logbook, sheet_records: SheetRecords, rulebook: dict[str, Any], now_ms: int | None = None
) -> list[Row]:
    """Send every approved sheet, and try again what waits.

    Running it again sends nothing twice. Without a mail server in the settings each letter is left as a file.

    Args:
        logbook: the open logbook [Logbook]
        sheet_records: the sheets of the same folder [SheetRecords]
        rulebook: the rulebook [books by name]
        now_ms: the time to go by; the clock's when None [ms since 1970]

    Returns:
        a row for each sheet underway as from `make_sheets`, its state and reason as they are now [list]

    Raises:
        BadSettings: the folder's settings cannot be used.
    """
    settings = folder_settings.load(logbook.folder)
    at_ms = time.time_ns() // 1_000_000 if now_ms is None else now_ms
    post = Post(logbook, sheet_records, rulebook, settings["smtp"], settings["sheet"], at_ms)
    with _AT_WORK:
        return [_row_apart(visit_id, digest, post) for visit_id, digest in sheet_records.underway()]


def _row_apart(visit_id: str, digest: str, post: Post) -> Row:
    """One sheet's row, whatever its visit or its letter trips over."""
    row = apart(visit_id, partial(_row, visit_id, digest, post))
    if not isinstance(row, Odd):
        return row
    record = apart(visit_id, partial(post.sheet_records.record, visit_id, digest))
    shown = None if isinstance(record, Odd) else record
    return row_of(outline_of(post.logbook, visit_id), shown, row.reason, post.rulebook)


def _row(visit_id: str, digest: str, post: Post) -> Row:
    try:
        found = apart(visit_id, partial(post.logbook.visit, visit_id), UnknownVisit)
        visit = outline_of(post.logbook, visit_id) if isinstance(found, Odd) else found
    except UnknownVisit:
        # Its operations are gone from this folder; the record stays for a person to see.
        visit = cast(Visit, {"id": visit_id})
    record = _moved_on(post.sheet_records.record(visit_id, digest), post)
    return row_of(visit, record, None, post.rulebook)


def _moved_on(record: SheetRecord, post: Post) -> SheetRecord:
    """One sheet a step further: from approved to queued, from queued to sent, waiting or failed."""
    if state_of(record) == "approved":
        record = _queued(record, post)
    if state_of(record) == "queued" and post.smtp and _is_due(record, post):
        wait_ms = _wait_for_room(post)
        record = _held_back(record, wait_ms, post) if wait_ms else _tried(record, post)
    return record


def _wait_for_room(post: Post) -> int:
    """How long until the hourly limit lets another letter go; 0 where it may go now [ms]."""
    most = int((post.smtp or {}).get("per_hour") or 0)
    times = post.sheet_records.handed(None, post.now_ms - HOUR_MS) if most else []
    return times[-most] + HOUR_MS - post.now_ms if most and len(times) >= most else 0


def _held_back(record: SheetRecord, wait_ms: int, post: Post) -> SheetRecord:
    """A letter that the hourly limit keeps waiting; said once, not at every run."""
    reason = _reason("mail_hourly", limit=int((post.smtp or {})["per_hour"]), next=_clock(post.now_ms + wait_ms))
    last = record["states"][-1].get("reason")
    return record if last and last["code"] == reason["code"] else _note(record, post, "queued", reason)


def _clock(at_ms: int) -> str:
    return datetime.fromtimestamp(at_ms / 1000).astimezone().strftime("%H:%M")


def _note(
    record: SheetRecord, post: Post, state: State, reason: Reason | None, more: SheetPost | None = None
) -> SheetRecord:
    entry: StateEntry = {"state": state, "at": post.now_ms, "reason": reason}
    return post.sheet_records.note(record["visit"], record["revision"], entry, more)


def _reason(code: str, **values: Json) -> Reason:
    return {"code": code, "values": values}


def _queued(record: SheetRecord, post: Post) -> SheetRecord:
    """The letter written and safe on disk, or why it cannot be."""
    try:
        draft = draft_of(post.logbook, record["visit"], post.rulebook, post.chosen)
    except UnknownVisit:
        return _note(record, post, "failed", _reason("sheet_changed"))
    if draft.data is None or draft.reason:
        return _note(record, post, "failed", draft.reason)
    if draft.revision != record["revision"]:
        return _note(record, post, "failed", _reason("sheet_changed"))
    try:
        made = apart(record["visit"], partial(_spooled, draft.visit, draft.data, record, post), mail.MailFault)
    except mail.MailFault as fault:
        return _note(record, post, "failed", _reason(fault.code, **fault.values))
    return _note(record, post, "failed", made.reason) if isinstance(made, Odd) else made


def _spooled(visit: Visit, data: dict[str, Any], record: SheetRecord, post: Post) -> SheetRecord:
    written, letters = letter(cast(Any, visit), data, post.rulebook), record["letters"] + 1
    name = f"{record['visit']}-{record['revision'][:12]}-{letters}.eml"
    sender, reply_to = _senders(visit, post.smtp)
    to = [_recipient(visit)]
    # Short, so that the header stays on one line: some servers stumble over a folded Message-ID.
    message_id = f"<{hashlib.sha256(name.encode()).hexdigest()[:24]}@{_domain(sender)}>"
    message = mail.compose({
        "sender": sender, "reply_to": reply_to, "recipients": to, "message_id": message_id,
        "subject": written["subject"], "text": written["text"],
        "date": datetime.fromtimestamp(post.now_ms / 1000).astimezone(),
        "attachments": [{"name": written["file"], "kind": "application/pdf",
                         "content": post.sheet_records.pdf(record).read_bytes()}],
    })
    more: SheetPost = {
        "recipients": [mail.address(person["address"]) for person in to], "message_id": message_id, "spool": name,
        "letters": letters, "tries": 0, "next_try": None, "queued_at": post.now_ms, "taken": [], "refused": [],
    }
    if post.smtp is None:
        post.sheet_records.leave(name, message)
        return _note(record, post, "sent", _reason("left_as_file", file=f"outgoing/{name}"), more)
    post.sheet_records.spool(name, message)
    return _note(record, post, "queued", None, more)


def _recipient(visit: Visit) -> dict[str, str]:
    customer = visit.get("customer") or {}
    if not customer.get("email"):
        raise mail.MailFault("no_address")
    return {"name": customer.get("name") or "", "address": customer["email"]}


def _senders(visit: Visit, smtp: dict[str, Any] | None) -> tuple[dict[str, str] | None, dict[str, str] | None]:
    """Who the letter is from and whom an answer reaches: the account of the settings, and the technician."""
    technician = visit.get("technician") or {}
    name = technician.get("business") or technician.get("name") or ""
    own = {"name": name, "address": technician["email"]} if technician.get("email") else None
    if smtp is None:
        return own, None
    shown, account = parseaddr(str(smtp["from"]))
    sender = {"name": shown or name, "address": account or str(smtp["from"])}
    return sender, own if own and own["address"] != sender["address"] else None


def _domain(sender: dict[str, str] | None) -> str:
    return mail.address(sender["address"]).rpartition("@")[2] if sender else "layby.invalid"


def _is_due(record: SheetRecord, post: Post) -> bool:
    return record["next_try"] is None or int(record["next_try"]) <= post.now_ms


def _tried(record: SheetRecord, post: Post) -> SheetRecord:
    smtp = post.smtp or {}
    envelope = mail.address(parseaddr(str(smtp["from"]))[1] or str(smtp["from"]))
    if smtp.get("per_hour"):
        # Counted before it is handed over, so that a kill in between can only make the next one wait.
        post.sheet_records.handed(post.now_ms, post.now_ms - HOUR_MS)
    try:
        outcome = mail.deliver(post.sheet_records.letter(record), envelope, record["recipients"], smtp)
    except mail.MailFault as fault:
        return _note(record, post, "queued", _reason(fault.code, **fault.values))
    record = _written_down(record, outcome, post)
    if state_of(record) != "queued":
        post.sheet_records.unspool(record)
    return record


def _written_down(record: SheetRecord, outcome: dict[str, Any], post: Post) -> SheetRecord:
    """What the server said, as the sheet's next state."""
    refused = [*record["refused"], *outcome["refused"]]
    taken = [*record["taken"], *outcome["accepted"]]
    more: SheetPost = {"taken": taken, "refused": refused}
    if outcome["later"]:
        return _put_off(record, outcome, more, post)
    if not taken:
        return _note(record, post, "failed", _reason("mail_refused", **_said(refused)), more)
    return _note(record, post, "sent", _reason("mail_partial", **_said(refused)) if refused else None, more)


def _put_off(record: SheetRecord, outcome: dict[str, Any], more: SheetPost, post: Post) -> SheetRecord:
    said, tries = _said(outcome["later"]), int(record["tries"]) + 1
    if post.now_ms - (record["queued_at"] or 0) >= GIVE_UP_MS:
        return _note(record, post, "failed", _reason("mail_gave_up", **said), more)
    # A server that answered asked for time; one that was never reached is tried at the next chance.
    wait_min = WAITS_MIN[min(tries, len(WAITS_MIN)) - 1] if any(entry["code"] for entry in outcome["later"]) else 0
    next_try = post.now_ms + wait_min * MINUTE_MS
    reason = _reason("mail_later", **said, next=_clock(next_try))
    rest = [entry["address"] for entry in outcome["later"]]
    more = {**more, "recipients": rest, "tries": tries, "next_try": next_try}
    return _note(record, post, "queued", reason, more)


def _said(entries: list[dict[str, Any]]) -> dict[str, Any]:
    """Who and what in one line of text each, free of line ends."""
    told = "; ".join(dict.fromkeys(f"{entry['code'] or ''} {entry['text']}".strip() for entry in entries))
    return {"addresses": ", ".join(entry["address"] for entry in entries), "said": re.sub(r"\s+", " ", told)[:500]}
