"""The desk's first start: the passphrase, where things are kept, and then the next step until there is none left.

Who may set the passphrase is the door's business (`login`): whoever shows the key that the folder's owner was told.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from flask import g, redirect, request, url_for
from werkzeug.wrappers import Response as BaseResponse

from server.desk.access import is_at_least
from server.desk.kept import kept
from server.desk.login import is_set, page, pages
from server.http.callers import caller_of
from server.http.sync_routes import logbook
from server.tasks.catalogue import carry_out
from sync.errors import LaybyError
from sync.records.pairing import Device
from sync.records.secret import LEAST, MOST


class Step(NamedTuple):
    """A step of the first start: its code, whether it is done, and the page on which it is done."""

    code: str
    is_done: bool
    href: str


@pages.get("/desk/first")
def first() -> BaseResponse:
    """GET /desk/first: how to set the first passphrase; once it is set, what is still to be done."""
    if g.session is None and is_set():
        return redirect(url_for("deskpages.sign_in"), 303)
    if g.session is not None:
        if not is_at_least("owner"):
            return redirect(url_for("deskpages.day"), 303)
        return page("first", steps=_steps(), kept=kept())
    here = caller_of(request).is_apart
    return page("first", steps=None, kept=kept() if here else None, key="", least=LEAST, most=MOST)


@pages.context_processor
def _next() -> dict[str, Callable[[], Step | None]]:
    """What every page of the desk can ask for: the next step of a first start."""
    return {"step_ahead": step_ahead}


def step_ahead() -> Step | None:
    """The next step of a first start; None once all are done, or visits are on file [Step or None]."""
    if g.get("session") is None or not is_at_least("owner") or logbook().view_names("months"):
        return None
    return next((step for step in _steps() if not step.is_done), None)


def _steps() -> list[Step]:
    devices: list[Device] = carry_out(logbook(), "devices", {})
    is_paired = any(device["revoked_at"] is None for device in devices)
    return [Step("passphrase", True, ""),
            Step("business", _has_business(), url_for("deskpages.settings", open="business.name",
                                                  _anchor="row-business.name")),
            Step("phone", is_paired, url_for("deskpages.phones"))]


def _has_business() -> bool:
    try:
        rows = carry_out(logbook(), "settings", {})
    except LaybyError:
        # The page of settings says what is wrong with them.
        return True
    return any(field["is_set"] for row in rows if row["code"] == "business.name" for field in row["fields"])
