"""The desk's page of what a person has to settle: entries that disagree side by side, and entries that were refused.

Nothing is worked out here: the tasks do the work, `conflict_words` puts it in words, the template shows it.
"""

from __future__ import annotations

from typing import cast

from flask import Response, g, redirect, url_for
from werkzeug.wrappers import Response as BaseResponse

from server.desk.conflict_words import TYPED, Named, disagreement_words, refusal_words
from server.desk.forms import one
from server.desk.login import page, pages
from server.desk.pages import done
from server.http.sync_routes import logbook
from server.tasks.catalogue import carry_out
from sync.isolation import Odd, apart
from sync.kernel.visit import Visit
from sync.language.reader import words_of
from sync.records.logbook import UnknownVisit
from sync.work.disputes import VISIT, Disagreement, Disputes

ID_MOST = 64
CHART = "/chart"


@pages.get("/desk/conflicts")
def conflicts() -> Response:
    """GET /desk/conflicts: what disagrees and what was refused, with the keys that settle it."""
    found = cast(Disputes, carry_out(logbook(), "conflicts", {}))
    phones = {device["device"]: device["name"] for device in carry_out(logbook(), "devices", {})}
    rulebook = logbook().rulebook
    rows = []
    for dispute in found["disagreements"]:
        if not dispute["conflict"]["pointer"].startswith(TYPED):
            words = disagreement_words(dispute, found["disagreements"], _subject(dispute), phones, rulebook)
            rows.append({**words,
                         "chart": dispute["conflict"]["pointer"] == CHART})
    refused = [refusal_words(entry, _name(_visit(entry["visit"])) if entry["visit"] else "", phones, rulebook)
               for entry in found["refused"]]
    return page("conflicts", rows=rows, refused=refused, older=found["older"], done=done())


@pages.post("/desk/do/settle")
def settle() -> BaseResponse:
    """POST /desk/do/settle: the values of one entry count."""
    what, identifier = one(g.form, "what"), one(g.form, "id")[:ID_MOST]
    carry_out(logbook(), "settle", {"what": what, "id": identifier, "entry": one(g.form, "entry")[:ID_MOST]})
    return redirect(url_for("deskpages.conflicts", done="settled"), 303)


@pages.post("/desk/do/aside")
def aside() -> BaseResponse:
    """POST /desk/do/aside: a refused entry has been seen to and is listed no more."""
    carry_out(logbook(), "aside", {"number": one(g.form, "number")[:ID_MOST]})
    return redirect(url_for("deskpages.conflicts", done="aside"), 303)


def _subject(dispute: Disagreement) -> Named:
    """The visit that entries disagree about, None for a card; and what it is called."""
    if dispute["what"] == VISIT:
        visit = _visit(dispute["id"])
        return visit, _name(visit)
    card = carry_out(logbook(), "card", {"what": dispute["what"], "id": dispute["id"], "fields": {}})
    names = ("year", "make", "model", "plate") if dispute["what"] == "vehicle" else ("name",)
    return None, " ".join(str(card["fields"][name]) for name in names if card["fields"].get(name)) or dispute["id"]


def _visit(visit_id: str) -> Visit | None:
    try:
        found = apart(visit_id, lambda: logbook().visit(visit_id), UnknownVisit)
    except UnknownVisit:
        return None
    return None if isinstance(found, Odd) else found


def _name(visit: Visit | None) -> str:
    """Whose visit it is, of which vehicle, on which day."""
    if visit is None:
        return ""
    vehicle, customer = visit.get("vehicle") or {}, visit.get("customer") or {}
    car = " ".join(str(part) for part in (vehicle.get("make"), vehicle.get("model"), vehicle.get("plate")) if part)
    name = customer.get("name") or words_of(logbook().rulebook).say("desk.row.nameless")
    return ", ".join(part for part in (name, car, (visit.get("started_at") or "")[:10]) if part)
