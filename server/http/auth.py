"""Callers: who is asking. A paired phone shows its token; anything that isn't open to everybody is shut without one.

Nothing here pairs a phone or signs a person in, and nothing here reads a body.
"""

from __future__ import annotations

import time

from flask import Flask, Request, current_app, g, request

from server.http.problems import RequestFault
from sync.records.pairing import Pairings
from sync.records.people import People
from sync.wire.responses import SignedIn

# Open to everybody: the page's own files and the description, which hold no record, and the way to be paired.
OPEN = {"shell.index", "shell.file", "pairing.take_up", "openapi.document", "health.health"}
# These parts ask for a key or a passphrase of their own.
OF_THE_DESK = {"desk", "deskpages", "health"}


def bearer(incoming: Request) -> str:
    """The token of a request; "" if it shows none [text]."""
    scheme, _, token = incoming.headers.get("Authorization", "").partition(" ")
    return token.strip() if scheme.lower() == "bearer" else ""


def pairings() -> Pairings:
    """The devices of this service's folder [Pairings]."""
    pairings: Pairings = current_app.extensions["layby"]["pairings"]
    return pairings


def device_of(incoming: Request) -> str:
    """The device that is asking, by its token; if the query names one, it has to be the same.

    Args:
        incoming: the request [Request]

    Returns:
        its id [lower-case hex]

    Raises:
        RequestFault: not_paired, or bad_query if another device is named.
    """
    token = bearer(incoming)
    device = pairings().device_of(token, time.time_ns() // 1_000_000) if token else None
    if device is None:
        raise RequestFault("not_paired")
    name = incoming.args.get("device", device["device"])
    if name != device["device"]:
        raise RequestFault("bad_query", name="device", found=name[:40])
    return name


def signed_in(device: str) -> SignedIn | None:
    """The person whom a paired device is signed in as; None at a desk of one person [SignedIn or None]."""
    identifier = pairings().person_of(device)
    person = People(pairings().files).of(identifier) if identifier else None
    return None if person is None else {"id": person["id"], "name": person["name"]}


def guard(app: Flask) -> None:
    """Let no request to `app` through that isn't open, the desk's own business, or a paired phone's.

    A new route is shut until it is named here, not open until somebody remembers.
    """

    @app.before_request
    def let_in() -> None:
        if request.endpoint is None or request.endpoint in OPEN or request.blueprint in OF_THE_DESK:
            return
        g.device = device_of(request)
