"""The tasks for the records: files taken in, visits and cards looked up, backup, export, erasure and rebuild.

Nothing here knows HTTP or the terminal; rows and receipts go back as plain data.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import Literal, TypedDict, cast

from server.tasks.evening_rows import remark
from server.tasks.instant import now
from server.tasks.messages import FileTally, Remark, TaskArguments
from server.tasks.task import Task
from sync.errors import LaybyError
from sync.kernel.json_tree import JsonObject
from sync.kernel.vehicle import Chart
from sync.kernel.visit import Units
from sync.language.formats import Formats
from sync.language.reader import language, words_of
from sync.records.logbook import Logbook
from sync.wire.bundle import receipt
from sync.wire.results import VisitRows
from sync.work import backup, bundle_intake, cards, customer_data, customer_export, desk_operations, erasure, rebuild
from sync.work.backup import Backup
from sync.work.cards import CustomerCard, FiledCard
from sync.work.customer_data import CustomerVisit
from sync.work.customer_export import Export
from sync.work.erasure import Counts
from sync.work.rebuild import Rebuilt
from sync.work.troubles import troubles


class NoSuchCard(LaybyError):
    """There are only cards of vehicles and of customers."""

    code = "no_such_card"


class VehicleCard(TypedDict):
    """A vehicle's card, the charts of others of its make, model and year, and the units of its last visit."""

    card: FiledCard
    alike: list[Chart]
    units: Units


def _receive(logbook: Logbook, arguments: TaskArguments) -> list[FileTally]:
    # By their paths: a day with photos is larger than a request may be, and the process that holds the folder reads the
    # disk.
    texts = bundle_intake.texts_of([Path(name) for name in arguments["files"]])
    tallies = []
    for bundle, results in bundle_intake.receive_bundles(logbook, texts, time.time_ns() // 1_000_000):
        counts = bundle_intake.tally(results)
        tallies.append(FileTally(
            device=bundle.device, part=bundle.part, receipt=receipt(bundle, results).decode(),
            entries=counts["entries"], photos=counts["photos"], repeats=counts["repeats"], faults=counts["faults"],
            more=counts["more"]))
    return tallies


def _find(logbook: Logbook, arguments: TaskArguments) -> VisitRows:
    return logbook.search.find(str(arguments["text"]))


def _backup(logbook: Logbook, arguments: TaskArguments) -> Backup:
    return backup.back_up(logbook, Path(arguments["file"]), time.time_ns() // 1_000_000)


def _about(logbook: Logbook, arguments: TaskArguments) -> list[CustomerVisit]:
    visits = customer_data.data_about(logbook, str(arguments["customer"])).visits
    return [customer_data.row(visit) for visit in visits.values()]


def _export(logbook: Logbook, arguments: TaskArguments) -> Export:
    file = Path(arguments["file"])
    return customer_export.export(logbook, str(arguments["customer"]), file, time.time_ns() // 1_000_000)


def _erase(logbook: Logbook, arguments: TaskArguments) -> Counts:
    return erasure.erase(logbook, str(arguments["customer"]), time.time_ns() // 1_000_000)


def _troubles(logbook: Logbook, arguments: TaskArguments) -> list[Remark]:
    """What is wrong with the records; with `all`, after every one of them was read."""
    if arguments.get("all"):
        logbook.look_through()
    return [remark(reason, logbook.rulebook) for reason in troubles(logbook)]


def _rebuild(logbook: Logbook, arguments: TaskArguments) -> Rebuilt | None:
    if arguments.get("page"):
        rebuild.rebuild_one(logbook, str(arguments["page"]))
        return None

    words, formats = words_of(logbook.rulebook), Formats(language())

    def tell(done: int, of: int) -> None:
        # On the terminal of the process that holds the folder: the command's, or the service's.
        text = words.say("desk.rebuild.progress", done=formats.number(done / 1e6, 1), all=formats.number(of / 1e6, 1))
        print(text, file=sys.stderr, flush=True)

    return rebuild.rebuild(logbook, tell)


def _what(arguments: TaskArguments) -> Literal["vehicle", "customer"]:
    what = str(arguments["what"])
    if what == "vehicle":
        return "vehicle"
    if what != "customer":
        raise NoSuchCard(what=what)
    return "customer"


def _card(logbook: Logbook, arguments: TaskArguments) -> FiledCard:
    """The card of a vehicle or customer, after correcting the given fields."""
    what, identifier = _what(arguments), str(arguments["id"])
    typed = arguments.get("fields")
    if typed:
        value_of, rulebook = desk_operations.value_of, logbook.rulebook
        fields = {name: value_of(what, name, str(text), rulebook) for name, text in typed.items()}
        desk_operations.correct(logbook, what, identifier, fields, now())
    return cards.vehicle(logbook, identifier) if what == "vehicle" else cards.customer(logbook, identifier)


def _vehicle(logbook: Logbook, arguments: TaskArguments) -> VehicleCard:
    """The card of a vehicle and what helps to enter its maker's chart."""
    card = cards.vehicle(logbook, str(arguments["id"]))
    units: Units = {}
    for visit in card["visits"][:1]:
        units = (logbook.visit(visit).get("units") or {}).get("technician") or {}
    return {"card": card, "alike": cards.charts_alike(logbook, card), "units": units}


def _chart(logbook: Logbook, arguments: TaskArguments) -> FiledCard:
    """The card of a vehicle, after replacing its maker's chart, or removing it if None."""
    # A chart consists entirely of JSON.
    fields = JsonObject({"chart": cast(JsonObject | None, arguments["chart"])})
    desk_operations.correct(logbook, "vehicle", str(arguments["id"]), fields, now())
    return cards.vehicle(logbook, str(arguments["id"]))


def _merge(logbook: Logbook, arguments: TaskArguments) -> CustomerCard:
    desk_operations.merge(logbook, str(arguments["keep"]), str(arguments["drop"]), now())
    return cards.customer(logbook, str(arguments["keep"]))


TASKS: dict[str, Task] = {
    "receive": _receive,
    "find": _find,
    "backup": _backup,
    "held": _about,
    "export": _export,
    "erase": _erase,
    "rebuild": _rebuild,
    "troubles": _troubles,
    "card": _card,
    "vehicle": _vehicle,
    "chart": _chart,
    "merge": _merge,
}
