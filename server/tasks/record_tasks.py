"""The tasks for the records: files carried in, visits and cards looked up, backup, export, erasure and rebuild.

Nothing here knows HTTP or the terminal; rows and receipts go back as plain data.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from sync.errors import LaybyError
from sync.records.logbook import Logbook
from sync.wire.bundle import receipt
from sync.work import bundle_intake, cards, desk_operations

Given = dict[str, Any]


class NoSuchCard(LaybyError):
    """There are cards of vehicles and of customers only."""

    code = "no_such_card"


def _receive(logbook: Logbook, given: Given) -> Any:
    # By their paths: a day with photos is larger than a request may be, and whoever holds the folder reads the disk.
    texts = [Path(name).read_bytes() for name in given["files"]]
    told_of_each = []
    for bundle, told in bundle_intake.receive_bundles(logbook, texts, time.time_ns() // 1_000_000):
        of_file = {"device": bundle.device, "part": bundle.part, "receipt": receipt(bundle, told).decode()}
        told_of_each.append(of_file | bundle_intake.tally(told))
    return told_of_each


def _find(logbook: Logbook, given: Given) -> Any:
    return logbook.search.find(str(given["text"]))


def _backup(logbook: Logbook, given: Given) -> Any:
    from sync.work.backup import back_up

    return back_up(logbook, Path(given["file"]), time.time_ns() // 1_000_000)


def _held(logbook: Logbook, given: Given) -> Any:
    from sync.work import customer_data

    data = customer_data.data_about(logbook, str(given["customer"]))
    return [customer_data.row(visit) for visit in data.visits.values()]


def _export(logbook: Logbook, given: Given) -> Any:
    from sync.work import customer_export

    return customer_export.export(logbook, str(given["customer"]), Path(given["file"]), time.time_ns() // 1_000_000)


def _erase(logbook: Logbook, given: Given) -> Any:
    from sync.work import erasure

    return erasure.erase(logbook, str(given["customer"]), time.time_ns() // 1_000_000)


def _rebuild(logbook: Logbook, given: Given) -> Any:
    from sync.work import rebuild

    if given.get("page"):
        return rebuild.rebuild_one(logbook, str(given["page"]))

    def tell(done: int, of: int) -> None:
        # On the terminal of whoever holds the folder: of the command, or of the service.
        print(f"{done / 1e6:.1f} of {of / 1e6:.1f} MB of the journal read", file=sys.stderr, flush=True)

    return rebuild.rebuild(logbook, tell)


def _now() -> tuple[int, int]:
    offset = datetime.now().astimezone().utcoffset()
    return time.time_ns() // 1_000_000, int(offset.total_seconds() // 60) if offset else 0


def _what(given: Given) -> str:
    what = str(given["what"])
    if what not in ("vehicle", "customer"):
        raise NoSuchCard(what=what)
    return what


def _card(logbook: Logbook, given: Given) -> Any:
    """The card of a vehicle or customer, corrected first by the fields that are given."""
    what, identifier = _what(given), str(given["id"])
    typed = dict(given.get("fields") or {})
    if typed:
        fields = {name: desk_operations.value_of(what, name, str(text)) for name, text in typed.items()}
        desk_operations.correct(logbook, what, identifier, fields, _now())
    return cards.vehicle(logbook, identifier) if what == "vehicle" else cards.customer(logbook, identifier)


def _merge(logbook: Logbook, given: Given) -> Any:
    desk_operations.merge(logbook, str(given["keep"]), str(given["drop"]), _now())
    return cards.customer(logbook, str(given["keep"]))


TASKS: dict[str, Callable[[Logbook, Given], Any]] = {
    "receive": _receive,
    "find": _find,
    "backup": _backup,
    "held": _held,
    "export": _export,
    "erase": _erase,
    "rebuild": _rebuild,
    "card": _card,
    "merge": _merge,
}
