"""Mail: a letter composed once, and the same bytes handed to a mail server.

It keeps no queue and decides no retry; it says exactly who was accepted, who was refused, and whether to try later.
"""

from __future__ import annotations

import re
import smtplib
import socket
import ssl
from collections.abc import Mapping, Sequence
from contextlib import suppress
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP
from html import escape
from ipaddress import ip_address

from reports.mail_data import Answer, Cause, Delivery, Letter, Person, Server

TIMEOUT_S = 30.0
ADDRESS_LONGEST = 254
# RFC 6531, section 3.5: what a server without the extension would answer.
NO_SUCH_SCRIPT = (553, b"the server takes no addresses of this script")
BODY = "margin:1.5em;max-width:36em;font:16px/1.5 Georgia,serif;color:#15181c;background:#ffffff"
# Control characters other than the line end have no meaning in HTML (WHATWG HTML, 13.2.3.5).
_UNPRINTABLE = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\ud800-\udfff]")
_LOCAL = re.compile(r"[^\s@<>()\[\],;:\\\"\x00-\x1f\x7f]{1,64}")
_LABEL = r"[A-Za-z0-9]([A-Za-z0-9-]{0,61}[A-Za-z0-9])?"
_DOMAIN = re.compile(rf"(?=.{{1,253}}$)({_LABEL}\.)*{_LABEL}")


class MailFault(Exception):
    """A letter or a setting that can't be used; `code` is stable, `values` fill its sentence."""

    def __init__(self, code: str, **values: str) -> None:
        super().__init__(code, values)
        self.code = code
        self.values = values


def address(text: str) -> str:
    """One mail address, with its domain in the form that servers accept.

    Args:
        text: what was typed [text]

    Returns:
        local part and ASCII domain; the local part may be in any script [address]

    Raises:
        MailFault: `bad_address`, it isn't a single address.

    Source: RFC 5321, section 4.1.2, without quoted local parts; RFC 5890 for names of other scripts.
    """
    typed = text.strip()
    local, at, domain = typed.rpartition("@")
    try:
        host = domain.encode("idna").decode("ascii") if not domain.isascii() else domain
    except UnicodeError as error:
        raise MailFault("bad_address", address=typed) from error
    sound = at and _LOCAL.fullmatch(local) and _DOMAIN.fullmatch(host) and not local.startswith(".")
    if not sound or local.endswith(".") or ".." in local or len(typed) > ADDRESS_LONGEST:
        raise MailFault("bad_address", address=typed)
    return f"{local}@{host}"


def compose(letter: Letter) -> bytes:
    """A letter as the bytes that are kept, sent, and sent again: plain text, and the same words as HTML.

    Args:
        letter: sender, recipients, text and attachments [Letter]

    Returns:
        the message with CRLF lines [bytes]

    Raises:
        MailFault: `bad_address`, `no_recipient`.
    """
    if not letter["recipients"]:
        raise MailFault("no_recipient")
    message = EmailMessage(policy=SMTP.clone(utf8=_any_script(letter)))
    if letter["sender"]:
        message["From"] = _person(letter["sender"])
    if letter["reply_to"]:
        message["Reply-To"] = _person(letter["reply_to"])
    message["To"] = [_person(person) for person in letter["recipients"]]
    message["Subject"] = _one_line(letter["subject"])
    message["Date"] = letter["date"]
    message["Message-ID"] = letter["message_id"]
    message.set_content(plain(letter))
    message.add_alternative(markup(letter), subtype="html")
    # Boundaries are random by default; the same letter must give the same bytes.
    mark = re.sub(r"[^0-9A-Za-z]", "", letter["message_id"])[:50]
    message.set_boundary(f"=_{mark}_words")
    for part in letter["attachments"]:
        main, _, sub = part["kind"].partition("/")
        message.add_attachment(part["content"], maintype=main, subtype=sub, filename=_one_line(part["name"]))
    if letter["attachments"]:
        message.set_boundary(f"=_{mark}")
    return message.as_bytes()


def plain(letter: Letter) -> str:
    """The words of a letter as plain text, with an empty line between paragraphs."""
    return "\n\n".join("\n".join(lines) for lines in letter["paragraphs"]) + "\n"


def markup(letter: Letter) -> str:
    """The same words as HTML that loads nothing, with every special character escaped."""
    paragraphs = "\n".join(f'<p style="margin:0 0 1em">{"<br>".join(map(_html, lines))}</p>'
                           for lines in letter["paragraphs"])
    return (f'<!DOCTYPE html>\n<html lang="{_html(letter["language"])}">\n<head><meta charset="utf-8">'
            f'<title>{_html(letter["subject"])}</title></head>\n'
            f'<body style="{BODY}">\n{paragraphs}\n</body>\n</html>\n')


def _html(text: str) -> str:
    return escape(_UNPRINTABLE.sub("", text)).replace("\n", "<br>")


def deliver(message: bytes, sender: str, recipients: Sequence[str], server: Server) -> Delivery:
    """Hand a message to a mail server.

    Accepted by the server isn't yet delivered. Each recipient ends in exactly one of the three lists.

    Args:
        message: from `compose` [bytes]
        sender: the envelope's sender [address]
        recipients: the envelope's recipients [addresses]
        server: the server and the account there [Server]

    Returns:
        what happened to each recipient [Delivery]

    Raises:
        MailFault: `mail_security`, the settings would send unencrypted over a network.
    """
    _forbid_clear_text(server)
    try:
        with _connected(server) as smtp:
            return _handed_over(smtp, message, sender, recipients)
    except smtplib.SMTPResponseException as error:
        # Refused before any letter was named: the account or the server is at fault, not the letter, so it waits.
        return _all_later(recipients, error.smtp_code, _text(error.smtp_error))
    except (OSError, smtplib.SMTPException) as error:
        return _all_later(recipients, 0, str(error) or type(error).__name__, _cause_of(error))


def _handed_over(smtp: smtplib.SMTP, message: bytes, sender: str, recipients: Sequence[str]) -> Delivery:
    options = [] if smtp_ascii(sender, recipients) or not smtp.has_extn("smtputf8") else ["SMTPUTF8"]
    if not smtp_ascii(sender, recipients) and not options:
        return _sorted_out([], dict.fromkeys(recipients, NO_SUCH_SCRIPT))
    try:
        turned_away = smtp.sendmail(sender, list(recipients), message, mail_options=options)
    except smtplib.SMTPRecipientsRefused as error:
        return _sorted_out([], error.recipients)
    except (smtplib.SMTPSenderRefused, smtplib.SMTPDataError) as error:
        answer = (error.smtp_code, _raw(error.smtp_error))
        return _sorted_out([], dict.fromkeys(recipients, answer))
    except smtplib.SMTPResponseException as error:
        return _sorted_out([], dict.fromkeys(recipients, (error.smtp_code, _raw(error.smtp_error))))
    accepted = [name for name in recipients if name not in turned_away]
    return _sorted_out(accepted, turned_away)


def smtp_ascii(sender: str, recipients: Sequence[str]) -> bool:
    """Whether all addresses of an envelope are plain ASCII, which every server accepts."""
    return sender.isascii() and all(name.isascii() for name in recipients)


def _sorted_out(accepted: list[str], turned_away: Mapping[str, tuple[int, bytes]]) -> Delivery:
    answers: list[Answer] = [{"address": name, "code": code, "text": _text(text)}
                             for name, (code, text) in turned_away.items()]
    return {
        "accepted": accepted,
        "later": [answer for answer in answers if answer["code"] < 500],
        "refused": [answer for answer in answers if answer["code"] >= 500],
    }


def _all_later(recipients: Sequence[str], code: int, text: str, cause: Cause | None = None) -> Delivery:
    later: list[Answer] = [{"address": name, "code": code, "text": text} for name in recipients]
    delivery: Delivery = {"accepted": [], "later": later, "refused": []}
    return delivery if cause is None else {**delivery, "cause": cause}


def _cause_of(error: Exception) -> Cause:
    """Why a server never answered, as far as the system says."""
    causes: list[tuple[type[Exception], Cause]] = [
        (socket.gaierror, "name"), (ConnectionRefusedError, "refused"), (TimeoutError, "silent"),
        (ssl.SSLCertVerificationError, "certificate"), (ssl.SSLError, "encryption"),
        (smtplib.SMTPNotSupportedError, "encryption"), (smtplib.SMTPServerDisconnected, "silent"),
    ]
    return next((cause for kind, cause in causes if isinstance(error, kind)), "other")


class _Connection:
    """An open, secured and signed-in connection; closing it never hides an earlier error."""

    def __init__(self, smtp: smtplib.SMTP) -> None:
        self.smtp = smtp

    def __enter__(self) -> smtplib.SMTP:
        return self.smtp

    def __exit__(self, *_: object) -> None:
        # After the answer to the letter, a failing goodbye changes nothing.
        with suppress(OSError, smtplib.SMTPException):
            self.smtp.quit()
        self.smtp.close()


def _connected(server: Server) -> _Connection:
    host, port, timeout = str(server["host"]), int(server["port"]), float(server.get("timeout_s") or TIMEOUT_S)
    context = ssl.create_default_context(cafile=server.get("ca_file") or None)
    if server["security"] == "tls":
        smtp: smtplib.SMTP = smtplib.SMTP_SSL(host, port, timeout=timeout, context=context)
    else:
        smtp = smtplib.SMTP(host, port, timeout=timeout)
    try:
        smtp.ehlo_or_helo_if_needed()
        if server["security"] == "starttls":
            smtp.starttls(context=context)
            smtp.ehlo()
        user = server.get("user")
        if user:
            smtp.login(str(user), str(server.get("password") or ""))
    except BaseException:
        smtp.close()
        raise
    return _Connection(smtp)


def _forbid_clear_text(server: Server) -> None:
    security, host = str(server["security"]), str(server["host"])
    if security in ("tls", "starttls") or (security == "none" and _is_here(host)):
        return
    raise MailFault("mail_security", security=security, host=host)


def _is_here(host: str) -> bool:
    """Whether a host is this machine: only then may a letter travel unencrypted."""
    if host == "localhost":
        return True
    try:
        return ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def _person(person: Person) -> Address:
    local, _, host = address(person["address"]).rpartition("@")
    return Address(display_name=_one_line(person["name"]), username=local, domain=host)


def _any_script(letter: Letter) -> bool:
    people = [person for person in (letter["sender"], letter["reply_to"], *letter["recipients"]) if person]
    return not all(address(person["address"]).isascii() for person in people)


def _one_line(text: str) -> str:
    """Header text: no line end in it can start another header."""
    return " ".join(re.sub(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]", " ", text).split())


def _raw(text: bytes | str) -> bytes:
    return text if isinstance(text, bytes) else text.encode("utf-8", "replace")


def _text(text: bytes | str) -> str:
    return " ".join(_raw(text).decode("utf-8", "replace").split())
