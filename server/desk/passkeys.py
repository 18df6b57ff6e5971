"""How a person signs in: with passkeys on their phone or computer, or with another passphrase.

Web Authentication, Level 3 (W3C). A library checks what a browser says, and only the public half of a passkey is kept.
Browsers offer none without HTTPS, except on this computer, nor under another name than the one it was made for.
"""

from __future__ import annotations

import json
from typing import TypedDict

from flask import Response, g, redirect, request, url_for
from werkzeug.wrappers import Response as BaseResponse

from server.desk.access import who
from server.desk.forms import form, one
from server.desk.login import identified, is_secure, page, pages, people, with_session
from server.desk.pages import done, own_file
from server.desk.passkey_questions import adding_options, rp_id, taken_challenge
from server.http.problems import RequestFault
from server.http.sync_routes import logbook
from server.tasks.catalogue import carry_out
from server.tasks.messages import Invitation
from sync.language.reader import words_of
from sync.records.person import NAME_MOST
from sync.records.secret import MOST


class ShownPasskey(TypedDict):
    """A passkey as the page of its owner lists it."""

    id: str
    name: str


@pages.get("/desk/passkey.js")
def passkey_script() -> Response:
    """GET /desk/passkey.js: the only script of the desk's pages; it asks the browser for a passkey and sends a form."""
    return own_file("passkey.js", "text/javascript")


@pages.get("/desk/passkeys")
def passkeys() -> Response:
    """GET /desk/passkeys: the passkeys of whoever is signed in, the way to add one, and to another passphrase."""
    return _page()


@pages.post("/desk/do/passkey")
def add_passkey() -> BaseResponse:
    """POST /desk/do/passkey: one more passkey, as the browser made it, for whoever knows the current passphrase."""
    from webauthn import verify_registration_response
    from webauthn.helpers import bytes_to_base64url
    from webauthn.helpers.exceptions import WebAuthnException

    answer, name = one(g.form, "credential"), one(g.form, "name").strip()[:NAME_MOST]
    _people_only()
    if not _is_really_there():
        return _page("wrong_passphrase")
    try:
        made = verify_registration_response(
            credential=answer, expected_challenge=taken_challenge(answer, who().person), expected_rp_id=rp_id(),
            expected_origin=_origin(), require_user_verification=True)
    except WebAuthnException as error:
        raise RequestFault("bad_passkey") from error
    people().add_passkey(who().person, {
        "id": bytes_to_base64url(made.credential_id), "key": bytes_to_base64url(made.credential_public_key),
        "count": made.sign_count, "name": name or words_of(logbook().rulebook).say("people.passkey.unnamed")})
    return redirect(url_for("deskpages.passkeys", done="saved"), 303)


@pages.post("/desk/do/passkey-remove")
def remove_passkey() -> BaseResponse:
    """POST /desk/do/passkey-remove: one passkey of whoever is signed in opens nothing any more."""
    _people_only()
    people().remove_passkey(who().person, one(g.form, "id"))
    return redirect(url_for("deskpages.passkeys", done="removed"), 303)


@pages.post("/desk/do/own-passphrase")
def own_passphrase() -> BaseResponse:
    """POST /desk/do/own-passphrase: to where whoever knows the current passphrase sets another one."""
    _people_only()
    if not _is_really_there():
        return _page("wrong_passphrase")
    invitation: Invitation = carry_out(logbook(), "invite_again", {"person": who().person})
    return redirect(url_for("deskpages.setting", key=invitation["key"]), 303)


@pages.post("/desk/sign-in/passkey")
def signed_in_by_passkey() -> BaseResponse:
    """POST /desk/sign-in/passkey: what a passkey signed, in exchange for a session."""
    from webauthn import verify_authentication_response
    from webauthn.helpers import base64url_to_bytes
    from webauthn.helpers.exceptions import WebAuthnException

    answer = one(form(), "credential")
    found = people().by_passkey(_id_in(answer))
    try:
        if found is None:
            raise RequestFault("bad_passkey")
        person, passkey = found
        signed = verify_authentication_response(
            credential=answer, expected_challenge=taken_challenge(answer, ""), expected_rp_id=rp_id(),
            expected_origin=_origin(), credential_public_key=base64url_to_bytes(passkey["key"]),
            credential_current_sign_count=passkey["count"], require_user_verification=True)
    except WebAuthnException as error:
        raise RequestFault("bad_passkey") from error
    people().use_passkey(passkey["id"], signed.new_sign_count)
    return with_session(person["id"], "deskpages.day")


def _people_only() -> None:
    """Where one passphrase is everybody's, a passkey would be nobody's.

    Raises:
        RequestFault: no_such_page.
    """
    if not who().person:
        raise RequestFault("no_such_page", path=request.path[:200])


def _is_really_there() -> bool:
    """Whether the person who signed in is still at the browser; somebody who finds it open doesn't know the passphrase.

    Raises:
        TooOften: wait_s [s].
    """
    return identified(who().name, one(g.form, "passphrase")) is not None


def _page(wrong: str = "") -> Response:
    _people_only()
    own = people().passkeys(who().person)
    shown = [ShownPasskey(id=one["id"], name=one["name"]) for one in own]
    fault = words_of(logbook().rulebook).say(f"errors.{wrong}") if wrong else None
    return page("passkeys", 403 if wrong else 200, own=shown, options=adding_options(who().person, who().name, own),
                most=NAME_MOST, longest=MOST, done=done(), fault=fault)


def _origin() -> str:
    return f"{'https' if is_secure() else 'http'}://{request.host}"


def _id_in(answer: str) -> str:
    try:
        return str(json.loads(answer)["id"])
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise RequestFault("bad_passkey") from error
