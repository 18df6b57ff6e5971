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

from server.desk.access import is_at_least, who
from server.desk.forms import one
from server.desk.login import page, pages
from server.home.address import FOLDER
from server.home.authority import fingerprint
from server.http.sync_routes import logbook
from server.process import public_url, qr_code
from server.tasks.catalogue import carry_out
from sync.language.formats import Formats
from sync.language.reader import language, words_of
from sync.records.pairing import Device, Offer, UnknownDevice
from sync.records.person import Person

TEXT_MOST = 200
# What was done, for the page after it, by its code in the words; never a text from the address itself.
DONE = ("made", "approved", "nothing", "some", "sent", "revoked", "saved", "removed", "amended", "same",
        "made_one", "stopped", "erased", "marked", "unmarked", "returned", "resent", "resent_waits", "resent_back",
        "look_again", "settled", "aside", "logged", "unlogged", "handed_over")


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
    return own_file("desk.css", "text/css")


def own_file(name: str, kind: str) -> Response:
    """A file that belongs to the pages themselves, sent again only if it changed.

    Args:
        name: of the file in `static/` [text]
        kind: its media type [text]

    Returns:
        the answer [Response]
    """
    response = Response(_content(name), content_type=f"{kind}; charset=utf-8")
    response.headers["Cache-Control"] = "no-cache"
    response.add_etag()
    response.make_conditional(request)
    return response


@cache
def _content(name: str) -> bytes:
    return (Path(__file__).with_name("static") / name).read_bytes()


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
    chosen = one(g.form, "person") if is_at_least("office") else who().person
    return _phones(Offer(**carry_out(logbook(), "pair", {"person": chosen})))


@pages.post("/desk/do/revoke")
def revoke() -> BaseResponse:
    """POST /desk/do/revoke: shut one phone out."""
    identifier = one(g.form, "device")
    own = _own_devices()
    if all(device["device"] != identifier for device in own):
        raise UnknownDevice(name=identifier[:80], known=", ".join(device["name"] for device in own) or "–")
    carry_out(logbook(), "revoke", {"device": identifier})
    return redirect(url_for("deskpages.phones", done="revoked"), 303)


def _own_devices() -> list[Device]:
    """The phones that whoever is signed in may see: a technician the own ones, the office all."""
    devices: list[Device] = carry_out(logbook(), "devices", {})
    return devices if is_at_least("office") else [one for one in devices if one["person"] == who().person]


def _phones(offer: Offer | None) -> Response:
    address = public_url.chosen(logbook().folder, logbook().files) or request.host_url.rstrip("/")
    people: list[Person] = carry_out(logbook(), "people", {})
    names = {person["id"]: person["name"] for person in people}
    devices = [
        {"device": device["device"], "name": device["name"], "person": names.get(device["person"], ""),
         "paired_at": date_words(device["paired_at"]), "last_seen": date_words(device["last_seen"]),
         "revoked_at": None if device["revoked_at"] is None else date_words(device["revoked_at"])}
        for device in _own_devices()
    ]
    shown = None if offer is None else _offer(offer, address)
    return page("phones", devices=devices, offer=shown, reached=address, here_only=_is_here(address), done=done(),
                home=_home(), people=[person for person in people if person["ended_at"] is None])


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
