"""The sheet's block of readings: the tests side by side, row by row, and the plots that belong to them.

It takes what was read and what was calculated; it judges nothing and draws nothing.
"""

from __future__ import annotations

from typing import NamedTuple

from sync.kernel.judgement import Assessment, JudgedTest
from sync.kernel.visit import Conditions, Test, Typed, Visit
from sync.sheet.sheet_data import Cell, ReadingsBlock, ReadingsRow
from sync.sheet.sheet_rows import SheetRow, sheet_rows
from sync.sheet.wording import Phrases, clock

LONGEST_TYPED = 2
# ± on the sheet covers about 95 of 100 cases, as on the phone (JCGM 100:2008, 6.3.3).
COVERAGE = 2.0

# Minutes pass by themselves: a difference in them isn't a different setting.
COUNTED = ("rinsed_min_ago", "running_min")

Setting = bool | float | str | None


class Column(NamedTuple):
    """A test of the table, its judgement, and what was typed into the visit's fields."""

    test: Test
    judged: JudgedTest
    typed: dict[str, Typed]


def pair_of(visit: Visit, assessment: Assessment) -> list[Test]:
    """The tests that the sheet sets side by side: the compared pair, otherwise the last before and the last after.

    Args:
        visit: the visit [Visit]
        assessment: its judgement [Assessment]

    Returns:
        one or two tests; none if no test was made [list]
    """
    tests = visit.get("tests") or []
    by_id = {test["id"]: test for test in tests}
    comparison = assessment["comparison"]
    pair = comparison["pair"] if comparison else []
    if len(pair) == 2 and all(name in by_id for name in pair):
        return [by_id[name] for name in pair]
    last = {role: [test for test in tests if test["role"] == role][-1:] for role in ("before", "after")}
    if last["before"] and last["after"]:
        return last["before"] + last["after"]
    return last["before"] or last["after"] or tests[-1:]


def block(visit: Visit, assessment: Assessment, tests: list[Test], phrases: Phrases) -> ReadingsBlock:
    """One block of readings with the tests as columns.

    Args:
        visit: the visit [Visit]
        assessment: its judgement [Assessment]
        tests: one to four tests of the visit [list]
        phrases: words and units of the reader [Phrases]

    Returns:
        the block, without plots [ReadingsBlock]
    """
    settings, differing, counted = _conditions(tests, phrases)
    judged = {test["id"]: test for test in assessment["tests"]}
    columns = [Column(test, judged[test["id"]], visit.get("typed") or {}) for test in tests]
    read = [row for spec in sheet_rows(phrases.rulebook) if (row := _row(spec, columns, phrases))]
    rows = differing + read + counted
    return {
        "name": "readings",
        "kind": "readings",
        "title": phrases.say("section", "readings" if len(tests) > 1 else "readings_one"),
        "settings": settings,
        "head": phrases.alone("reading"),
        "columns": [_head(test, tests, phrases) for test in tests],
        "rows": rows,
        "spreads": any(cell["spread"] for row in rows for cell in row["cells"]),
        "titles": {"yardstick": phrases.say("plot", "yardstick_title"),
                   "change": phrases.say("plot", "change_title", unit=phrases.unit("pressure")),
                   "trace": phrases.say("plot", "trace_title")},
        "plots": [],
        "notes": [],
    }


def value_at(test: Test, path: str) -> float | None:
    """The number that a test holds at a dotted path; None if it wasn't taken."""
    node: object = test
    for name in path.split("."):
        node = node.get(name) if isinstance(node, dict) else None
    return node if isinstance(node, int | float) else None


def cell(text: str, spread: str = "", strong: bool = False, quiet: bool = False) -> Cell:
    """One figure of the table; `spread` is its uncertainty, `quiet` prints it in the second ink."""
    return {"text": text, "spread": spread, "strong": strong, "quiet": quiet, "across": 1}


def _head(test: Test, tests: list[Test], phrases: Phrases) -> str:
    role = phrases.code("role", test["role"])
    alike = [other for other in tests if other["role"] == test["role"]]
    return phrases.alone("role_at", role=role, time=clock(test["at"])) if len(alike) > 1 else role


def _row(spec: SheetRow, columns: list[Column], phrases: Phrases) -> ReadingsRow | None:
    """A line of the table; None if nobody took the reading and the line needn't stay."""
    figures = [_figure(spec, column, phrases) for column in columns]
    if not any(figures) and not spec.place.get("kept"):
        return None
    missing = cell(phrases.alone("not_taken"), quiet=True)
    cells = [figure or missing for figure in figures]
    if not any(figures):
        cells = [{**missing, "across": len(columns)}]
    label = phrases.code("row", spec.label)
    unit = phrases.unit(spec.quantity) if spec.quantity else _suffix(spec, phrases)
    if unit:
        label = phrases.alone("row_unit", label=label, unit=unit)
    return {"label": label, "side": spec.side, "cells": cells}


def _suffix(spec: SheetRow, phrases: Phrases) -> str:
    """The unit of a figure that has only one, such as %."""
    return phrases.words.say(f"fields.suffix.{spec.suffix}") if spec.suffix else ""


def _figure(spec: SheetRow, column: Column, phrases: Phrases) -> Cell | None:
    strong = bool(spec.place.get("strong"))
    if spec.derived:
        figure = column.judged["derived"].get(spec.derived)
        if not figure:
            return None
        spread = _spread(spec, figure["u"], phrases)
        return cell(_written(spec, figure["value"], None, phrases), spread, strong)
    path = spec.path or ""
    value = value_at(column.test, path)
    if value is None:
        return None
    typed = column.typed.get(f"{column.test['id']}.{path.rsplit('.', 1)[1]}")
    return cell(_written(spec, value, typed, phrases), strong=strong)


def _written(spec: SheetRow, value: float, typed: Typed | None, phrases: Phrases) -> str:
    if not spec.quantity:
        return phrases.number(value, spec.decimals)
    decimals = phrases.decimals(spec.quantity)
    if typed and typed.get("unit") == phrases.unit_of(spec.quantity):
        decimals = max(decimals, typed_decimals(typed["text"]))
    return phrases.figure(spec.quantity, value, decimals)


def typed_decimals(text: str) -> int:
    """How finely the technician read: the number of decimals typed, with point or comma."""
    fraction = text.strip().replace(",", ".").partition(".")[2]
    return min(len(fraction), LONGEST_TYPED) if fraction.isdigit() else 0


def _spread(spec: SheetRow, u: float, phrases: Phrases) -> str:
    if not u:
        return ""
    if not spec.quantity:
        return f"±\u00a0{phrases.number(COVERAGE * u, spec.decimals)}"
    quantity = "temperature_difference" if spec.quantity == "temperature" else spec.quantity
    return f"±\u00a0{phrases.figure(quantity, COVERAGE * u)}"


def _conditions(tests: list[Test], phrases: Phrases) -> tuple[str, list[ReadingsRow], list[ReadingsRow]]:
    """The settings all tests share as one phrase, a row for each that differs, and rows for those that are numbers."""
    shared: list[str] = []
    rows: list[ReadingsRow] = []
    counted: list[ReadingsRow] = []
    for name in phrases.rulebook["sheet_layout"]["conditions"]:
        values = [_setting(test.get("conditions") or {}, name) for test in tests]
        if all(value is None for value in values):
            continue
        words = [_condition(name, value, phrases) for value in values]
        if all(word == words[0] for word in words):
            shared.append(phrases.say("condition_phrase", name, value=words[0]))
        else:
            cells = [cell(word or _unsaid(name, test, phrases), quiet=not word)
                     for word, test in zip(words, tests, strict=True)]
            numbers = any(isinstance(value, int | float) and not isinstance(value, bool) for value in values)
            (counted if numbers else rows).append(
                {"label": phrases.code("condition_row", name), "side": "", "cells": cells})
    key = ("same" if len(tests) > 1 else "one") if shared else "none"
    return phrases.say("settings", key, settings=phrases.row(shared)), rows, counted


def settings_differ(tests: list[Test], phrases: Phrases) -> bool:
    """Whether a setting differed in one of the tests, or was recorded in only one of them."""
    return any(len({_setting(test.get("conditions") or {}, name) for test in tests}) > 1
               for name in phrases.rulebook["sheet_layout"]["conditions"] if name not in COUNTED)


def _setting(conditions: Conditions, name: str) -> Setting:
    value = dict(conditions).get(name)
    return value if isinstance(value, bool | int | float | str) else None


def _unsaid(name: str, test: Test, phrases: Phrases) -> str:
    """A setting that nobody noted; before the work there was no rinse to note."""
    before_any = name == "rinsed_min_ago" and test["role"] == "before"
    return phrases.alone("not_rinsed") if before_any else phrases.alone("not_noted")


def _condition(name: str, value: Setting, phrases: Phrases) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return phrases.say(f"condition_yes_no.{name}", "yes" if value else "no")
    if isinstance(value, int | float):
        return phrases.number(value, 0)
    return phrases.code("condition_value", value)
