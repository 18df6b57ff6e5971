"""A test message to yourself: whether the mail settings work, before a customer's sheet depends on them.

It touches no sheet and no queue. What came of the last one is noted beside the settings, until they change.
"""

from __future__ import annotations

import json
import time
from dataclasses import asdict, dataclass
from datetime import datetime
from email.utils import parseaddr

from reports import mail
from reports.mail_data import Person
from server import settings as folder_settings
from server.tasks.evening_rows import reason_of, remark
from server.tasks.messages import Remark
from sync.kernel.books import Rulebook
from sync.kernel.reason import Reason
from sync.language.locales import chosen
from sync.records.locks import MAIL_TRIAL, claimed
from sync.records.store.files import Files, read_or_set_aside
from sync.sheet.wording import Phrases

FILE = "test-message.eml"
# What came of the last test, until the mail settings change; no backup holds it.
NOTE = "mail-tried.json"
SECONDS_PLACES = 1
# Answers of a server that ask for another account or password (RFC 4954, section 4.7; RFC 3207, section 4).
OF_ACCOUNT = (530, 534, 535, 538)


@dataclass(frozen=True)
class Trial:
    """What came of a test: when [ms since 1970], how long it took [s], its code, what was said, and what to look at.

    `cause` is one of `mail_data.Cause`, "account" or "server"; "" where it worked.
    """

    at_ms: int
    seconds: float
    code: str
    said: str
    cause: str

    @property
    def worked(self) -> bool:
        """Whether the server took it."""
        return self.code == "mail_test"


def last_trial(files: Files) -> Trial | None:
    """What came of the last test with the settings as they are; None if there was none [Trial or None]."""
    with claimed(MAIL_TRIAL, files.claim):
        return read_or_set_aside(files, NOTE, lambda content: Trial(**json.loads(content)))


def forget_trial(files: Files) -> None:
    """The mail settings changed, so the last test says nothing about them."""
    with claimed(MAIL_TRIAL, files.claim):
        files.remove(NOTE)


def try_out(files: Files, rulebook: Rulebook) -> Remark:
    """Send a test message as `send_test` does, and note what came of it.

    Args:
        files: of the logbook [Files]
        rulebook: the rulebook [Rulebook]

    Returns:
        as from `send_test` [Remark]

    Raises:
        BadSettings: the folder's settings can't be used.
    """
    begun = time.monotonic()
    told = send_test(files, rulebook)
    seconds = round(time.monotonic() - begun, SECONDS_PLACES)
    values = told["values"]
    trial = Trial(time.time_ns() // 1_000_000, seconds, told["code"], str(values.get("said") or ""),
                  str(values.get("cause") or ""))
    with claimed(MAIL_TRIAL, files.claim):
        files.write(NOTE, json.dumps(asdict(trial)).encode("utf-8"))
    return told


def send_test(files: Files, rulebook: Rulebook) -> Remark:
    """Send a message from the account in the settings to itself, or leave it as a file if none is set.

    Args:
        files: of the logbook [Files]
        rulebook: the rulebook [Rulebook]

    Returns:
        `mail_test`, `mail_test_file`, or `mail_test_failed` with what the server said [Remark]

    Raises:
        BadSettings: the folder's settings can't be used.
    """
    settings = folder_settings.load(files)
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
            return remark(_left(files, message), rulebook)
        outcome = mail.deliver(message, mail.address(own), [mail.address(own)], smtp)
    except mail.MailFault as fault:
        return remark(reason_of(fault.code, **fault.values), rulebook)
    turned_away = [*outcome["later"], *outcome["refused"]]
    if turned_away:
        cause = outcome.get("cause") or ("account" if turned_away[0]["code"] in OF_ACCOUNT else "server")
        answer = " ".join(f"{turned_away[0]['code'] or ''} {turned_away[0]['text']}".split())
        return remark(reason_of("mail_test_failed", address=own, said=answer, cause=cause), rulebook)
    return remark(reason_of("mail_test", address=own), rulebook)


def _left(files: Files, message: bytes) -> Reason:
    files.write(f"outgoing/{FILE}", message)
    return reason_of("mail_test_file", file=f"outgoing/{FILE}")
