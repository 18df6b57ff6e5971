"""The sheet of a visit as pictures, for the desk's page of the visit.

Nothing is drawn here; the tasks do it.
"""

from __future__ import annotations

from flask import Response, request

from server.desk.login import pages
from server.http.problems import RequestFault
from server.http.sync_routes import logbook
from sync.records.locks import SHEETS
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

    with SHEETS.together():
        pictures = pictures_of(logbook(), visit_id)
    places = {str(place): picture for place, picture in enumerate(pictures, start=1)}
    if number not in places:
        raise RequestFault("no_such_page", path=request.path[:200])
    return Response(places[number], content_type="image/webp")
