"""The desk's pages behind the passphrase: finding a visit, phones and pairing.

Nothing is calculated here: the tasks do the work, the templates show it.
"""

from __future__ import annotations

from datetime import datetime
from functools import cache
from pathlib import Path
from typing import TypedDict

from flask import Response, current_app, g, redirect, request, url_for
from werkzeug.wrappers import Response as BaseResponse

from server.desk.forms import one
from server.desk.login import page, pages
from server.home.address import FOLDER
from server.home.authority import fingerprint
from server.http.sync_routes import logbook
from server.process import public_url, qr_code
from server.tasks.catalogue import carry_out
from sync.language.formats import Formats
from sync.language.reader import language, words_of
from sync.records.pairing import Offer

TEXT_MOST = 200
# What was done, for the page after it, by its code in the words; never a text from the address itself.
DONE = ("made", "approved", "nothing", "some", "sent", "revoked", "saved", "removed", "amended", "same",
        "made_one", "stopped", "erased", "marked", "unmarked", "returned", "resent", "resent_waits", "resent_back",
        "look_again", "settled", "aside", "logged", "unlogged")


class OfferShown(TypedDict):
    """A code for pairing as the page shows it: as an address, as a picture, as digits, and its expiry."""

    address: str
    picture: str
    until: str
    short: str
    short_until: str


class HomeShown(TypedDict):
    """Where a phone gets the certificate of a desk that is served at home, and what it is known by."""

    page: str
    picture: str
    fingerprint: list[str]


@pages.get("/desk/desk.css")
def look() -> Response:
    """GET /desk/desk.css: the style of the pages."""
    response = Response(_look(), content_type="text/css; charset=utf-8")
    response.headers["Cache-Control"] = "no-cache"
    response.add_etag()
    response.make_conditional(request)
    return response


@cache
def _look() -> bytes:
    return (Path(__file__).with_name("static") / "desk.css").read_bytes()


@pages.get("/desk/search")
def find() -> Response:
    """GET /desk/search?text=: visits by plate, VIN, customer's name or day, newest first."""
    text = request.args.get("text", "").strip()[:TEXT_MOST]
    answer = carry_out(logbook(), "find", {"text": text})
    return page("find", text=text, visits=answer["visits"], more=answer["more"], done=done())


@pages.get("/desk/phones")
def phones() -> Response:
    """GET /desk/phones: the paired phones and those that were revoked."""
    return _phones(None)


@pages.post("/desk/do/offer")
def offer() -> Response:
    """POST /desk/do/offer: a fresh code for pairing, shown only on the answering page."""
    return _phones(Offer(**carry_out(logbook(), "pair", {})))


@pages.post("/desk/do/revoke")
def revoke() -> BaseResponse:
    """POST /desk/do/revoke: shut one phone out."""
    carry_out(logbook(), "revoke", {"device": one(g.form, "device")})
    return redirect(url_for("deskpages.phones", done="revoked"), 303)


def _phones(offer: Offer | None) -> Response:
    address = public_url.chosen(logbook().folder, logbook().files) or request.host_url.rstrip("/")
    devices = [
        {**device, **{name: None if device[name] is None else date_words(device[name])
                      for name in ("paired_at", "last_seen", "revoked_at")}}
        for device in carry_out(logbook(), "devices", {})
    ]
    shown = None if offer is None else _offer(offer, address)
    return page("phones", devices=devices, offer=shown, reached=address, here_only=_is_here(address), done=done(),
                home=_home())


def _home() -> HomeShown | None:
    """Where a phone gets the certificate of a desk that is served at home, and what it is known by."""
    home = current_app.config["HOME"]
    if home is None:
        return None
    mark = fingerprint(logbook().folder / FOLDER)
    return {"page": home.page_url, "picture": qr_code.as_picture(home.page_url), "fingerprint": mark.split()}


def _offer(offer: Offer, address: str) -> OfferShown:
    opens = f"{address}/pair#{offer.code}"
    return {
        "address": opens, "picture": qr_code.as_picture(opens), "until": _clock(offer.code_until_ms),
        "short": f"{offer.short[:4]} {offer.short[4:]}", "short_until": _clock(offer.short_until_ms),
    }


def _is_here(address: str) -> bool:
    """Whether an address leads only to this computer."""
    return any(name in address for name in ("//127.0.0.1", "//localhost", "//[::1]"))


def done() -> str | None:
    """What was done before this page, by the code in its address [text or None]."""
    code = request.args.get("done", "")
    return words_of(logbook().rulebook).say(f"desk.done.{code}") if code in DONE else None


def date_words(at_ms: int) -> str:
    """An instant as a short day and a time on this computer's clock [text]."""
    return f"{Formats(language()).short_day(datetime.fromtimestamp(at_ms / 1000).astimezone())}, {_clock(at_ms)}"


def _clock(at_ms: int) -> str:
    return f"{datetime.fromtimestamp(at_ms / 1000).astimezone():%H:%M}"
