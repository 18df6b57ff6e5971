"""The desk's errands: what a command of `layby` asks of an open logbook, whoever holds it.

Nothing here knows HTTP or the terminal; rows and receipts go back as plain data.
"""

from __future__ import annotations

import contextlib
import dataclasses
import sys
import time
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

from sync import bundles, cardfile, carried, deskops
from sync.errors import LaybyError
from sync.logbook import Logbook, UnknownVisit
from sync.pairing import Pairings
from sync.passphrase import Passphrase
from sync.turns import SHEETS

Given = dict[str, Any]


class NoSuchDay(LaybyError):
    """A day that is not written as YYYY-MM-DD."""

    code = "no_such_day"


class NoSuchCard(LaybyError):
    """There are cards of vehicles and of customers only."""

    code = "no_such_card"


def _day(given: Given) -> date:
    text = given.get("day")
    if text is None:
        # The technician's evening is a day of this machine's clock.
        return date.today()  # noqa: DTZ011
    try:
        return date.fromisoformat(str(text))
    except ValueError as error:
        raise NoSuchDay(day=str(text)) from error


def _sheetbook(logbook: Logbook) -> Any:
    """The folder's sheets, a damaged page of them made again first."""
    from sync import sheetrepair
    from sync.sheetbook import Sheetbook

    sheetrepair.mend(logbook.folder, logbook.ops)
    return Sheetbook(logbook.folder)


def _evening(logbook: Logbook, given: Given) -> Any:
    from server import evening

    return evening.make_sheets(logbook, _sheetbook(logbook), _day(given), logbook.rulebook)


def _reminders(logbook: Logbook, given: Given) -> Any:
    from server.reminders import reminders

    return reminders(logbook, _sheetbook(logbook), _day(given), logbook.rulebook)


def _send_test(logbook: Logbook, _: Given) -> Any:
    from server.trial import send_test

    return send_test(logbook.folder, logbook.rulebook)


def _sheet(logbook: Logbook, given: Given) -> Any:
    from server import evening

    sheetbook = _sheetbook(logbook)
    evening.newest_sheet(logbook, str(given["visit"]))
    record = sheetbook.newest(str(given["visit"]))
    return None if record is None else str(sheetbook.pdf(record))


def _approve(logbook: Logbook, given: Given) -> Any:
    from server import evening

    sheetbook = _sheetbook(logbook)
    visits = sheetbook.unapproved() if given.get("all") else [str(visit) for visit in given.get("visits") or []]
    return evening.approve(logbook, sheetbook, visits, logbook.rulebook)


def _send(logbook: Logbook, given: Given) -> Any:
    from server import evening

    return evening.send(logbook, _sheetbook(logbook), logbook.rulebook)


def _receive(logbook: Logbook, given: Given) -> Any:
    # By their paths: a day with photos is larger than a request may be, and whoever holds the folder reads the disk.
    texts = [Path(name).read_bytes() for name in given["files"]]
    told_of_each = []
    for bundle, told in carried.receive_bundles(logbook, texts, time.time_ns() // 1_000_000):
        of_file = {"device": bundle.device, "part": bundle.part, "receipt": bundles.receipt(bundle, told).decode()}
        told_of_each.append(of_file | carried.tally(told))
    return told_of_each


def _find(logbook: Logbook, given: Given) -> Any:
    return logbook.register.find(str(given["text"]))


def _backup(logbook: Logbook, given: Given) -> Any:
    from sync.backup import back_up

    return back_up(logbook, Path(given["file"]), time.time_ns() // 1_000_000)


def _held(logbook: Logbook, given: Given) -> Any:
    from sync import customers

    return [customers.row(visit) for visit in customers.held_about(logbook, str(given["customer"])).visits.values()]


def _export(logbook: Logbook, given: Given) -> Any:
    from sync import customers

    return customers.export(logbook, str(given["customer"]), Path(given["file"]), time.time_ns() // 1_000_000)


def _erase(logbook: Logbook, given: Given) -> Any:
    from sync import erasure

    return erasure.erase(logbook, str(given["customer"]), time.time_ns() // 1_000_000)


def _day_page(logbook: Logbook, given: Given) -> Any:
    from server import books

    return books.day_page(logbook, _day(given))


def _ledger(logbook: Logbook, given: Given) -> Any:
    from server import books

    first, last = _day({"day": given.get("first")}), _day({"day": given.get("last")})
    if first > last:
        raise NoSuchDay(day=f"{first.isoformat()} to {last.isoformat()}")
    return books.ledger(logbook, first, last)


def _rebuild(logbook: Logbook, given: Given) -> Any:
    from sync import rebuild

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
        fields = {name: deskops.value_of(what, name, str(text)) for name, text in typed.items()}
        deskops.correct(logbook, what, identifier, fields, _now())
    return cardfile.vehicle(logbook, identifier) if what == "vehicle" else cardfile.customer(logbook, identifier)


def _merge(logbook: Logbook, given: Given) -> Any:
    deskops.merge(logbook, str(given["keep"]), str(given["drop"]), _now())
    return cardfile.customer(logbook, str(given["keep"]))


def _look(logbook: Logbook, given: Given) -> Any:
    from server import evening
    from sync.sheetbook import Sheetbook

    return evening.look(logbook, Sheetbook(logbook.folder), _day(given), logbook.rulebook)


def _post(logbook: Logbook, given: Given) -> Any:
    from server.evening_rows import row_of
    from sync.sheetbook import Sheetbook

    sheetbook = Sheetbook(logbook.folder)
    underway = [sheetbook.record(visit, revision) for visit, revision in sheetbook.underway()]
    rows = []
    for record in [*underway, *sheetbook.failed()]:
        try:
            visit = logbook.visit(record["visit"])
        except UnknownVisit:
            # Its operations are gone from this folder; the record stays for a person to see.
            visit = {"id": record["visit"]}
        rows.append(row_of(visit, record, None, logbook.rulebook))
    return rows


def _passphrase(logbook: Logbook, given: Given) -> Any:
    return Passphrase(logbook.folder).open_setting(_now_ms())


def _pair(logbook: Logbook, given: Given) -> Any:
    return dataclasses.asdict(Pairings(logbook.folder).offer(_now_ms()))


def _devices(logbook: Logbook, given: Given) -> Any:
    return Pairings(logbook.folder).devices()


def _revoke(logbook: Logbook, given: Given) -> Any:
    return Pairings(logbook.folder).revoke(str(given["device"]), _now_ms())


def _now_ms() -> int:
    return time.time_ns() // 1_000_000


ERRANDS: dict[str, Callable[[Logbook, Given], Any]] = {
    "evening": _evening,
    "sheet": _sheet,
    "approve": _approve,
    "send": _send,
    "send_test": _send_test,
    "reminders": _reminders,
    "receive": _receive,
    "find": _find,
    "backup": _backup,
    "held": _held,
    "export": _export,
    "erase": _erase,
    "day": _day_page,
    "ledger": _ledger,
    "rebuild": _rebuild,
    "card": _card,
    "merge": _merge,
    "look": _look,
    "post": _post,
    "new_passphrase": _passphrase,
    "pair": _pair,
    "devices": _devices,
    "revoke": _revoke,
}
# Those that write sheets, letters or books of visits: a visit must not be erased in their middle.
OF_SHEETS = ("evening", "sheet", "approve", "send", "send_test", "day", "ledger")


def carry_out(logbook: Logbook, name: str, given: Given) -> Any:
    """Do one errand with the logbook open here.

    Args:
        logbook: the open logbook [Logbook]
        name: one of ERRANDS [text]
        given: of evening, look, reminders and day {day}, of ledger {first, last}, of sheet {visit}, of approve
            {visits, all}, of receive {files} as whole paths, of find {text}, of card {what, id, fields}, of merge
            {keep, drop}, of revoke {device: name or id} [JSON object]

    Returns:
        rows for evening, look, approve, send and post; {code, values, text} of send_test and each of reminders; paths
        for sheet, day and ledger; for each file received {device, part, receipt, entries, photos, repeats, faults} as
        `carried.tally` has it; the visits found, as the register gives them; a card; the offer of pair; the devices,
        or the one that was revoked; the key for setting the passphrase [JSON value]

    Raises:
        NoSuchDay: the day cannot be read. Whatever the errand itself raises.
    """
    with SHEETS.together() if name in OF_SHEETS else contextlib.nullcontext():
        return ERRANDS[name](logbook, given)
