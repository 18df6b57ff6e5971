"""Passkeys: a person signs in with what their phone or computer holds, instead of typing a passphrase.

Web Authentication, Level 3 (W3C). A library checks what a browser says, and only the public half of a passkey is kept.
Browsers offer none without HTTPS, except on this computer, nor under another name than the one it was made for.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import secrets
import time
from functools import cache
from pathlib import Path
from typing import TypedDict

from flask import Response, current_app, g, redirect, request, url_for
from werkzeug.wrappers import Response as BaseResponse

from server.desk.access import who
from server.desk.forms import form, one
from server.desk.login import is_secure, page, pages, people, with_session
from server.http.problems import RequestFault
from server.http.sync_routes import logbook
from sync.language.reader import words_of
from sync.records.people import NAME_MOST, Passkey
from sync.records.shared_state import SharedState

# How long a person may take to show their finger or face [s].
ANSWER_S = 300
_RANDOM = 24


class ShownPasskey(TypedDict):
    """A passkey as the page of its owner lists it."""

    id: str
    name: str


@pages.get("/desk/passkey.js")
def passkey_script() -> Response:
    """GET /desk/passkey.js: the only script of the desk's pages; it asks the browser for a passkey and sends a form."""
    response = Response(_script(), content_type="text/javascript; charset=utf-8")
    response.headers["Cache-Control"] = "no-cache"
    response.add_etag()
    response.make_conditional(request)
    return response


@cache
def _script() -> bytes:
    return (Path(__file__).with_name("static") / "passkey.js").read_bytes()


@pages.get("/desk/passkeys")
def passkeys() -> Response:
    """GET /desk/passkeys: the passkeys of whoever is signed in, and the way to add one."""
    return _page()


@pages.post("/desk/do/passkey")
def add_passkey() -> BaseResponse:
    """POST /desk/do/passkey: one more passkey, as the browser made it."""
    from webauthn import verify_registration_response
    from webauthn.helpers import bytes_to_base64url
    from webauthn.helpers.exceptions import WebAuthnException

    answer, name = one(g.form, "credential"), one(g.form, "name").strip()[:NAME_MOST]
    try:
        made = verify_registration_response(
            credential=answer, expected_challenge=_taken_challenge(answer, who().person), expected_rp_id=_rp_id(),
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
    people().remove_passkey(who().person, one(g.form, "id"))
    return redirect(url_for("deskpages.passkeys", done="removed"), 303)


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
            credential=answer, expected_challenge=_taken_challenge(answer, ""), expected_rp_id=_rp_id(),
            expected_origin=_origin(), credential_public_key=base64url_to_bytes(passkey["key"]),
            credential_current_sign_count=passkey["count"], require_user_verification=True)
    except WebAuthnException as error:
        raise RequestFault("bad_passkey") from error
    people().use_passkey(passkey["id"], signed.new_sign_count)
    return with_session(person["id"], "deskpages.day")


def sign_in_options() -> str:
    """What a browser is asked when somebody signs in [JSON text]."""
    from webauthn import generate_authentication_options, options_to_json
    from webauthn.helpers.structs import UserVerificationRequirement

    return options_to_json(generate_authentication_options(
        rp_id=_rp_id(), challenge=_new_challenge(""), user_verification=UserVerificationRequirement.REQUIRED))


def _page() -> Response:
    own = people().passkeys(who().person)
    shown = [ShownPasskey(id=one["id"], name=one["name"]) for one in own]
    return page("passkeys", own=shown, options=_adding_options(own), most=NAME_MOST,
                done=words_of(logbook().rulebook).say(f"desk.done.{request.args['done']}")
                if request.args.get("done") in ("saved", "removed") else None)


def _adding_options(own: list[Passkey]) -> str:
    """What a browser is asked when a passkey is added [JSON text]."""
    from webauthn import base64url_to_bytes, generate_registration_options, options_to_json
    from webauthn.helpers.structs import (
        AuthenticatorSelectionCriteria,
        PublicKeyCredentialDescriptor,
        ResidentKeyRequirement,
        UserVerificationRequirement,
    )

    # Kept by whatever made it, so that nobody types a name, and shown only for a finger, a face or a PIN.
    chosen = AuthenticatorSelectionCriteria(
        resident_key=ResidentKeyRequirement.REQUIRED, user_verification=UserVerificationRequirement.REQUIRED)
    return options_to_json(generate_registration_options(
        rp_id=_rp_id(), rp_name="Layby", user_name=who().name, user_id=who().person.encode("ascii"),
        challenge=_new_challenge(who().person), authenticator_selection=chosen,
        exclude_credentials=[PublicKeyCredentialDescriptor(id=base64url_to_bytes(one["id"])) for one in own]))


def _rp_id() -> str:
    """The name that a passkey is made for: this desk's, without a port."""
    return request.host.partition(":")[0]


def _origin() -> str:
    return f"{'https' if is_secure() else 'http'}://{request.host}"


# What a browser signs: when it was asked for, something random, and a seal that only this desk makes. So nothing has to
# be kept for whoever merely opens the page.


def _new_challenge(person: str) -> bytes:
    head = int(time.time()).to_bytes(8, "big") + secrets.token_bytes(_RANDOM)
    return head + _seal(head, person)


def _taken_challenge(answer: str, person: str) -> bytes:
    """The challenge in an answer, if this desk made it lately for that person; it is taken once.

    Raises:
        RequestFault: bad_passkey, or passkey_late.
    """
    challenge = _challenge_in(answer)
    head, seal = challenge[: 8 + _RANDOM], challenge[8 + _RANDOM :]
    if not hmac.compare_digest(seal, _seal(head, person)):
        raise RequestFault("bad_passkey")
    made, now = int.from_bytes(head[:8], "big"), time.time()
    if now - made > ANSWER_S:
        raise RequestFault("passkey_late")
    with _state().changing() as kept:
        used = kept.setdefault("used", {})
        assert isinstance(used, dict)
        for name in [name for name, at in used.items() if not isinstance(at, (int, float)) or now - at > ANSWER_S]:
            del used[name]
        name = hashlib.sha256(head).hexdigest()
        if name in used:
            raise RequestFault("bad_passkey")
        used[name] = made
    return challenge


def _seal(head: bytes, person: str) -> bytes:
    return hmac.digest(_key(), head + person.encode("ascii"), "sha256")


def _key() -> bytes:
    """What seals challenges; the same at every service over the same records."""
    key = _state().read().get("key")
    if not isinstance(key, str):
        with _state().changing() as kept:
            key = str(kept.setdefault("key", secrets.token_hex(32)))
    return bytes.fromhex(key)


def _state() -> SharedState:
    state: SharedState = current_app.extensions["layby"]["challenges"]
    return state


def _challenge_in(answer: str) -> bytes:
    from webauthn.helpers import base64url_to_bytes

    try:
        client = json.loads(base64url_to_bytes(json.loads(answer)["response"]["clientDataJSON"]))
        return bytes(base64url_to_bytes(client["challenge"]))
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise RequestFault("bad_passkey") from error


def _id_in(answer: str) -> str:
    try:
        return str(json.loads(answer)["id"])
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise RequestFault("bad_passkey") from error
