"""The forms of the desk's pages as sent: fields, and on one page files.

Nothing here asks who sent them or does what they request.
"""

from __future__ import annotations

import io
from urllib.parse import parse_qs

from flask import request
from werkzeug.formparser import FormDataParser

from server.http.problems import RequestFault
from server.http.sync_routes import body_of
from sync.wire.bundle import PART_BYTES

FORM_MOST = 32 * 1024
FIELDS_MOST = 400
# The pages that accept files; all others refuse such a body by its type.
UPLOAD_PATH = "/desk/do/receive"
LOGGER_PATH = "/desk/do/log"
LOGO_PATH = "/desk/do/logo"
UPLOAD_PATHS = (UPLOAD_PATH, LOGGER_PATH, LOGO_PATH)
# One part of the largest size with the form around it; send more files in several turns.
UPLOAD_MOST = PART_BYTES
FILES_MOST = 100

# The texts of each field by its name; the name and content of each file.
Fields = dict[str, list[str]]
Files = list[tuple[str, bytes]]


def form() -> Fields:
    """The fields of the submitted form [texts by name].

    Raises:
        RequestFault: as from `body_of`, or bad_query.
    """
    body = body_of(FORM_MOST, ("application/x-www-form-urlencoded",))
    try:
        return parse_qs(body.decode("utf-8"), keep_blank_values=True, max_num_fields=FIELDS_MOST, errors="strict")
    except ValueError as error:
        raise RequestFault("bad_query", name="form", found=str(error)[:40]) from error


def upload() -> tuple[Fields, Files]:
    """The fields and files of the submitted form [texts by name, (name, content) each].

    Raises:
        RequestFault: as from `body_of`, or bad_query.
    """
    body = body_of(UPLOAD_MOST, ("multipart/form-data",))
    try:
        parser = FormDataParser(max_form_memory_size=UPLOAD_MOST, max_form_parts=FILES_MOST, silent=False)
        _, fields, files = parser.parse(io.BytesIO(body), request.mimetype, len(body), request.mimetype_params)
    except ValueError as error:
        raise RequestFault("bad_query", name="form", found=str(error)[:40]) from error
    contents = [(file.filename or "", file.read()) for file in files.getlist("file") if file.filename]
    return {name: fields.getlist(name) for name in fields}, contents


def sent() -> tuple[Fields, Files]:
    """The fields and files of the submitted form, for any page [as from `upload`]."""
    return upload() if request.path in UPLOAD_PATHS else (form(), [])


def one(fields: Fields, name: str) -> str:
    """The first text of a field; "" if there is none [text]."""
    return fields.get(name, [""])[0]
