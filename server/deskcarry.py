"""The desk's page for files carried over by hand: handed up from a browser, taken in, answered with their receipts.

It reads the form and shows what was taken; what a file holds is judged by the records.
"""

from __future__ import annotations

import base64
import io
import time
from typing import Any

from flask import Response, g, request
from werkzeug.formparser import FormDataParser

from server.deskdoor import page, pages
from server.filing import PART_BYTES, body_of, logbook
from server.keeping import missing_parts, told_of
from server.problems import RequestFault
from sync import bundles, carried

PATH = "/desk/do/receive"
# One part of the largest size with the form round it; more files go in several turns.
UPLOAD_MOST = PART_BYTES
FILES_MOST = 100


def upload() -> tuple[dict[str, list[str]], list[tuple[str, bytes]]]:
    """The fields and the files of the form that was sent [texts by name, (name, content) each].

    Raises:
        RequestFault: as from `body_of`, or bad_query.
    """
    body = body_of(UPLOAD_MOST, ("multipart/form-data",))
    try:
        parser = FormDataParser(max_form_memory_size=UPLOAD_MOST, max_form_parts=FILES_MOST, silent=False)
        _, fields, files = parser.parse(io.BytesIO(body), request.mimetype, len(body), request.mimetype_params)
    except ValueError as error:
        raise RequestFault("bad_query", name="form", found=str(error)[:40]) from error
    held = [(file.filename or "", file.read()) for file in files.getlist("file") if file.filename]
    return {name: fields.getlist(name) for name in fields}, held


@pages.get("/desk/carry")
def carry() -> Response:
    """GET /desk/carry: the form for files that a phone wrote, or a memory card brought."""
    return page("carry", taken=None, most_mb=UPLOAD_MOST // 1024**2)


@pages.post(PATH)
def receive() -> Response:
    """POST /desk/do/receive: take the files in; the page that answers says what was taken and holds the receipts."""
    files: list[tuple[str, bytes]] = g.files
    told = carried.receive_bundles(logbook(), [content for _, content in files], time.time_ns() // 1_000_000)
    taken = [_taken(name, bundle, lines) for (name, _), (bundle, lines) in zip(files, told, strict=True)]
    fault = None if taken else "No file was chosen."
    return page("carry", taken=taken, missing=missing_parts(taken), fault=fault, most_mb=UPLOAD_MOST // 1024**2)


def _taken(name: str, bundle: bundles.Bundle, lines: list[dict[str, Any]]) -> dict[str, Any]:
    """What became of one file, for the page: in words, with its receipt as an address that carries it."""
    one = {"device": bundle.device, "part": bundle.part, **carried.tally(lines)}
    receipt = base64.b64encode(bundles.receipt(bundle, lines)).decode("ascii")
    return {
        **one, "name": name, "said": told_of(one), "of_parts": str(bundle.part).replace("/", " of "),
        "receipt": f"data:text/plain;charset=utf-8;base64,{receipt}",
        "receipt_name": f"{name.rpartition('.')[0] or name}-receipt.txt",
    }
