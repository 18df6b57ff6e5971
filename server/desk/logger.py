"""The desk's form for a logger's file within a visit's test: columns with what they are, then the entries added.

No file is kept between two pages: the page carries its text, and a task reads it anew each time.
"""

from __future__ import annotations

from flask import g, redirect, url_for
from werkzeug.wrappers import Response as BaseResponse

from server.desk.forms import LOGGER_PATH, Files, one
from server.desk.login import pages
from server.desk.visit import page_of, view_of
from server.http.sync_routes import logbook
from server.tasks.catalogue import carry_out
from server.tasks.messages import LoggerView
from sync.language.reader import words_of
from sync.work.logger_files import decoded
from sync.work.visit_sections import TEST

COLUMN = "column."


@pages.post(LOGGER_PATH)
def log() -> BaseResponse:
    """POST /desk/do/log: a logger's file, read and shown; with its key pressed its entries are filed."""
    visit_id, test = one(g.form, "id"), one(g.form, "test")
    text, name = one(g.form, "text"), one(g.form, "name")
    files: Files = g.files
    if files:
        name, text = files[0][0], decoded(files[0][1]).replace("\0", "\1")
    if not text and not files:
        words = words_of(logbook().rulebook)
        return page_of(view_of(visit_id), f"{TEST}.{test}", 422, None, [words.say("loggers.none_chosen")])
    match = _match() if not files else None
    file: LoggerView = carry_out(logbook(), "log", {
        "visit": visit_id, "test": test, "title": name, "text": text, "zero": one(g.form, "zero"), "match": match,
        "add": one(g.form, "do") == "add"})
    if file["added"]:
        return redirect(url_for("deskpages.visit", id=visit_id, open=f"{TEST}.{test}", done="logged"), 303)
    g.logger_file = file
    return page_of(view_of(visit_id), f"{TEST}.{test}", 422 if file["faults"] else 200)


@pages.post("/desk/do/unlog")
def unlog() -> BaseResponse:
    """POST /desk/do/unlog: the entries of one file, or those that were typed, struck."""
    visit_id, test = one(g.form, "id"), one(g.form, "test")
    carry_out(logbook(), "unlog", {"visit": visit_id, "test": test, "number": one(g.form, "number")})
    return redirect(url_for("deskpages.visit", id=visit_id, open=f"{TEST}.{test}", done="unlogged"), 303)


def _match() -> list[str] | None:
    """What a person said of each column, in their order; None where the form has none."""
    chosen = {name: texts[0] for name, texts in g.form.items() if name.startswith(COLUMN)}
    return [chosen.get(f"{COLUMN}{number}", "") for number in range(len(chosen))] or None
