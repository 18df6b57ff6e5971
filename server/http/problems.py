"""Problems: the only place where an error becomes an answer, `application/problem+json` (RFC 9457).

Nothing here decides that something is wrong; it only reports it. Sentences come from the rulebook's words.
"""

from __future__ import annotations

import json
import logging
from http import HTTPStatus
from pathlib import Path
from typing import Any

from flask import Flask, Response
from werkzeug.exceptions import HTTPException

from sync.disk.safe_files import disk_full, is_full
from sync.errors import LaybyError
from sync.kernel.books import Rulebook
from sync.language.reader import words_of
from sync.language.words import Words
from sync.wire.faults import Fault, worded
from sync.wire.json_parsing import ParseFault
from sync.wire.responses import ProblemDetails

TYPE = "application/problem+json"

# The status of each error that has its own; any other deliberate error is 422, anything else is 500.
STATUS = {
    "no_length": 411,
    "body_too_large": 413,
    "wrong_type": 415,
    "too_slow": 408,
    "cut_short": 400,
    "not_lines": 400,
    "too_many_lines": 400,
    "bad_query": 400,
    "bad_header": 400,
    "bad_cursor": 400,
    "not_a_photo_name": 400,
    "no_photo": 404,
    "photo_wrong_offset": 409,
    "photo_too_large": 413,
    "not_a_photo": 415,
    "too_many_pixels": 415,
    "border": 400,
    "not_for_this_host": 421,
    "no_key": 401,
    "not_paired": 401,
    "no_pairing_offer": 403,
    "wrong_pairing_code": 403,
    "wrong_long_code": 403,
    "short_code_void": 410,
    "already_paired": 409,
    "no_setting_key": 403,
    "not_for_role": 403,
    "bad_passkey": 403,
    "passkey_late": 403,
    "unknown_person": 404,
    "person_name_taken": 409,
    "last_owner": 409,
    "foreign_form": 403,
    "too_often": 429,
    "unknown_visit": 404,
    "unknown_vehicle": 404,
    "unknown_customer": 404,
    "unknown_section": 404,
    "unknown_setting": 404,
    "no_such_backup": 404,
    "changed_meanwhile": 409,
    "no_such_page": 404,
    "no_letter_file": 404,
    "disk_full": 507,
    "disk_without_names": 507,
    "journal_failed": 503,
    "database_away": 503,
    "photos_away": 503,
    "record_damaged": 500,
    "unreadable": 500,
    "folder_busy": 503,
    "long_work_waits": 503,
    "too_many_at_once": 503,
}

log = logging.getLogger("layby.service")


class RequestFault(LaybyError):
    """What is wrong with a request itself."""

    def __init__(self, code: str, **values: Any) -> None:
        self.code = code
        super().__init__(**values)


def status_of(error: LaybyError) -> int:
    """The HTTP status for this kind of fault [number]."""
    return STATUS.get(error.code, 422)


def answer(status: int, code: str, detail: str, errors: list[Fault] | None = None) -> Response:
    """One problem as an answer.

    Args:
        status: the HTTP status [number]
        code: which problem, stable [code]
        detail: what is wrong, where, and what to do [text]
        errors: individual faults, {pointer, code, detail, value} each [list]

    Returns:
        the answer [Response]
    """
    try:
        title = HTTPStatus(status).phrase
    except ValueError:
        title = "Error"
    problem: ProblemDetails = {"type": "about:blank", "title": title, "status": status, "code": code, "detail": detail}
    if errors:
        problem["errors"] = errors
    return Response(json.dumps(problem, ensure_ascii=True), status=status, content_type=TYPE)


def answer_to(error: LaybyError, words: Words) -> Response:
    """An error of Layby's own as an answer.

    Args:
        error: what is wrong [code and values]
        words: the words of a language [Words]

    Returns:
        the answer [Response]
    """
    status = status_of(error)
    if status >= 500:
        log.error("%s", error)
    faults = worded(error.faults, words) if isinstance(error, ParseFault) else None
    response = answer(status, error.code, words.error(error), faults)
    if status == 401:
        response.headers["WWW-Authenticate"] = "Bearer"
    if "wait_s" in error.values:
        response.headers["Retry-After"] = str(error.values["wait_s"])
    return response


def register(app: Flask, rulebook: Rulebook, folder: Path) -> None:
    """Let every error of the application end here.

    Args:
        app: the application [Flask]
        rulebook: the rulebook, with words in the reader's language [Rulebook]
        folder: where the records are; its disk may be full [path]
    """

    def on_purpose(error: LaybyError) -> Response:
        return answer_to(error, words_of(rulebook))

    def of_http(error: HTTPException) -> Response:
        if error.response is not None:
            return Response(status=error.response.status_code, headers=dict(error.response.headers))
        status = error.code or 500
        code = HTTPStatus(status).name.lower()
        response = answer(status, code, words_of(rulebook).error(RequestFault(code)))
        headers = {name: value for name, value in error.get_headers() if name in ("Allow", "Retry-After")}
        response.headers.update(headers)
        return response

    def of_disk(error: OSError) -> Response:
        return answer_to(disk_full(folder), words_of(rulebook)) if is_full(error) else unexpected(error)

    def unexpected(error: Exception) -> Response:
        log.error("unexpected", exc_info=error)
        return answer(500, "unexpected", words_of(rulebook).error(RequestFault("unexpected")))

    app.register_error_handler(LaybyError, on_purpose)
    app.register_error_handler(HTTPException, of_http)
    app.register_error_handler(OSError, of_disk)
    app.register_error_handler(Exception, unexpected)
