"""The desk's page of a visit: what is recorded, part by part, its sheet beside it, and one part open to be corrected.

Nothing is worked out here: the tasks do the work, `visit_facts` puts it in words, the template shows it.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import cast

from flask import Response, current_app, g, redirect, request, url_for
from werkzeug.wrappers import Response as BaseResponse

from server.desk.access import is_at_least
from server.desk.forms import Fields, one
from server.desk.log_form import log_of
from server.desk.login import page, pages
from server.desk.pages import date_words, done
from server.desk.visit_facts import facts_of, form_of
from server.desk.visit_words import conflict_words, correction_words, sheet_words
from server.http.problems import RequestFault
from server.http.sync_routes import logbook
from server.tasks.catalogue import carry_out
from server.tasks.desk_words import is_again, state_of_row, state_words
from server.tasks.visit_tasks import VisitView
from sync.kernel.visit import Technician
from sync.language.formats import Formats
from sync.language.reader import language, words_of
from sync.records.image_headers import head_of
from sync.records.person import Person
from sync.records.photos import PhotoStore
from sync.records.sheet_record import state_of as sheet_state
from sync.wire import op_line
from sync.work.amendments import ChangedMeanwhile, Unamended
from sync.work.visit_sections import fields_of

ID_MOST = 64
FAULTS_MOST = 10
# What was typed beside a value, which goes with that value.
TYPED = "/typed/"
# Fields of the form that belong to the page and not to the visit.
OF_PAGE = ("form_token", "id", "section", "seen", "why")


@pages.get("/desk/visit")
def visit() -> Response:
    """GET /desk/visit?id=: a visit, part by part; with open=PART that one can be corrected."""
    return page_of(view_of(request.args.get("id", "")), request.args.get("open", ""))


@pages.post("/desk/do/amend")
def amend() -> BaseResponse:
    """POST /desk/do/amend: one part of a visit as it was typed, with the reason why."""
    view, section = view_of(one(g.form, "id")), one(g.form, "section")
    typed = _typed(g.form, section, view)
    arguments = {"visit": view["visit"]["id"], "section": section, "typed": typed, "why": one(g.form, "why"),
                 "seen": one(g.form, "seen")}
    try:
        count = carry_out(logbook(), "amend", arguments)  # type: ignore[arg-type]  # the names are those of the task
    except (Unamended, ChangedMeanwhile) as error:
        words = words_of(logbook().rulebook)
        faults = error.sentences if isinstance(error, Unamended) else [words.error(error)]
        status = 422 if isinstance(error, Unamended) else 409
        return page_of(view_of(view["visit"]["id"]), section, status, typed, faults)
    return redirect(url_for("deskpages.visit", id=view["visit"]["id"], done="amended" if count else "same"), 303)


@pages.post("/desk/do/sheet")
def make_one() -> BaseResponse:
    """POST /desk/do/sheet: the sheet of one visit, made now where it is missing or outdated."""
    visit_id = one(g.form, "id")[:ID_MOST]
    carry_out(logbook(), "sheet", {"visit": visit_id})
    return redirect(url_for("deskpages.visit", id=visit_id, done="made_one"), 303)


@pages.get("/desk/photo")
def photo() -> Response:
    """GET /desk/photo?sha256=: a photo that arrived."""
    sha = request.args.get("sha256", "")
    if not is_at_least("office"):
        # A digest alone says nothing of whose it is.
        visit_id = request.args.get("id", "")
        shown = (logbook().visit(visit_id).get("photos") if op_line.is_id(visit_id) else None) or []
        if all(one["sha256"] != sha for one in shown):
            raise RequestFault("no_photo", sha=sha)
    store: PhotoStore = current_app.extensions["layby"]["photos"]
    held, length = store.offset(sha)
    if length is None or held < length:
        raise RequestFault("no_photo", sha=sha)
    content = store.bytes_of(sha) or b""
    return Response(content, content_type=head_of(content).media_type)


def view_of(identifier: str) -> VisitView:
    """All that is known of a visit [VisitView]."""
    return cast(VisitView, carry_out(logbook(), "visit", {"id": identifier[:ID_MOST]}))


def _typed(form: Fields, section: str, view: VisitView) -> dict[str, str]:
    """What was typed by the names of the fields; of several ticks those that stood there first keep their order."""
    before = {field.name: field.text.split() for field in fields_of(section, view["visit"], logbook().rulebook, True)
              if field.row["type"].startswith("codes ")}
    typed: dict[str, str] = {}
    for name, texts in form.items():
        if name in before:
            ticked = [text for text in texts if text]
            kept = [code for code in before[name] if code in ticked]
            typed[name] = " ".join([*kept, *(code for code in ticked if code not in kept)])
        elif name not in OF_PAGE:
            typed[name] = texts[0].replace("\r\n", "\n")
    return typed


def page_of(
    view: VisitView, section: str, status: int = 200, typed: Mapping[str, str] | None = None,
    faults: list[str] | None = None,
) -> Response:
    """The page of a visit, one part of it open with what was typed there and what is wrong with it [Response]."""
    rulebook = logbook().rulebook
    words, visit, row = words_of(rulebook), view["visit"], view["row"]
    is_void = bool(visit.get("void"))
    opened = form_of(section, visit, rulebook, typed) if section and not is_void else None
    found = faults or []
    more = len(found) - FAULTS_MOST
    photos = [{"sha256": one["sha256"], "role": words.term("photo_role", one.get("role") or "other"),
               "time": (one.get("at") or "")[11:16], "here": one["sha256"] in view["photos"]}
              for one in visit.get("photos") or []]
    return page(
        "visit", status, view=view, visit=visit, row={**row, "again": is_again(row)}, gist=view["gist"],
        title=_title(view), photos=photos, sent=any(sheet_state(record) == "sent" for record in view["sheets"]),
        facts=facts_of(visit, rulebook), opened=opened, faults=found[:FAULTS_MOST], more=more, why=_why(status),
        state=state_of_row(row), state_words=state_words(row, words), is_void=is_void, day=_day(visit["started_at"]),
        from_to=_from_to(view), sheets=[sheet_words(record, rulebook) for record in reversed(view["sheets"])],
        corrections=[correction_words(one, visit, rulebook) for one in view["corrections"]],
        conflicts=[conflict_words(one, visit, rulebook) for one in view["conflicts"]
                   if not one["pointer"].startswith(TYPED)], signed=_signed(view),
        entries=[{**one, "last": date_words(one["last"])} for one in view["entries"]], done=done(),
        log=log_of(section, visit) if opened else None, people=to_hand_to(visit.get("technician") or {}),
        approvable=bool(row["file"]) and row["state"] in ("made", "failed") and not row["lacks"],
    )  # fmt: skip


def to_hand_to(technician: Technician) -> list[Person]:
    """Whom a visit can be handed over to, for whoever may do that; [] for others [Person each]."""
    people: list[Person] = carry_out(logbook(), "people", {}) if is_at_least("office") else []
    return [one for one in people if one["ended_at"] is None and one["id"] != technician.get("id")]


def _why(status: int) -> str:
    """The reason that was typed, where what it was given for was not filed."""
    return one(g.form, "why") if status != 200 else ""


def _title(view: VisitView) -> str:
    row = view["row"]
    nameless = words_of(logbook().rulebook).say("desk.row.nameless")
    return ", ".join(part for part in (row["customer"] or row["place"] or nameless, row["vehicle"]) if part)


def _day(started_at: str) -> dict[str, str]:
    """The day of a visit as its page is asked for, and in words; both empty where it is not known."""
    try:
        day = datetime.fromisoformat(started_at)
        return {"iso": day.date().isoformat(), "words": Formats(language()).full_day(day)}
    except ValueError:
        return {"iso": "", "words": ""}


def _from_to(view: VisitView) -> str:
    visit, words = view["visit"], words_of(logbook().rulebook)
    start, end = visit["started_at"][11:16], (visit.get("ended_at") or "")[11:16]
    place = (visit.get("place") or {}).get("label") or ""
    times = words.say("desk.visit.from_to", start=start, end=end) if start and end else start
    return " · ".join(part for part in (times, place) if part)


def _signed(view: VisitView) -> str:
    """What the customer signed for, where the bill says something else now."""
    signed, total = view["gist"]["signed"], view["gist"]["sum"]
    if not signed or not total or signed == total:
        return ""
    name = (view["visit"].get("signature") or {}).get("name") or ""
    return words_of(logbook().rulebook).say("desk.visit.signed", name=name, sum=signed)
