"""The desk's page of settings: what stands in each part and whether it works, with one row open to be changed.

Nothing is kept here: the tasks do the work, `settings_words` puts it in words, the template shows it.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import cast

from flask import Response, g, redirect, request, url_for
from werkzeug.wrappers import Response as BaseResponse

from server.desk.backup import chosen_place
from server.desk.forms import LOGO_PATH, Fields, Files, one
from server.desk.login import page, pages
from server.desk.settings_state import Known, states_of, when_words
from server.desk.settings_words import SettingFact, Teller
from server.http.problems import RequestFault
from server.http.sync_routes import logbook
from server.process import autostart
from server.tasks.catalogue import carry_out
from server.tasks.logo import held, kind_of
from server.tasks.mail_test import Trial, last_trial
from server.tasks.setting_rows import LOGO, NEW, PARTS
from server.tasks.settings_tasks import SettingRefused, SettingRow, UnknownSetting, change_logo
from sync.language.reader import words_of
from sync.records.pairing import Device
from sync.work.amendments import ChangedMeanwhile
from sync.work.backup_folder import dated_backups

# The parts of the left and the right column; on a narrow screen they follow each other.
COLUMNS = (("business", "mail", "prices"), ("instruments", "phones", "backup", "words"))
# Fields of the forms that belong to the page and not to the setting.
OF_PAGE = ("form_token", "row", "seen")
ROW_MOST = 64
EARLIER_SHOWN = 3
ZERO = "instruments.zero"
ANSWERED = ("account", "server", "other")


@pages.get("/desk/settings")
def settings() -> Response:
    """GET /desk/settings: every setting of this desk; with open=ROW that one can be changed."""
    opened = request.args.get("open", "")[:ROW_MOST]
    return _page(opened, typed=_check_of_today() if opened == ZERO else None)


def _check_of_today() -> dict[str, str]:
    """A check of the gauges' zero, noted today, and when the next is due (common practice, no source: a year)."""
    today = datetime.now().astimezone().date()
    return {"zero.checked": today.isoformat(), "zero.again": (today + timedelta(days=365)).isoformat()}


@pages.post("/desk/do/set")
def set_one() -> BaseResponse:
    """POST /desk/do/set: one row as it was typed."""
    return _changed(g.form) or _back(one(g.form, "row"), "saved")


@pages.post(LOGO_PATH)
def set_logo() -> BaseResponse:
    """POST /desk/do/logo: a picture kept as the business's logo."""
    files: Files = g.files
    words, content = words_of(logbook().rulebook), files[0][1] if files else b""
    try:
        change_logo(logbook().files, content, one(g.form, "seen"), logbook().rulebook)
    except SettingRefused as error:
        return _page(LOGO, 422, {}, error.sentences, words.say("settings.logo_not_saved"))
    except ChangedMeanwhile as error:
        return _page(LOGO, 409, {}, {}, words.error(error))
    return _back(LOGO, "saved")


@pages.get("/desk/logo")
def logo() -> Response:
    """GET /desk/logo: the business's logo as it was uploaded."""
    content = held(logbook().files)
    if content is None:
        raise RequestFault("no_such_page", path=request.path)
    return Response(content, content_type=kind_of(content))


@pages.post("/desk/do/unset")
def unset() -> BaseResponse:
    """POST /desk/do/unset: one row taken away."""
    row = one(g.form, "row")[:ROW_MOST]
    try:
        carry_out(logbook(), "setting", {"row": row, "seen": one(g.form, "seen"), "remove": True})
    except ChangedMeanwhile as error:
        return _page(row, 409, {}, {}, words_of(logbook().rulebook).error(error))
    return _back(row, "removed")


@pages.post("/desk/do/try")
def try_mail() -> BaseResponse:
    """POST /desk/do/try: save the mail setting that was typed, if any, and send a test message."""
    refused = _changed(g.form) if one(g.form, "row") else None
    if refused is not None:
        return refused
    carry_out(logbook(), "send_test", {})
    return redirect(url_for("deskpages.settings", _anchor="part-mail"), 303)


def _back(row: str, done: str) -> BaseResponse:
    return redirect(url_for("deskpages.settings", set=done, _anchor=f"part-{row.partition('.')[0]}"), 303)


def _changed(form: Fields) -> Response | None:
    """Change a row; the page with what kept it from being saved, None once it is."""
    row = one(form, "row")[:ROW_MOST]
    typed = {name: texts[0] for name, texts in form.items() if name not in OF_PAGE}
    words = words_of(logbook().rulebook)
    try:
        carry_out(logbook(), "setting", {"row": row, "typed": typed, "seen": one(form, "seen")})
    except SettingRefused as error:
        return _page(row, 422, typed, error.sentences, words.say("settings.not_saved"))
    except ChangedMeanwhile as error:
        return _page(row, 409, typed, {}, words.error(error))
    return None


def _page(
    opened: str, status: int = 200, typed: Mapping[str, str] | None = None, faults: Mapping[str, str] | None = None,
    alert: str = "",
) -> Response:
    words = words_of(logbook().rulebook)
    rows = {row["code"]: row for row in cast(list[SettingRow], carry_out(logbook(), "settings", {}))}
    if opened and opened not in rows:
        raise UnknownSetting(setting=opened)
    teller, folder = Teller(words), logbook().folder
    place, note, trial = chosen_place(), autostart.read_note(folder), last_trial(logbook().files)
    devices: list[Device] = carry_out(logbook(), "devices", {})
    paired = [device for device in devices if device["revoked_at"] is None]
    backups = dated_backups(place.into) if place.into else []
    known = Known(rows, trial, len(paired), backups[0] if backups else None)
    done = request.args.get("set", "")
    return page(
        "settings", status, columns=COLUMNS, facts=_facts(rows, teller), opened=opened, alert=alert,
        form=teller.form(rows[opened], typed, faults or {}) if opened else None,
        states=states_of(known, words, teller.formats), trial=_tried(trial, teller), paired=paired,
        backups=[when_words(each["at_ms"], words, teller.formats) for each in backups[:EARLIER_SHOWN]],
        into=place.into, nightly=note.backup_to if note else None, new=NEW, logo=LOGO,
        done=words.say(f"settings.done.{done}") if done in ("saved", "removed") else None,
    )  # fmt: skip


def _facts(rows: Mapping[str, SettingRow], teller: Teller) -> dict[str, list[SettingFact]]:
    """The rows of each part on their lines."""
    return {part: [teller.fact(row) for code, row in rows.items() if code.startswith(f"{part}.")] for part in PARTS}


def _tried(trial: Trial | None, teller: Teller) -> str:
    """What came of the last test message [text]; "" where there was none with these settings."""
    if trial is None:
        return ""
    if trial.worked:
        seconds = max(1, round(trial.seconds))
        return teller.say("trial.worked", count=seconds, when=when_words(trial.at_ms, teller.words, teller.formats))
    if not trial.cause:
        return teller.say("trial.file")
    # What a server answered helps; what the system calls a failed connection doesn't.
    said = teller.say("trial.failed", said=trial.said) if trial.cause in ANSWERED else teller.say("trial.not_sent")
    return f"{said} {teller.say(f'trial.{trial.cause}')}"
