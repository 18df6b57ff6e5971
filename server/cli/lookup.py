"""The commands for what is on file: finding visits; showing, correcting and merging cards of vehicles and customers.

Nothing is looked up or written here; the tasks do that, in whichever process holds the folder.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any, cast

from server.cli.language import DESK, say, words
from server.process.dispatch import desk
from server.tasks.desk_words import chart_words
from sync.kernel.vehicle import Chart

Arguments = argparse.Namespace


def find(arguments: Arguments) -> int:
    """Find visits by plate, VIN, customer's name or day."""
    rows = desk(arguments, "find", text=" ".join(arguments.text))
    for visit in rows["visits"]:
        name = " · ".join(str(visit[key]) for key in ("customer", "vehicle", "plate", "vin") if visit[key])
        print(f"{visit['day'] or '':10}  {name}\n            {visit['id']}")
        ids = " · ".join(say(f"find.{what}", id=visit[f"{what}_id"]) for what in ("vehicle", "customer")
                         if visit[f"{what}_id"])
        if ids:
            print(f"            {ids}")
    if rows["more"]:
        print(say("find.more"))
    if not rows["visits"]:
        print(say("find.none"))
    return 0


def _words(value: Any) -> str:
    """A field's value on one line: a chart by its rows and source."""
    return chart_words(cast(Chart, value), words(DESK)) if isinstance(value, dict) and "rows" in value else str(value)


def _show(card: dict[str, Any]) -> int:
    """Print a card; 1 if corrections conflict and a person has to say which one counts."""
    print(", ".join(card.get("ids") or [card["id"]]))
    for name, value in sorted(card["fields"].items()):
        print("  " + say("card.field", name=name, value=_words(value)))
    for conflict in card["conflicts"]:
        values = "; ".join(_words(claim["value"]) for claim in conflict["values"])
        print("  " + say("card.conflict", field=conflict["pointer"][1:], values=values))
    for visit in card["visits"]:
        print("  " + say("card.visit", id=visit))
    return 1 if card["conflicts"] else 0


def card(arguments: Arguments) -> int:
    """Show what is known of a vehicle or customer; if fields are given, correct them first."""
    fields = dict(pair.partition("=")[::2] for pair in arguments.fields)
    return _show(desk(arguments, "card", what=arguments.what, id=arguments.id, fields=fields))


def amend(arguments: Arguments) -> int:
    """Show the fields of a visit, or correct one part of it with the reason why."""
    from sync import rulebook
    from sync.work.visit_sections import SECTIONS, TEST, fields_of

    typed = dict(pair.partition("=")[::2] for pair in arguments.fields)
    if typed:
        count = desk(arguments, "amend", visit=arguments.visit, section=str(arguments.part), typed=typed,
                     why=arguments.why or "")
        print(say("amend.done", count=count) if count else say("amend.same"))
        return 0
    visit = desk(arguments, "visit", id=arguments.visit)["visit"]
    tests = [f"{TEST}.{test['id']}" for test in visit.get("tests") or []]
    loaded = rulebook.load()
    for part in [arguments.part] if arguments.part else [*(name for name in SECTIONS if name != TEST), *tests]:
        print(part)
        for field in fields_of(part, visit, loaded):
            print("  " + say("card.field", name=field.name, value=field.text))
    return 0


def conflicts(arguments: Arguments) -> int:
    """List what has to be settled, or set a refused entry aside."""
    if arguments.aside:
        desk(arguments, "aside", number=arguments.aside)
        return 0
    found = desk(arguments, "conflicts")
    for one in found["disagreements"]:
        print(f"{one['what']} {one['id']}  {one['conflict']['pointer'][1:].replace('/', '.')}")
        for value in one["conflict"]["values"]:
            print(f"       {value['op']}  {_words(value['value'])}")
    for one in found["refused"]:
        print(say("conflicts.refused", number=one["number"], visit=one["visit"] or "–", why=one["problem"]["detail"]))
    if not found["disagreements"] and not found["refused"]:
        print(say("conflicts.none"))
    return 1 if found["disagreements"] or found["refused"] else 0


def settle(arguments: Arguments) -> int:
    """Say which of the entries that disagree counts."""
    desk(arguments, "settle", what=arguments.what, id=arguments.id, entry=arguments.entry)
    return 0


def log(arguments: Arguments) -> int:
    """Read a logger's file for a test of a visit, and add its entries to the log of the test."""
    file = Path(arguments.file).resolve()
    file.open("rb").close()
    match = arguments.columns.split(",") if arguments.columns is not None else None
    view = desk(arguments, "log", visit=arguments.visit, test=arguments.test, file=str(file), match=match,
                zero=arguments.zero or "", add=arguments.add)
    for number, column in enumerate(view["columns"], start=1):
        print(say("log.column", number=number, name=column["name"], match=column["match"] or say("log.unused"),
                  values=" · ".join(column["firsts"])))
    for line in (*view["faults"], *view["sums"], *view["left_out"]):
        print(line)
    if view["more"]:
        print(words(DESK).say("loggers.more", count=view["more"]))
    if view["count"]:
        print(say("log.added", count=view["added"]) if view["added"] else say("log.add"))
    return 0 if view["count"] else 1


def merge(arguments: Arguments) -> int:
    """Say that one customer was entered twice; the visits of both show under the one that is kept."""
    return _show(desk(arguments, "merge", keep=arguments.keep, drop=arguments.drop))
