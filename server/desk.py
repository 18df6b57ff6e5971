"""The desk: sheets for whoever asks, and the commands that `layby` hands over while the service runs.

Nothing here makes a sheet or a mail; `server.evening` does, loaded when first needed, since that is slow.
"""

from __future__ import annotations

import hmac
import time
from typing import Any

from flask import Blueprint, Response, current_app, request

from server.filing import body_of, logbook
from server.problems import RequestFault
from sync import intake, oplines
from sync.border import parse
from sync.logbook import Logbook

# A day's bundle with photos, as one body.
BODY_MOST = 64 * 1024 * 1024

COMMANDS = ("evening", "approve", "send", "receive")

pages = Blueprint("desk", __name__)


def carry_out(logbook: Logbook, name: str, arguments: dict[str, Any]) -> Any:
    """Do what a command of `layby` asks, with the logbook open here.

    Args:
        logbook: the open logbook [Logbook]
        name: one of COMMANDS [text]
        arguments: of evening {day}, of approve {visits}, of receive {bundle}, of send none [JSON object]

    Returns:
        what the command tells its user [JSON value]
    """
    now_ms = time.time_ns() // 1_000_000
    if name == "receive":
        return intake.receive_bundle(logbook, str(arguments["bundle"]).encode(), now_ms).decode()
    raise NotImplementedError(name)


def _let_in() -> None:
    key = current_app.config.get("DESK_KEY")
    given = request.headers.get("Authorization", "").removeprefix("Bearer ")
    if not key or not hmac.compare_digest(given.encode(), str(key).encode()):
        raise RequestFault("no_key")


@pages.get("/sheets/<visit>.pdf")
def sheet(visit: str) -> Response:
    """GET /sheets/<visit>.pdf: the newest sheet of a visit, made now where there is none."""
    if not oplines.is_id(visit):
        raise RequestFault("no_such_page", path=request.path[:200])
    from server import evening

    content = evening.newest_sheet(logbook(), visit)
    response = Response(content, content_type="application/pdf")
    response.headers["Cache-Control"] = "no-store"
    response.headers["Content-Disposition"] = f'inline; filename="{visit}.pdf"'
    return response


@pages.post("/desk/<name>")
def command(name: str) -> dict[str, Any]:
    """POST /desk/<name>: a command of `layby`, handed over with its arguments as JSON; answers {"result": ...}."""
    _let_in()
    if name not in COMMANDS:
        raise RequestFault("no_such_page", path=request.path[:200])
    arguments = parse(body_of(BODY_MOST, ("application/json",)), BODY_MOST)
    if not isinstance(arguments, dict):
        raise RequestFault("bad_query", name="body", found=type(arguments).__name__)
    return {"result": carry_out(logbook(), name, arguments)}
