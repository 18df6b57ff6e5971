"""What the evening reminds of besides the day's visits: unsettled letters, returns due, bills, papers that expire.

It changes nothing and decides nothing; sentences come from the rulebook.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterator
from datetime import date
from typing import TypedDict

from server import settings as folder_settings
from server.tasks.desk_words import record_state
from server.tasks.evening_rows import reason_of, remark, unfiled
from server.tasks.messages import Remark
from server.tasks.sheet_data import outline_of
from sync.isolation import each_apart
from sync.kernel.books import Rulebook
from sync.kernel.reason import Reason
from sync.kernel.visit import Instruments, Visit
from sync.language.reader import words_of
from sync.language.words import Words
from sync.records.logbook import Logbook, UnknownVisit
from sync.records.sheet_records import SheetRecords
from sync.work.troubles import troubles

LOOK_BACK_DAYS = 60
AHEAD_DAYS = 60


class Papers(TypedDict):
    """What the settings know of last days: of anything by its name, and of the instruments by their code."""

    calibrations: list[dict[str, str]]
    due: list[dict[str, str]]


def reminders(logbook: Logbook, sheet_records: SheetRecords, day: date, rulebook: Rulebook) -> list[Remark]:
    """Everything open on an evening that the list of its visits doesn't show.

    Args:
        logbook: the open logbook [Logbook]
        sheet_records: the sheets of the same folder [SheetRecords]
        day: the evening's day [date]
        rulebook: the rulebook [Rulebook]

    Returns:
        letters, returns, bills, papers [Remark each]

    Raises:
        BadSettings: the folder's settings can't be used.
    """
    days = [date.fromordinal(each) for each in range(max(1, day.toordinal() - LOOK_BACK_DAYS), day.toordinal() + 1)]
    visits, odd = each_apart((visit_id for each in days for visit_id in logbook.visits_on(each)),
                             lambda visit_id: _looked_at(logbook.visit(visit_id)))
    visits = [visit for visit in visits if not visit.get("void")]
    outlines = [(outline_of(logbook, one.name), one.why) for one in odd]
    earlier = [visit for visit in visits if _day(visit) != day.isoformat()]
    open_ones = [*_letters(logbook, sheet_records, day, rulebook), *_returns(earlier, visits), *_unpaid(earlier),
                 *_papers(visits, day, _papers_of(logbook), words_of(rulebook)),
                 *(reason_of("remind_odd", **_named(visit), why=why) for visit, why in outlines
                   if _day(visit) != day.isoformat())]
    return [remark(reason, rulebook) for reason in (*open_ones, *troubles(logbook))]


def _looked_at(visit: Visit) -> Visit:
    """A visit for which all of the questions below can be answered."""
    _named(visit), _marks(visit), list(_unpaid([visit])), list(_calibrated([visit]))
    (visit.get("technician") or {}).get("certificate_until")
    return visit


def _day(visit: Visit) -> str:
    return (visit.get("started_at") or "")[:10]


def _named(visit: Visit) -> dict[str, str]:
    """The day of a visit, and its customer and vehicle as far as they are known, else its id [texts by name]."""
    vehicle = visit.get("vehicle") or {}
    name = " ".join(part for part in (vehicle.get("make"), vehicle.get("model"), vehicle.get("plate")) if part)
    who = [str((visit.get("customer") or {}).get("name") or ""), name]
    return {"day": _day(visit), "who": ", ".join(part for part in who if part) or visit["id"]}


def _letters(logbook: Logbook, sheet_records: SheetRecords, day: date, rulebook: Rulebook) -> Iterator[Reason]:
    """Sheets of other days that were approved and haven't been sent."""
    for record in sheet_records.unsettled():
        visits, _ = each_apart([record["visit"]], lambda visit_id: _looked_at(_visit_or_outline(logbook, visit_id)))
        visit = visits[0] if visits else outline_of(logbook, record["visit"])
        if visit.get("void") or _day(visit) == day.isoformat():
            continue
        why = record["states"][-1].get("reason")
        text = remark(why, rulebook)["text"] if why else ""
        state = words_of(rulebook).say(f"desk.state.{record_state(record)}")
        yield reason_of("remind_letter", **_named(visit), state=state, why=text)


def _visit_or_outline(logbook: Logbook, visit_id: str) -> Visit:
    """A visit; if nothing of it is filed, only its id."""
    try:
        return logbook.visit(visit_id)
    except UnknownVisit:
        return unfiled(visit_id)


def _returns(earlier: list[Visit], visits: list[Visit]) -> Iterator[Reason]:
    """Visits that asked for another, if the vehicle wasn't seen again."""
    for visit in earlier:
        if visit.get("outcome") != "return_needed":
            continue
        marks = _marks(visit)
        again = any(_marks(other) & marks and other["started_at"] > visit["started_at"] for other in visits)
        if not again:
            yield reason_of("remind_return", **_named(visit))


def _marks(visit: Visit) -> set[tuple[str, str]]:
    vehicle = visit.get("vehicle") or {}
    marks = {"id": vehicle.get("id"), "vin": vehicle.get("vin"), "plate": vehicle.get("plate")}
    return {(key, mark.casefold()) for key, mark in marks.items() if mark}


def _unpaid(earlier: list[Visit]) -> Iterator[Reason]:
    for visit in earlier:
        if visit.get("charges") and not (visit.get("paid") or {}).get("method"):
            yield reason_of("remind_unpaid", **_named(visit))


def _papers_of(logbook: Logbook) -> Papers:
    settings = folder_settings.load(logbook.files)
    return {"calibrations": settings["calibrations"], "due": settings["due"]}


def _papers(visits: list[Visit], day: date, settings: Papers, words: Words) -> Iterator[Reason]:
    """The technician's certificate from the last visit that names it, and that visit's and the settings' instruments.
    """
    technician = next((visit["technician"] for visit in reversed(visits)
                       if (visit.get("technician") or {}).get("certificate_until")), None)
    if technician:
        yield from _ending("certificate", day, technician["certificate_until"],
                           number=technician.get("certificate_no") or "")
    by_code = {entry["name"]: entry for entry in [*_calibrated(visits), *settings["due"]]}
    instruments = [{**entry, "name": words.say(f"desk.instrument.{code}")} for code, entry in by_code.items()]
    for entry in [*instruments, *settings["calibrations"]]:
        yield from _ending("calibration", day, entry["until"], name=entry["name"])


def _calibrated(visits: list[Visit]) -> Iterator[dict[str, str]]:
    """The instruments of the last visit that names any, by code, if their last day of calibration is known."""
    none: Instruments = {}
    instruments = next((visit["instruments"] for visit in reversed(visits) if visit.get("instruments")), none)
    until = {
        "low_gauge": (instruments.get("low_gauge") or {}).get("calibrated_until"),
        "high_gauge": (instruments.get("high_gauge") or {}).get("calibrated_until"),
        "thermometer": instruments.get("thermometer_calibrated_until"),
        "hygrometer": instruments.get("hygrometer_calibrated_until"),
    }
    yield from ({"name": name, "until": day} for name, day in until.items() if day)


def _ending(what: str, day: date, until: str, **named: str) -> Iterator[Reason]:
    last = _last_day(until)
    if last is None or (last - day).days > AHEAD_DAYS:
        return
    over = "_over" if last < day else ""
    yield reason_of(f"remind_{what}{over}", until=last.isoformat(), **named)


def _last_day(text: str) -> date | None:
    """The last day on which a paper is valid: YYYY-MM-DD, or the end of YYYY-MM; None for any other text."""
    try:
        if len(text) == 7:
            first = date.fromisoformat(f"{text}-01")
            return first.replace(day=monthrange(first.year, first.month)[1])
        return date.fromisoformat(text)
    except ValueError:
        return None
