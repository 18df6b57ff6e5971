"""The desk's page of a day: its visits by what they need, and from there to sheets, approvals and letters.

Nothing is worked out here: the tasks do the work, the template shows it.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from typing import TypedDict, cast

from flask import Response, g, redirect, request, url_for
from werkzeug.wrappers import Response as BaseResponse

from server.desk.access import is_at_least, who
from server.desk.forms import one
from server.desk.login import page, pages
from server.desk.pages import done
from server.http.problems import RequestFault
from server.http.sync_routes import logbook
from server.tasks.catalogue import carry_out
from server.tasks.desk_words import is_again, state_of_row, state_words
from server.tasks.messages import EveningRow
from server.tasks.sheet_tasks import NoSuchDay
from sync.language.formats import Formats
from sync.language.reader import language, words_of
from sync.records.person import Person
from sync.work.amendments import Unamended

# The states of a sheet by what a visit needs, in the order of the page.
GROUPS = {"needs": ("draft", "ready", "returned"), "way": ("approved", "outbox"), "finished": ("sent", "void")}
# What can be filled in on the day's own row, and the part of the visit it belongs to.
MENDED = {"customer.email": "customer", "outcome": "outcome"}
ID_MOST = 64


class DayRow(EveningRow):
    """One visit's line on the page: its time, its state, and what can be done with it."""

    clock: str
    mark: str
    stands: str
    approvable: bool
    again: bool


class DayGroup(TypedDict):
    """Visits that need the same."""

    name: str
    rows: list[DayRow]


@pages.get("/desk")
def day() -> Response:
    """GET /desk?day=YYYY-MM-DD&of=: the visits of a day as they stand; a technician's own, or of one or all of them."""
    return _page(_day(request.args.get("day") or datetime.now().astimezone().date().isoformat()))


def _page(
    chosen: date, status: int = 200, fault: str | None = None, typed: Mapping[str, str] | None = None
) -> Response:
    person = _asked_for()
    rows = sorted(_rows(chosen, person), key=lambda row: str(row["started_at"]))
    groups = [DayGroup(name=name, rows=[row for row in rows if row["mark"] in states])
              for name, states in GROUPS.items()]
    ready = [row for row in rows if row["mark"] == "ready" and not row["lacks"]]
    return page(
        "day", status, troubles=carry_out(logbook(), "troubles", {}) if is_at_least("office") else [], rows=rows,
        ready=ready, fault=fault, people=_people(), of=person,
        groups=[group for group in groups if group["rows"]],
        approved=sum(row["state"] in ("approved", "queued") for row in rows),
        unmade=any(row["state"] is None and row["mark"] != "void" for row in rows), done=done(),
        title=Formats(language()).full_day(chosen), day=chosen, typed_for=typed or {},
        before=chosen - timedelta(days=1), after=chosen + timedelta(days=1),
    )  # fmt: skip


def _asked_for() -> str:
    """Whose visits the page shows: a technician's own, else of whom it was asked for [id]; "" for all."""
    asked = one(g.form, "of") if request.method == "POST" else request.args.get("of", "")
    return asked[:ID_MOST] if is_at_least("office") else who().person


def _people() -> list[Person]:
    """Of whom the day can be asked for; [] where there is no choice [Person each]."""
    people: list[Person] = carry_out(logbook(), "people", {}) if is_at_least("office") else []
    return people if len(people) > 1 else []


def _rows(chosen: date, person: str) -> list[DayRow]:
    words = words_of(logbook().rulebook)
    rows = cast(list[EveningRow], carry_out(logbook(), "look", {"day": chosen.isoformat(), "person": person}))
    return [{**row, "clock": str(row["started_at"] or "")[11:16], "mark": state_of_row(row),
             "stands": state_words(row, words), "approvable": bool(row["file"]) and row["state"] in ("made", "failed"),
             "again": is_again(row)}
            for row in rows]


@pages.post("/desk/do/make")
def make() -> BaseResponse:
    """POST /desk/do/make: make the day's sheets that are missing or outdated."""
    chosen = _day(one(g.form, "day")).isoformat()
    person = _asked_for()
    carry_out(logbook(), "evening", {"day": chosen, "person": person})
    return redirect(url_for("deskpages.day", day=chosen, of=person or None, done="made"), 303)


@pages.post("/desk/do/approve")
def approve() -> BaseResponse:
    """POST /desk/do/approve: the sheets that were looked at, one or all that the page showed as ready."""
    chosen, back = _day(one(g.form, "day")).isoformat(), one(g.form, "back")[:ID_MOST]
    shown = {tuple(pair.partition(" ")[::2]) for pair in g.form.get("sheet", [])}
    now = carry_out(logbook(), "look", {"day": chosen})
    # Only the very sheet that the page showed: one that was made anew meanwhile has been looked at by nobody.
    same = [row["visit"] for row in now if (row["visit"], row["revision"]) in shown]
    rows = carry_out(logbook(), "approve", {"visits": same, "complete": True})
    refused = [row for row in rows if row["state"] not in ("approved", "queued", "sent") or row["reason"]]
    done = "nothing" if not rows else "some" if refused or len(same) < len(shown) else "approved"
    if any(row["lacks"] for row in refused):
        done = "stopped"
    if back:
        return redirect(url_for("deskpages.visit", id=back, done=done), 303)
    return redirect(url_for("deskpages.day", day=chosen, done=done), 303)


@pages.post("/desk/do/mend")
def mend() -> BaseResponse:
    """POST /desk/do/mend: what kept a sheet from going, filled in where it was missed; the sheet is made anew."""
    visit_id, field, text = one(g.form, "id")[:ID_MOST], one(g.form, "field"), one(g.form, "text")
    if field not in MENDED:
        raise RequestFault("unknown_section", section=field[:80])
    words = words_of(logbook().rulebook)
    try:
        count = carry_out(logbook(), "amend", {"visit": visit_id, "section": MENDED[field], "typed": {field: text},
                                               "why": words.say("desk.mend.why")})
    except Unamended as error:
        if one(g.form, "back") == "visit":
            raise
        return _page(_day(one(g.form, "day")), 422, " ".join(error.sentences), {visit_id + field: text})
    view = carry_out(logbook(), "visit", {"id": visit_id})
    # A sheet that was made before lacks what was filled in.
    if count and _is_outdated(view["row"]):
        carry_out(logbook(), "sheet", {"visit": visit_id})
    done = "amended" if count else "same"
    if one(g.form, "back") == "visit":
        return redirect(url_for("deskpages.visit", id=visit_id, done=done), 303)
    return redirect(url_for("deskpages.day", day=_day(one(g.form, "day")).isoformat(), done=done), 303)


def _is_outdated(row: EveningRow) -> bool:
    return row["reason"] is not None and row["reason"]["code"] == "sheet_outdated"


@pages.post("/desk/do/send")
def send() -> BaseResponse:
    """POST /desk/do/send: mail what is approved, each once."""
    carry_out(logbook(), "send", {})
    if one(g.form, "day"):
        return redirect(url_for("deskpages.day", day=_day(one(g.form, "day")).isoformat(), done="sent"), 303)
    return redirect(url_for("deskpages.post", done="sent"), 303)


def _day(text: str) -> date:
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise NoSuchDay(day=text[:40]) from error
    # The page leads to the day before and the day after, which the calendar has to hold as well.
    if not date.min < day < date.max:
        raise NoSuchDay(day=text[:40])
    return day
