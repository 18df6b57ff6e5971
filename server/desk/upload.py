"""The desk's page for files carried by hand: uploaded from a browser, taken in, answered with their receipts.

It shows what was taken in; the records judge what a file holds.
"""

from __future__ import annotations

import base64
import time

from flask import Response, g

from server.desk.forms import UPLOAD_MOST, UPLOAD_PATH, Files
from server.desk.login import page, pages
from server.http.sync_routes import logbook
from server.tasks.desk_words import faults_of, missing_parts, outcome_of
from server.tasks.messages import TakenPart
from sync.language.reader import words_of
from sync.wire.bundle import Bundle, receipt
from sync.wire.responses import LineResult
from sync.work import bundle_intake


class UploadRow(TakenPart):
    """One file on the page, in words; its receipt is a link that contains it."""

    name: str
    said: str
    remarks: list[str]
    number: str
    parts: str
    receipt: str
    receipt_name: str


@pages.get("/desk/carry")
def carry() -> Response:
    """GET /desk/carry: the form for files that a phone wrote, or a memory card brought."""
    return page("carry", taken=None, most_mb=UPLOAD_MOST // 1024**2)


@pages.post(UPLOAD_PATH)
def receive() -> Response:
    """POST /desk/do/receive: take the files in; the answering page says what was taken in and contains the receipts."""
    files: Files = g.files
    parts = bundle_intake.receive_bundles(logbook(), [content for _, content in files], time.time_ns() // 1_000_000)
    rows = [_row(name, bundle, lines) for (name, _), (bundle, lines) in zip(files, parts, strict=True)]
    words = words_of(logbook().rulebook)
    fault = None if rows else words.say("desk.carry.none_chosen")
    return page("carry", taken=rows, missing=missing_parts(rows, words), fault=fault, most_mb=UPLOAD_MOST // 1024**2)


def _row(name: str, bundle: Bundle, lines: list[LineResult]) -> UploadRow:
    """What happened to one file, for the page: in words, with its receipt as a link that contains it."""
    tally: TakenPart = {"device": bundle.device, "part": bundle.part, **bundle_intake.tally(lines)}
    words, (number, _, parts) = words_of(logbook().rulebook), bundle.part.partition("/")
    encoded = base64.b64encode(receipt(bundle, lines)).decode("ascii")
    return {
        **tally, "name": name, "said": outcome_of(tally, words), "remarks": faults_of(tally, words),
        "number": number, "parts": parts,
        "receipt": f"data:text/plain;charset=utf-8;base64,{encoded}",
        "receipt_name": f"{name.rpartition('.')[0] or name}-receipt.txt",
    }
