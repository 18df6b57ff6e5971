"""The sheet of a visit as pictures, and its earlier revisions, for the desk's page of the visit.

Nothing is drawn here; the tasks do it.
"""

from __future__ import annotations

from flask import Response, request

from server.desk.login import pages
from server.http.problems import RequestFault
from server.http.sync_routes import logbook
from sync.records.locks import SHEETS
from sync.records.sheet_records import SheetRecords
from sync.wire import op_line

ID_MOST = 64


@pages.get("/desk/preview")
def preview() -> Response:
    """GET /desk/preview?id=&page=: one page of a visit's sheet as it would print now."""
    visit_id, number = request.args.get("id", "")[:ID_MOST], request.args.get("page", "1")
    if not op_line.is_id(visit_id):
        raise RequestFault("unknown_visit", visit=visit_id)
    # It loads what prints, which a service needn't have at its start.
    from server.tasks.preview import pictures_of

    with SHEETS.together(logbook().store.claim):
        pictures = pictures_of(logbook(), visit_id)
    places = {str(place): picture for place, picture in enumerate(pictures, start=1)}
    if number not in places:
        raise RequestFault("no_such_page", path=request.path[:200])
    return Response(places[number], content_type="image/webp")


@pages.get("/desk/revision.pdf")
def revision() -> Response:
    """GET /desk/revision.pdf?id=&number=: a sheet of a visit as it was printed under its number."""
    visit_id, number = request.args.get("id", "")[:ID_MOST], request.args.get("number", "")
    records = SheetRecords(logbook())
    found = [record for record in (records.records(visit_id) if op_line.is_id(visit_id) else [])
             if record["file"] and str(record["number"]) == number and records.is_kept(record)]
    if not found:
        raise RequestFault("no_such_page", path=request.path[:200])
    content = records.pdf(found[0])
    response = Response(content, content_type="application/pdf")
    response.headers["Content-Disposition"] = f'inline; filename="{visit_id}-{found[0]["number"]}.pdf"'
    return response
