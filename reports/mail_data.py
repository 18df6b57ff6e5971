"""A letter, the server that accepts it and the server's answers, as types.

Nothing here composes or sends.
"""

from __future__ import annotations

from datetime import datetime
from typing import Literal, NotRequired, TypedDict


class Person(TypedDict):
    """A name, which may be empty, and an address as typed."""

    name: str
    address: str


class Attachment(TypedDict):
    """An attachment; `kind` is its media type, such as "application/pdf"."""

    name: str
    content: bytes
    kind: str


class Letter(TypedDict):
    """A letter in a language (tag), as paragraphs of lines; without a sender it is a draft for a person's own program.

    `date` has a time zone.
    """

    sender: Person | None
    reply_to: Person | None
    recipients: list[Person]
    language: str
    subject: str
    paragraphs: list[list[str]]
    date: datetime
    message_id: str
    attachments: list[Attachment]


class Server(TypedDict):
    """A mail server from a person's settings; `security` is "tls", "starttls" or, only on this machine, "none"."""

    host: str
    port: int
    security: str
    user: NotRequired[str | None]
    password: NotRequired[str | None]
    ca_file: NotRequired[str | None]
    timeout_s: NotRequired[float | None]


# Why a server never answered: its name is unknown, nobody listens there, it stays silent, its certificate isn't
# trusted, it speaks another kind of encryption, or anything else.
Cause = Literal["name", "refused", "silent", "certificate", "encryption", "other"]


class Answer(TypedDict):
    """What a server said about an address; the code is 0 if it never answered."""

    address: str
    code: int
    text: str


class Delivery(TypedDict):
    """What happened to each recipient: accepted by the server, deferred, or refused; why, if it never answered."""

    accepted: list[str]
    later: list[Answer]
    refused: list[Answer]
    cause: NotRequired[Cause]
