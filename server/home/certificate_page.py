"""One page over plain http: the authority's certificate, its fingerprint, and what to do with it on a phone.

It is all that is served without encryption: no form, no entry and no key can be had here.
"""

from __future__ import annotations

from pathlib import Path

from flask import Flask, Response, render_template, request

from server.home import authority
from server.home.address import FOLDER, HomeAddress
from sync import rulebook
from sync.language.locales import accepted, chosen
from sync.language.words import Words

BOOK = "home"
HEADERS = {
    "Content-Security-Policy": "default-src 'none'; style-src 'self'; base-uri 'none'; form-action 'none'; "
                               "frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
}
CERTIFICATE = "layby.crt"
# What a person does on the phone, in this order, by kind of phone.
KINDS = {
    "iphone": ("download", "install", "trust", "open", "pair"),
    "android": ("download", "install", "open", "pair"),
}


def create_page(folder: Path, home: HomeAddress, books: Path | None = None) -> Flask:
    """The application that serves the page, its style and the certificate, and nothing else.

    Args:
        folder: the logbook's [path]
        home: the desk's address [HomeAddress]
        books: the rulebook's folder, the package's own when None [path]

    Returns:
        the WSGI application [Flask]

    Raises:
        BadHomeFile: the authority's certificate cannot be read.
    """
    der, mark = authority.authority_as_der(folder / FOLDER), authority.fingerprint(folder / FOLDER)
    app = Flask("layby-home", template_folder=str(Path(__file__).parent / "templates"), static_folder=None)

    @app.get("/")
    def page() -> str:
        tag = chosen(accepted(request.headers.get("Accept-Language", "")), rulebook.languages(BOOK, books))
        words = Words(rulebook.some_words((BOOK,), tag, books), tag)
        values = {"address": home.url, "host": home.host, "name": f"Layby {home.host}", "file": CERTIFICATE,
                  "port": str(home.port)}

        def say(code: str) -> str:
            return words.say(code, **values)

        kinds = [
            {"title": say(f"home.{kind}.title"), "steps": [(step, say(f"home.{kind}.{step}")) for step in steps]}
            for kind, steps in KINDS.items()
        ]
        return render_template("certificate.html", lang=tag, say=say, kinds=kinds, home=home,
                               fingerprint=mark.split(), file=CERTIFICATE)

    @app.get("/page.css")
    def style() -> Response:
        return Response((Path(__file__).parent / "templates" / "page.css").read_text("utf-8"), mimetype="text/css")

    @app.get(f"/{CERTIFICATE}")
    def certificate() -> Response:
        return Response(der, mimetype="application/x-x509-ca-cert",
                        headers={"Content-Disposition": f"attachment; filename={CERTIFICATE}"})

    @app.after_request
    def guard(response: Response) -> Response:
        response.headers.update(HEADERS)
        return response

    return app
