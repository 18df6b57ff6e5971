"""The questions that a browser is asked about passkeys, and the challenges in them, which only this desk makes.

No page and no session is here.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import secrets
import time

from flask import current_app, request

from server.http.problems import RequestFault
from sync.records.person import Passkey
from sync.records.shared_state import SharedState

# How long a person may take to show their finger or face [s].
ANSWER_S = 300
_RANDOM = 24


def sign_in_options() -> str:
    """What a browser is asked when somebody signs in [JSON text]."""
    from webauthn import generate_authentication_options, options_to_json
    from webauthn.helpers.structs import UserVerificationRequirement

    return options_to_json(generate_authentication_options(
        rp_id=rp_id(), challenge=_new_challenge(""), user_verification=UserVerificationRequirement.REQUIRED))


def adding_options(person: str, name: str, own: list[Passkey]) -> str:
    """What a browser is asked when a passkey is added.

    Args:
        person: whose it will be [id]
        name: as whom a browser lists it [text]
        own: the passkeys that the person has [Passkey each]

    Returns:
        the question [JSON text]
    """
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
        rp_id=rp_id(), rp_name="Layby", user_name=name, user_id=person.encode("ascii"),
        challenge=_new_challenge(person), authenticator_selection=chosen,
        exclude_credentials=[PublicKeyCredentialDescriptor(id=base64url_to_bytes(one["id"])) for one in own]))


def rp_id() -> str:
    """The name that a passkey is made for: this desk's, without a port."""
    return request.host.partition(":")[0]


# What a browser signs: when it was asked for, something random, and a seal that only this desk makes. So nothing has to
# be kept for whoever merely opens the page.


def _new_challenge(person: str) -> bytes:
    head = int(time.time()).to_bytes(8, "big") + secrets.token_bytes(_RANDOM)
    return head + _seal(head, person)


def taken_challenge(answer: str, person: str) -> bytes:
    """The challenge in an answer, if this desk made it lately for that person; it is taken once.

    Args:
        answer: of the browser [JSON text]
        person: who adds a passkey, "" for whoever signs in [id]

    Returns:
        the challenge [bytes]

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
