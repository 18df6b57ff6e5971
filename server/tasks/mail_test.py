"""A test message to yourself: whether the mail settings work, before a customer's sheet depends on them.

It touches no sheet and no queue.
"""

from __future__ import annotations

import time
from datetime import datetime
from email.utils import parseaddr
from pathlib import Path

from reports import mail
from reports.mail_data import Person
from server import settings as folder_settings
from server.tasks.evening_rows import reason_of, remark
from server.tasks.messages import Remark
from sync.disk.safe_files import make_folder, write_whole
from sync.kernel.books import Rulebook
from sync.kernel.reason import Reason
from sync.language.locales import chosen
from sync.sheet.wording import Phrases

FILE = "test-message.eml"


def send_test(folder: Path, rulebook: Rulebook) -> Remark:
    """Send a message from the account in the settings to itself, or leave it as a file if none is set.

    Args:
        folder: the logbook's folder [path]
        rulebook: the rulebook [Rulebook]

    Returns:
        `mail_test`, `mail_test_file`, or `mail_test_failed` with what the server said [Remark]

    Raises:
        BadSettings: the folder's settings can't be used.
    """
    settings = folder_settings.load(folder)
    smtp = settings["smtp"]
    own = parseaddr(str(smtp["from"]))[1] or str(smtp["from"]) if smtp else "me@layby.invalid"
    phrases = Phrases(rulebook, chosen([settings["sheet"]["language"]], rulebook["words"]), None)
    now = datetime.now().astimezone()
    person: Person = {"name": "", "address": own}
    try:
        message = mail.compose({
            "sender": person, "reply_to": None, "recipients": [person], "date": now, "attachments": [],
            "language": phrases.language, "subject": phrases.mail("test_subject"),
            "paragraphs": [[phrases.mail("test_text")]],
            "message_id": f"<test-{time.time_ns()}@{own.rpartition('@')[2]}>",
        })
        if smtp is None:
            return remark(_left(folder, message), rulebook)
        outcome = mail.deliver(message, mail.address(own), [mail.address(own)], smtp)
    except mail.MailFault as fault:
        return remark(reason_of(fault.code, **fault.values), rulebook)
    turned_away = [*outcome["later"], *outcome["refused"]]
    if turned_away:
        answer = " ".join(f"{turned_away[0]['code'] or ''} {turned_away[0]['text']}".split())
        return remark(reason_of("mail_test_failed", address=own, said=answer), rulebook)
    return remark(reason_of("mail_test", address=own), rulebook)


def _left(folder: Path, message: bytes) -> Reason:
    make_folder(folder / "outgoing")
    write_whole(folder / "outgoing" / FILE, message)
    return reason_of("mail_test_file", file=f"outgoing/{FILE}")
