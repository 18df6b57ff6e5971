"""The desk's page of a vehicle: what its card knows, its visits, and its maker's chart, to be entered or corrected.

Nothing is calculated here: the tasks do the work, `chart_form` reads what was typed, the template shows it.
"""

from __future__ import annotations

from base64 import b64encode
from datetime import datetime
from typing import cast

from flask import Response, g, redirect, request, url_for
from werkzeug.wrappers import Response as BaseResponse

from server.desk import chart_form
from server.desk.chart_form import Cells, ChartForm
from server.desk.forms import one
from server.desk.history_plot import plot_of, rows_of
from server.desk.login import page, pages
from server.desk.pages import done
from server.http.problems import RequestFault
from server.http.sync_routes import logbook
from server.tasks.catalogue import carry_out
from server.tasks.desk_words import chart_words
from server.tasks.history_tasks import HistoryVisit
from server.tasks.record_tasks import VehicleCard
from sync.kernel.json_tree import JsonObject
from sync.language.formats import Formats
from sync.language.reader import language, words_of
from sync.records.photos import PhotoStore
from sync.sheet.wording import Phrases
from sync.work.cards import FiledCard, chart_of

ID_MOST = 64
# Photos of a chart that are shown beside the form, the newest first.
PICTURES_MOST = 3
# What describes a vehicle, in the order of the page; the label's own figures come with the rest.
FACTS = (
    "plate", "vin", "make", "model", "year", "powertrain", "refrigerant", "label_refrigerant", "charge_spec_g", "oil",
    "compressor", "metering",
)


@pages.get("/desk/vehicle")
def vehicle() -> Response:
    """GET /desk/vehicle?id=: a vehicle's card; with use=NUMBER the form holds the chart of another one like it."""
    view = _view(request.args.get("id", ""))
    offered = {str(number): chart for number, chart in enumerate(view["alike"])}
    chart = offered.get(request.args.get("use", ""), chart_of(view["card"]))
    cells = chart_form.cells_of(chart, chart_form.units_of(cast(JsonObject, view["units"])), logbook().rulebook)
    return _page(view, ChartForm(cells, chart, []))


@pages.post("/desk/do/chart")
def chart() -> BaseResponse:
    """POST /desk/do/chart: the chart as typed, kept on the vehicle's card; an empty form removes it."""
    typed: Cells = {name: texts[0] for name, texts in g.form.items() if name not in ("id", "form_token")}
    view, rulebook = _view(one(g.form, "id")), logbook().rulebook
    form = chart_form.read_form(typed, rulebook)
    if form.faults:
        return _page(view, form, 422)
    shown = chart_form.cells_of(chart_of(view["card"]), chart_form.units_of(typed), rulebook)
    # The form shows rounded values; saved as shown, a chart stays as it is on file.
    if {name: text for name, text in form.cells.items() if text} != shown:
        carry_out(logbook(), "chart", {"id": view["card"]["id"], "chart": form.chart})
    return redirect(url_for("deskpages.vehicle", id=view["card"]["id"], done="saved" if form.chart else "removed"), 303)


def _view(identifier: str) -> VehicleCard:
    """The card of a vehicle about which something is known."""
    view = cast(VehicleCard, carry_out(logbook(), "vehicle", {"id": identifier[:ID_MOST]}))
    if not view["card"]["fields"] and not view["card"]["visits"]:
        raise RequestFault("unknown_vehicle", vehicle=identifier[:ID_MOST])
    return view


def _page(view: VehicleCard, form: ChartForm, status: int = 200) -> Response:
    rulebook = logbook().rulebook
    words = words_of(rulebook)
    visits = cast(list[HistoryVisit], carry_out(logbook(), "history", {"id": view["card"]["id"]}))
    phrases = Phrases(rulebook, language(), {"technician": view["units"]})
    columns = [(name, words.say(f"desk.vehicle.column.{name}"), ends) for name, _, ends in chart_form.COLUMNS]
    return page(
        "vehicle", status, card=view["card"], title=_title(view["card"]), facts=_facts(view["card"]),
        alike=[chart_words(chart, words) for chart in view["alike"]], disputed=_is_disputed(view["card"]),
        cells=form.cells, faults=form.sentences(rulebook), columns=columns, rows=range(chart_form.ROWS_MOST),
        pictures=_pictures(view["card"]), choices=_choices(), units=_units(), source_most=chart_form.SOURCE_MOST,
        plot=plot_of(visits, phrases, words), history=rows_of(visits, phrases, words), said=_said(visits),
        temperature=phrases.unit("temperature"), pressure=phrases.unit("pressure"), done=done(),
    )  # fmt: skip


@pages.post("/desk/do/mark")
def mark() -> BaseResponse:
    """POST /desk/do/mark: a test that showed the vehicle healthy serves later ones as a yardstick, or no longer."""
    identifier, healthy = one(g.form, "id")[:ID_MOST], one(g.form, "healthy") == "1"
    visit, _, test = one(g.form, "test").partition(" ")
    carry_out(logbook(), "mark", {"id": identifier, "visit": visit, "test": test, "healthy": healthy})
    return redirect(url_for("deskpages.vehicle", id=identifier, done="marked" if healthy else "unmarked"), 303)


def _said(visits: list[HistoryVisit]) -> str:
    """How many visits there are, and from when to when [sentence]."""
    if not visits:
        return ""
    formats = Formats(language())
    first, last = (formats.month(datetime.fromisoformat(visits[end]["started_at"])) for end in (0, -1))
    say = words_of(logbook().rulebook).say
    code = "desk.history.in_month" if first == last else "desk.history.over_months"
    return say(code, count=len(visits), first=first, last=last)


def _pictures(card: FiledCard) -> list[str]:
    """The photos of the chart that the phone took, to type it off [addresses that hold the picture itself]."""
    store = PhotoStore(logbook().files)
    taken = [photo for visit in card["visits"] if _has_photos(visit)
             for photo in logbook().visit(visit).get("photos") or [] if photo.get("role") == "chart"]
    contents = [store.bytes_of(photo["sha256"]) for photo in taken[:PICTURES_MOST]]
    return ["data:image/jpeg;base64," + b64encode(content).decode("ascii") for content in contents if content]


def _has_photos(visit: str) -> bool:
    """Whether a visit ever had a photo: told by its heads, without folding it."""
    heads = logbook().visit_heads(visit)
    return heads is not None and any(pointer.startswith("/photos/") for pointer in heads["heads"])


def _title(card: FiledCard) -> str:
    parts = [card["fields"].get(name) for name in ("year", "make", "model", "plate")]
    return " ".join(str(part) for part in parts if part) or words_of(logbook().rulebook).say("desk.vehicle.title")


def _facts(card: FiledCard) -> list[tuple[str, str]]:
    say = words_of(logbook().rulebook).say
    return [(say(f"desk.vehicle.fact.{name}"), _words(name, card["fields"][name])) for name in FACTS
            if name in card["fields"]]


def _words(name: str, value: object) -> str:
    """A code in the rulebook's words, a figure to the whole gram, anything else as it is [text]."""
    code = f"terms.{name.removeprefix('label_')}.{value}"
    words = words_of(logbook().rulebook)
    if isinstance(value, float):
        return Formats(language()).number(value, 0)
    return words.say(code) if words.has(code) else str(value)


def _is_disputed(card: FiledCard) -> bool:
    return any(conflict["pointer"] == "/chart" for conflict in card["conflicts"])


def _choices() -> list[tuple[str, str, list[tuple[str, str]]]]:
    """Name, title and (code, words) for each setting to choose."""
    books = logbook().rulebook["vocabularies"]
    say = words_of(logbook().rulebook).say
    return [(name, say(f"desk.vehicle.setting.{name}"), [(code, _words(name, code)) for code in books[name]])
            for name in chart_form.CHOICES]


def _units() -> list[tuple[str, str, list[tuple[str, str]]]]:
    """The same for the units of the figures."""
    words = words_of(logbook().rulebook)
    return [(quantity, words.say(f"desk.vehicle.unit.{quantity}"), [(one, words.unit(quantity, one)) for one in units])
            for quantity, units in chart_form.UNITS.items()]
