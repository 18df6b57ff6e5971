"""The desk's page of vehicles: those that were seen last, each with its last visit.

Nothing is looked up here beyond the newest visits; a vehicle's own page shows all of it.
"""

from __future__ import annotations

from flask import Response

from server.desk.login import page, pages
from server.http.sync_routes import logbook
from sync.wire.results import VisitRow

VISITS_LOOKED_AT = 400
VEHICLES_MOST = 60


@pages.get("/desk/vehicles")
def vehicles() -> Response:
    """GET /desk/vehicles: the vehicles of the newest visits."""
    by_id: dict[str, VisitRow] = {}
    for row in logbook().search.newest(VISITS_LOOKED_AT):
        if row["vehicle_id"]:
            by_id.setdefault(row["vehicle_id"], row)
    newest = list(by_id.values())
    return page("vehicles", rows=newest[:VEHICLES_MOST], more=len(newest) > VEHICLES_MOST)
