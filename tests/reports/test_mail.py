"""Mail: the letter read back by an independent parser, and handed to a real SMTP server over TLS.

The peer is aiosmtpd with certificates of a test authority; codes as in RFC 5321, section 4.2.
"""

from __future__ import annotations

import socket
import ssl
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from email import message_from_bytes
from email.policy import default
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
import trustme
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult, Envelope, LoginPassword, Session

from reports.mail import MailFault, address, compose, deliver
from tests.support.service import PATIENCE_S, free_port

LETTER: dict[str, Any] = {
    "sender": {"name": "Alder Coast Mobile Cooling", "address": "office@aldercoast.example"},
    "reply_to": {"name": "I. Varga", "address": "varga@aldercoast.example"},
    "recipients": [{"name": "Πέτρος Жуков", "address": "petros@gorse.example"}],
    "subject": "Alder Coast Mobile Cooling: job sheet, 14 July 2026 – 21 °C",
    "language": "el-GR", "paragraphs": [["Hello Πέτρος,"], ["The work accounts for −55 psi.", "Kind regards"]],
    "date": datetime(2026, 7, 14, 18, 0, tzinfo=UTC), "message_id": "<sheet-1@aldercoast.example>",
    "attachments": [{"name": "job-sheet-2026-07-14.pdf", "kind": "application/pdf",
                     "content": b"%PDF-1.7 \x00\xff\r\n.\r\nend"}],
}
SENDER, TO = "office@aldercoast.example", "petros@gorse.example"


class Peer:
    """An SMTP server's behaviour: answers by recipient and for the data, in turn; what it accepted is kept."""

    def __init__(self) -> None:
        self.taken: list[Envelope] = []
        self.by_recipient: dict[str, str] = {}
        self.for_data: list[str] = []
        self.cut = False

    async def handle_RCPT(  # noqa: N802 -- aiosmtpd's name
        self, server: SMTP, session: Session, envelope: Envelope, name: str, options: list[str]
    ) -> str:
        """Accept a recipient, or answer as told."""
        answer = self.by_recipient.get(name, "250 OK")
        if answer.startswith("250"):
            envelope.rcpt_tos.append(name)
        return answer

    async def handle_DATA(  # noqa: N802 -- aiosmtpd's name
        self, server: SMTP, session: Session, envelope: Envelope
    ) -> str:
        """Accept a letter, or answer as told, or break off."""
        if self.cut:
            assert server.transport is not None
            server.transport.abort()
        answer = self.for_data.pop(0) if self.for_data else "250 OK"
        if answer.startswith("250"):
            self.taken.append(envelope)
        return answer


class Authority:
    """A certificate authority of the tests and what it certifies."""

    def __init__(self, folder: Path, name: str = "127.0.0.1") -> None:
        authority = trustme.CA()
        self.file = folder / "authority.pem"
        authority.cert_pem.write_to_path(self.file)
        self.context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        authority.issue_cert(name).configure_cert(self.context)


@contextmanager
def listening(peer: Peer, **how: Any) -> Iterator[int]:
    """A real server on a loopback port, with that behaviour."""
    port = free_port()
    controller = Controller(peer, hostname="127.0.0.1", port=port, ready_timeout=PATIENCE_S, **how)
    controller.start()
    try:
        yield port
    finally:
        controller.stop()


def account(port: int, security: str = "none", **more: Any) -> dict[str, Any]:
    """Settings of a mail account."""
    return {"host": "127.0.0.1", "port": port, "security": security, "user": None, "password": None, "ca_file": None,
            "timeout_s": PATIENCE_S, **more}


def test_a_letter_reads_back_whole() -> None:
    """Headers of any script, plain text and the attachment, byte for byte."""
    message = message_from_bytes(compose(LETTER), policy=default)
    assert message["From"].addresses[0].addr_spec == SENDER
    assert message["To"].addresses[0].display_name == "Πέτρος Жуков"
    assert message["Reply-To"].addresses[0].addr_spec == "varga@aldercoast.example"
    assert message["Subject"] == LETTER["subject"]
    assert message["Message-ID"] == LETTER["message_id"]
    assert message["Date"].datetime == LETTER["date"]
    body = message.get_body(("plain",))
    assert body is not None
    assert body.get_content().replace("\r\n", "\n") == (
        "Hello Πέτρος,\n\nThe work accounts for −55 psi.\nKind regards\n")
    part = next(message.iter_attachments())
    assert part.get_content() == LETTER["attachments"][0]["content"]
    assert (part.get_content_type(), part.get_filename()) == ("application/pdf", "job-sheet-2026-07-14.pdf")


def test_the_same_letter_is_the_same_bytes() -> None:
    """Sent again it is the same message, including the boundary."""
    assert compose(LETTER) == compose(LETTER)


def test_lines_end_and_fit_as_mail_wants() -> None:
    """CR LF throughout and no line over 998 octets (RFC 5322, section 2.1.1), however long the text's lines."""
    message = compose({**LETTER, "paragraphs": [["x" * 5000 + " end"]]})
    lines = message.split(b"\r\n")
    assert all(b"\n" not in line and len(line) <= 998 for line in lines)


class Words(HTMLParser):
    """What a mail program would show of HTML, and everything it would load or run."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """A tag; a line ends where a tag says so."""
        self.tags.append((tag, dict(attrs)))
        self.text += "\n" if tag == "br" else ""

    def handle_data(self, data: str) -> None:
        """A text."""
        self.text += data


def html_of(letter: dict[str, Any]) -> Words:
    """The HTML alternative of a letter, read by Python's own parser."""
    body = message_from_bytes(compose(letter), policy=default).get_body(("html",))
    assert body is not None
    return Words(body.get_content().replace("\r\n", "\n"))


def test_the_html_says_the_same_words_in_the_same_language() -> None:
    """Both alternatives side by side, the sheet beside them; a program shows the last one it can (RFC 2046, 5.1.4)."""
    message = message_from_bytes(compose(LETTER), policy=default)
    assert message.get_content_type() == "multipart/mixed"
    alternative, attached = message.iter_parts()
    assert [part.get_content_type() for part in alternative.iter_parts()] == ["text/plain", "text/html"]
    assert attached.get_content_type() == "application/pdf"
    shown = html_of(LETTER)
    assert ("html", {"lang": "el-GR"}) in shown.tags
    assert "Hello Πέτρος,\nThe work accounts for −55 psi.\nKind regards" in shown.text


def test_a_letter_loads_and_runs_nothing() -> None:
    """Markup in a name is only letters, and no tag of the letter's own fetches anything."""
    hostile = "<img src=http://127.0.0.1/x onerror=alert(1)></p><script>1</script>&amp;"
    shown = html_of({**LETTER, "subject": hostile, "language": '"><script>', "paragraphs": [[hostile], [hostile]]})
    assert {tag for tag, _ in shown.tags} == {"html", "head", "meta", "title", "body", "p"}
    assert shown.text.count(hostile) == 3
    assert {name for _, attributes in shown.tags for name in attributes} == {"lang", "charset", "style"}


def test_no_text_starts_a_header_of_its_own() -> None:
    """Line ends in a subject or a name are spaces."""
    letter = {**LETTER, "subject": "sheet\r\nBcc: everyone@example.example"}
    letter["sender"] = {**LETTER["sender"], "name": "A\nB: c"}
    message = message_from_bytes(compose(letter), policy=default)
    assert message["Bcc"] is None
    assert message["B"] is None
    assert message["Subject"] == "sheet Bcc: everyone@example.example"


NO_ADDRESSES = ("", "noor", "noor@", "@halloran.example", "a b@c.example", "a@b@c.example", "a@-b.example",
                "a@b..example", "x\r\nDATA@c.example", "<a@b.example>", "a@b.example, c@d.example", ".a@b.example",
                "a..b@c.example", "a@" + "b" * 64 + ".example")


@pytest.mark.parametrize("text", NO_ADDRESSES)
def test_what_is_no_address_is_said(text: str) -> None:
    """One valid address or a named fault, never a guess."""
    with pytest.raises(MailFault) as fault:
        address(text)
    assert fault.value.code == "bad_address"


@pytest.mark.parametrize(("typed", "sent"), [
    (" noor@halloran.example ", "noor@halloran.example"), ("a+b.c@d-e.example", "a+b.c@d-e.example"),
    ("noor@bücher.example", "noor@xn--bcher-kva.example"),  # the usual example of RFC 3492's kind, from memory
])
def test_an_address_is_taken_as_servers_want_it(typed: str, sent: str) -> None:
    """Trimmed, and its domain in ASCII."""
    assert address(typed) == sent


@pytest.mark.parametrize("security", ["tls", "starttls"])
def test_a_letter_arrives_over_tls(security: str, tmp_path: Path) -> None:
    """Over implicit TLS and over STARTTLS, with the certificate checked and the message complete, dots included."""
    peer, authority = Peer(), Authority(tmp_path)
    how = {"ssl_context": authority.context} if security == "tls" else {
        "tls_context": authority.context, "require_starttls": True}
    with listening(peer, **how) as port:
        outcome = deliver(compose(LETTER), SENDER, [TO], account(port, security, ca_file=str(authority.file)))
    assert outcome == {"accepted": [TO], "later": [], "refused": []}
    (envelope,) = peer.taken
    assert (envelope.mail_from, envelope.rcpt_tos) == (SENDER, [TO])
    received = message_from_bytes(bytes(envelope.content or b""), policy=default)
    assert next(received.iter_attachments()).get_content() == LETTER["attachments"][0]["content"]


@pytest.mark.parametrize("wrong", ["stranger", "other host"])
def test_a_wrong_certificate_gets_no_letter(wrong: str, tmp_path: Path) -> None:
    """Signed by an unknown authority, or issued for another host: the letter waits, nothing was sent."""
    peer, authority = Peer(), Authority(tmp_path, "127.0.0.1" if wrong == "stranger" else "mail.elsewhere.example")
    known = None if wrong == "stranger" else str(authority.file)
    with listening(peer, ssl_context=authority.context) as port:
        outcome = deliver(compose(LETTER), SENDER, [TO], account(port, "tls", ca_file=known))
    assert [entry["address"] for entry in outcome["later"]] == [TO]
    assert "certificate" in outcome["later"][0]["text"]
    assert peer.taken == []


def test_a_server_without_starttls_gets_no_letter() -> None:
    """STARTTLS requested but not offered: the letter waits instead of going unencrypted."""
    peer = Peer()
    with listening(peer) as port:
        outcome = deliver(compose(LETTER), SENDER, [TO], account(port, "starttls"))
    assert outcome["later"]
    assert peer.taken == []


@pytest.mark.parametrize("host", ["mail.example", "192.0.2.7", "localhost.example"])
def test_nothing_leaves_the_machine_in_the_clear(host: str) -> None:
    """Without TLS, only this machine is acceptable as a mail server."""
    with pytest.raises(MailFault) as fault:
        deliver(compose(LETTER), SENDER, [TO], account(25, "none") | {"host": host})
    assert fault.value.code == "mail_security"


def test_signing_in_works_and_a_wrong_password_waits(tmp_path: Path) -> None:
    """The right password sends; the wrong one is the account's fault, not the letter's."""
    peer, authority = Peer(), Authority(tmp_path)

    def known(server: Any, session: Any, envelope: Any, mechanism: str, given: Any) -> AuthResult:
        sound = isinstance(given, LoginPassword) and given.password == b"correct horse"
        return AuthResult(success=sound, handled=sound)

    with listening(peer, tls_context=authority.context, require_starttls=True, authenticator=known,
                   auth_required=True) as port:
        right = account(port, "starttls", ca_file=str(authority.file), user="varga", password="correct horse")
        assert deliver(compose(LETTER), SENDER, [TO], right)["accepted"] == [TO]
        outcome = deliver(compose(LETTER), SENDER, [TO], {**right, "password": "wrong"})
    assert outcome["later"][0]["code"] == 535
    assert len(peer.taken) == 1


@pytest.mark.parametrize(
    ("answer", "place"), [("451 later", "later"), ("550 no", "refused"), ("552 too large", "refused")])
def test_an_answer_to_the_data_sorts_the_recipient(answer: str, place: str) -> None:
    """4xx waits, 5xx is for a person, and the server's words are kept."""
    peer = Peer()
    peer.for_data = [answer]
    with listening(peer) as port:
        outcome = deliver(compose(LETTER), SENDER, [TO], account(port))
    assert outcome[place] == [{"address": TO, "code": int(answer[:3]), "text": answer[4:]}]
    assert outcome["accepted"] == []


def test_recipients_are_sorted_one_by_one() -> None:
    """One accepted, one deferred, one refused: each in its own list."""
    peer = Peer()
    peer.by_recipient = {"later@gorse.example": "450 busy", "gone@gorse.example": "550 no such person"}
    with listening(peer) as port:
        outcome = deliver(compose(LETTER), SENDER, [TO, "later@gorse.example", "gone@gorse.example"], account(port))
    assert outcome == {
        "accepted": [TO],
        "later": [{"address": "later@gorse.example", "code": 450, "text": "busy"}],
        "refused": [{"address": "gone@gorse.example", "code": 550, "text": "no such person"}],
    }


def test_a_connection_cut_in_the_data_waits() -> None:
    """The server never confirmed it."""
    peer = Peer()
    peer.cut = True
    with listening(peer) as port:
        outcome = deliver(compose(LETTER), SENDER, [TO], account(port))
    assert [entry["address"] for entry in outcome["later"]] == [TO]


def test_a_server_that_is_not_there_waits() -> None:
    """Nobody listens: nothing is lost, and the reason is reported."""
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        outcome = deliver(compose(LETTER), SENDER, [TO], account(held.getsockname()[1]))
    assert outcome["later"][0]["code"] == 0
    assert outcome["later"][0]["text"]


def test_a_name_of_another_script_needs_a_server_that_takes_it() -> None:
    """The part before the at sign in Cyrillic: sent with SMTPUTF8 (RFC 6531) if offered, otherwise left to a person."""
    letter = {**LETTER, "recipients": [{"name": "", "address": "жанна@gorse.example"}]}
    peer = Peer()
    with listening(peer, enable_SMTPUTF8=True) as port:
        assert deliver(compose(letter), SENDER, ["жанна@gorse.example"], account(port))["accepted"]
    with listening(peer, enable_SMTPUTF8=False) as port:
        outcome = deliver(compose(letter), SENDER, ["жанна@gorse.example"], account(port))
    assert outcome["refused"][0]["code"] == 553
