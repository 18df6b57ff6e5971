"""The language of an answer: the first that its reader's program asks for and that has words.

No sentence stands here. This is the only place where the service decides; code that needs words asks
`sync.language.reader`.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from flask import Flask, Response, request

from server.http.wsgi import Environ
from sync import rulebook
from sync.language.locales import accepted, chosen
from sync.language.reader import language, reading

# Other kinds of answers that depend on the language, such as the phone's page, see to that themselves.
WORDED = ("application/problem+json", "application/json")
# Answers that are pages for people; the phone's own page and its files speak for themselves.
PAGES, SHELL = "deskpages", "shell"


def speak(app: Flask, folder: Path | None) -> None:
    """Answer each request of an application in a language that its `Accept-Language` names (RFC 9110, 12.5.4).

    Args:
        app: the application [Flask]
        folder: where the rulebook is; the package's own if None [path]
    """
    known, answer = rulebook.languages("errors", folder), app.wsgi_app

    def answer_reader(environ: Environ, start_response: Any) -> Iterable[bytes]:
        wanted = accepted(environ.get("HTTP_ACCEPT_LANGUAGE", ""))
        with reading(chosen(wanted, known)):
            return answer(environ, start_response)

    app.wsgi_app = answer_reader  # type: ignore[method-assign]  # as Flask's manual wraps an application

    @app.after_request
    def name_language(response: Response) -> Response:
        if request.blueprint != SHELL and (request.blueprint == PAGES or response.mimetype in WORDED):
            response.headers.setdefault("Content-Language", language())
            response.vary.add("Accept-Language")
        return response
