"""The application: connects the records, the phone page and the desk.

Wiring only: no route, no rule and no error text lives here.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TypedDict

from flask import Flask, Response, request

from server.desk import (
    backup,  # noqa: F401 -- it adds its page to the desk's
    backup_rebuild,  # noqa: F401 -- it adds its page to the desk's
    books,  # noqa: F401 -- it adds its page to the desk's
    conflicts,  # noqa: F401 -- it adds its page to the desk's
    customer,  # noqa: F401 -- it adds its page to the desk's
    day,  # noqa: F401 -- it adds its page to the desk's
    first_start,  # noqa: F401 -- it adds its page to the desk's
    letters,  # noqa: F401 -- it adds its page to the desk's
    logger,  # noqa: F401 -- it adds its page to the desk's
    login,
    pages,
    passkeys,  # noqa: F401 -- it adds its page to the desk's
    people,  # noqa: F401 -- it adds its page to the desk's
    preview,  # noqa: F401 -- it adds its page to the desk's
    settings,  # noqa: F401 -- it adds its page to the desk's
    settings_prices,  # noqa: F401 -- it adds its page to the desk's
    task_routes,
    upload,  # noqa: F401 it adds its page to the desk's
    vehicle,  # noqa: F401 -- the same
    vehicles,  # noqa: F401 -- the same
    visit,  # noqa: F401 -- the same
)
from server.home.service import HomeService
from server.http import (
    app_shell,
    auth,
    health,
    languages,
    log_lines,
    openapi,
    pairing_routes,
    photo_routes,
    problems,
    sync_routes,
)
from server.http.problems import RequestFault
from server.process import public_url
from server.process.records_at import open_logbook
from sync import rulebook
from sync.records.pairing import Pairings
from sync.records.photos import PhotoStore

CONTENT_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' blob: data:",
        "connect-src 'self'",
        "manifest-src 'self'",
        "worker-src 'self'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
    )
)
# The desk's pages run no script, but for those that ask the browser for a passkey, and send forms only to this desk.
PAGES_POLICY = "; ".join(
    ("default-src 'none'", "style-src 'self'", "img-src 'self' data:", "base-uri 'none'", "form-action 'self'",
     "frame-ancestors 'none'")
)  # fmt: skip
PASSKEY_PAGES = ("deskpages.sign_in", "deskpages.signed_in", "deskpages.passkeys", "deskpages.add_passkey",
                 "deskpages.own_passphrase")  # fmt: skip
PASSKEY_POLICY = f"{PAGES_POLICY}; script-src 'self'"
HEADERS = {
    "Content-Security-Policy": CONTENT_POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), geolocation=(self), microphone=()",
}
HOSTS = ("localhost", "127.0.0.1", "[::1]")


class Config(TypedDict, total=False):
    """How an application is set up; `create_app` describes each."""

    FOLDER: Path
    RULEBOOK: Path | None
    HOSTS: list[str]
    ADDRESS: str | None
    DESK_KEY: str
    PATIENCE_S: float
    HOME: HomeService | None


def create_app(config: Config) -> Flask:
    """The application over one folder, whose lock it holds until `close` of its logbook.

    Args:
        config: FOLDER [path], RULEBOOK (folder of the books, None for the package's own) [path], HOSTS (further names
            this desk answers to) [texts], ADDRESS (that its owner set) [text or None], DESK_KEY (what a command must
            show) [text], PATIENCE_S (how long to wait for another holder of the folder) [s],
            HOME (the address at home, for a desk that is served there) [HomeService or None]

    Returns:
        the WSGI application; its logbook is in `extensions["layby"]` [Flask]

    Raises:
        FolderBusy: another process works on the folder.
    """
    app = Flask("layby", static_folder=None)
    hosts = os.environ.get("LAYBY_HOSTS", "").split()
    app.config.update({"RULEBOOK": None, "ADDRESS": None, "HOSTS": hosts, "PATIENCE_S": 0.0, "HOME": None})
    app.config.update(config)
    app.json.ensure_ascii = False  # type: ignore[attr-defined]  # the default provider has it, its base does not say so
    read, folder = rulebook.load(app.config["RULEBOOK"]), Path(app.config["FOLDER"])
    # First, so that they see requests that are turned away, too.
    log_lines.begin(app)
    figures = health.measure(app)
    logbook = open_logbook(folder, read, app.config["PATIENCE_S"]).__enter__()
    app.extensions["layby"] = {
        "logbook": logbook, "photos": PhotoStore(logbook.files), "shell": app_shell.AppShell(app.config["RULEBOOK"]),
        "pairings": Pairings(logbook.files), "figures": figures, **login.new_parts(logbook),
    }
    languages.speak(app, app.config["RULEBOOK"])
    problems.register(app, read, folder)
    _turn_away(app)
    further = {name.lower() for name in app.config["HOSTS"]} | public_url.host_of(app.config["ADDRESS"])
    if app.config["HOME"] is not None:
        further.add(app.config["HOME"].address.host)
    _answer_own_names(app, {*HOSTS, *further})
    auth.guard(app)
    _send_headers(app)
    for part in (sync_routes, photo_routes, pairing_routes, health, task_routes, pages, openapi, app_shell):
        app.register_blueprint(part.pages)
    return app


def _turn_away(app: Flask) -> None:
    @app.before_request
    def check_load() -> None:
        """A request that the gate found to be too much, or couldn't look up, gets a sentence; nothing else is done."""
        if "layby.away" in request.environ:
            raise request.environ["layby.away"]
        code, wait_s = request.environ.get("layby.busy", ("", 0))
        if code:
            raise RequestFault(code, wait_s=wait_s)


def _answer_own_names(app: Flask, hosts: set[str]) -> None:
    @app.before_request
    def check_host() -> None:
        name = request.headers.get("Host", "").lower()
        if name not in hosts and name.rpartition(":")[0] not in hosts:
            raise RequestFault("not_for_this_host", host=name[:200])


def _send_headers(app: Flask) -> None:
    @app.after_request
    def guard(response: Response) -> Response:
        response.headers.update(HEADERS)
        if request.blueprint == "deskpages":
            policy = PASSKEY_POLICY if request.endpoint in PASSKEY_PAGES else PAGES_POLICY
            response.headers["Content-Security-Policy"] = policy
        response.headers.setdefault("Cache-Control", "no-store")
        return response
