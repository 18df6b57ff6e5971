"""Fits the rulebook's `distribution` book to cases of several worlds and published tables, all in equal parts.

    python -m tests.worlds.fit --write

A report names what is left out of the fit; nothing here reads a verdict.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sync.rulebook import FOLDER, load
from tests.worlds.draws import CAUSES
from tests.worlds.features import COLUMNS, quantities_of
from tests.worlds.published import healthy_rows
from tests.worlds.stock import stock
from tests.worlds.writing import READING_SETS

Json = dict[str, Any]
Array = NDArray[np.float64]
# Maker, quantities and surroundings of rows of published tables.
Published = Sequence[tuple[str, Array, Array]]

REGIMES = ("regulated", "cycling", "stays_on")
NUMBERS = ("ambient", "entering", "humidity", "speed")
CODES = (
    ("blower", "low"), ("blower", "high"), ("air", "outside"), ("refrigerant", "R1234yf"), ("suction_at", "compressor"),
    ("exchanger", "fitted"), ("high_port", "liquid"), ("high_port", "discharge"), ("compressor", "variable_internal"),
    ("compressor", "variable_external"), ("compressor", "electric"), ("metering", "orifice_tube"),
)  # fmt: skip
REST = len(COLUMNS) - 1
SHARE = COLUMNS.index("on_share")
# What shifts are rounded to [unit of the column].
SHIFT_STEP, SHARE_STEP = 0.5, 0.01
# The fleet's columns that published tables cover.
PRINTED = ("low_saturation_c", "condenser_split_k", "vent_over_evaporating_k")


@dataclass(frozen=True)
class Options:
    """The free choices of the fit; chosen on worlds that are part of it, never by what is left out.

    `shifts` is the maximum number of shifts of a cause in a regime, `few` how many cases a shift needs, `car` for each
    column a standard deviation by which a whole car may be off beyond the worlds' own [unit of each column], `ridge`
    the pull of a middle's slopes toward zero [cases].
    """

    shifts: int = 3
    few: int = 8
    ridge: float = 3.0
    car: tuple[float, ...] = (0.5, 0.8, 0.5, 0.5, 0.5, 1.0, 0.02, 0.6)
    weather: tuple[float, ...] = (0.7, 1.0, 0.7, 1.0, 1.0, 2.0, 0.03, 5.0)


@dataclass(frozen=True)
class Row:
    """One case: its cause, its regime and its twin's, and the quantities and surroundings of both."""

    cause: str
    regimes: tuple[str, str]
    sick: Array
    twin: Array
    around: Array
    twin_around: Array


def regime_of(kind: str, running: str) -> str:
    """The regime of a compressor by how it is regulated and runs [code]."""
    if not kind.startswith("cycling"):
        return "regulated"
    return "cycling" if running == "cycling" else "stays_on"


def around_of(settings: Json) -> Array:
    """A one, the settings' numbers, and a one for each code that applies."""
    numbers = [settings["numbers"][name] for name in NUMBERS]
    return np.array([1.0, *numbers, *(1.0 if settings["codes"][name] == code else 0.0 for name, code in CODES)])


def _perfect(visit: Json, truth: Json, which: str) -> Json:
    """The visit as true instruments would have read the faulty car or its twin."""
    test = visit["tests"][0]
    readings = {name: value for reading_set in READING_SETS for name, value in truth[which][reading_set].items()}
    conditions = {**test["conditions"], **truth["conditions"]}
    return {**visit, "tests": [{**test, "conditions": conditions, "readings": readings}]}


def row_of(case: Any, rulebook: Any) -> Row:
    """What the fit uses of a case."""
    truth, visit = case.truth, case.visits["all"]
    values, settings = [], []
    for which in ("sick", "twin"):
        quantities, surroundings = quantities_of(_perfect(visit, truth, which), rulebook)
        values.append(np.array([np.nan if quantities[name] is None else quantities[name] for name in COLUMNS]))
        settings.append(around_of(surroundings))
    if truth["cause"] == "non_condensables":
        # The visit's reading at rest is the faulty car's; its twin has no air in it.
        values[1][REST] = np.nan
    regimes = (regime_of(truth["kind"], truth["running"]), regime_of(truth["kind"], truth["twin_running"]))
    return Row(truth["cause"], regimes, values[0], values[1], settings[0], settings[1])


def _slopes(rows: Sequence[Row], weights: Array, ridge: float) -> Array:
    """A healthy car's middle by surroundings, one row per column."""
    around = np.array([row.twin_around for row in rows])
    values = np.array([row.twin for row in rows])
    pull = ridge * np.eye(around.shape[1])
    pull[0, 0] = 0.01
    slopes = np.zeros((len(COLUMNS), around.shape[1]))
    for column in range(REST):
        there = ~np.isnan(values[:, column])
        if there.sum() > 2 * around.shape[1]:
            x, w = around[there], weights[there]
            slopes[column] = np.linalg.solve(x.T @ (w[:, None] * x) + pull, x.T @ (w * values[there, column]))
    return slopes


def _second_moments(residuals: Array, weights: Array) -> Array:
    """Mean products of residuals, for each pair of columns where both are known."""
    there = ~np.isnan(residuals)
    filled = np.where(there, residuals, 0.0)
    counts = (there * weights[:, None]).T @ there
    return (filled * weights[:, None]).T @ filled / np.maximum(counts, 1.0)


def clusters(points: Array, count: int) -> tuple[Array, Array]:
    """Means of `count` groups of near points, and the group of each; started along the widest direction."""
    centred = points - points.mean(0)
    widest = np.linalg.svd(centred, full_matrices=False)[2][0]
    along = centred @ widest
    marks = np.quantile(along, (np.arange(count) + 0.5) / count)
    means = np.array([points[np.argmin(np.abs(along - mark))] for mark in marks])
    nearest = np.zeros(len(points), dtype=int)
    for _ in range(60):
        nearest = ((points[:, None] - means[None]) ** 2).sum(-1).argmin(1)
        moved = np.array([points[nearest == i].mean(0) if (nearest == i).any() else means[i] for i in range(count)])
        if np.allclose(moved, means):
            break
        means = moved
    return means, nearest


class Fit:
    """Middles, fleet, shifts and scatter for each regime, from rows of worlds in equal parts."""

    def __init__(
        self, worlds: Sequence[Sequence[Row]], published: Published, options: Options
    ) -> None:
        self.options = options
        self.slopes: dict[str, Array] = {}
        self.fleet: dict[str, Array] = {}
        self.shifts: dict[str, dict[str, Array]] = {}
        self.scatter: dict[str, Array] = {}
        for regime in REGIMES:
            self._middles(regime, worlds, published)
        for regime in REGIMES:
            self._causes(regime, worlds)
        self._borrow()

    def _middles(self, regime: str, worlds: Sequence[Sequence[Row]], published: Published) -> None:
        rows, weights = [], []
        for world in worlds:
            mine = [row for row in world if row.regimes[1] == regime]
            rows += mine
            weights += [1.0 / max(len(mine), 1)] * len(mine)
        weight = np.array(weights) * len(rows) / len(worlds)
        slopes = _slopes(rows, weight, self.options.ridge)
        if published and regime != "cycling":
            slopes = _towards(slopes, published)
        residuals = np.array([row.twin - slopes @ row.twin_around for row in rows])
        fleet = _second_moments(residuals, weight)
        if published and regime != "cycling":
            fleet = _with_published(fleet, slopes, published)
        self.slopes[regime] = slopes
        self.fleet[regime] = _sound(fleet + np.diag(np.square(self.options.car)))

    def _moves(self, regime: str, worlds: Sequence[Sequence[Row]]) -> dict[str, list[Array]]:
        """How far each cause moved its cars, compared with the same cars when healthy."""
        moves: dict[str, list[Array]] = {cause: [] for cause in CAUSES[1:]}
        for world in worlds:
            for row in world:
                if row.cause == "healthy" or row.regimes[0] != regime:
                    continue
                healthy = row.twin - self.slopes[row.regimes[1]] @ row.twin_around
                move = row.sick - self.slopes[regime] @ row.around - healthy
                move[REST] = row.sick[REST] if row.cause == "non_condensables" else 0.0
                moves[row.cause].append(move)
        return moves

    def _causes(self, regime: str, worlds: Sequence[Sequence[Row]]) -> None:
        scale = np.array([1.5, 2.0, 1.5, 2.5, 2.5, 4.0, 0.1, 15.0])
        self.shifts[regime] = {"healthy": np.zeros((1, len(COLUMNS)))}
        left: list[Array] = []
        for cause, moves in self._moves(regime, worlds).items():
            if len(moves) < self.options.few:
                continue
            points = np.array(moves)
            means = np.nan_to_num(np.nanmean(np.where(np.isnan(points).all(0), 0.0, points), axis=0))
            points = np.where(np.isnan(points), means, points)
            count = min(self.options.shifts, max(1, len(points) // self.options.few))
            shifts, nearest = clusters(points / scale, count)
            self.shifts[regime][cause] = shifts * scale
            left.append(points - shifts[nearest] * scale)
        rest = np.vstack(left)
        self.scatter[regime] = _sound(rest.T @ rest / len(rest))

    def _borrow(self) -> None:
        """A cause with few cases in a regime moves cars there as it does elsewhere."""
        for regime in REGIMES:
            for cause in CAUSES:
                for other in ("stays_on", "regulated", "cycling"):
                    if cause not in self.shifts[regime] and cause in self.shifts[other]:
                        self.shifts[regime][cause] = self.shifts[other][cause]

    def book(self, book: Json) -> Json:
        """The `distribution` book with this fit's figures in place of its own."""
        return {
            **book,
            "weather": list(self.options.weather),
            "middles": {regime: _middle_rows(self.slopes[regime]) for regime in REGIMES},
            "fleet": {regime: _triangle(self.fleet[regime]) for regime in REGIMES},
            "scatter": {regime: _triangle(self.scatter[regime]) for regime in REGIMES},
            "shifts": {
                regime: {cause: _rounded(self.shifts[regime][cause]) for cause in CAUSES} for regime in REGIMES
            },
        }


def _residuals(slopes: Array, published: Published) -> tuple[Array, Array]:
    """How published rows lie around the middles, with equal weight for each maker."""
    makers = [maker for maker, _, _ in published]
    weights = np.array([1.0 / makers.count(maker) for maker in makers])
    residuals = np.array([values - slopes @ around for _, values, around in published])
    return residuals, weights * len(makers) / weights.sum()


def _towards(slopes: Array, published: Published) -> Array:
    """Middles moved half way to those of published tables where those have data; the slopes stay the worlds'."""
    residuals, weights = _residuals(slopes, published)
    moved = slopes.copy()
    for name in PRINTED:
        column = COLUMNS.index(name)
        there = ~np.isnan(residuals[:, column])
        moved[column, 0] += 0.5 * np.average(residuals[there, column], weights=weights[there])
    return moved


def _with_published(fleet: Array, slopes: Array, published: Published) -> Array:
    """The fleet's second moments, half from the worlds and half from published tables where those have data."""
    printed = _second_moments(*_residuals(slopes, published))
    places = [COLUMNS.index(name) for name in PRINTED]
    before = np.sqrt(np.diag(fleet))
    joined = fleet.copy()
    for i in places:
        for j in places:
            joined[i, j] = (fleet[i, j] + printed[i, j]) / 2.0
    # Everything else that the columns share keeps its correlation.
    after = np.sqrt(np.diag(joined))
    for i in places:
        for j in range(len(COLUMNS)):
            if j not in places:
                joined[i, j] = joined[j, i] = fleet[i, j] * after[i] / max(before[i], 1e-9)
    return joined


def _sound(matrix: Array) -> Array:
    """The nearest covariance whose smallest variance is a thousandth of a unit squared."""
    values, vectors = np.linalg.eigh((matrix + matrix.T) / 2.0)
    return np.asarray((vectors * np.maximum(values, 1e-3)) @ vectors.T)


def _digits(value: float, column: int) -> float:
    return round(float(value), 2 if column == SHARE else 1) + 0.0


def _rounded(shifts: Array) -> list[list[float]]:
    """Half a unit is far below their scatter, and every digit is downloaded."""
    steps = [SHARE_STEP if column == SHARE else SHIFT_STEP for column in range(len(COLUMNS))]
    return [[round(round(float(value) / step) * step, 2) + 0.0 for value, step in zip(shift, steps, strict=True)]
            for shift in shifts]  # fmt: skip


def _triangle(matrix: Array) -> list[list[float]]:
    rows = []
    for i in range(len(matrix)):
        rows.append([round(float(matrix[i, j]), 3 if SHARE in (i, j) else 1) + 0.0 for j in range(i + 1)])
    return rows


def _middle_rows(slopes: Array) -> Json:
    rows: Json = {}
    for column, name in enumerate(COLUMNS):
        values = [_digits(value, column) for value in slopes[column]]
        by: dict[str, dict[str, float]] = {}
        for (code_name, code), value in zip(CODES, values[1 + len(NUMBERS) :], strict=True):
            if value:
                by.setdefault(code_name, {})[code] = value
        per = {name: value for name, value in zip(NUMBERS, values[1:], strict=False) if value}
        rows[name] = {"centre": values[0], "per": per, "by": by}
    return rows


def published_rows(rulebook: Any, without: str | None = None) -> list[tuple[str, Array, Array]]:
    """Quantities and surroundings of the middles of the published tables, leaving out those of one maker."""
    rows = []
    for row in healthy_rows(rulebook):
        if row.maker != without and row.end == "middle" and row.ambient is not None:
            quantities, settings = quantities_of(row.visit, rulebook)
            values = np.array([np.nan if quantities[name] is None else quantities[name] for name in COLUMNS])
            rows.append((row.maker, values, around_of(settings)))
    return rows


def text_of(book: Json) -> str:
    """The book as committed: one line for each matrix row, shift or middle."""
    lines = ["{"]
    for place, (name, value) in enumerate(book.items()):
        last = "" if place == len(book) - 1 else ","
        if name in ("middles", "fleet", "scatter", "shifts", "observed"):
            lines.append(f"  {json.dumps(name)}: {{")
            lines += _nested(value, 4)
            lines.append("  }" + last)
        else:
            lines.append(f"  {json.dumps(name)}: {json.dumps(value, ensure_ascii=False)}{last}")
    return "\n".join([*lines, "}"]) + "\n"


def _nested(value: Json, indent: int) -> list[str]:
    lines = []
    for place, (name, inner) in enumerate(value.items()):
        last = "" if place == len(value) - 1 else ","
        if isinstance(inner, dict) and len(json.dumps(inner)) > 300:
            lines.append(f"{' ' * indent}{json.dumps(name)}: {{")
            lines += _nested(inner, indent + 2)
            lines.append(f"{' ' * indent}}}{last}")
        else:
            lines.append(f"{' ' * indent}{json.dumps(name)}: {json.dumps(inner)}{last}")
    return lines


def fitted(worlds: Sequence[Sequence[Row]], rulebook: Any, options: Options, without: str | None = None) -> Json:
    """The `distribution` book fitted to worlds and published tables, leaving out a maker's if one is named."""
    return Fit(worlds, published_rows(rulebook, without), options).book(rulebook["distribution"])


def main() -> None:
    """Fit on all worlds; print the book, or write it if asked."""
    parser = argparse.ArgumentParser(description="Sets the rulebook's distribution book on all worlds.")
    parser.add_argument("--cases", type=int, default=2400, help="cases of each world")
    parser.add_argument("--seed", type=int, default=11, help="another number draws other cars")
    parser.add_argument("--write", action="store_true", help="write the book into the rulebook instead of printing it")
    wanted = parser.parse_args()
    rulebook = load()
    worlds = [[row_of(case, rulebook) for case in cases] for cases in stock(wanted.seed, wanted.cases).values()]
    text = text_of(fitted(worlds, rulebook, Options()))
    if wanted.write:
        Path(FOLDER / "distribution.json").write_text(text, "utf-8")
    else:
        sys.stdout.write(text)


if __name__ == "__main__":
    main()
