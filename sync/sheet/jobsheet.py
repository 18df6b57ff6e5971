"""The job sheet of a visit as plain data: every text and number as the customer will read it.

It judges nothing, draws nothing and reads no file; the same visit, assessment and words give the same sheet.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence

from sync.kernel.books import Rulebook
from sync.kernel.judgement import Assessment
from sync.kernel.vehicle import Vehicle
from sync.kernel.visit import Technician, Test, Visit
from sync.sheet import blocks, causes, plots, price, readings, shown_verdict, technician, yardsticks
from sync.sheet.photos import photos
from sync.sheet.result import result
from sync.sheet.sheet_data import (
    Block,
    Heading,
    Party,
    ReadingsBlock,
    RecordsBeside,
    Replaced,
    Result,
    Sheet,
    SheetSettings,
    TextsBlock,
)
from sync.sheet.small_print import edition, small
from sync.sheet.wording import Phrases, clock, sentence

SETTINGS: SheetSettings = {"language": "en", "paper": "A4"}
NOTHING_BESIDE: RecordsBeside = {"photos": (), "earlier": (), "shown": None}
# A newer rulebook that says the same makes no new revision, and the mark cannot count itself.
OUTSIDE_REVISION = ("edition", "revision")


def jobsheet(visit: Visit, assessment: Assessment, rulebook: Rulebook, settings: SheetSettings | None = None,
             beside: RecordsBeside | None = None) -> Sheet:
    """Everything the page prints, in its order.

    Args:
        visit: the visit [Visit]
        assessment: its judgement [Assessment]
        rulebook: the rulebook [Rulebook]
        settings: language and paper [SheetSettings]
        beside: what the records hold beside the visit; `earlier` as from `technician.summary` [RecordsBeside]

    Returns:
        the data that `reports.sheet.render` draws [Sheet]

    Raises:
        KeyError: a language the words lack, or a unit the rulebook lacks.
        NoAmount: a price that is no number.
    """
    chosen: SheetSettings = {**SETTINGS, **(settings or {})}
    records: RecordsBeside = {**NOTHING_BESIDE, **(beside or {})}
    phrases = Phrases(rulebook, chosen["language"], visit.get("units"))
    tests = readings.pair_of(visit, assessment)
    first = result(visit, assessment, tests, phrases)
    date, place = phrases.date(visit["started_at"]), (visit.get("place") or {}).get("label") or ""
    title = phrases.say("title", "document" if place else "document_no_place", date=date, place=place)
    return {
        "language": chosen["language"], "paper": chosen["paper"],
        "title": title, "author": _author(visit), "subject": phrases.say("title", "subject"),
        "created": visit.get("ended_at") or visit["started_at"], "identifier": visit["id"],
        "running": title, "page_words": [phrases.say("page", "page"), phrases.say("page", "of")],
        "heading": _heading(visit, phrases), "parties": _parties(visit, phrases), "result": first,
        "blocks": [*_of_tests(visit, assessment, tests, phrases),
                   *_of_work(visit, assessment, records, first, phrases),
                   *_closing(visit, assessment, records, tests, phrases)],
        "edition": edition(assessment, phrases), "revision": None,
    }


def revision(data: Sheet) -> str:
    """The digest of what a sheet says; the edition of the rules and the mark of the revision do not count.

    Args:
        data: a sheet's data [Sheet]

    Returns:
        64 hex digits [text]
    """
    counted = {key: value for key, value in data.items() if key not in OUTSIDE_REVISION}
    text = json.dumps(counted, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def marked(data: Sheet, number: int, rulebook: Rulebook, replaces: Replaced | None = None) -> Sheet:
    """The same sheet with the mark of its revision.

    Args:
        data: a sheet's data [Sheet]
        number: 1 for the first sheet of a visit [count]
        rulebook: the rulebook [Rulebook]
        replaces: the sheet that a customer already holds, None where there is none [Replaced]

    Returns:
        the data with `revision` filled [Sheet]
    """
    phrases = Phrases(rulebook, data["language"], None)
    marks = [sentence(phrases.say("title", "revision", number=str(number), digest=revision(data)[:12])) + "."]
    if replaces:
        date, earlier = phrases.date(replaces["at"]), str(replaces["number"])
        marks.append(phrases.say("title", "replaces", date=date, number=earlier))
    return {**data, "revision": marks}


def _author(visit: Visit) -> str:
    person = visit.get("technician") or {}
    return person.get("business") or person.get("name") or "Layby"


def _heading(visit: Visit, phrases: Phrases) -> Heading:
    person = visit.get("technician") or {}
    reach = [text for text in (person.get("phone"), person.get("email")) if text]
    lines = [_technician(person, phrases), phrases.row(reach)]
    return {
        "title": phrases.say("title", "sheet"),
        "when": " · ".join(part for part in (_when(visit, phrases), _where(visit, phrases)) if part),
        "business": person.get("business") or "",
        "lines": [line for line in lines if line],
    }


def _technician(person: Technician, phrases: Phrases) -> str:
    name, certificate = person.get("name") or "", person.get("certificate_no")
    if not certificate:
        return name
    until = person.get("certificate_until")
    if not until:
        return phrases.say("title", "technician", name=name, certificate=certificate)
    return phrases.say("title", "technician_until", name=name, certificate=certificate, until=phrases.until(until))


def _when(visit: Visit, phrases: Phrases) -> str:
    started, ended = visit["started_at"], visit.get("ended_at")
    times = f"{clock(started)}–{clock(ended)}" if ended else clock(started)
    return f"{phrases.date(started)}, {times}"


def _where(visit: Visit, phrases: Phrases) -> str:
    place = visit.get("place") or {}
    texts = [place["label"]] if place.get("label") else []
    if place.get("altitude_m") is not None:
        texts.append(phrases.say("title", "altitude", altitude=phrases.measure("altitude", place["altitude_m"])))
    return phrases.row(texts)


def _parties(visit: Visit, phrases: Phrases) -> list[Party]:
    customer = visit.get("customer") or {}
    parties = [
        ("customer", [text for text in (customer.get("name"), customer.get("address")) if text]),
        ("vehicle", _vehicle(visit.get("vehicle") or {}, phrases)),
        ("complaint", [visit["complaint"]] if visit.get("complaint") else []),
    ]
    return [{"kind": name, "label": phrases.code("party", name), "lines": lines} for name, lines in parties if lines]


def _vehicle(vehicle: Vehicle, phrases: Phrases) -> list[str]:
    names = [str(part) for part in (vehicle.get("year"), vehicle.get("make"), vehicle.get("model")) if part]
    marks = [phrases.say("vehicle", "plate", plate=vehicle["plate"])] if vehicle.get("plate") else []
    if vehicle.get("odometer_km") is not None:
        marks.append(phrases.say("vehicle", "odometer", distance=phrases.measure("distance", vehicle["odometer_km"])))
    vin = phrases.say("vehicle", "vin", vin=vehicle["vin"]) if vehicle.get("vin") else ""
    lines = [" ".join(names), phrases.row(marks), vin, phrases.row(_filling(vehicle, phrases))]
    return [line for line in lines if line]


def _filling(vehicle: Vehicle, phrases: Phrases) -> list[str]:
    """What is in the circuit and what the label says."""
    texts = []
    inside = vehicle.get("refrigerant_text") or blocks.named_refrigerant(vehicle.get("refrigerant"), phrases)
    label = blocks.named_refrigerant(vehicle.get("label_refrigerant"), phrases)
    if inside and label and label != inside:
        texts.append(phrases.say("vehicle", "refrigerant_label", refrigerant=inside, label=label))
    elif inside:
        texts.append(inside)
    if vehicle.get("charge_spec_g") is not None:
        texts.append(phrases.say("vehicle", "charge", mass=phrases.measure("mass", vehicle["charge_spec_g"])))
    if vehicle.get("oil"):
        texts.append(phrases.say("vehicle", "oil", oil=vehicle["oil"]))
    return texts


def _of_tests(visit: Visit, assessment: Assessment, tests: list[Test], phrases: Phrases) -> list[Block]:
    """What was measured and what it points to, under the word for a visit that was set aside."""
    return _present([_void(visit, phrases), *_readings(visit, assessment, tests, phrases),
                     causes.block(assessment, tests, phrases), blocks.found_and_done(visit, assessment, phrases)])


def _of_work(visit: Visit, assessment: Assessment, records: RecordsBeside, first: Result,
             phrases: Phrases) -> list[Block]:
    """What else was read and moved, what is to come, the price, and a verdict that differs from the phone's."""
    return _present([
        blocks.rests(visit, assessment, phrases), blocks.refrigerant(visit, assessment, phrases),
        photos(visit, records["photos"], phrases), blocks.coming(visit, phrases, first["sentences"][-1]),
        price.price(visit, phrases), shown_verdict.block(visit, assessment, records["shown"], first, phrases),
    ])


def _closing(visit: Visit, assessment: Assessment, records: RecordsBeside, tests: list[Test],
             phrases: Phrases) -> list[Block]:
    """What a person should mind and signed, the technician's part and the small print."""
    return _present([
        blocks.cautions(visit, phrases), blocks.signature(visit, phrases),
        technician.block(visit, assessment, records["earlier"], tests, phrases),
        small(visit, assessment, tests, phrases),
    ])


def _present(offered: Sequence[Block | None]) -> list[Block]:
    return [block for block in offered if block]


def _void(visit: Visit, phrases: Phrases) -> TextsBlock | None:
    void = visit.get("void")
    if not void:
        return None
    text = phrases.say("title", "void", reason=void.get("reason") or "")
    return {"name": "void", "kind": "cautions", "title": "", "texts": [text]}


def _readings(visit: Visit, assessment: Assessment, tests: list[Test], phrases: Phrases) -> list[ReadingsBlock]:
    """The tests side by side with their plots, then any further tests, four to a table."""
    if not tests:
        return []
    main = readings.block(visit, assessment, tests, phrases)
    main["plots"] = plots.plots(assessment, tests, phrases)
    main["notes"] = yardsticks.notes(assessment, tests, phrases)
    shown = [test["id"] for test in tests]
    others = [test for test in visit.get("tests") or [] if test["id"] not in shown]
    fours = [others[start:start + 4] for start in range(0, len(others), 4)]
    more = [readings.block(visit, assessment, four, phrases) for four in fours]
    for block in more:
        block["title"] = phrases.say("section", "readings_more")
    return [main, *more]
