"""The desk's price list on the page of a visit: one press puts a line of it on the visit's bill.

The list is a part of the settings; a line becomes an operation of the visit like any other correction.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

from flask import g, redirect, url_for
from werkzeug.wrappers import Response as BaseResponse

from server.desk.forms import one
from server.desk.login import pages
from server.desk.settings_words import Teller
from server.http.sync_routes import logbook
from server.tasks.catalogue import carry_out
from server.tasks.settings_tasks import SettingRow, UnknownSetting
from sync.errors import LaybyError
from sync.language.reader import words_of

ID_MOST = 64
SECTION = "price"


@pages.context_processor
def _lists() -> dict[str, Callable[[], list[tuple[str, str]]]]:
    """What the page of a visit can ask for: the lines of the price list."""
    return {"price_list": price_list}


def price_list() -> list[tuple[str, str]]:
    """The lines of the price list [(row, words) each]; none where the settings can't be read."""
    teller = Teller(words_of(logbook().rulebook))
    try:
        return [(row["code"], ", ".join((teller.fact(row)["title"], teller.value(row)))) for row in _lines()]
    except LaybyError:
        # The page of settings says what is wrong with them.
        return []


def _lines() -> list[SettingRow]:
    rows = cast(list[SettingRow], carry_out(logbook(), "settings", {}))
    return [row for row in rows if row["code"].startswith("prices.") and row["code"].partition(".")[2].isdigit()]


@pages.post("/desk/do/price")
def add_price() -> BaseResponse:
    """POST /desk/do/price: one line of the price list put on a visit's bill, with the tax of the settings."""
    visit, wanted = one(g.form, "id")[:ID_MOST], one(g.form, "row")
    rows = {row["code"]: {field["name"]: field["text"] for field in row["fields"]}
            for row in cast(list[SettingRow], carry_out(logbook(), "settings", {}))}
    if wanted not in {row["code"] for row in _lines()}:
        raise UnknownSetting(setting=wanted[:80])
    line = rows[wanted]
    typed = {"text": line["text"], "unit_price": line["unit_price"], "quantity": "1",
             "tax_pct": rows["prices.tax"]["tax_pct"]}
    carry_out(logbook(), "amend", {
        "visit": visit, "section": SECTION, "why": words_of(logbook().rulebook).say("settings.prices.why"),
        "typed": {f"charges.new.{name}": text for name, text in typed.items() if text}})
    return redirect(url_for("deskpages.visit", id=visit, done="amended", _anchor=f"part-{SECTION}"), 303)
