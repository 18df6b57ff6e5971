"""Every answer once it is made: what was asked, how it was answered, and how long that took.

Nothing here counts or logs, and nothing of what was sent is passed on.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import NamedTuple

from flask import Flask, Response, g, request

# Where no route took the request.
NOWHERE = "-"


class Answered(NamedTuple):
    """The method and the route of a request, the status of its answer, and how long that took [s]."""

    method: str
    route: str
    status: int
    seconds: float


def each(app: Flask, tell: Callable[[Answered], None]) -> None:
    """Tell of every answer from now on.

    Args:
        app: the application [Flask]
        tell: called with each [function]
    """

    @app.before_request
    def begin() -> None:
        g.setdefault("begun", time.perf_counter())

    @app.after_request
    def end(response: Response) -> Response:
        now = time.perf_counter()
        route = str(request.url_rule or NOWHERE)
        tell(Answered(request.method, route, response.status_code, now - g.get("begun", now)))
        return response
