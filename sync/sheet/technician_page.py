"""The page for the next technician: readings and where they lie, what they leave open, how the work was done.

It assembles what other modules say; it judges nothing and draws nothing.
"""

from __future__ import annotations

from sync.kernel.judgement import Assessment
from sync.kernel.visit import Test, Visit
from sync.sheet import blocks, causes, plots, readings, result, shown_verdict, technician, yardsticks
from sync.sheet.photos import photos
from sync.sheet.sheet_data import Block, Heading, ReadingsBlock, RecordsBeside, TechnicianPage
from sync.sheet.small_print import confirmed, small
from sync.sheet.wording import Phrases, clock

ABREAST = 4


def page(visit: Visit, assessment: Assessment, records: RecordsBeside, tests: list[Test],
         phrases: Phrases) -> TechnicianPage | None:
    """The page; None if no test was made.

    Args:
        visit: the visit [Visit]
        assessment: its judgement [Assessment]
        records: what the records hold about the visit [RecordsBeside]
        tests: the tests set side by side [list]
        phrases: words and units of the reader [Phrases]

    Returns:
        its head and blocks, in order [TechnicianPage]
    """
    if not tests:
        return None
    first, *others = _readings(visit, assessment, tests, phrases)
    offered: list[Block | None] = [
        first, result.block(visit, assessment, tests, phrases), causes.block(assessment, tests, phrases),
        technician.block(visit, assessment, records["earlier"], tests, phrases), confirmed(visit, phrases),
        blocks.details(visit, assessment, phrases),
        shown_verdict.block(visit, assessment, records["shown"], phrases),
        photos(visit, records["photos"], phrases), *others,
        blocks.rests(visit, assessment, phrases), blocks.refrigerant(visit, assessment, phrases),
        small(visit, assessment, tests, phrases),
    ]
    marks = [(visit.get("vehicle") or {}).get("plate"), phrases.date(visit["started_at"])]
    return {"heading": _heading(visit, tests, phrases), "foot": phrases.row([mark for mark in marks if mark]),
            "audience": phrases.say("page", "technician"), "blocks": [block for block in offered if block]}


def _heading(visit: Visit, tests: list[Test], phrases: Phrases) -> Heading:
    vehicle = visit.get("vehicle") or {}
    altitude = (visit.get("place") or {}).get("altitude_m")
    above = [] if altitude is None else [
        phrases.say("title", "altitude", altitude=phrases.measure("altitude", altitude))]
    plate = [vehicle["plate"]] if vehicle.get("plate") else []
    known = [blocks.vehicle_name(vehicle), *plate, *blocks.vin(vehicle, phrases)]
    times = [phrases.say("title", "test_at", role=phrases.code("role", test["role"]), time=clock(test["at"]))
             for test in tests]
    beside = [" · ".join([*blocks.filling(vehicle, phrases), *above]),
              phrases.row([phrases.date(visit["started_at"]), *times])]
    return {"name": phrases.say("title", "technician_page"), "lines": [" · ".join(part for part in known if part)],
            "title": "", "beside": [text for text in beside if text]}


def _readings(visit: Visit, assessment: Assessment, tests: list[Test], phrases: Phrases) -> list[ReadingsBlock]:
    """The tests side by side with their plots, then any further tests, four to a table."""
    main = readings.block(visit, assessment, tests, phrases)
    main["plots"] = plots.plots(visit, assessment, tests, phrases)
    main["notes"] = yardsticks.notes(assessment, tests, phrases)
    shown = [test["id"] for test in tests]
    others = [test for test in visit.get("tests") or [] if test["id"] not in shown]
    fours = [others[start:start + ABREAST] for start in range(0, len(others), ABREAST)]
    more = [readings.block(visit, assessment, four, phrases) for four in fours]
    for block in more:
        block["title"] = phrases.say("section", "readings_more")
    return [main, *more]
