"""From the server's own interface (RSGI) to a WSGI application and back: a head, and an answer.

Nothing here waits for a body or knows an application.
"""

from __future__ import annotations

import io
import sys
from collections.abc import Callable
from typing import Any
from urllib.parse import unquote_to_bytes

Environ = dict[str, Any]
Wsgi = Callable[[Environ, Callable[..., Any]], Any]
Headers = list[tuple[str, str]]
# Status, headers, content.
Answer = tuple[int, Headers, bytes]


def head_of(scope: Any) -> Environ:
    """The head of a request under RSGI in the form PEP 3333 wants, with an empty body.

    Args:
        scope: the request's scope [RSGI 1.x]

    Returns:
        its environment [mapping]
    """
    server, _, port = scope.server.rpartition(":")
    environ: Environ = {
        "REQUEST_METHOD": scope.method,
        "SCRIPT_NAME": "",
        "PATH_INFO": unquote_to_bytes(scope.path).decode("latin-1"),
        "QUERY_STRING": scope.query_string,
        "SERVER_NAME": server,
        "SERVER_PORT": port,
        "SERVER_PROTOCOL": "HTTP/1.1",
        "REMOTE_ADDR": scope.client.rpartition(":")[0],
        "wsgi.version": (1, 0),
        "wsgi.url_scheme": scope.scheme,
        "wsgi.input": io.BytesIO(),
        "wsgi.errors": sys.stderr,
        "wsgi.multithread": True,
        "wsgi.multiprocess": False,
        "wsgi.run_once": False,
    }
    for name, value in scope.headers.items():
        key = name.upper().replace("-", "_")
        if key not in ("CONTENT_TYPE", "CONTENT_LENGTH"):
            key = f"HTTP_{key}"
        environ[key] = f"{environ[key]},{value}" if key in environ else value
    return environ


def answer_of(app: Wsgi, environ: Environ) -> Answer:
    """What an application answers.

    Args:
        app: the application [WSGI]
        environ: the request, with its body under `wsgi.input` [mapping]

    Returns:
        status, headers, content [number, pairs, bytes]
    """
    head: list[tuple[int, Headers]] = []

    def start(status: str, headers: Headers, failure: Any = None) -> Callable[[bytes], None]:
        head[:] = [(int(status.split(" ", 1)[0]), headers)]
        return lambda content: None

    pieces = app(environ, start)
    try:
        content = b"".join(pieces)
    finally:
        if hasattr(pieces, "close"):
            pieces.close()
    [(status, headers)] = head
    return status, headers, content
