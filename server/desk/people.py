"""The desk's page of its people: who signs in and as what; invitations, phones, and whose a visit is.

Nothing is decided here: the tasks do the work, the template shows it.
"""

from __future__ import annotations

from typing import cast

from flask import Response, g, redirect, request, url_for
from werkzeug.wrappers import Response as BaseResponse

from server.desk.forms import one
from server.desk.login import page, pages, with_session
from server.desk.pages import date_words, done
from server.http.problems import status_of
from server.http.sync_routes import logbook
from server.process import public_url
from server.tasks.catalogue import carry_out
from server.tasks.messages import Invitation
from sync.errors import LaybyError
from sync.language.reader import words_of
from sync.records.person import NAME_MOST, ROLES, Person

ID_MOST = 64


@pages.get("/desk/people")
def people() -> Response:
    """GET /desk/people: who works here and as what."""
    return _page()


@pages.post("/desk/do/begin")
def begin_people() -> BaseResponse:
    """POST /desk/do/begin: from now on people sign in by name, and whoever asks is the first of them."""
    try:
        person: Person = carry_out(logbook(), "begin_people", {"person": one(g.form, "name")})
    except LaybyError as error:
        return _page(error)
    return with_session(person["id"], "deskpages.people")


@pages.post("/desk/do/invite")
def invite() -> Response:
    """POST /desk/do/invite: one more person; the link that lets them in is shown only on the answering page."""
    return _invited("invite", {"person": one(g.form, "name"), "role": one(g.form, "role")})


@pages.post("/desk/do/invite-again")
def invite_again() -> Response:
    """POST /desk/do/invite-again: another link for somebody who lost theirs or forgot the passphrase."""
    return _invited("invite_again", {"person": one(g.form, "id")[:ID_MOST]})


@pages.post("/desk/do/role")
def change_role() -> BaseResponse:
    """POST /desk/do/role: somebody works as something else."""
    return _changed("change_role", {"person": one(g.form, "id")[:ID_MOST], "role": one(g.form, "role")})


@pages.post("/desk/do/end")
def end_person() -> BaseResponse:
    """POST /desk/do/end: somebody signs in no more, and their phones are shut out."""
    return _changed("end_person", {"person": one(g.form, "id")[:ID_MOST]})


@pages.post("/desk/do/phone-of")
def phone_of() -> BaseResponse:
    """POST /desk/do/phone-of: a paired phone is somebody else's."""
    carry_out(logbook(), "phone_of", {"device": one(g.form, "device"), "person": one(g.form, "id")[:ID_MOST]})
    return redirect(url_for("deskpages.phones", done="saved"), 303)


@pages.post("/desk/do/hand-over")
def hand_over() -> BaseResponse:
    """POST /desk/do/hand-over: a visit becomes another technician's."""
    visit_id = one(g.form, "id")[:ID_MOST]
    was_others = carry_out(logbook(), "hand_over", {"visit": visit_id, "person": one(g.form, "person")[:ID_MOST]})
    return redirect(url_for("deskpages.visit", id=visit_id, done="handed_over" if was_others else "same"), 303)


def _invited(task: str, arguments: dict[str, str]) -> Response:
    try:
        invitation: Invitation = carry_out(logbook(), task, arguments)  # type: ignore[arg-type]  # names of the task
    except LaybyError as error:
        return _page(error)
    return _page(None, invitation)


def _changed(task: str, arguments: dict[str, str]) -> BaseResponse:
    try:
        carry_out(logbook(), task, arguments)  # type: ignore[arg-type]  # the names are those of the task
    except LaybyError as error:
        return _page(error)
    return redirect(url_for("deskpages.people", done="saved"), 303)


def _page(error: LaybyError | None = None, invitation: Invitation | None = None) -> Response:
    address = public_url.chosen(logbook().folder, logbook().files) or request.host_url.rstrip("/")
    link = f"{address}{url_for('deskpages.setting', key=invitation['key'])}" if invitation else ""
    everybody = [{**person, "until": date_words(person["invited_until"]) if person["invited_until"] else "",
                  "gone": date_words(person["ended_at"]) if person["ended_at"] is not None else ""}
                 for person in cast(list[Person], carry_out(logbook(), "people", {}))]
    fault = words_of(logbook().rulebook).error(error) if error is not None else None
    return page(
        "people", status_of(error) if error is not None else 200, everybody=everybody, roles=ROLES, link=link,
        invitation=invitation, until=date_words(invitation["until"]) if invitation else "", fault=fault, done=done(),
        most=NAME_MOST,
    )
