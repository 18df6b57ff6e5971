"""Health: whether this service can take entries now, for whatever passes requests on to it; and its figures.

Nothing here knows a customer or a device. The figures are only there for whoever runs several services: with
LAYBY_METRICS_KEY set, shown as a bearer token.
"""

from __future__ import annotations

import hmac
import os
from typing import TYPE_CHECKING

from flask import Blueprint, Flask, Response, current_app, request

from server.http import answered
from server.http.answered import Answered
from server.http.auth import bearer
from server.http.problems import RequestFault
from server.http.sync_routes import logbook
from sync.errors import LaybyError

if TYPE_CHECKING:
    from prometheus_client import CollectorRegistry

pages = Blueprint("health", __name__)

VARIABLE = "LAYBY_METRICS_KEY"
PLAIN = "text/plain; charset=utf-8"


class NoFigures(LaybyError):
    """Figures are wanted, and what keeps them isn't installed."""

    code = "no_figures"


@pages.get("/health")
def health() -> Response:
    """GET /health: whether this service can take entries now; otherwise the problem."""
    with logbook().lock:
        logbook().check_promises()
    return Response("ok\n", content_type=PLAIN)


@pages.get("/metrics")
def metrics() -> Response:
    """GET /metrics: requests by route, method and status, and how long they took, as Prometheus reads it."""
    registry: CollectorRegistry | None = current_app.extensions["layby"]["figures"]
    shown = bearer(request).encode("utf-8", "replace")
    if registry is None or not hmac.compare_digest(shown, os.environ[VARIABLE].encode()):
        raise RequestFault("no_key")
    from prometheus_client import CONTENT_TYPE_LATEST, generate_latest

    return Response(generate_latest(registry), content_type=CONTENT_TYPE_LATEST)


def measure(app: Flask) -> CollectorRegistry | None:
    """Count every request from now on, if LAYBY_METRICS_KEY is set.

    Args:
        app: the application [Flask]

    Returns:
        where the figures are; None without that key [CollectorRegistry or None]

    Raises:
        NoFigures: prometheus_client isn't installed.
    """
    if not os.environ.get(VARIABLE):
        return None
    try:
        from prometheus_client import CollectorRegistry, Counter, Histogram
    except ImportError as error:
        raise NoFigures(why=str(error)) from error
    registry = CollectorRegistry()
    labels = ("method", "route")
    requests = Counter("layby_requests", "Requests answered", (*labels, "status"), registry=registry)
    seconds = Histogram("layby_request_seconds", "From a request's arrival to its answer", labels, registry=registry)

    def count(one: Answered) -> None:
        requests.labels(one.method, one.route, one.status).inc()
        seconds.labels(one.method, one.route).observe(one.seconds)

    answered.each(app, count)
    return registry
