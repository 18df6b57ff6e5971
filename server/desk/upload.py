"""The desk's page for files carried over by hand: handed up from a browser, taken in, answered with their receipts.

It shows what was taken; what a file holds is judged by the records.
"""

from __future__ import annotations

import base64
import time
from typing import Any, cast

from flask import Response, g

from server.desk.forms import UPLOAD_MOST, UPLOAD_PATH
from server.desk.login import page, pages
from server.http.sync_routes import logbook
from server.tasks.bundle_words import missing_parts, outcome_of
from server.tasks.messages import PartName, Tally
from sync.wire.bundle import Bundle, receipt
from sync.work import bundle_intake


@pages.get("/desk/carry")
def carry() -> Response:
    """GET /desk/carry: the form for files that a phone wrote, or a memory card brought."""
    return page("carry", taken=None, most_mb=UPLOAD_MOST // 1024**2)


@pages.post(UPLOAD_PATH)
def receive() -> Response:
    """POST /desk/do/receive: take the files in; the page that answers says what was taken and holds the receipts."""
    files: list[tuple[str, bytes]] = g.files
    told = bundle_intake.receive_bundles(logbook(), [content for _, content in files], time.time_ns() // 1_000_000)
    taken = [_taken(name, bundle, lines) for (name, _), (bundle, lines) in zip(files, told, strict=True)]
    fault = None if taken else "No file was chosen."
    missing = missing_parts(cast(list[PartName], taken))
    return page("carry", taken=taken, missing=missing, fault=fault, most_mb=UPLOAD_MOST // 1024**2)


def _taken(name: str, bundle: Bundle, lines: list[dict[str, Any]]) -> dict[str, Any]:
    """What became of one file, for the page: in words, with its receipt as an address that carries it."""
    one = {"device": bundle.device, "part": bundle.part, **bundle_intake.tally(lines)}
    encoded = base64.b64encode(receipt(bundle, lines)).decode("ascii")
    return {
        **one, "name": name, "said": outcome_of(cast(Tally, one)), "of_parts": str(bundle.part).replace("/", " of "),
        "receipt": f"data:text/plain;charset=utf-8;base64,{encoded}",
        "receipt_name": f"{name.rpartition('.')[0] or name}-receipt.txt",
    }
