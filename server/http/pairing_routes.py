"""Pairing over HTTP: a phone shows a code once and is given its token.

No code and no device is kept here; `sync.records.pairing` does.
"""

from __future__ import annotations

import time

from flask import Blueprint, request

from server.http.auth import bearer, pairings
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
    """POST /pair: {code, device, name} for {token, device, name, paired_at, others}; the code is used up by it.

    A phone that is paired shows its token as well. Tries are counted by the records, for the short code alone.
    """
    claim = _claim(parse(body_of(BODY_MOST, ("application/json",)), BODY_MOST))
    token, device = pairings().pair(claim, time.time_ns() // 1_000_000)
    return {
        "token": token, "device": device["device"], "name": device["name"], "paired_at": device["paired_at"],
        "others": _others(device["device"]),
    }


def _others(device: str) -> list[OtherPhone]:
    """The phones besides this one that are paired, the last heard first; a phone whose store was cleared was one."""
    paired = [one for one in pairings().devices() if one["revoked_at"] is None and one["device"] != device]
    paired.sort(key=lambda one: one["last_seen"], reverse=True)
    return [{"name": one["name"], "last_seen": one["last_seen"]} for one in paired]


def _claim(body: Json) -> Claim:
    if not isinstance(body, dict):
        raise RequestFault("bad_query", name="body", found=type(body).__name__)
    code, device, name = _text(body, "code", 64), _text(body, "device", 64), _text(body, "name", NAME_MOST)
    # The desk's own name would let a phone number entries as the desk does.
    if not op_line.is_device(device) or device == op_line.DESK:
        raise RequestFault("bad_query", name="device", found=device[:40])
    return Claim(code, device, name, bearer(request))


def _text(body: JsonObject, name: str, most: int) -> str:
    value = body.get(name)
    if not isinstance(value, str) or not 1 <= len(value) <= most:
        raise RequestFault("bad_query", name=name, found=str(value)[:40])
    return value
