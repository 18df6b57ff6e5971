"""A letter, the server that takes it and what that says, as types.

Nothing here composes or sends.
"""

from __future__ import annotations

from datetime import datetime
from typing import NotRequired, TypedDict


class Person(TypedDict):
    """A name, which may be empty, and an address as it was typed."""

    name: str
    address: str


class Attachment(TypedDict):
    """A file of a letter; `kind` is such as "application/pdf"."""

    name: str
    content: bytes
    kind: str


class Letter(TypedDict):
    """A letter in a language (tag), as paragraphs of lines; no sender leaves a draft for a person's own program.

    `date` is aware of its zone.
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
    """A mail server by a person's settings; `security` is "tls", "starttls" or, on this machine only, "none"."""

    host: str
    port: int
    security: str
    user: NotRequired[str | None]
    password: NotRequired[str | None]
    ca_file: NotRequired[str | None]
    timeout_s: NotRequired[float | None]


class Answer(TypedDict):
    """What a server said of an address; the code is 0 where it never answered."""

    address: str
    code: int
    text: str


class Delivery(TypedDict):
    """What became of each recipient: taken by the server, put off, or refused."""

    accepted: list[str]
    later: list[Answer]
    refused: list[Answer]
