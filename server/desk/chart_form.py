"""The maker's chart as a form of the desk: cells from a chart, and a chart from cells.

Nothing here asks for or files a chart; the shapes of the wire say what a valid chart is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, cast

from sync.errors import LaybyError
from sync.kernel.books import Rulebook
from sync.kernel.json_tree import Json, JsonObject
from sync.kernel.units import from_canonical, round_half_away, to_canonical
from sync.kernel.vehicle import Chart
from sync.language.reader import words_of
from sync.work.typed_values import Unreadable, read_number

ROWS_MOST = 12
SOURCE_MOST = 200
DECIMALS = 4
UNITS = {"pressure": ["kpa", "psi", "bar"], "temperature": ["c", "f"]}
CHOICES = ("blower", "air", "windows")
# The columns of a row: field, quantity, whether it has two ends. Their titles are `desk.vehicle.column` in the words.
COLUMNS = [
    ("ambient_c", "temperature", False),
    ("low_kpa_g", "pressure", True),
    ("high_kpa_g", "pressure", True),
    ("vent_c", "temperature", True),
    ("humidity_pct", None, False),
    ("inlet_c", "temperature", False),
]

Cells = dict[str, str]


class CellFault(LaybyError):
    """What is wrong in one place of the form."""

    def __init__(self, code: str, **values: Any) -> None:
        self.code = code
        super().__init__(**values)


@dataclass
class ChartForm:
    """What a person typed into the form, and the result; `chart` is None if nothing was typed."""

    cells: Cells
    chart: Chart | None
    faults: list[LaybyError]

    def sentences(self, rulebook: Rulebook) -> list[str]:
        """What is wrong, where, and what to do [texts]."""
        return [words_of(rulebook).error(one) for one in self.faults]


def cells_of(chart: Chart | None, units: dict[str, str], rulebook: Rulebook) -> Cells:
    """The cells of a chart.

    Args:
        chart: what is on file, or None [Chart]
        units: the unit in which a person reads each quantity [codes by quantity]
        rulebook: the rulebook [books by name]

    Returns:
        texts by the names of the form's fields, including the units [texts by name]
    """
    cells: Cells = {**units}
    if chart is None:
        return cells
    values = cast(JsonObject, chart)
    cells |= {name: str(values[name]) for name in ("source", *CHOICES) if values.get(name) is not None}
    if chart.get("rpm") is not None:
        cells["rpm"] = f"{chart['rpm']:g}"
    for number, row in enumerate(chart["rows"]):
        for name, quantity, _ in COLUMNS:
            value = cast(JsonObject, row).get(name)
            ends = value if isinstance(value, list) else [value]
            for end, one in enumerate(ends):
                if isinstance(one, (int, float)):
                    cells[f"{name}.{number}.{end}"] = _written(float(one), quantity, units, rulebook)
    return cells


def _written(value: float, quantity: str | None, units: dict[str, str], rulebook: Rulebook) -> str:
    number = value if quantity is None else from_canonical(quantity, units[quantity], value, rulebook)
    return f"{round_half_away(number, DECIMALS):.{DECIMALS}f}".rstrip("0").rstrip(".")


def read_form(typed: Cells, rulebook: Rulebook) -> ChartForm:
    """The chart that was typed, or everything that is wrong with it.

    Args:
        typed: texts by the names of the form's fields [texts by name]
        rulebook: the rulebook [books by name]

    Returns:
        what was typed, with its chart or its faults; neither if nothing was typed [ChartForm]
    """
    units = units_of(typed)
    reader = _Reader(typed, units, rulebook)
    settings = reader.settings()
    rows = [row for number in range(ROWS_MOST) if (row := reader.row(number))]
    if settings and not rows:
        reader.faults.append(CellFault("chart_no_rows"))
    chart = cast(Chart, {**settings, "rows": rows}) if rows and not reader.faults else None
    return ChartForm({**typed, **units}, chart, reader.faults)


def units_of(wanted: Mapping[str, object]) -> dict[str, str]:
    """The units that the form can show, from those that somebody wants [codes by quantity]."""
    return {quantity: str(wanted[quantity]) if wanted.get(quantity) in codes else codes[0]
            for quantity, codes in UNITS.items()}


class _Reader:
    """The reading of one form; errors collect in `faults`."""

    def __init__(self, cells: Cells, units: dict[str, str], rulebook: Rulebook) -> None:
        self.cells = cells
        self.units = units
        self.rulebook = rulebook
        self.words = words_of(rulebook)
        self.faults: list[LaybyError] = []

    def text(self, name: str) -> str:
        return self.cells.get(name, "").strip()

    def settings(self) -> JsonObject:
        settings: JsonObject = {}
        source, rpm = self.text("source"), self.number("rpm", self.words.say("desk.vehicle.rpm"), None)
        if len(source) > SOURCE_MOST:
            self.faults.append(CellFault("chart_source_long", limit=SOURCE_MOST))
        elif source:
            settings["source"] = source
        if rpm is not None:
            settings["rpm"] = rpm
        for name in CHOICES:
            if self.text(name) in self.rulebook["vocabularies"][name]:
                settings[name] = self.text(name)
        return settings

    def row(self, number: int) -> JsonObject:
        """One row; {} if nothing in it can be read."""
        row: JsonObject = {}
        is_typed = False
        for name, quantity, is_range in COLUMNS:
            column, cell = self.words.say(f"desk.vehicle.column.{name}"), f"{name}.{number}"
            where = self.words.say("desk.vehicle.cell", row=number + 1, column=column)
            names = [f"{cell}.{end}" for end in range(2 if is_range else 1)]
            ends = [self.number(one, where, quantity) for one in names]
            is_typed = is_typed or any(self.text(one) for one in names)
            if is_range and any(self.text(one) for one in names):
                self.look_at_range(where, [self.text(one) for one in names], ends)
                row[name] = list[Json](ends)
            elif not is_range and ends[0] is not None:
                row[name] = ends[0]
        if is_typed and not self.text(f"ambient_c.{number}.0"):
            where = self.words.say("desk.vehicle.place", row=number + 1)
            self.faults.append(CellFault("chart_no_ambient", where=where))
        return row

    def look_at_range(self, where: str, texts: list[str], ends: list[float | None]) -> None:
        low, high = ends
        if not all(texts):
            self.faults.append(CellFault("chart_half_range", where=where))
        elif low is not None and high is not None and low > high:
            self.faults.append(CellFault("chart_range_reversed", where=where, low=texts[0], high=texts[1]))

    def number(self, name: str, where: str, quantity: str | None) -> float | None:
        text = self.text(name)
        if not text:
            return None
        try:
            number = read_number(text, where)
        except Unreadable as error:
            self.faults.append(error)
            return None
        return number if quantity is None else to_canonical(quantity, self.units[quantity], number, self.rulebook)
