"""Pairing over HTTP: a phone shows a code once and gets its token.

No code and no device is kept here; `sync.records.pairing` keeps them.
"""

from __future__ import annotations

import time

from flask import Blueprint, request

from server.http.auth import bearer, pairings, signed_in
from server.http.problems import RequestFault
from server.http.sync_routes import body_of
from sync.kernel.json_tree import Json, JsonObject
from sync.records.pairing import NAME_MOST, Claim
from sync.wire import op_line
from sync.wire.json_parsing import parse
from sync.wire.responses import OtherPhone, Paired

BODY_MOST = 2048

pages = Blueprint("pairing", __name__)


@pages.post("/pair")
def take_up() -> Paired:
    """POST /pair: {code, device, name} for {token, device, name, paired_at, others}; this uses up the code.

    A phone that is already paired shows its token too. The records count tries, only for the short code.
    """
    claim = _claim(parse(body_of(BODY_MOST, ("application/json",)), BODY_MOST))
    token, device = pairings().pair(claim, time.time_ns() // 1_000_000)
    return {
        "token": token, "device": device["device"], "name": device["name"], "paired_at": device["paired_at"],
        "others": _others(device["device"]), "person": signed_in(device["device"]),
    }


def _others(device: str) -> list[OtherPhone]:
    """The other paired phones, the last heard from first; a phone whose store was cleared was one of them."""
    paired = [one for one in pairings().devices() if one["revoked_at"] is None and one["device"] != device]
    paired.sort(key=lambda one: one["last_seen"], reverse=True)
    return [{"name": one["name"], "last_seen": one["last_seen"]} for one in paired]


def _claim(body: Json) -> Claim:
    if not isinstance(body, dict):
        raise RequestFault("bad_query", name="body", found=type(body).__name__)
    code, device, name = _text(body, "code", 64), _text(body, "device", 64), _text(body, "name", NAME_MOST)
    # With the desk's own name, a phone could number entries as the desk does.
    if not op_line.is_device(device) or device == op_line.DESK:
        raise RequestFault("bad_query", name="device", found=device[:40])
    return Claim(code, device, name, bearer(request))


def _text(body: JsonObject, name: str, most: int) -> str:
    value = body.get(name)
    if not isinstance(value, str) or not 1 <= len(value) <= most:
        raise RequestFault("bad_query", name=name, found=str(value)[:40])
    return value
