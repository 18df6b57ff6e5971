"""The desk: sheets on request, and the commands that `layby` hands over while the service runs.

Nothing here makes a sheet or a letter; the tasks do, and load anything slow when it is first needed.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

from flask import Blueprint, Response, request

from server.desk.login import key_only, known_only
from server.http.problems import RequestFault
from server.http.sync_routes import body_of, logbook
from server.tasks.catalogue import TASKS, carry_out
from server.tasks.messages import TaskArguments
from sync.kernel.json_tree import JsonObject
from sync.records.locks import SHEETS
from sync.wire import op_line
from sync.wire.json_parsing import parse
from sync.wire.results import VisitRows

BODY_MOST = 1024 * 1024
TEXT_MOST = 200

pages = Blueprint("desk", __name__)


@pages.get("/sheets/<visit>.pdf")
def sheet(visit: str) -> Response:
    """GET /sheets/<visit>.pdf: the newest sheet of a visit, made now if there is none."""
    known_only(visit)
    if not op_line.is_id(visit):
        raise RequestFault("no_such_page", path=request.path[:200])
    # It loads what prints, which a service needn't have at its start.
    from server.tasks import evening

    with SHEETS.together(logbook().store.claim):
        content = evening.newest_sheet(logbook(), visit)
    response = Response(content, content_type="application/pdf")
    response.headers["Cache-Control"] = "no-store"
    response.headers["Content-Disposition"] = f'inline; filename="{visit}.pdf"'
    return response


@pages.get("/desk/find")
def find() -> VisitRows:
    """GET /desk/find?text=: visits by plate, VIN, customer's name or day; {visits: [...], more}, newest first."""
    known_only()
    return logbook().search.find(request.args.get("text", "")[:TEXT_MOST])


@pages.post("/desk/<name>")
def command(name: str) -> dict[str, Any]:
    """POST /desk/<name>: a command of `layby`, handed over with its arguments as JSON; answers {"result": ...}."""
    key_only()
    if name not in TASKS:
        raise RequestFault("no_such_page", path=request.path[:200])
    arguments = parse(body_of(BODY_MOST, ("application/json",)), BODY_MOST)
    if not isinstance(arguments, dict):
        raise RequestFault("bad_query", name="body", found=type(arguments).__name__)
    try:
        # The task first checks whether it has what it needs.
        return {"result": carry_out(logbook(), name, cast(TaskArguments, arguments))}
    except OSError as error:
        if not _is_named(error, arguments):
            raise
        raise RequestFault("file_unusable", file=str(error.filename)[:TEXT_MOST], why=error.strerror) from error


def _is_named(error: OSError, arguments: JsonObject) -> bool:
    """Whether an error is about a file that the arguments name, or about one written beside it; no other is theirs."""
    files = arguments.get("files")
    named = [name for name in (arguments.get("file"), *(files if isinstance(files, list) else [])) if name]
    return isinstance(error.filename, (str, Path)) and any(
        Path(error.filename).absolute().parent == Path(str(name)).absolute().parent for name in named)
