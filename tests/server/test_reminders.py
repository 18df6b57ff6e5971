"""What the evening reminds of: unsettled letters, returns due, bills, papers that expire, visits entered twice.

Real journal and real press; visits are invented.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from server.tasks import evening
from server.tasks.reminders import reminders
from sync.records.logbook import Logbook
from tests.server.test_evening import DAY, Desk
from tests.support import children
from tests.support.ops import uuid7
from tests.support.service import LAYBY
from tests.support.sheet_visits import PAIR, SINGLE, STARTED_MS, operations

Rulebook = dict[str, Any]
DAY_MS = 86_400_000


def days_ago(visit: dict[str, Any], days: int, **changes: Any) -> dict[str, Any]:
    """The visit this many days before the evening, with its own id."""
    started = date.fromordinal(DAY.toordinal() - days).isoformat()
    return {**copy.deepcopy(visit), "id": uuid7(STARTED_MS - days * DAY_MS, 80 + days),
            "started_at": f"{started}T09:00:00+02:00", **changes}


@pytest.fixture
def desk(folder: Path, rulebook: Rulebook) -> Iterator[Desk]:
    """An empty logbook with an evening's steps."""
    with Logbook(folder, rulebook) as logbook:
        yield Desk(logbook, rulebook)


def told(desk: Desk, day: date = DAY) -> list[tuple[str, str]]:
    """Code and sentence of each reminder."""
    found = reminders(desk.logbook, desk.sheet_records, day, desk.rulebook)
    return [(entry["code"], entry["text"]) for entry in found]


def test_a_settled_past_needs_no_reminder(desk: Desk) -> None:
    """Paid, done, certificate good for years."""
    desk.file(operations(days_ago(PAIR, 3), desk.phone))
    assert told(desk) == []


def test_an_unpaid_bill_of_another_day_is_named(desk: Desk) -> None:
    """Today's are in the day's own list."""
    desk.file(operations(days_ago(PAIR, 3, paid={}), desk.phone))
    desk.file(operations(days_ago(PAIR, 0, paid={}), desk.phone))
    assert told(desk) == [("remind_unpaid", "Unpaid since 2026-07-11: Noor Halloran, blue estate AC 418 KD.")]


def test_a_return_is_due_until_the_vehicle_was_seen_again(desk: Desk) -> None:
    """Named by day, customer and vehicle; gone once the same vehicle has a later visit."""
    desk.file(operations(days_ago(SINGLE, 9), desk.phone))
    assert [code for code, _ in told(desk)] == ["remind_return"]
    desk.file(operations(days_ago(SINGLE, 2, outcome="done"), desk.phone))
    assert told(desk) == []


def test_a_letter_that_failed_on_another_day_is_shown(desk: Desk) -> None:
    """An approved sheet without an address: the customer, the state and the reason."""
    visit = days_ago(PAIR, 4)
    del visit["customer"]["email"]
    desk.file(operations(visit, desk.phone))
    evening.make_sheets(desk.logbook, desk.sheet_records, date(2026, 7, 10), desk.rulebook)
    desk.approve(visit["id"])
    desk.send()
    ((code, text),) = told(desk)
    assert code == "remind_letter"
    assert text.startswith("Still open from 2026-07-10: Noor Halloran, blue estate AC 418 KD (ready).")


@pytest.mark.parametrize(("until", "code"), [
    ("2026-09-12", "remind_certificate"), ("2026-09", None), ("2026-08", "remind_certificate"),
    ("2026-07-13", "remind_certificate_over"), ("2026-07-14", "remind_certificate"), ("some day", None),
])
def test_a_certificate_that_ends_is_named_sixty_days_ahead(until: str, code: str | None, desk: Desk) -> None:
    """Its last day counts as valid; a month means its last day; unreadable text isn't guessed at."""
    technician = {**PAIR["technician"], "certificate_until": until}
    desk.file(operations(days_ago(PAIR, 1, technician=technician), desk.phone))
    assert [found for found, _ in told(desk)] == ([code] if code else [])


def test_calibrations_of_the_settings_are_watched(desk: Desk) -> None:
    """Those that end soon or have ended; the others are silent."""
    kept = [{"name": "high gauge", "until": "2026-08-01"}, {"name": "scale", "until": "2026-01-31"},
            {"name": "thermometer", "until": "2028-01-31"}]
    (desk.logbook.folder / "settings.json").write_text(json.dumps({"calibrations": kept}), "utf-8")
    assert [text for _, text in told(desk)] == [
        "Calibration due by 2026-08-01: high gauge.", "Calibration overdue since 2026-01-31: scale."]


def test_the_instruments_of_the_last_visit_are_watched(desk: Desk) -> None:
    """As the phone names them in a visit; an instrument without a day is silent."""
    held = {"low_gauge": {"class_pct": 1.6, "calibrated_until": "2026-06-30"}, "high_gauge": {"class_pct": 1.6},
            "thermometer_calibrated_until": "2026-08-01", "hygrometer_calibrated_until": "2028-01-31"}
    desk.file(operations(days_ago(PAIR, 1, instruments=held), desk.phone))
    assert [text for _, text in told(desk)] == [
        "Calibration overdue since 2026-06-30: low-side gauge.", "Calibration due by 2026-08-01: thermometer."]


def test_a_visit_entered_twice_is_marked_on_both(desk: Desk) -> None:
    """The same plate, however written, on the same day; a void visit no longer counts."""
    second = {**days_ago(PAIR, 0), "started_at": "2026-07-14T14:10:00+02:00"}
    second["vehicle"] = {"id": "v7", "plate": "ac-418-kd"}
    for visit in (PAIR, second, SINGLE):
        desk.file(operations(visit, desk.phone))
    notes = [[note["text"] for note in row["notes"] if note["code"] == "note_duplicate"] for row in desk.make()]
    assert notes == [["possible duplicate: the same vehicle on the same day as the visit at 14:10"],
                     ["possible duplicate: the same vehicle on the same day as the visit at 13:55"], []]


def test_an_incomplete_visit_says_what_it_lacks(desk: Desk) -> None:
    """Work without a test after it, and a visit that nobody ended."""
    visit = {key: value for key, value in copy.deepcopy(PAIR).items() if key != "ended_at"}
    visit["tests"] = visit["tests"][:1]
    desk.file(operations(visit, desk.phone))
    assert {"note_no_after", "note_not_ended"} <= {note["code"] for note in desk.make()[0]["notes"]}


def test_the_command_tells_what_else_is_open(folder: Path, rulebook: Rulebook) -> None:
    """`layby evening` lists the day, then what is open from other days."""
    with Logbook(folder, rulebook) as logbook:
        made = Desk(logbook, rulebook)
        made.file(operations(days_ago(PAIR, 3, paid={}), made.phone))
    command = [LAYBY, "--folder", folder, "evening", "--day", "2026-07-14"]
    said = children.run(command, check=True).stdout
    assert said.splitlines() == ["No visits are filed for that day.", "", "Also open:",
                                 "  Unpaid since 2026-07-11: Noor Halloran, blue estate AC 418 KD."]
