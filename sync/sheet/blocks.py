"""The sheet's blocks below the readings: found and done, refrigerant, checks, advice, cautions, signature.

Each function turns one part of a visit into plain data for the page, or None if there is nothing to say.
"""

from __future__ import annotations

from collections.abc import Sequence

from sync.kernel.books import CautionRow, Rulebook
from sync.kernel.cautions import cautions_for
from sync.kernel.judgement import Assessment, Co2Equivalent
from sync.kernel.signing import signed_otherwise
from sync.kernel.vehicle import Vehicle
from sync.kernel.visit import Move, Rest, Stroke, Test, Visit, Work
from sync.sheet.causes import judged_before
from sync.sheet.price import digits_of, money
from sync.sheet.sheet_data import Paragraph, ProseBlock, SignatureBlock, TableBlock, TableColumn, TextsBlock
from sync.sheet.wording import Phrases, clock, sentence

CHECK_STATES = ("fault", "ok", "not_seen")
REST_COLUMNS = (("low", "pressure"), ("high", "pressure"), ("metal", "temperature"), ("air", "temperature"))


def paragraph(text: str, lead: str = "") -> Paragraph:
    """A paragraph; `lead` is printed before it in strong type."""
    return {"lead": lead, "text": text}


def prose(name: str, title: str, paragraphs: list[Paragraph]) -> ProseBlock | None:
    """A block of paragraphs; None without one."""
    return {"name": name, "kind": "prose", "title": title, "paragraphs": paragraphs} if paragraphs else None


def table(name: str, title: str, columns: list[TableColumn], rows: list[list[str]]) -> TableBlock:
    """A block with a table, its first column naming the row."""
    return {"name": name, "kind": "table", "title": title, "columns": columns, "rows": rows, "notes": []}


def vehicle_name(vehicle: Vehicle) -> str:
    """Year, make and model, as far as they are known."""
    return " ".join(str(part) for part in (vehicle.get("year"), vehicle.get("make"), vehicle.get("model")) if part)


def vin(vehicle: Vehicle, phrases: Phrases) -> list[str]:
    """The vehicle's VIN, if known."""
    return [phrases.say("vehicle", "vin", vin=vehicle["vin"])] if vehicle.get("vin") else []


def filling(vehicle: Vehicle, phrases: Phrases) -> list[str]:
    """What is in the circuit and what the label says, as far as they are known."""
    texts = []
    inside = vehicle.get("refrigerant_text") or named_refrigerant(vehicle.get("refrigerant"), phrases)
    label = named_refrigerant(vehicle.get("label_refrigerant"), phrases)
    if inside and label and label != inside:
        texts.append(phrases.say("vehicle", "refrigerant_label", refrigerant=inside, label=label))
    elif inside:
        unknown = vehicle.get("refrigerant") == "unknown" and not vehicle.get("refrigerant_text")
        texts.append(phrases.say("vehicle", "refrigerant_unknown") if unknown else inside)
    if vehicle.get("charge_spec_g") is not None:
        texts.append(phrases.say("vehicle", "charge", mass=phrases.measure("mass", vehicle["charge_spec_g"])))
    if vehicle.get("oil"):
        texts.append(phrases.say("vehicle", "oil", oil=vehicle["oil"]))
    return texts


def in_full(vehicle: Vehicle, phrases: Phrases) -> list[str]:
    """The vehicle's number and filling, one line each."""
    return [*vin(vehicle, phrases), *([phrases.row(filling(vehicle, phrases))] if filling(vehicle, phrases) else [])]


def found_and_done(visit: Visit, assessment: Assessment, tests: list[Test], phrases: Phrases) -> ProseBlock | None:
    """What a customer is told was found and done; the whole of it if no page for the technician follows.

    Args:
        visit: the visit [Visit]
        assessment: its judgement [Assessment]
        tests: the tests set side by side; none if no page follows [list]
        phrases: words and units of the reader [Phrases]

    Returns:
        the block; None if nothing was found or done [ProseBlock]
    """
    alone = not tests
    paragraphs = _cause(assessment, tests, phrases) + _seen(visit, phrases)
    paragraphs += _checks(visit, CHECK_STATES if alone else CHECK_STATES[:1], phrases)
    done = _done(visit, alone, phrases)
    paragraphs += done + (_remarks(visit, assessment, phrases) if alone else _moved(visit, phrases))
    return prose("found", phrases.say("section", "found_and_done" if done else "found"), paragraphs)


def details(visit: Visit, assessment: Assessment, phrases: Phrases) -> ProseBlock | None:
    """What the next technician may want to know about the work: how it was done, what was in order, notes, slips."""
    work = [item for item in visit.get("work") or [] if _work_more(item, phrases)]
    paragraphs = [paragraph(_worked(item, True, phrases)) for item in work]
    paragraphs += _remarks(visit, assessment, phrases) + _checks(visit, CHECK_STATES[1:], phrases)
    return prose("details", phrases.say("section", "details"), paragraphs)


def _cause(assessment: Assessment, tests: list[Test], phrases: Phrases) -> list[Paragraph]:
    """What was wrong before the work, if it can be told; with only one test the page already begins with that."""
    test = judged_before(assessment, tests) if len(tests) > 1 else None
    if test is None or test["causes"][0]["id"] == "healthy":
        return []
    if test["undecided"]:
        return [paragraph(phrases.say("found", "open"))]
    return [paragraph(phrases.cause(f"causes.{test['causes'][0]['id']}", "customer"))]


def _remarks(visit: Visit, assessment: Assessment, phrases: Phrases) -> list[Paragraph]:
    """What there is to say about the cleaner and the readings, and what was noted at the tests."""
    cleaner = assessment["cleaner"]
    codes = cleaner["findings"] if cleaner else []
    notes = [test["note"] for test in visit.get("tests") or [] if test.get("note")]
    return [*(paragraph(phrases.code("cleaner_finding", code)) for code in codes), *_faults(assessment, phrases),
            *(paragraph(note, phrases.say("found", "note")) for note in notes)]


def _seen(visit: Visit, phrases: Phrases) -> list[Paragraph]:
    codes = dict.fromkeys(code for test in visit.get("tests") or [] for code in test.get("observed") or [])
    if not codes:
        return []
    text = phrases.row([phrases.code("observed", code) for code in codes]) + "."
    return [paragraph(text, phrases.say("found", "observed"))]


def _done(visit: Visit, whole: bool, phrases: Phrases) -> list[Paragraph]:
    return [paragraph(_worked(item, whole, phrases)) for item in visit.get("work") or []]


def _worked(item: Work, whole: bool, phrases: Phrases) -> str:
    """A piece of work with its note; `whole` also says how it was done, where the note is already printed."""
    more = _work_more(item, phrases) if whole else []
    text = sentence(phrases.code("work", item["code"])) + (f" ({phrases.row(more)})" if more else "") + "."
    return f"{text} {item['note']}" if item.get("note") else text


def _moved(visit: Visit, phrases: Phrases) -> list[Paragraph]:
    """What was moved, by mass, in one line; the table is on the technician's page."""
    moves = [phrases.say("found", "move", what=phrases.code("move", move["kind"]),
                         amount=phrases.measure("mass", move["grams"]))
             for move in visit.get("refrigerant_moves") or [] if move.get("grams") is not None]
    return [paragraph(phrases.row(moves) + ".", phrases.say("found", "moved"))] if moves else []


def _work_more(item: Work, phrases: Phrases) -> list[str]:
    cleaner = item.get("cleaner") or {}
    more: list[str] = []
    if item.get("minutes") is not None:
        more.append(phrases.say("work_more", "minutes", value=phrases.number(item["minutes"], 0)))
    if item.get("by"):
        more.append(phrases.say("work_more", "by", value=item["by"]))
    if cleaner.get("parts_cleaner") is not None and cleaner.get("parts_water") is not None:
        more.append(phrases.say("work_more", "mix", cleaner=plain(cleaner["parts_cleaner"], phrases),
                                water=plain(cleaner["parts_water"], phrases)))
    if cleaner.get("made_ml") is not None:
        more.append(phrases.say("work_more", "made", value=f"{phrases.number(cleaner['made_ml'], 0)}\u00a0ml"))
    if cleaner.get("dwell_min") is not None:
        more.append(phrases.say("work_more", "dwell", value=plain(cleaner["dwell_min"], phrases)))
    if cleaner.get("passes") is not None:
        more.append(phrases.say("work_more", "passes", count=cleaner["passes"]))
    return more


def plain(value: float, phrases: Phrases) -> str:
    """A number with no more decimals than it has, at most two."""
    return phrases.number(value, next((n for n in (0, 1) if round(float(value), n) == float(value)), 2))


def _faults(assessment: Assessment, phrases: Phrases) -> list[Paragraph]:
    paragraphs: list[Paragraph] = []
    for test in assessment["tests"]:
        for fault in test["faults"]:
            text = phrases.say("found", "fault", role=sentence(phrases.code("role", test["role"])),
                               what=phrases.code("fault", fault["code"]))
            paragraphs.append(paragraph(text, "" if paragraphs else phrases.say("found", "faults")))
    return paragraphs


def rests(visit: Visit, assessment: Assessment, phrases: Phrases) -> TableBlock | None:
    """Readings with the engine off, one row each."""
    entries = visit.get("rests") or []
    figures = [_rest_figures(rest, phrases) for rest in entries]
    used = [place for place in range(len(REST_COLUMNS)) if any(row[place] for row in figures)]
    if not used:
        return None
    columns: list[TableColumn] = [{"text": phrases.say("rest_column", "at"), "kind": "text"}]
    for name, quantity in (REST_COLUMNS[place] for place in used):
        columns.append({"text": phrases.say("rest_column", name, unit=phrases.unit(quantity)), "kind": "value"})
    rows = [[clock(rest["at"]) if rest.get("at") else "", *(row[place] or phrases.alone("not_taken") for place in used)]
            for rest, row in zip(entries, figures, strict=True)]
    block = table("rests", phrases.say("section", "rests"), columns, rows)
    judgement = assessment["rest"]
    if judgement:
        excess = judgement["excess_kpa"]
        text = phrases.measure("pressure", abs(excess["value"] if excess else 0.0))
        block["notes"].append(phrases.code("rest_finding", judgement["finding"]).format(excess=text))
    return block


def _rest_figures(rest: Rest, phrases: Phrases) -> list[str]:
    """A rest reading's figures in the order of the columns; empty if one wasn't taken."""
    values = (rest.get("low_kpa_g"), rest.get("high_kpa_g"), rest.get("metal_c"), rest.get("air_c"))
    return ["" if value is None else phrases.figure(quantity, value)
            for value, (_, quantity) in zip(values, REST_COLUMNS, strict=True)]


def refrigerant(visit: Visit, assessment: Assessment, phrases: Phrases) -> TableBlock | None:
    """Refrigerant, oil, gas and vacuum: what was moved or proved, by mass."""
    moves = visit.get("refrigerant_moves") or []
    if not moves:
        return None
    kinds = {"what": "text", "refrigerant": "text", "amount": "value", "more": "text"}
    columns: list[TableColumn] = [{"text": phrases.say("move_column", name), "kind": kind}
                                  for name, kind in kinds.items()]
    rows = [[sentence(phrases.code("move", move["kind"])), named_refrigerant(move.get("refrigerant"), phrases),
             _amount(move, phrases), sentence(phrases.row(_move_more(move, phrases)))] for move in moves]
    block = table("refrigerant", phrases.say("section", "refrigerant"), columns, rows)
    vacuum = assessment["vacuum"]
    if vacuum:
        block["notes"].append(phrases.code("vacuum_finding", vacuum["finding"]))
    block["notes"] += _climate(moves, assessment["co2e"], phrases)
    return block


def _climate(moves: list[Move], effects: list[Co2Equivalent], phrases: Phrases) -> list[str]:
    """The carbon dioxide equivalent of each mass moved; out and in are never added together."""
    kinds = {move["id"]: phrases.code("move", move["kind"]) for move in moves}
    texts = []
    for report in dict.fromkeys(effect["report"] for effect in effects):
        masses = [phrases.alone("co2e_move", what=kinds[effect["move"]], kg=phrases.number(effect["kg"], 1))
                  for effect in effects if effect["report"] == report]
        texts.append(phrases.alone("co2e", report=report, moves=phrases.row(masses)))
    return texts


def named_refrigerant(code: str | None, phrases: Phrases) -> str:
    """A refrigerant as people write it; empty if none is named."""
    if not code:
        return ""
    return phrases.code("refrigerant", code)


def _amount(move: Move, phrases: Phrases) -> str:
    if move.get("grams") is not None:
        return phrases.measure("mass", move["grams"])
    return f"{plain(move['ml'], phrases)}\u00a0ml" if move.get("ml") is not None else ""


def _move_more(move: Move, phrases: Phrases) -> list[str]:
    texts = {"quality": move.get("quality"), "cylinder": move.get("cylinder"), "result": move.get("result"),
             "by": move.get("by")}
    more = [phrases.say("move_more", name, value=text) for name, text in texts.items() if text]
    before, after = move.get("cylinder_before_g"), move.get("cylinder_after_g")
    if before is not None and after is not None:
        more.append(phrases.say("move_more", "cylinder_masses", before=phrases.measure("mass", before),
                                after=phrases.measure("mass", after)))
    measured = (("pressure", move.get("pressure_pa"), "\u00a0Pa"), ("rise", move.get("rise_pa"), "\u00a0Pa"),
                ("held", move.get("held_min"), ""), ("purity", move.get("purity_pct"), ""),
                ("air", move.get("air_pct"), ""))
    return more + [phrases.say("move_more", name, value=plain(value, phrases) + unit)
                   for name, value, unit in measured if value is not None]


def _checks(visit: Visit, states: Sequence[str], phrases: Phrases) -> list[Paragraph]:
    """What was looked at, grouped by the result."""
    paragraphs = []
    for state in states:
        checks = [check for check in visit.get("checks") or [] if check.get("state") == state]
        words = [phrases.alone("check_note", check=phrases.code("check", check["code"]), note=check["note"])
                 if check.get("note") else phrases.code("check", check["code"]) for check in checks]
        if words:
            paragraphs.append(paragraph(phrases.row(words) + ".", phrases.code("check_state", state)))
    return paragraphs


def coming(visit: Visit, tests: list[Test], phrases: Phrases) -> ProseBlock | None:
    """Outcome, advice and the next visit; without a test the page already begins with the outcome."""
    outcome = visit.get("outcome")
    paragraphs = [paragraph(phrases.code("outcome", outcome))] if outcome and tests and outcome != "done" else []
    paragraphs += [paragraph(item["text"]) for item in visit.get("advice") or [] if item.get("text")]
    if visit.get("next_visit"):
        paragraphs.append(paragraph(_day(visit["next_visit"], phrases), phrases.say("next", "visit")))
    return prose("coming", phrases.say("section", "next"), paragraphs)


def _day(text: str, phrases: Phrases) -> str:
    """A date written out; anything else as it is."""
    parts = text[:10].split("-")
    return phrases.date(text) if len(parts) == 3 and all(part.isdigit() for part in parts) else text


def cautions(visit: Visit, phrases: Phrases) -> TextsBlock:
    """The cautions that fit this vehicle and this work, as a customer needs them; the rulebook says when each fits."""
    layout = phrases.rulebook["sheet_layout"]
    notes: list[CautionRow] = [{"code": note["code"], "when": note["when"]} for note in layout["notes"]]
    own_notes: Rulebook = {**phrases.rulebook, "cautions": {"cautions": notes}}
    fitting = _caution_codes(visit, own_notes)
    codes = [] if "opened" in fitting else ["closed"]
    codes += _caution_codes(visit, phrases.rulebook)
    codes += [code for code in fitting if code != "opened"]
    texts = [phrases.say("note", code) for code in codes if phrases.has("note", code)]
    return {"name": "cautions", "kind": "cautions", "title": phrases.say("section", "cautions"), "texts": texts}


def _caution_codes(visit: Visit, rulebook: Rulebook) -> list[str]:
    return cautions_for(visit, rulebook)


def signature(visit: Visit, phrases: Phrases) -> SignatureBlock | None:
    """The signature as drawn, who signed for what, and what was agreed."""
    signed, agreed = visit.get("signature") or {}, visit.get("consent") or []
    strokes = [places for stroke in signed.get("strokes") or [] if (places := _places(stroke))]
    if not signed and not agreed:
        return None
    name = signed.get("name") or ""
    lines = []
    if name and signed.get("at"):
        lines.append(phrases.say("signature", "text", name=name, date=phrases.date(signed["at"]),
                                 time=clock(signed["at"])))
    lines += _signed_for(visit, phrases)
    if agreed:
        what = phrases.listed([phrases.code("consent", item["code"]) for item in agreed])
        lines.append(phrases.say("signature", "agreed" if signed else "unsigned", what=what))
    return {"name": "signature", "kind": "signature", "lines": lines, "strokes": strokes,
            "alt": phrases.say("signature", "alt", name=name)}


def _signed_for(visit: Visit, phrases: Phrases) -> list[str]:
    """The work and the sum as they were when they were signed for, and whether the bill has changed since."""
    signed = visit.get("signature") or {}
    work, total = signed.get("work") or "", signed.get("sum") or ""
    if not work and not total:
        return []
    text = money(total, visit, phrases) if total else ""
    key = "for_work_and_sum" if work and total else "for_work" if work else "for_sum"
    line = phrases.say("signature", key, work=work, sum=text)
    changed = signed_otherwise(visit, digits_of(visit, phrases))
    if not changed:
        return [line]
    key = "changed_bill_work" if len(changed) > 1 else f"changed_{changed[0]}"
    return [f"{line} {phrases.say('signature', key)}"]


def _places(stroke: Stroke) -> list[list[float]]:
    """A stroke as [x, y] places, whether it came in pairs or as one row of numbers."""
    flat = [number for part in stroke for number in (part[:2] if isinstance(part, list) else [part])]
    return [[float(flat[place]), float(flat[place + 1])] for place in range(0, len(flat) - 1, 2)]
