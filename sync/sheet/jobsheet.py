"""The job sheet of a visit as plain data: every text and number as the customer will read it.

It judges nothing, draws nothing and reads no file; the same visit, assessment and words give the same sheet.
"""

from __future__ import annotations

import hashlib
import json
from typing import Any

from sync.sheet import blocks, causes, plots, price, readings, shown_verdict, technician
from sync.sheet.photos import photos
from sync.sheet.readings import Test
from sync.sheet.result import result
from sync.sheet.small_print import edition, small
from sync.sheet.wording import Phrases, clock, sentence

Visit = dict[str, Any]
SETTINGS = {"language": "en", "paper": "A4"}
BESIDE: dict[str, Any] = {"photos": (), "earlier": (), "shown": None}
# A newer rulebook that says the same makes no new revision, and the mark cannot count itself.
OUTSIDE_REVISION = ("edition", "revision")


def jobsheet(visit: Visit, assessment: dict[str, Any], rulebook: dict[str, Any],
             settings: dict[str, Any] | None = None, beside: dict[str, Any] | None = None) -> dict[str, Any]:
    """Everything the page prints, in its order.

    Args:
        visit: the visit [design shape]
        assessment: its assessment [design shape]
        rulebook: the rulebook with its `sheet_words` [books by name]
        settings: `language` and `paper` ("A4" or "Letter"), A4 in English when absent [mapping]
        beside: what the records hold beside the visit: `photos`, the digests of those that arrived, and `earlier`, this
            vehicle's earlier visits as from `technician.summary`, and `shown`, {visit, assessment} as they were
            when the verdict was shown, None where they cannot be had any more [mapping]

    Returns:
        the data that `reports.sheet.render` draws [plain data]

    Raises:
        KeyError: a language the words lack, or a unit the rulebook lacks.
        NoAmount: a price that is no number.
    """
    chosen = {**SETTINGS, **(settings or {})}
    phrases = Phrases(rulebook, chosen["language"], visit.get("units"))
    tests = readings.pair_of(visit, assessment)
    said = result(visit, assessment, tests, phrases)
    date, place = phrases.date(visit["started_at"]), str((visit.get("place") or {}).get("label") or "")
    title = phrases.say("title", "document" if place else "document_no_place", date=date, place=place)
    return {
        "language": chosen["language"], "paper": chosen["paper"],
        "title": title, "author": _author(visit), "subject": phrases.say("title", "subject"),
        "created": visit.get("ended_at") or visit["started_at"], "identifier": str(visit["id"]),
        "running": title, "page_words": phrases.words["page"],
        "heading": _heading(visit, phrases), "parties": _parties(visit, phrases), "result": said,
        "blocks": _blocks(visit, (assessment, {**BESIDE, **(beside or {})}), tests, phrases, said),
        "edition": edition(assessment, phrases), "revision": None,
    }


def revision(data: dict[str, Any]) -> str:
    """The digest of what a sheet says; the edition of the rules and the mark of the revision do not count.

    Args:
        data: a sheet's data [plain data]

    Returns:
        64 hex digits [text]
    """
    counted = {key: value for key, value in data.items() if key not in OUTSIDE_REVISION}
    text = json.dumps(counted, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def marked(
    data: dict[str, Any], number: int, rulebook: dict[str, Any], replaces: dict[str, Any] | None = None
) -> dict[str, Any]:
    """The same sheet with the mark of its revision.

    Args:
        data: a sheet's data [plain data]
        number: 1 for the first sheet of a visit [count]
        rulebook: the rulebook with its `sheet_words` [books by name]
        replaces: `number` and `at` (ISO 8601) of the sheet that a customer already holds [mapping or None]

    Returns:
        the data with `revision` filled [plain data]
    """
    phrases = Phrases(rulebook, data["language"], None)
    said = [sentence(phrases.say("title", "revision", number=str(number), digest=revision(data)[:12])) + "."]
    if replaces:
        said.append(phrases.say("title", "replaces", date=phrases.date(replaces["at"]), number=str(replaces["number"])))
    return {**data, "revision": said}


def _author(visit: Visit) -> str:
    person = visit.get("technician") or {}
    return str(person.get("business") or person.get("name") or "Layby")


def _heading(visit: Visit, phrases: Phrases) -> dict[str, Any]:
    person = visit.get("technician") or {}
    reach = [person[key] for key in ("phone", "email") if person.get(key)]
    lines = [_technician(person, phrases), phrases.row(reach)]
    return {
        "title": phrases.say("title", "sheet"),
        "when": " · ".join(part for part in (_when(visit, phrases), _where(visit, phrases)) if part),
        "business": person.get("business") or "",
        "lines": [line for line in lines if line],
    }


def _technician(person: dict[str, Any], phrases: Phrases) -> str:
    name, certificate = person.get("name") or "", person.get("certificate_no")
    if not certificate:
        return str(name)
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
    said = [place["label"]] if place.get("label") else []
    if place.get("altitude_m") is not None:
        said.append(phrases.say("title", "altitude", altitude=phrases.measure("altitude", place["altitude_m"])))
    return phrases.row(said)


def _parties(visit: Visit, phrases: Phrases) -> list[dict[str, Any]]:
    customer = visit.get("customer") or {}
    found = [
        ("customer", [customer[key] for key in ("name", "address") if customer.get(key)]),
        ("vehicle", _vehicle(visit.get("vehicle") or {}, phrases)),
        ("complaint", [visit["complaint"]] if visit.get("complaint") else []),
    ]
    return [{"kind": name, "label": phrases.code("party", name), "lines": lines} for name, lines in found if lines]


def _vehicle(vehicle: dict[str, Any], phrases: Phrases) -> list[str]:
    names = [str(vehicle[key]) for key in ("year", "make", "model") if vehicle.get(key)]
    marks = [phrases.say("vehicle", "plate", plate=str(vehicle["plate"]))] if vehicle.get("plate") else []
    if vehicle.get("odometer_km") is not None:
        marks.append(phrases.say("vehicle", "odometer", distance=phrases.measure("distance", vehicle["odometer_km"])))
    vin = phrases.say("vehicle", "vin", vin=str(vehicle["vin"])) if vehicle.get("vin") else ""
    lines = [" ".join(names), phrases.row(marks), vin, phrases.row(_filling(vehicle, phrases))]
    return [line for line in lines if line]


def _filling(vehicle: dict[str, Any], phrases: Phrases) -> list[str]:
    """What is in the circuit and what the label says."""
    said = []
    inside = vehicle.get("refrigerant_text") or blocks.named_refrigerant(vehicle.get("refrigerant"), phrases)
    label = blocks.named_refrigerant(vehicle.get("label_refrigerant"), phrases)
    if inside and label and label != inside:
        said.append(phrases.say("vehicle", "refrigerant_label", refrigerant=inside, label=label))
    elif inside:
        said.append(inside)
    if vehicle.get("charge_spec_g") is not None:
        said.append(phrases.say("vehicle", "charge", mass=phrases.measure("mass", vehicle["charge_spec_g"])))
    if vehicle.get("oil"):
        said.append(phrases.say("vehicle", "oil", oil=vehicle["oil"]))
    return said


def _blocks(visit: Visit, known: tuple[dict[str, Any], dict[str, Any]], tests: list[Test], phrases: Phrases,
            said: dict[str, Any]) -> list[dict[str, Any]]:
    assessment, beside = known
    found: list[tuple[str, dict[str, Any] | None]] = [
        ("void", _void(visit, phrases)),
        *(("readings", block) for block in _readings(visit, assessment, tests, phrases)),
        ("causes", causes.block(assessment, tests, phrases)),
        ("found", blocks.found_and_done(visit, assessment, phrases)),
        ("rests", blocks.rests(visit, assessment, phrases)),
        ("refrigerant", blocks.refrigerant(visit, assessment, phrases)),
        ("photos", photos(visit, beside["photos"], phrases)),
        ("coming", blocks.coming(visit, phrases, said["sentences"][-1])),
        ("price", price.price(visit, phrases)),
        ("shown", shown_verdict.block(visit, assessment, beside["shown"], said, phrases)),
        ("cautions", blocks.cautions(visit, phrases)),
        ("signature", blocks.signature(visit, phrases)),
        ("technician", technician.block(visit, assessment, beside["earlier"], tests, phrases)),
        ("small", small(visit, assessment, tests, phrases)),
    ]
    return [{"name": name, **block} for name, block in found if block]


def _void(visit: Visit, phrases: Phrases) -> dict[str, Any] | None:
    void = visit.get("void")
    if not void:
        return None
    reason = void.get("reason") if isinstance(void, dict) else void
    text = phrases.say("title", "void", reason=str(reason or ""))
    return {"kind": "cautions", "title": "", "texts": [text]}


def _readings(visit: Visit, assessment: dict[str, Any], tests: list[Test], phrases: Phrases) -> list[dict[str, Any]]:
    """The tests side by side with their plots, then any further tests, four to a table."""
    if not tests:
        return []
    main = readings.block(visit, assessment, tests, phrases)
    main["plots"] = plots.plots(assessment, tests, phrases)
    shown = [test["id"] for test in tests]
    others = [test for test in visit.get("tests") or [] if test["id"] not in shown]
    fours = [others[start:start + 4] for start in range(0, len(others), 4)]
    more = [readings.block(visit, assessment, four, phrases) for four in fours]
    return [main, *({**block, "title": phrases.say("section", "readings_more")} for block in more)]
