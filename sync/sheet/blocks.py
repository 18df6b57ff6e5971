"""The sheet's blocks below the readings: found and done, refrigerant, checks, advice, cautions, signature.

Each function turns one part of a visit into plain data for the page, or None when there is nothing to say.
"""

from __future__ import annotations

from typing import Any

from sync.kernel.cautions import cautions_for
from sync.sheet.wording import Phrases, clock, sentence

Visit = dict[str, Any]
Block = dict[str, Any]


def paragraph(text: str, lead: str = "") -> dict[str, str]:
    """A paragraph; `lead` is printed before it in strong type."""
    return {"lead": lead, "text": text}


def prose(title: str, columns: list[list[dict[str, str]]]) -> Block | None:
    """A block of paragraphs in columns, None when all columns are empty."""
    held = [column for column in columns if column]
    return {"kind": "prose", "title": title, "columns": held} if held else None


def table(title: str, columns: list[dict[str, str]], rows: list[list[str]]) -> Block:
    """A block with a table, its first column naming the row."""
    return {"kind": "table", "title": title, "columns": columns, "rows": rows, "totals": [], "notes": []}


def found_and_done(visit: Visit, assessment: dict[str, Any], phrases: Phrases) -> Block | None:
    """What was seen and done on the left; what was looked at, and readings that cannot be right together, beside it."""
    mixed = (assessment.get("cleaner") or {}).get("findings") or []
    done = _seen(visit, phrases) + _work(visit, phrases)
    done += [paragraph(phrases.code("cleaner_finding", code)) for code in mixed]
    faults, looked_at = _faults(assessment, phrases), _checks(visit, phrases)
    title = phrases.say("section", "found" if done or faults else "checks")
    return prose(title, [done, looked_at + faults])


def _seen(visit: Visit, phrases: Phrases) -> list[dict[str, str]]:
    tests = visit.get("tests") or []
    codes = dict.fromkeys(code for test in tests for code in test.get("observed") or [])
    found = []
    if codes:
        text = sentence(phrases.row([phrases.code("observed", code) for code in codes])) + "."
        found.append(paragraph(text, phrases.say("found", "observed")))
    notes = [test["note"] for test in tests if test.get("note")]
    return found + [paragraph(note, phrases.say("found", "note")) for note in notes]


def _work(visit: Visit, phrases: Phrases) -> list[dict[str, str]]:
    found = []
    for item in visit.get("work") or []:
        more = _work_more(item, phrases)
        text = sentence(phrases.code("work", item["code"])) + (f" ({phrases.row(more)})" if more else "") + "."
        note = item.get("note")
        found.append(paragraph(f"{text} {note}" if note else text))
    return found


def _work_more(item: dict[str, Any], phrases: Phrases) -> list[str]:
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
        key = "passes_one" if cleaner["passes"] == 1 else "passes"
        more.append(phrases.say("work_more", key, value=plain(cleaner["passes"], phrases)))
    return more


def plain(value: float, phrases: Phrases) -> str:
    """A number with no more decimals than it has, two at most."""
    return phrases.number(value, next((n for n in (0, 1) if round(float(value), n) == float(value)), 2))


def _faults(assessment: dict[str, Any], phrases: Phrases) -> list[dict[str, str]]:
    found: list[dict[str, str]] = []
    for entry in assessment.get("tests") or []:
        for fault in entry.get("faults") or []:
            text = phrases.say("found", "fault", role=sentence(phrases.code("role", entry.get("role") or "single")),
                               what=phrases.code("fault", fault["code"]))
            found.append(paragraph(text, "" if found else phrases.say("found", "faults")))
    return found


def rests(visit: Visit, assessment: dict[str, Any], phrases: Phrases) -> Block | None:
    """Readings with the engine off, a row each."""
    fields = (("low", "low_kpa_g", "pressure"), ("high", "high_kpa_g", "pressure"), ("metal", "metal_c", "temperature"),
              ("air", "air_c", "temperature"))
    taken = visit.get("rests") or []
    used = [field for field in fields if any(rest.get(field[1]) is not None for rest in taken)]
    if not taken or not used:
        return None
    columns = [{"text": phrases.say("rest_column", "at"), "kind": "text"}]
    columns += [{"text": phrases.say("rest_column", name, unit=phrases.unit(quantity)), "kind": "value"}
                for name, _, quantity in used]
    rows = [[clock(rest["at"]) if rest.get("at") else "", *(
        phrases.words["not_taken"] if rest.get(field) is None else phrases.figure(quantity, rest[field])
        for _, field, quantity in used)] for rest in taken]
    block = table(phrases.say("section", "rests"), columns, rows)
    found = assessment.get("rest")
    if found:
        excess = (found.get("excess_kpa") or {}).get("value") or 0.0
        said = phrases.measure("pressure", abs(excess))
        block["notes"].append(phrases.code("rest_finding", found["finding"]).format(excess=said))
    return block


def refrigerant(visit: Visit, assessment: dict[str, Any], phrases: Phrases) -> Block | None:
    """Refrigerant, oil, gas and vacuum: what was moved or proved, by mass."""
    moves = visit.get("refrigerant_moves") or []
    if not moves:
        return None
    kinds = {"what": "text", "refrigerant": "text", "amount": "value", "more": "text"}
    columns = [{"text": phrases.say("move_column", name), "kind": kind} for name, kind in kinds.items()]
    rows = [[sentence(phrases.code("move", move["kind"])), named_refrigerant(move.get("refrigerant"), phrases),
             _amount(move, phrases), sentence(phrases.row(_move_more(move, phrases)))] for move in moves]
    block = table(phrases.say("section", "refrigerant"), columns, rows)
    vacuum = assessment.get("vacuum")
    if vacuum:
        block["notes"].append(phrases.code("vacuum_finding", vacuum["finding"]))
    block["notes"] += _climate(moves, assessment.get("co2e") or [], phrases)
    return block


def _climate(moves: list[dict[str, Any]], effects: list[dict[str, Any]], phrases: Phrases) -> list[str]:
    """The carbon dioxide equivalent of each mass moved; out and in are never added up."""
    kinds = {move["id"]: phrases.code("move", move["kind"]) for move in moves}
    texts = []
    for report in dict.fromkeys(entry["report"] for entry in effects):
        said = [phrases.words["co2e_move"].format(what=kinds[entry["move"]], kg=phrases.number(entry["kg"], 1))
                for entry in effects if entry["report"] == report]
        texts.append(phrases.words["co2e"].format(report=report, moves=phrases.row(said)))
    return texts


def named_refrigerant(code: str | None, phrases: Phrases) -> str:
    """A refrigerant as people write it, empty when none is named."""
    if not code:
        return ""
    known = phrases.rulebook["refrigerants"].get("refrigerants", {}).get(code) or {}
    return str(known.get("label") or phrases.code("refrigerant", code))


def _amount(move: dict[str, Any], phrases: Phrases) -> str:
    if move.get("grams") is not None:
        return phrases.measure("mass", move["grams"])
    return f"{plain(move['ml'], phrases)}\u00a0ml" if move.get("ml") is not None else ""


def _move_more(move: dict[str, Any], phrases: Phrases) -> list[str]:
    before, after = move.get("cylinder_before_g"), move.get("cylinder_after_g")
    more = [phrases.say("move_more", name, value=str(move[name]))
            for name in ("quality", "cylinder", "result", "by") if move.get(name)]
    if before is not None and after is not None:
        more.append(phrases.say("move_more", "cylinder_masses", before=phrases.measure("mass", before),
                                after=phrases.measure("mass", after)))
    for name, field in (("pressure", "pressure_pa"), ("rise", "rise_pa")):
        if move.get(field) is not None:
            more.append(phrases.say("move_more", name, value=f"{plain(move[field], phrases)}\u00a0Pa"))
    for name, field in (("held", "held_min"), ("purity", "purity_pct"), ("air", "air_pct")):
        if move.get(field) is not None:
            more.append(phrases.say("move_more", name, value=plain(move[field], phrases)))
    return more


def _checks(visit: Visit, phrases: Phrases) -> list[dict[str, str]]:
    """What was looked at, by how it was found: faults first."""
    found = []
    for state in ("fault", "ok", "not_seen"):
        held = [item for item in visit.get("checks") or [] if item.get("state") == state]
        words = [phrases.words["check_note"].format(check=phrases.code("check", item["code"]), note=item["note"])
                 if item.get("note") else phrases.code("check", item["code"]) for item in held]
        if words:
            found.append(paragraph(sentence(phrases.row(words)) + ".", phrases.code("check_state", state)))
    return found


def coming(visit: Visit, phrases: Phrases, said: str) -> Block | None:
    """Outcome, advice and the next visit; `said` is the outcome's sentence when the result told it already."""
    found = []
    outcome = visit.get("outcome")
    if outcome and phrases.code("outcome", outcome) != said:
        found.append(paragraph(phrases.code("outcome", outcome), phrases.say("next", "outcome")))
    texts = [item["text"] for item in visit.get("advice") or [] if item.get("text")]
    found += [paragraph(text, "" if number else phrases.say("next", "advice")) for number, text in enumerate(texts)]
    if visit.get("next_visit"):
        found.append(paragraph(_day(str(visit["next_visit"]), phrases), phrases.say("next", "visit")))
    return prose(phrases.say("section", "next"), [found])


def _day(text: str, phrases: Phrases) -> str:
    """A date written out; anything else as it stands."""
    parts = text[:10].split("-")
    return phrases.date(text) if len(parts) == 3 and all(part.isdigit() for part in parts) else text


def cautions(visit: Visit, phrases: Phrases) -> Block:
    """The cautions that fit this vehicle and this work, as a customer needs them; the rulebook says when each fits."""
    own = {"cautions": {"cautions": phrases.rulebook["sheet_words"]["own_notes"]}}
    fitting = [entry["code"] for entry in cautions_for(visit, own)]
    codes = [] if "opened" in fitting else ["closed"]
    codes += [entry["code"] for entry in cautions_for(visit, phrases.rulebook)]
    codes += [code for code in fitting if code != "opened"]
    texts = [phrases.say("note", code) for code in codes if code in phrases.words["note"]]
    return {"kind": "cautions", "title": phrases.say("section", "cautions"), "texts": texts}


def signature(visit: Visit, phrases: Phrases) -> Block | None:
    """Who signed, what was agreed, and the strokes as drawn."""
    signed, agreed = visit.get("signature") or {}, visit.get("consent") or []
    strokes = [places for stroke in signed.get("strokes") or [] if (places := _places(stroke))]
    if not signed and not agreed:
        return None
    name, texts = signed.get("name") or "", []
    if agreed:
        what = phrases.listed([phrases.code("consent", item["code"]) for item in agreed])
        texts.append(phrases.say("signature", "agreed", what=what) if signed else
                     sentence(phrases.say("signature", "unsigned", what=what)))
    if name and signed.get("at"):
        texts.append(phrases.say("signature", "text", name=name, date=phrases.date(signed["at"])))
    title = phrases.say("section", "signature" if signed else "agreed")
    return {"kind": "signature", "title": title, "text": "\n".join(texts), "strokes": strokes,
            "alt": phrases.say("signature", "alt", name=name)}


def _places(stroke: list[Any]) -> list[list[float]]:
    """A stroke as [x, y] places, whether it came as pairs or as one row of numbers."""
    flat = [number for part in stroke for number in (part[:2] if isinstance(part, list) else [part])]
    return [[float(flat[place]), float(flat[place + 1])] for place in range(0, len(flat) - 1, 2)]
