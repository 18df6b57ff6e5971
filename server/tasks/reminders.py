"""What the evening reminds of beside the day's own visits: letters not settled, returns due, bills, papers that expire.

It changes nothing and decides nothing; sentences come from the rulebook.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from server import settings as folder_settings
from server.tasks.evening_rows import reason_of, remark, unfiled
from server.tasks.filed import visit_of
from server.tasks.messages import Reason, Remark
from sync.kernel.books import Rulebook
from sync.kernel.visit import Instruments, Visit
from sync.records.logbook import Logbook, UnknownVisit
from sync.records.sheet_records import SheetRecords, state_of

LOOK_BACK_DAYS = 60
AHEAD_DAYS = 60


def reminders(logbook: Logbook, sheet_records: SheetRecords, day: date, rulebook: Rulebook) -> list[Remark]:
    """Everything open on an evening that the list of its own visits does not show.

    Args:
        logbook: the open logbook [Logbook]
        sheet_records: the sheets of the same folder [SheetRecords]
        day: the evening's day [date]
        rulebook: the rulebook [Rulebook]

    Returns:
        letters, returns, bills, papers [Remark each]

    Raises:
        BadSettings: the folder's settings cannot be used.
    """
    days = [day - timedelta(days=number) for number in range(LOOK_BACK_DAYS, -1, -1)]
    visits = [visit_of(logbook, visit_id) for each in days for visit_id in logbook.visits_on(each)]
    visits = [visit for visit in visits if not visit.get("void")]
    earlier = [visit for visit in visits if _day(visit) != day.isoformat()]
    open_ones = [*_letters(logbook, sheet_records, day, rulebook), *_returns(earlier, visits), *_unpaid(earlier),
                 *_papers(visits, day, folder_settings.load(logbook.folder)["calibrations"])]
    return [remark(reason, rulebook) for reason in open_ones]


def _day(visit: Visit) -> str:
    return (visit.get("started_at") or "")[:10]


def _named(visit: Visit) -> dict[str, str]:
    vehicle = visit.get("vehicle") or {}
    name = " ".join(part for part in (vehicle.get("make"), vehicle.get("model"), vehicle.get("plate")) if part)
    return {"day": _day(visit), "customer": (visit.get("customer") or {}).get("name") or "no name",
            "vehicle": name or "no vehicle named"}


def _letters(logbook: Logbook, sheet_records: SheetRecords, day: date, rulebook: Rulebook) -> Iterator[Reason]:
    """Sheets of other days that were approved and have not gone."""
    for record in sheet_records.unsettled():
        try:
            visit = visit_of(logbook, record["visit"])
        except UnknownVisit:
            visit = unfiled(record["visit"])
        if visit.get("void") or _day(visit) == day.isoformat():
            continue
        why = record["states"][-1].get("reason")
        text = remark(why, rulebook)["text"] if why else ""
        named = _named(visit)
        yield reason_of("remind_letter", day=named["day"], customer=named["customer"], state=state_of(record), why=text)


def _returns(earlier: list[Visit], visits: list[Visit]) -> Iterator[Reason]:
    """Visits that asked for another, where the vehicle was not seen again."""
    for visit in earlier:
        if visit.get("outcome") != "return_needed":
            continue
        marks = _marks(visit)
        again = any(_marks(other) & marks and other["started_at"] > visit["started_at"] for other in visits)
        if not again:
            yield reason_of("remind_return", **_named(visit))


def _marks(visit: Visit) -> set[tuple[str, str]]:
    vehicle = visit.get("vehicle") or {}
    named = {"id": vehicle.get("id"), "vin": vehicle.get("vin"), "plate": vehicle.get("plate")}
    return {(key, text.casefold()) for key, text in named.items() if text}


def _unpaid(earlier: list[Visit]) -> Iterator[Reason]:
    for visit in earlier:
        if visit.get("charges") and not (visit.get("paid") or {}).get("method"):
            yield reason_of("remind_unpaid", **_named(visit))


def _papers(visits: list[Visit], day: date, calibrations: list[dict[str, str]]) -> Iterator[Reason]:
    """The technician's certificate as the last visit names it, and the instruments of the settings."""
    technician = next((visit["technician"] for visit in reversed(visits)
                       if (visit.get("technician") or {}).get("certificate_until")), None)
    if technician:
        yield from _ending("certificate", day, technician["certificate_until"],
                           number=technician.get("certificate_no") or "")
    for entry in [*_calibrated(visits), *calibrations]:
        yield from _ending("calibration", day, entry["until"], name=entry["name"])


def _calibrated(visits: list[Visit]) -> Iterator[dict[str, str]]:
    """The instruments of the last visit that names any, those with a known last day of calibration."""
    instruments: Instruments = {}
    instruments = next((visit["instruments"] for visit in reversed(visits) if visit.get("instruments")), instruments)
    until = {
        "low gauge": (instruments.get("low_gauge") or {}).get("calibrated_until"),
        "high gauge": (instruments.get("high_gauge") or {}).get("calibrated_until"),
        "thermometer": instruments.get("thermometer_calibrated_until"),
        "hygrometer": instruments.get("hygrometer_calibrated_until"),
    }
    yield from ({"name": name, "until": day} for name, day in until.items() if day)


def _ending(what: str, day: date, until: str, **named: str) -> Iterator[Reason]:
    last = _last_day(until)
    if last is None or last > day + timedelta(days=AHEAD_DAYS):
        return
    over = "_over" if last < day else ""
    yield reason_of(f"remind_{what}{over}", until=last.isoformat(), **named)


def _last_day(text: str) -> date | None:
    """The last day that a paper says it holds: YYYY-MM-DD, or the end of YYYY-MM; None for any other text."""
    try:
        if len(text) == 7:
            first = date.fromisoformat(f"{text}-01")
            return (first + timedelta(days=32)).replace(day=1) - timedelta(days=1)
        return date.fromisoformat(text)
    except ValueError:
        return None
