"""Filing: operations come in, receipts go out.

Nothing here judges an operation; it reads the request, hands the body to `sync.work.intake` and answers.
"""

from __future__ import annotations

import time

from flask import Blueprint, Response, current_app, request

from server.http.auth import device_of, signed_in
from server.http.problems import RequestFault
from sync.records import receipts as receipt_book
from sync.records.logbook import Logbook
from sync.records.receipts import RECEIPTS_MOST
from sync.wire.bundle import PART_BYTES
from sync.wire.responses import Changes, Results
from sync.wire.results import Receipts
from sync.work import bundle_intake, changes, intake

TYPES = ("text/plain", "application/x-ndjson")
SEQ_MOST = 2**53

pages = Blueprint("filing", __name__)


def logbook() -> Logbook:
    """The open logbook of this service [Logbook]."""
    open_logbook: Logbook = current_app.extensions["layby"]["logbook"]
    return open_logbook


def body_of(most_bytes: int, types: tuple[str, ...]) -> bytes:
    """The complete body of this request.

    Args:
        most_bytes: the largest accepted body [bytes]
        types: the accepted content types [texts]

    Returns:
        the body [bytes]

    Raises:
        RequestFault: no_length, body_too_large, wrong_type, or cut_short if less arrived than was announced.
    """
    length = request.content_length
    if length is None or request.headers.get("Transfer-Encoding"):
        # A chunked body can be cut off unnoticed; one of a known length can't.
        raise RequestFault("no_length")
    if length > most_bytes:
        raise RequestFault("body_too_large", length=length, limit=most_bytes)
    if request.mimetype not in types:
        raise RequestFault("wrong_type", found=request.mimetype, wanted=", ".join(types))
    if request.environ.get("layby.silent"):
        raise RequestFault("too_slow", length=length)
    body = request.get_data(cache=False)
    if len(body) != length:
        raise RequestFault("cut_short", length=length, came=len(body))
    return body


def number_of(name: str, least: int, default: str) -> int:
    """A whole number in the query [count].

    Raises:
        RequestFault: bad_query.
    """
    text = request.args.get(name, default)
    if not (text.isascii() and text.isdigit() and len(text) <= 16 and least <= int(text) <= SEQ_MOST):
        raise RequestFault("bad_query", name=name, found=text[:40])
    return int(text)


@pages.post("/sync")
def file_batch() -> Results:
    """POST /sync: 1 to 50 op lines, at most 512,000 bytes, from the calling phone; one result for each, in order."""
    body = body_of(intake.BODY_MOST, TYPES)
    return intake.receive(logbook(), body, time.time_ns() // 1_000_000, sender=device_of(request))


@pages.post("/bundles")
def file_part() -> Response:
    """POST /bundles: one file carried by hand from the calling phone, at most 16 MiB; answers its receipt file."""
    body = body_of(PART_BYTES, TYPES)
    content = bundle_intake.receive_bundle(logbook(), body, time.time_ns() // 1_000_000, device_of(request))
    response = Response(content, content_type="text/plain; charset=utf-8")
    response.headers["Content-Disposition"] = 'attachment; filename="layby-receipt.txt"'
    return response


@pages.get("/receipts")
def receipts() -> Receipts:
    """GET /receipts?device=&after=&limit=: what was answered for a device's operations with a seq above `after`."""
    device, after, most = device_of(request), number_of("after", 0, "0"), number_of("limit", 1, str(RECEIPTS_MOST))
    return receipt_book.receipts(logbook(), device, after, min(most, RECEIPTS_MOST))


@pages.get("/changes")
def changes_for_device() -> Changes:
    """GET /changes?device=&after=: what others did to this device's visits and vehicles, from a cursor on."""
    device, after = device_of(request), request.args.get("after", "")
    return {**changes.changes(logbook(), device, after), "person": signed_in(device)}
