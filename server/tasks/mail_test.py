"""A test message to oneself: whether the mail settings work, before a customer's sheet depends on them.

It touches no sheet and no queue.
"""

from __future__ import annotations

import time
from datetime import datetime
from email.utils import parseaddr
from pathlib import Path
from typing import Any

from reports import mail
from server import settings as folder_settings
from server.tasks.evening_rows import told
from sync.isolation import Reason
from sync.records.safe_files import make_folder, write_whole

FILE = "test-message.eml"


def send_test(folder: Path, rulebook: dict[str, Any]) -> dict[str, Any]:
    """Send a message from the account of the settings to itself, or leave it as a file where none is set.

    Args:
        folder: the logbook's folder [path]
        rulebook: the rulebook with its `wording` and `sheet_words` [books by name]

    Returns:
        {code, values, text}: `mail_test`, `mail_test_file`, or `mail_test_failed` with what the server said [mapping]

    Raises:
        BadSettings: the folder's settings cannot be used.
    """
    chosen = folder_settings.load(folder)
    smtp = chosen["smtp"]
    own = parseaddr(str(smtp["from"]))[1] or str(smtp["from"]) if smtp else "me@layby.invalid"
    words = rulebook["sheet_words"]["languages"][chosen["sheet"]["language"]]["mail"]
    now = datetime.now().astimezone()
    person = {"name": "", "address": own}
    try:
        message = mail.compose({
            "sender": person, "reply_to": None, "recipients": [person], "subject": words["test_subject"],
            "text": words["test_text"] + "\n", "date": now, "attachments": [],
            "message_id": f"<test-{time.time_ns()}@{own.rpartition('@')[2]}>",
        })
        if smtp is None:
            return told(_left(folder, message), rulebook)
        outcome = mail.deliver(message, mail.address(own), [mail.address(own)], smtp)
    except mail.MailFault as fault:
        return told({"code": fault.code, "values": {**fault.values}}, rulebook)
    turned_away = [*outcome["later"], *outcome["refused"]]
    if turned_away:
        said = " ".join(f"{turned_away[0]['code'] or ''} {turned_away[0]['text']}".split())
        return told({"code": "mail_test_failed", "values": {"address": own, "said": said}}, rulebook)
    return told({"code": "mail_test", "values": {"address": own}}, rulebook)


def _left(folder: Path, message: bytes) -> Reason:
    make_folder(folder / "outgoing")
    write_whole(folder / "outgoing" / FILE, message)
    return {"code": "mail_test_file", "values": {"file": f"outgoing/{FILE}"}}
