"""A vehicle's history as a picture and as a table: where each mark stands, in the reader's units.

The places are worked out here and drawn by the template, as SVG without a script. Nothing is judged.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from math import floor, log10
from typing import NamedTuple, TypedDict

from server.tasks.history_tasks import HistoryTest, HistoryVisit
from sync.kernel.judgement import Expected, Span
from sync.kernel.units import round_half_away
from sync.language.words import Words
from sync.sheet.wording import Phrases

# More than these cannot be told apart in the picture; the table has them all.
VISITS_MOST = 12
WIDTH, LEFT, RIGHT = 1000, 60, 40
PANEL, GAP, TOP, FOOT = 170, 52, 28, 46
LEAST_APART = 70.0
BAND, BOX = 22.0, 14.0
# Nearer marks than these write their figures one above and one below.
APART = 18.0
TICKS = 4


class Ends(TypedDict):
    """A range at one visit: its box [px]."""

    x: float
    y: float
    width: float
    height: float


class PlotMark(TypedDict):
    """A reading: `kind` is ring, dot or diamond; the words beside it."""

    x: float
    y: float
    kind: str
    text: str
    text_y: float


class Tick(TypedDict):
    """A place on an axis and its words."""

    at: float
    text: str


class Panel(TypedDict):
    """One quantity over the visits."""

    name: str
    title: str
    side: str
    top: float
    bottom: float
    ticks: list[Tick]
    fleets: list[Ends]
    charts: list[Ends]
    marks: list[PlotMark]
    path: str
    arrows: list[str]


class Plot(TypedDict):
    """The picture: its size, its panels, and below them the visits by their months and where work was done."""

    width: int
    height: int
    left: int
    right: int
    panels: list[Panel]
    axis: float
    months: list[Tick]
    works: list[float]


class HistoryRow(TypedDict):
    """A visit of the table; of two tests the figures stand one behind the other."""

    visit: str
    day: str
    ambient: str
    low: str
    high: str
    split: str
    vent: str
    work: str
    verdict: str
    test: str
    healthy: bool


class _Quantity(NamedTuple):
    """What a panel shows: a value and what it is held against, of each test."""

    name: str
    quantity: str
    side: str
    value: Callable[[HistoryTest], float | None]
    expected: Callable[[HistoryTest], Expected | None]


class _Scale(NamedTuple):
    """A quantity and where its values stand [px]."""

    quantity: _Quantity
    height: Callable[[float], float]


PANELS = (
    _Quantity("split", "temperature_difference", "high", lambda test: test["split_k"],
              lambda test: test["expected_split"]),
    _Quantity("vent", "temperature", "", lambda test: test["vent_c"], lambda test: test["expected_vent"]),
)  # fmt: skip


def plot_of(visits: list[HistoryVisit], phrases: Phrases, words: Words) -> Plot | None:
    """The picture of a vehicle's history.

    Args:
        visits: its visits, oldest first [HistoryVisit each]
        phrases: words and units of the reader [Phrases]
        words: the words of the desk [Words]

    Returns:
        the places of all marks, None where no visit has a test to show [Plot or None]
    """
    shown = [visit for visit in visits if any(quantity.value(test) is not None for quantity in PANELS
                                              for test in visit["tests"])][-VISITS_MOST:]
    if not shown:
        return None
    places = _places([datetime.fromisoformat(visit["started_at"]) for visit in shown])
    panels: list[Panel] = []
    for quantity in PANELS:
        if any(quantity.value(test) is not None for visit in shown for test in visit["tests"]):
            top = TOP + len(panels) * (PANEL + GAP)
            panels.append(_panel(quantity, list(zip(places, shown, strict=True)), float(top), phrases, words))
    axis = panels[-1]["bottom"] + 22
    months = [Tick(at=place, text=phrases.formats.month(datetime.fromisoformat(visit["started_at"])))
              for place, visit in zip(places, shown, strict=True)]
    works = [place for place, visit in zip(places, shown, strict=True) if visit["moves"]
             or any(code != "tested_only" for code in visit["work"])]
    return {"width": WIDTH, "height": int(axis) + FOOT, "left": LEFT, "right": WIDTH - RIGHT, "panels": panels,
            "axis": axis, "months": _apart(months), "works": works}


def _places(times: list[datetime]) -> list[float]:
    """Where each visit stands by its time, moved on where two would cover each other [px]."""
    stamps = [one.timestamp() for one in times]
    begin, end = LEFT + 40.0, WIDTH - RIGHT - 40.0
    span = stamps[-1] - stamps[0]
    places = [begin + (stamp - stamps[0]) / span * (end - begin) if span else (begin + end) / 2 for stamp in stamps]
    for number in range(1, len(places)):
        places[number] = max(places[number], places[number - 1] + LEAST_APART)
    # What was moved beyond the end comes back, and pushes those before it.
    places[-1] = min(places[-1], end)
    for number in range(len(places) - 1, 0, -1):
        places[number - 1] = min(places[number - 1], places[number] - LEAST_APART)
    return [round(place, 1) for place in places]


def _apart(months: list[Tick]) -> list[Tick]:
    """The months that have room for their words; the same month is written once."""
    kept: list[Tick] = []
    for month in months:
        if not kept or (month["at"] - kept[-1]["at"] >= 130 and month["text"] != kept[-1]["text"]):
            kept.append(month)
    return kept


def _panel(
    quantity: _Quantity, visits: list[tuple[float, HistoryVisit]], top: float, phrases: Phrases, words: Words
) -> Panel:
    def in_unit(value: float) -> float:
        return phrases.in_unit(quantity.quantity, value)

    tests = [test for _, visit in visits for test in visit["tests"] if quantity.value(test) is not None]
    spans = [span for test in tests for span in _spans(quantity.expected(test))]
    values = [in_unit(value) for test in tests if (value := quantity.value(test)) is not None]
    values += [in_unit(end) for span in spans for end in (span["low"], span["high"])]
    steps = _steps(min(values), max(values))
    bottom = top + PANEL

    def height(value: float) -> float:
        return round(bottom - (in_unit(value) - steps[0]) / (steps[-1] - steps[0]) * PANEL, 1)

    panel: Panel = {
        "name": quantity.name, "side": quantity.side, "top": top, "bottom": bottom,
        "title": words.say(f"desk.history.{quantity.name}", unit=phrases.unit("temperature")),
        "ticks": [{"at": round(bottom - (step - steps[0]) / (steps[-1] - steps[0]) * PANEL, 1),
                   "text": phrases.number(step, 0 if step == int(step) else 1)} for step in steps],
        "fleets": [], "charts": [], "marks": [], "path": "", "arrows": [],
    }
    last: list[str] = []
    for place, visit in visits:
        shown = [test for test in visit["tests"] if quantity.value(test) is not None]
        pair = [shown[0], shown[-1]] if len(shown) > 1 else shown
        if not pair:
            continue
        _add_spans(panel, place, quantity.expected(pair[-1]), height)
        for test in pair:
            panel["marks"].append(_mark(place, test, pair, _Scale(quantity, height), phrases))
        ends = [height(quantity.value(test) or 0.0) for test in pair]
        if len(ends) > 1 and abs(ends[0] - ends[1]) > 16:
            way = 1 if ends[1] > ends[0] else -1
            panel["arrows"].append(f"M{place} {ends[0] + 6 * way}V{ends[1] - 6 * way}")
        last.append(f"{place} {ends[-1]}")
    panel["path"] = "M" + "L".join(last) if len(last) > 1 else ""
    return panel


def _spans(expected: Expected | None) -> list[Span]:
    return [span for span in (expected["fleet"], expected["chart"]) if span] if expected else []


def _add_spans(panel: Panel, place: float, expected: Expected | None, height: Callable[[float], float]) -> None:
    """What the last test of a visit is held against, as boxes around its place."""
    for name, half in (("fleet", BAND), ("chart", BOX)):
        span = expected["fleet" if name == "fleet" else "chart"] if expected else None
        if span:
            upper, lower = height(span["high"]), height(span["low"])
            box: Ends = {"x": place - half, "y": upper, "width": 2 * half, "height": round(lower - upper, 1)}
            panel["fleets" if name == "fleet" else "charts"].append(box)


def _mark(place: float, test: HistoryTest, pair: list[HistoryTest], scale: _Scale, phrases: Phrases) -> PlotMark:
    value = scale.quantity.value(test) or 0.0
    y = scale.height(value)
    is_before = len(pair) > 1 and test is pair[0]
    others = [scale.height(scale.quantity.value(one) or 0.0) for one in pair if one is not test]
    is_close = any(abs(y - other) < APART for other in others)
    is_upper = not others or y < others[0] or (y == others[0] and is_before)
    return {"x": place, "y": y, "kind": "diamond" if test["healthy"] else "ring" if is_before else "dot",
            "text": phrases.figure(scale.quantity.quantity, value, 0),
            "text_y": y + 5 if not is_close else y - 4 if is_upper else y + 14}


def _steps(low: float, high: float) -> list[float]:
    """Round numbers from below the lowest to above the highest value."""
    span = max(high - low, 1.0)
    power = 10.0 ** floor(log10(span / TICKS))
    step = next(power * size for size in (1.0, 2.0, 5.0, 10.0) if power * size * TICKS >= span)
    first = floor(low / step) * step
    count = 1
    while first + count * step < high:
        count += 1
    return [round_half_away(first + number * step, 3) for number in range(count + 1)]


def rows_of(visits: list[HistoryVisit], phrases: Phrases, words: Words) -> list[HistoryRow]:
    """The same as a table, the newest visit first.

    Args:
        visits: the vehicle's visits, oldest first [HistoryVisit each]
        phrases: words and units of the reader [Phrases]
        words: the words of the desk [Words]

    Returns:
        a row for each [HistoryRow each]
    """
    return [_table_row(visit, phrases, words) for visit in reversed(visits)]


def _table_row(visit: HistoryVisit, phrases: Phrases, words: Words) -> HistoryRow:
    tests = visit["tests"]
    pair = [tests[0], tests[-1]] if len(tests) > 1 else tests

    def figures(quantity: str, values: list[float | None]) -> str:
        return " · ".join("–" if value is None else phrases.figure(quantity, value) for value in values)

    done = [words.term("work", code) for code in visit["work"]] + [words.term("move", kind) for kind in visit["moves"]]
    return {
        "visit": visit["visit"], "day": phrases.formats.short_day(datetime.fromisoformat(visit["started_at"])),
        "ambient": figures("temperature", [test["ambient_c"] for test in pair]),
        "low": figures("pressure", [test["low_kpa_g"] for test in pair]),
        "high": figures("pressure", [test["high_kpa_g"] for test in pair]),
        "split": figures("temperature_difference", [test["split_k"] for test in pair]),
        "vent": figures("temperature", [test["vent_c"] for test in pair]),
        "work": ", ".join(done), "verdict": visit["gist"]["verdict"], "test": pair[-1]["id"] if pair else "",
        "healthy": bool(pair) and pair[-1]["healthy"],
    }
