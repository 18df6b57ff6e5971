"""The desk's door: the passphrase is set, people sign in and out, and nothing behind it answers anyone else.

No page behind the door is here.
"""

from __future__ import annotations

import hmac
import logging
import re
import time
from typing import Any, TypedDict

from flask import Blueprint, Response, current_app, g, make_response, redirect, render_template, request, url_for
from markupsafe import Markup, escape
from werkzeug.wrappers import Response as BaseResponse

from server.desk import access
from server.desk.forms import form, one, sent
from server.desk.kept import kept
from server.desk.passkey_questions import sign_in_options
from server.desk.sessions import Session, Sessions
from server.http.auth import bearer
from server.http.callers import Caller, caller_of
from server.http.problems import RequestFault, status_of
from server.http.rate_limits import Limit
from server.http.sync_routes import logbook
from server.process import public_url
from sync.disk.safe_files import disk_full, is_full
from sync.errors import LaybyError
from sync.language.reader import language, words_of
from sync.records.logbook import Logbook, UnknownVisit
from sync.records.passphrase import Passphrase
from sync.records.people import People
from sync.records.person import NAME_MOST
from sync.records.secret import LEAST, MOST
from sync.records.shared_state import SharedState
from sync.work import acting

COOKIE = "layby_desk"
# What a browser keeps of having signed in: it opens nothing, but others' wrong tries don't hold it up. It lasts as long
# as browsers keep a cookie.
KNOWN_COOKIE = "layby_known"
KNOWN_S = 400 * 24 * 3600
# Wrong passphrases by one caller and by all; the command line stays open to the owner of the folder.
BY_ONE, BY_ALL, WITHIN_S = 5, 20, 300.0
# What a person may reach without signing in.
OPEN = {"deskpages.sign_in", "deskpages.signed_in", "deskpages.setting", "deskpages.set_it", "deskpages.look",
        "deskpages.first", "deskpages.passkey_script", "deskpages.signed_in_by_passkey"}  # fmt: skip

log = logging.getLogger("layby.service")

pages = Blueprint("deskpages", __name__, template_folder="templates", static_folder=None)
_COMMAND = re.compile(r"`([^`]+)`")


class Parts(TypedDict):
    """What one service keeps for its door."""

    sessions: Sessions
    sign_in_limit: Limit
    challenges: SharedState


def new_parts(logbook: Logbook) -> Parts:
    """What a service keeps for its door, with all others over the same records [Parts]."""
    files = logbook.files if logbook.store.is_shared else None
    sessions, tries = SharedState(files, "sessions.json"), SharedState(files, "sign-in-tries.json")
    return {"sessions": Sessions(sessions), "sign_in_limit": Limit(BY_ONE, BY_ALL, WITHIN_S, tries),
            "challenges": SharedState(files, "passkey-challenges.json", time.time)}


def passphrase() -> Passphrase:
    """The passphrase of this service's folder [Passphrase]."""
    return Passphrase(logbook().files)


def people() -> People:
    """The people of this service's desk [People]."""
    return People(logbook().files)


def is_set() -> bool:
    """Whether anybody can sign in yet."""
    return passphrase().edition is not None or bool(people().everybody())


def session_now() -> Session | None:
    """The session of this request; None if it shows none [Session or None]."""
    sessions: Sessions = current_app.extensions["layby"]["sessions"]
    shown = request.cookies.get(COOKIE, "")
    return sessions.of(shown, _edition_of) if shown else None


def _edition_of(person: str) -> str | None:
    """The passphrase of a person as it is now; everybody's, "", ends with the first person."""
    if person:
        return people().edition(person)
    return None if people().everybody() else passphrase().edition


def key_only() -> None:
    """Let a request go on only with the key of the running service, which its owner's commands read from the folder.

    Raises:
        RequestFault: no_key.
    """
    key = str(current_app.config.get("DESK_KEY") or "")
    if not key or not hmac.compare_digest(bearer(request).encode("utf-8", "replace"), key.encode()):
        raise RequestFault("no_key")


def known_only(visit_id: str = "") -> None:
    """Let a request go on only with a session or with that key.

    Args:
        visit_id: what it is about; "" if about visits of all [UUIDv7]

    Raises:
        RequestFault: no_key, or not_for_role.
        UnknownVisit: whoever is signed in may not see it.
    """
    session = session_now()
    if session is None:
        key_only()
        return
    g.signed = access.signed_as(session.person)
    if visit_id and not access.sees(visit_id):
        raise UnknownVisit(visit=visit_id)
    if not visit_id and not access.is_at_least("office"):
        # The ids of others' visits are nobody's business.
        raise RequestFault("not_for_role")


def page(name: str, status: int = 200, **values: Any) -> Response:
    """A page of the desk [Response].

    Args:
        name: its template [name]
        status: the HTTP status [number]
        values: what it shows [by name]
    """
    session: Session | None = g.get("session")
    values = {"fault": None, "here": name, **values}
    token = session.form_token if session else ""
    words = words_of(logbook().rulebook)
    values = {"say": words.say, "lang": language(), "form_token": token, "signed_in": session is not None, **values}
    if session is not None:
        values = {"may": access.may, "sees": access.sees, "who": access.who(), **values}
    response = make_response(render_template(f"{name}.html", **values))
    response.status_code = status
    return response


@pages.app_template_filter("commands")
def with_commands(text: str) -> Markup:
    """A sentence in which words between backticks are commands to type [HTML]."""
    return Markup(_COMMAND.sub(r"<code>\1</code>", str(escape(text))))


@pages.before_request
def let_in() -> BaseResponse | None:
    """Only signed-in callers go on; a form counts only if it came from a page of this desk."""
    g.session = session_now()
    if g.session is not None:
        g.signed = access.signed_as(g.session.person)
        g.acting = acting.begin(g.signed.person)
    if request.method == "POST" and request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
        raise RequestFault("foreign_form")
    endpoint = str(request.endpoint)
    if endpoint in OPEN:
        return None
    if g.session is None:
        return redirect(url_for("deskpages.sign_in"), 303)
    if request.method == "POST":
        g.form, g.files = (form(), []) if request.mimetype != "multipart/form-data" else sent()
        if not hmac.compare_digest(one(g.form, "form_token").encode(), g.session.form_token.encode()):
            raise RequestFault("foreign_form")
    field = access.asked_by(endpoint).visit
    access.check(endpoint, g.form.get(field, []) if request.method == "POST" else request.args.getlist(field))
    return None


@pages.teardown_request
def let_go(_: BaseException | None) -> None:
    """Nobody acts in this thread any more."""
    if "acting" in g:
        acting.end(g.pop("acting"))


@pages.errorhandler(LaybyError)
def fault_page(error: LaybyError) -> Response:
    """An error as a page with its sentence."""
    response = page("fault", status_of(error), said=words_of(logbook().rulebook).error(error))
    if "wait_s" in error.values:
        response.headers["Retry-After"] = str(error.values["wait_s"])
    return response


@pages.errorhandler(OSError)
def full_disk_page(error: OSError) -> Response:
    """A full disk as a page with its sentence; any other system error isn't this page's business."""
    if not is_full(error):
        raise error
    return fault_page(disk_full(logbook().folder))


@pages.get("/desk/sign-in")
def sign_in() -> BaseResponse:
    """GET /desk/sign-in: the form; if no passphrase is set, it leads to where one is."""
    if g.session is not None:
        return redirect(url_for("deskpages.day"), 303)
    if not is_set():
        return redirect(url_for("deskpages.first"), 303)
    return _sign_in_page()


@pages.post("/desk/sign-in")
def signed_in() -> BaseResponse:
    """POST /desk/sign-in: the right passphrase, and a name where several people sign in, in exchange for a session."""
    fields = form()
    name = one(fields, "name")
    person = identified(name, one(fields, "passphrase"))
    if person is None:
        code = "wrong_name" if people().everybody() else "wrong_passphrase"
        fault = words_of(logbook().rulebook).say(f"errors.{code}")
        return _sign_in_page(403, fault, name[:NAME_MOST])
    return with_session(person, "deskpages.day")


def identified(name: str, text: str) -> str | None:
    """The person with this name and passphrase; wrong attempts are counted.

    Args:
        name: as they sign in; it isn't looked at where there is one passphrase for everybody [text]
        text: the passphrase as it was typed [text]

    Returns:
        the person's id, "" where there is one passphrase for everybody; None if it is wrong [text or None]

    Raises:
        TooOften: wait_s [s].
    """
    limit: Limit = current_app.extensions["layby"]["sign_in_limit"]
    attempt = limit.enter(*_caller())
    if people().everybody():
        person = people().sign_in(name, text)
        found = person["id"] if person else None
    else:
        found = "" if passphrase().fits(text) else None
    if found is not None:
        limit.forgive(attempt)
    return found


def _sign_in_page(status: int = 200, fault: str | None = None, typed: str = "") -> Response:
    several = people().everybody()
    options = sign_in_options() if any(person["passkeys"] for person in several) else ""
    return page("sign_in", status, fault=fault, named=bool(several), typed=typed, options=options)


@pages.post("/desk/sign-out")
def sign_out() -> BaseResponse:
    """POST /desk/sign-out: the session ends, here and in the browser."""
    sessions: Sessions = current_app.extensions["layby"]["sessions"]
    sessions.end(request.cookies.get(COOKIE, ""))
    response = redirect(url_for("deskpages.sign_in"), 303)
    response.delete_cookie(COOKIE, path="/", secure=is_secure(), httponly=True, samesite="Strict")
    return response


@pages.get("/desk/passphrase")
def setting() -> Response:
    """GET /desk/passphrase?key=: the form for a new passphrase, at the one-time address that the service shows."""
    key = request.args.get("key", "")
    opens = people().invited_by(key, _now_ms()) is not None or passphrase().opens_setting(key, _now_ms())
    fault = None if opens else words_of(logbook().rulebook).say("errors.no_setting_key")
    return _setting_page(key, opens, fault)


@pages.post("/desk/passphrase")
def set_it() -> BaseResponse:
    """POST /desk/passphrase: set it, typed twice the same, and sign in; other sessions that knew the former end."""
    fields, secret = form(), passphrase()
    # As it was told, or the whole link.
    key, text = one(fields, "key").strip().rpartition("key=")[2], one(fields, "passphrase")
    is_first = not is_set()
    # Nobody guesses a key of 256 bits, and a limit would let strangers keep its owner from using it.
    invited = people().invited_by(key, _now_ms())
    opens = invited is not None or secret.opens_setting(key, _now_ms())
    try:
        if opens and text != one(fields, "again"):
            raise RequestFault("passphrases_differ")
        if invited is not None:
            people().join(key, text, _now_ms())
        else:
            secret.set(key, text, _now_ms())
    except LaybyError as error:
        return _setting_page(key, opens, words_of(logbook().rulebook).error(error), status_of(error))
    return with_session(invited["id"] if invited else "", "deskpages.first" if is_first else "deskpages.day")


def _setting_page(key: str, opens: bool, fault: str | None, status: int = 200) -> Response:
    """The form for a new passphrase, where the key opens it; at the first start with where things are kept."""
    is_first, invited = not is_set(), people().invited_by(key, _now_ms())
    if is_first and not opens and caller_of(request).is_apart:
        return page("first", status, steps=None, kept=kept(), key=key, fault=fault, least=LEAST, most=MOST)
    # Whoever shows the key may read the folder as well.
    return page("passphrase", status, key=key, opens=opens, fault=fault, least=LEAST, most=MOST, person=invited,
                kept=kept() if is_first and opens else None)


def _caller() -> Caller:
    """The caller that a try counts against: a browser that signed in before, or the address it comes from."""
    mark = request.cookies.get(KNOWN_COOKIE, "")
    return Caller(f"browser {mark}", True) if mark and _remembers(mark) else caller_of(request)


def _remembers(mark: str) -> bool:
    return people().remembers(mark) or passphrase().remembers(mark)


def with_session(person: str, to: str) -> BaseResponse:
    """The way to a page, for a browser that is signed in from now on.

    Args:
        person: as whom, "" where there is one passphrase for everybody [id]
        to: the page's endpoint [name]

    Returns:
        a redirection with the session's cookie [Response]
    """
    sessions: Sessions = current_app.extensions["layby"]["sessions"]
    response = redirect(url_for(to), 303)
    shown = sessions.begin(str(_edition_of(person)), person)
    response.set_cookie(COOKIE, shown, path="/", secure=is_secure(), httponly=True, samesite="Strict")
    _make_known(response, person)
    return response


def _make_known(response: BaseResponse, person: str) -> None:
    """Let the browser keep that it signed in here; one that already shows it keeps what it has."""
    mark = request.cookies.get(KNOWN_COOKIE, "")
    if mark and _remembers(mark):
        return
    try:
        mark = people().remember(person) if person else passphrase().remember()
    except OSError as error:
        # A full disk keeps nobody from signing in.
        log.warning("that a browser was signed in could not be noted: %s", error)
        return
    response.set_cookie(KNOWN_COOKIE, mark, max_age=KNOWN_S, path="/desk", secure=is_secure(), httponly=True,
                        samesite="Strict")


def is_secure() -> bool:
    """Whether the browser came over https: to this service, or to a proxy in front of it at the set address."""
    return request.is_secure or public_url.chosen(logbook().folder, logbook().files) == f"https://{request.host}"


def _now_ms() -> int:
    return time.time_ns() // 1_000_000
