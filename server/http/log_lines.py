"""Log lines for a program that collects them: one JSON object each, with LAYBY_LOG=json.

Nothing here knows what is logged. A request's line holds no name, no device and nothing of what was sent.
"""

from __future__ import annotations

import json
import logging
import os
import sys
from datetime import UTC, datetime

from flask import Flask

from server.http import answered
from server.http.answered import Answered

VARIABLE = "LAYBY_LOG"
JSON = "json"
# What a request's line says besides what every line does.
_OWN = ("method", "route", "status", "ms")

log = logging.getLogger("layby.requests")


class _Lines(logging.Formatter):
    """One JSON object a line."""

    def format(self, record: logging.LogRecord) -> str:
        at = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")
        line = {"at": at, "level": record.levelname.lower(), "of": record.name, "said": record.getMessage(),
                **{name: getattr(record, name) for name in _OWN if hasattr(record, name)}}
        if record.exc_info:
            line["trace"] = self.formatException(record.exc_info)
        return json.dumps(line, ensure_ascii=True)


def begin(app: Flask) -> None:
    """With LAYBY_LOG=json, log in JSON on the error stream from now on, and a line for each request; else nothing.

    Args:
        app: the application [Flask]
    """
    if os.environ.get(VARIABLE) != JSON:
        return
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(_Lines())
    logging.basicConfig(level=logging.INFO, handlers=[handler], force=True)
    answered.each(app, _say)


def _say(one: Answered) -> None:
    log.info("answered", extra={"method": one.method, "route": one.route, "status": one.status,
                                "ms": round(1000 * one.seconds, 1)})
