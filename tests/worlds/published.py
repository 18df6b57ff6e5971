"""Published tables as visits: what makers print for healthy cars, and what they and common practice print for faults.

Healthy rows stand in the rulebook's `yardsticks` book, faulty ones in `faulty_rows.json`; sources stand beside them.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

Json = dict[str, Any]
FAULTY = Path(__file__).with_name("faulty_rows.json")


@dataclass(frozen=True)
class PublishedRow:
    """A table row: its maker and source, the cause it stands for, the end of its ranges, and the row as a visit."""

    maker: str
    source: str
    cause: str
    end: str
    ambient: float | None
    visit: Json


def _given(names: dict[str, Any]) -> Json:
    there = {name: value for name, value in names.items() if value is not None}
    return {name: float(value) if isinstance(value, int) else value for name, value in there.items()}


def _visit(values: Json) -> Json:
    vehicle = _given({"refrigerant": "R134a", "compressor": values["compressor"], "metering": values["metering"]})
    conditions = _given({name: values[name] for name in ("ambient_c", "humidity_pct", "rpm", "air", "windows")})
    readings = _given({name: values[name] for name in ("low_kpa_g", "high_kpa_g", "vent_c")})
    if values["inlet_c"] is not None:
        readings["return_air_c"] = float(values["inlet_c"])
    return {
        "id": "0198f000-0000-7000-8000-000000000000",
        "schema": 1,
        "started_at": "2025-07-14T09:00:00+02:00",
        "vehicle": vehicle,
        "place": {"altitude_m": 0.0},
        "tests": [{
            "id": "single", "role": "single", "at": "2025-07-14T09:20:00+02:00",
            "conditions": {**conditions, "blower": "high"}, "readings": readings,
        }],
    }  # fmt: skip


def _row(source: Json, values: Json, cause: str) -> PublishedRow:
    return PublishedRow(source["maker"], source["about"], cause, values["end"], values["ambient_c"], _visit(values))


def healthy_rows(rulebook: Any) -> list[PublishedRow]:
    """Every row of the makers' published tables for good cars, each end of its ranges."""
    tables = rulebook["yardsticks"]["published"]
    rows = []
    for cells in tables["rows"]:
        values = dict(zip(tables["columns"], cells, strict=True))
        source = tables["sources"][values["source"]]
        rows.append(_row(source, values, "healthy"))
    return rows


def faulty_rows() -> list[PublishedRow]:
    """Every row of a table of faults, each end of its ranges."""
    tables = json.loads(FAULTY.read_text("utf-8"))
    names = ("source", "cause", "end", "ambient_c", "humidity_pct", "rpm", "compressor", "metering", "air", "low_kpa_g",
             "high_kpa_g", "vent_c", "inlet_c")  # fmt: skip
    rows = []
    for cells in tables["rows"]:
        values = {**dict(zip(names, cells, strict=True)), "windows": "open"}
        source = tables["sources"][values["source"]]
        rows.append(_row(source, values, values["cause"]))
    return rows
