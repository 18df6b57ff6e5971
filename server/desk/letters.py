"""The desk's pages of the letters: what waits, went or came back; one read, marked as returned, or sent again.

Nothing is worked out here: the tasks do the work, the templates show it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypedDict, cast

from flask import Response, g, redirect, request, url_for
from werkzeug.wrappers import Response as BaseResponse

from server.desk.day import GROUPS
from server.desk.forms import one
from server.desk.login import page, pages
from server.desk.pages import date_words, done
from server.http.problems import RequestFault
from server.http.sync_routes import logbook
from server.tasks.catalogue import carry_out
from server.tasks.desk_words import is_again, state_of_row, state_words
from server.tasks.letters import LetterRow, Letters, LetterText, NoReturnReason, ReturnReasonLong
from server.tasks.visit_tasks import VisitView
from sync.language.reader import words_of
from sync.language.words import Words
from sync.records.sheet_records import SheetRecords
from sync.wire import op_line
from sync.work.amendments import Unamended

ID_MOST = 64
WHY_SHOWN = 2000
# Where a letter's file is: still to be sent, or left for a person's own mail program.
PLACES = ("spool", "outgoing")


class ShownLetter(LetterRow):
    """A letter's row in words; `again` says that its key sends it once more."""

    mark: str
    stands: str
    since: str
    said: str
    again: bool
    on_file: bool


class LetterGroup(TypedDict):
    """Letters that need the same."""

    name: str
    rows: list[ShownLetter]


@pages.get("/desk/post")
def post() -> Response:
    """GET /desk/post: the letters that wait for a person, those on their way, and those that went."""
    return _page()


def _page(status: int = 200, fault: str | None = None, typed: Mapping[str, str] | None = None) -> Response:
    found, words = cast(Letters, carry_out(logbook(), "letters", {})), words_of(logbook().rulebook)
    rows = [_shown(row, words) for row in found["rows"]]
    groups = [LetterGroup(name=name, rows=[row for row in rows if row["mark"] in states])
              for name, states in GROUPS.items()]
    return page("letters", status, here="post", fault=fault, typed_for=typed or {}, done=done(), more=found["more"],
                groups=[group for group in groups if group["rows"]],
                waits=any(row["state"] in ("approved", "queued") for row in rows))


def _shown(row: LetterRow, words: Words) -> ShownLetter:
    mark, at = state_of_row(row), date_words(row["at"])
    if mark == "outbox" and row["tries"]:
        since = words.say("letters.since.outbox_tried", count=row["tries"], at=at)
    else:
        since = words.say(f"letters.since.{mark}", at=at)
    return {**row, "mark": mark, "stands": state_words(row, words), "since": since,
            "said": words.say(f"letters.said.{row['means']}") if row["means"] else "",
            "again": is_again(row), "on_file": mark == "outbox"}


@pages.get("/desk/letter")
def letter() -> Response:
    """GET /desk/letter?id=: the letter of a visit as it would go now."""
    visit_id = request.args.get("id", "")[:ID_MOST]
    text = cast(LetterText, carry_out(logbook(), "letter", {"visit": visit_id}))
    name = text["recipient"].partition(" <")[0]
    return page("letter", here="post", text=text, visit=visit_id, called=name)


@pages.get("/desk/letter.eml")
def letter_file() -> Response:
    """GET /desk/letter.eml?id=: a letter that waits, as the file that a mail program opens."""
    visit_id = request.args.get("id", "")[:ID_MOST]
    newest = SheetRecords(logbook()).newest(visit_id) if op_line.is_id(visit_id) else None
    files = logbook().files
    names = [f"{folder}/{newest['spool']}" for folder in PLACES] if newest and newest["spool"] else []
    content = next((files.read(name) for name in names if files.size(name) is not None), None)
    if content is None:
        raise RequestFault("no_letter_file", visit=visit_id)
    response = Response(content, content_type="message/rfc822")
    response.headers["Content-Disposition"] = f'attachment; filename="{visit_id}.eml"'
    return response


@pages.post("/desk/do/returned")
def returned() -> BaseResponse:
    """POST /desk/do/returned: a letter that was sent came back by mail, and what it said."""
    visit_id, why = one(g.form, "id")[:ID_MOST], one(g.form, "why")
    try:
        carry_out(logbook(), "returned", {"visit": visit_id, "why": why})
    except (NoReturnReason, ReturnReasonLong) as error:
        return _page(422, words_of(logbook().rulebook).error(error), {f"why {visit_id}": why[:WHY_SHOWN]})
    return _back(visit_id, "returned")


@pages.post("/desk/do/resend")
def resend() -> BaseResponse:
    """POST /desk/do/resend: a letter that came back goes once more, to another address if one was typed."""
    visit_id, email, sheet = one(g.form, "id")[:ID_MOST], one(g.form, "email").strip(), one(g.form, "sheet")
    try:
        _mend_address(visit_id, email)
    except Unamended as error:
        return _page(422, " ".join(error.sentences), {f"email {visit_id}": email})
    # Only the very sheet that the page showed: one that changed meanwhile has been looked at by nobody.
    if _view(visit_id)["row"]["revision"] != sheet:
        return _back(visit_id, "look_again")
    carry_out(logbook(), "approve", {"visits": [visit_id], "complete": True})
    carry_out(logbook(), "send", {})
    mark = state_of_row(_view(visit_id)["row"])
    return _back(visit_id, {"sent": "resent", "returned": "resent_back"}.get(mark, "resent_waits"))


def _mend_address(visit_id: str, email: str) -> None:
    if email and email != _view(visit_id)["row"]["to"]:
        why = words_of(logbook().rulebook).say("letters.again_why")
        carry_out(logbook(), "amend", {"visit": visit_id, "section": "customer", "typed": {"customer.email": email},
                                       "why": why})


def _view(visit_id: str) -> VisitView:
    return cast(VisitView, carry_out(logbook(), "visit", {"id": visit_id}))


def _back(visit_id: str, code: str) -> BaseResponse:
    """To the page that the form was on."""
    back = one(g.form, "back")
    if back == "visit":
        return redirect(url_for("deskpages.visit", id=visit_id, done=code), 303)
    if back[:4] == "day ":
        return redirect(url_for("deskpages.day", day=back[4:], done=code), 303)
    return redirect(url_for("deskpages.post", done=code), 303)
