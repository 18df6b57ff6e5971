"""The desk's page of a customer: the card, the visits, the letters; the data taken out, and erased.

Nothing is worked out here: the tasks do the work, the template shows it.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import cast

from flask import Response, g, redirect, request, url_for
from werkzeug.wrappers import Response as BaseResponse

from server.desk.forms import one
from server.desk.login import page, pages
from server.desk.pages import done
from server.desk.visit_words import sheet_words
from server.http.sync_routes import logbook
from server.tasks.catalogue import carry_out
from server.tasks.customer_tasks import CustomerView
from server.tasks.desk_words import state_of_row, state_words
from sync.language.reader import words_of

ID_MOST = 64
NAME_MOST = 200
FILE = "export.zip"
# What is shown of a card, in the order of the page; their words are those of the phone's form.
FACTS = ("name", "phone", "email", "address")


@pages.get("/desk/customer")
def customer() -> Response:
    """GET /desk/customer?id=: a customer's card, visits and letters."""
    return _page(_view(request.args.get("id", "")))


@pages.post("/desk/do/export")
def export() -> Response:
    """POST /desk/do/export: all data about the customer as one file to save."""
    view = _view(one(g.form, "id"))
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / FILE
        carry_out(logbook(), "export", {"customer": view["card"]["id"], "file": str(file)})
        content = file.read_bytes()
    response = Response(content, content_type="application/zip")
    response.headers["Content-Disposition"] = f'attachment; filename="{FILE}"'
    return response


@pages.post("/desk/do/erase")
def erase() -> BaseResponse:
    """POST /desk/do/erase: all data about the customer is erased, once the name was typed."""
    view, typed = _view(one(g.form, "id")), one(g.form, "name")[:NAME_MOST]
    if _plain(typed) != _plain(_title(view)):
        return _page(view, 422, typed, words_of(logbook().rulebook).say("errors.other_name"))
    carry_out(logbook(), "erase", {"customer": view["card"]["id"]})
    return redirect(url_for("deskpages.find", done="erased"), 303)


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())


def _view(identifier: str) -> CustomerView:
    return cast(CustomerView, carry_out(logbook(), "customer", {"id": identifier[:ID_MOST]}))


def _title(view: CustomerView) -> str:
    name = view["card"]["fields"].get("name")
    return str(name) if name else words_of(logbook().rulebook).say("desk.row.nameless")


def _page(view: CustomerView, status: int = 200, typed: str = "", fault: str | None = None) -> Response:
    rulebook, card = logbook().rulebook, view["card"]
    words = words_of(rulebook)
    visits = [{**row, "mark": state_of_row(row), "stands": state_words(row, words)} for row in view["visits"]]
    letters = [{**sheet_words(record, rulebook), "visit": record["visit"]} for record in view["letters"]]
    return page(
        "customer", status, card=card, title=_title(view), visits=visits, letters=letters, typed=typed, fault=fault,
        facts=[(words.say(f"fields.visit.customer.{name}"), str(card["fields"][name])) for name in FACTS
               if card["fields"].get(name)], more=len(card["visits"]) - len(visits), done=done(),
        disputed=[words.say(f"fields.visit.customer.{name}") for name in FACTS
                  if any(one["pointer"] == f"/{name}" for one in card["conflicts"])],
    )  # fmt: skip
