"""The allowance: who is asking and how large a body they may send, from the head, so that no other body is waited for.

Nothing here answers a request: the application answers what isn't let in, as it would without a body.
"""

from __future__ import annotations

import logging
from collections.abc import Callable

from flask import Flask, request

from server.desk import forms, login, task_routes
from server.http import auth, pairing_routes
from server.http.body_reader import NOBODY, Admission
from server.http.wsgi import Environ
from sync.errors import Away, LaybyError
from sync.records.photos import PHOTO_BYTES
from sync.wire.bundle import PART_BYTES
from sync.work import intake

# What people send to the door, which stands open.
_DOOR = ("/desk/sign-in", "/desk/sign-in/passkey", "/desk/sign-out", "/desk/passphrase")

log = logging.getLogger("layby.service")


def most_for(path: str) -> int:
    """The largest body that a path accepts [bytes]."""
    if path == "/pair":
        return pairing_routes.BODY_MOST
    if path in forms.UPLOAD_PATHS:
        return forms.UPLOAD_MOST
    if path.startswith("/desk/do/") or path in _DOOR:
        return forms.FORM_MOST
    if path.startswith("/desk/"):
        return task_routes.BODY_MOST
    if path.startswith("/blobs/"):
        return PHOTO_BYTES
    if path == "/bundles":
        return PART_BYTES
    return intake.BODY_MOST


def admitting(app: Flask) -> Callable[[Environ], Admission]:
    """What a request to an application may send, and whether it shows a right to ask.

    Args:
        app: the application [Flask]

    Returns:
        the largest body for a request's head, 0 for a caller who isn't let in [function from its environment]
    """

    def admit(environ: Environ) -> Admission:
        # A copy, because the application will make its own from the head.
        with app.request_context(dict(environ)):
            try:
                if request.endpoint in auth.OPEN | login.OPEN:
                    return Admission(most_for(request.path), known=False)
                return Admission(most_for(request.path), known=True) if _is_known() else NOBODY
            except Away as error:
                # It may be back by the time the request is answered, but its body isn't here then.
                environ["layby.away"] = error
                return NOBODY
            except (LaybyError, OSError) as error:
                log.info("no body is taken at %s: %s", request.path[:200], error)
                return NOBODY

    return admit


def _is_known() -> bool:
    """Whether the request's head shows what its route requires; the routes check again when they answer."""
    if request.endpoint is None:
        return False
    if request.blueprint == login.pages.name:
        return login.session_now() is not None
    if request.blueprint == task_routes.pages.name:
        login.known_only()
    else:
        auth.device_of(request)
    return True
