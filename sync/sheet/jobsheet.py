"""The job sheet of a visit as plain data: every text and number as a person will read it, with page one complete.

It judges nothing, draws nothing and reads no file; the same visit, assessment and words give the same sheet.
"""

from __future__ import annotations

import hashlib
import json

from sync.kernel.books import Rulebook
from sync.kernel.judgement import Assessment
from sync.kernel.vehicle import Vehicle
from sync.kernel.visit import Technician, Test, Visit
from sync.sheet import blocks, price, readings, technician_page
from sync.sheet.figures import figures
from sync.sheet.outcome import outcome
from sync.sheet.photos import pair, photos
from sync.sheet.reader import language_of, paper_of
from sync.sheet.sheet_data import Block, Heading, Party, RecordsBeside, Replaced, Sheet, SheetSettings, TextsBlock
from sync.sheet.small_print import confirmed, edition
from sync.sheet.wording import Phrases, clock

NOTHING_BESIDE: RecordsBeside = {"photos": (), "earlier": (), "shown": None}
# A newer rulebook that says the same makes no new revision, and the mark can't include itself.
OUTSIDE_REVISION = ("edition", "revision")


def jobsheet(visit: Visit, assessment: Assessment, rulebook: Rulebook, settings: SheetSettings | None = None,
             beside: RecordsBeside | None = None) -> Sheet:
    """Everything that is printed, in order: the customer's page, and the technician's if a test was made.

    Args:
        visit: the visit [Visit]
        assessment: its judgement [Assessment]
        rulebook: the rulebook [Rulebook]
        settings: the technician's language, and a paper size that overrides the country's [SheetSettings]
        beside: what the records hold about the visit; `earlier` as from `technician.summary` [RecordsBeside]

    Returns:
        the data that `reports.sheet.render` draws [Sheet]

    Raises:
        KeyError: a unit that the rulebook lacks.
        NoAmount: a price that isn't a number.
    """
    wanted: SheetSettings = settings or {}
    records: RecordsBeside = {**NOTHING_BESIDE, **(beside or {})}
    language = language_of(visit, wanted, rulebook)
    phrases = Phrases(rulebook, language, visit.get("units"))
    tests = readings.pair_of(visit, assessment)
    date, place = phrases.date(visit["started_at"]), (visit.get("place") or {}).get("label") or ""
    title = phrases.say("title", "document" if place else "document_no_place", date=date, place=place)
    return {
        "language": language, "paper": paper_of(visit, language, wanted, rulebook),
        "title": title, "author": _author(visit), "subject": phrases.say("title", "subject"),
        "created": visit.get("ended_at") or visit["started_at"], "identifier": visit["id"],
        "foot": title, "audience": phrases.say("page", "customer") if tests else "",
        "page_words": [phrases.say("page", "page"), phrases.say("page", "of")],
        "heading": _heading(visit, wanted, phrases), "parties": _parties(visit, not tests, phrases),
        "result": outcome(visit, assessment, tests, phrases),
        "figures": figures(visit, assessment, tests, phrases),
        "blocks": _blocks(visit, assessment, records, tests, phrases),
        "technician": technician_page.page(visit, assessment, records, tests, phrases),
        "edition": edition(assessment, phrases), "revision": None,
    }


def revision(data: Sheet) -> str:
    """The digest of what a sheet says, without the edition of the rules and the mark of the revision.

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
        replaces: the sheet that a customer already holds; None if there is none [Replaced]

    Returns:
        the data with `revision` filled in [Sheet]
    """
    phrases = Phrases(rulebook, data["language"], None)
    marks = [phrases.say("title", "revision", number=str(number), digest=revision(data)[:12])]
    if replaces:
        date, earlier = phrases.date(replaces["at"]), str(replaces["number"])
        marks.append(phrases.say("title", "replaces", date=date, number=earlier))
    return {**data, "revision": marks}


def _author(visit: Visit) -> str:
    person = visit.get("technician") or {}
    return person.get("business") or person.get("name") or "Layby"


def _heading(visit: Visit, wanted: SheetSettings, phrases: Phrases) -> Heading:
    person = visit.get("technician") or {}
    reach = [text for text in (_technician(person, phrases), person.get("phone"), person.get("email")) if text]
    name = person.get("business") or person.get("name") or ""
    heading: Heading = {"name": name, "lines": [" · ".join(reach)] if reach else [],
                        "title": phrases.say("title", "sheet"), "beside": [_when(visit, phrases)]}
    if wanted.get("logo") and _is_own(person, wanted):
        heading["logo"] = wanted["logo"]
    return heading


def _is_own(person: Technician, wanted: SheetSettings) -> bool:
    """Whether a visit is of the business of the settings: it doesn't name another one, as far as both have a name."""
    own, named = (wanted.get("technician") or {}).get("business"), person.get("business")
    return not own or not named or own == named


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
    if not ended:
        return phrases.say("title", "at", date=phrases.date(started), start=clock(started))
    return phrases.say("title", "from_to", date=phrases.date(started), start=clock(started), end=clock(ended))


def _parties(visit: Visit, whole: bool, phrases: Phrases) -> list[Party]:
    """Customer, vehicle and complaint; `whole` names the vehicle in full, for when no page follows that does."""
    customer = visit.get("customer") or {}
    vehicle = visit.get("vehicle") or {}
    place = (visit.get("place") or {}).get("label") or ""
    place = "" if place in (customer.get("address") or "") else place
    parties = [
        ("customer", [text for text in (customer.get("name"), customer.get("address"), place) if text]),
        ("vehicle", [*_vehicle(vehicle, phrases), *(blocks.in_full(vehicle, phrases) if whole else [])]),
        ("complaint", [visit["complaint"]] if visit.get("complaint") else []),
    ]
    return [{"kind": name, "label": phrases.code("party", name), "lines": lines} for name, lines in parties if lines]


def _vehicle(vehicle: Vehicle, phrases: Phrases) -> list[str]:
    marks = [vehicle["plate"]] if vehicle.get("plate") else []
    if vehicle.get("odometer_km") is not None:
        marks.append(phrases.say("vehicle", "odometer", distance=phrases.measure("distance", vehicle["odometer_km"])))
    return [line for line in (blocks.vehicle_name(vehicle), phrases.row(marks)) if line]


def _blocks(visit: Visit, assessment: Assessment, records: RecordsBeside, tests: list[Test],
            phrases: Phrases) -> list[Block]:
    """The customer's blocks; if no page for the technician follows, its content too."""
    arrived = records["photos"]
    blocks_here: list[Block | None] = [
        _void(visit, phrases), pair(visit, arrived, phrases),
        blocks.found_and_done(visit, assessment, tests, phrases), blocks.coming(visit, tests, phrases),
        price.price(visit, phrases), blocks.signature(visit, phrases), blocks.cautions(visit, phrases)]
    if not tests:
        blocks_here += [blocks.rests(visit, assessment, phrases), blocks.refrigerant(visit, assessment, phrases),
                        photos(visit, arrived, phrases), confirmed(visit, phrases)]
    return [block for block in blocks_here if block]


def _void(visit: Visit, phrases: Phrases) -> TextsBlock | None:
    void = visit.get("void")
    if not void:
        return None
    text = phrases.say("title", "void", reason=void.get("reason") or "")
    return {"name": "void", "kind": "cautions", "title": "", "texts": [text]}
