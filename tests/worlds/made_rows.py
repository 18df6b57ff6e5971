"""Rows for the fit whose middles, offsets and shifts are known because they are made here; no car is behind them."""

from __future__ import annotations

from random import Random

import numpy as np

from tests.worlds.draws import CAUSES
from tests.worlds.features import COLUMNS
from tests.worlds.fit import CODES, NUMBERS, REGIMES, REST, Array, Row

WIDTH = 1 + len(NUMBERS) + len(CODES)
AMBIENT = 1 + NUMBERS.index("ambient")
LOW_BLOWER = 1 + len(NUMBERS) + CODES.index(("blower", "low"))
# How far each cause moves each column; only air in the circuit gives an excess at rest.
SHIFTS = {cause: np.array([2.0 + place, -1.0 - place, 0.5 * place, 3.0, -2.0, 4.0, 0.2, 0.0])
          for place, cause in enumerate(CAUSES[1:])}  # fmt: skip
REST_EXCESS_KPA = 90.0


def slopes(regime: str) -> Array:
    """A healthy car's middle, one row per column: a centre, 0.5 per step of ambient, 3 more with the blower on low."""
    table = np.zeros((len(COLUMNS), WIDTH))
    table[:REST, 0] = 10.0 + REGIMES.index(regime) + np.arange(REST)
    table[:REST, AMBIENT] = 0.5
    table[:REST, LOW_BLOWER] = 3.0
    return table


def _surroundings(rng: Random) -> Array:
    codes = [float(rng.random() < 0.5) for _ in CODES]
    return np.array([1.0, *(rng.uniform(-8.0, 8.0) for _ in NUMBERS), *codes])


def _row(rng: Random, cause: str, regime: str, spread: float) -> Row:
    around, offset = _surroundings(rng), np.array([rng.gauss(0.0, spread) for _ in COLUMNS])
    offset[REST] = 0.0
    healthy = slopes(regime) @ around + offset
    sick = healthy.copy()
    if cause != "healthy":
        sick += SHIFTS[cause]
        sick[REST] = REST_EXCESS_KPA if cause == "non_condensables" else 0.0
    healthy[REST] = np.nan
    return Row(cause, (regime, regime), sick, healthy, around, around)


def rows(seed: int, each: int = 20, spread: float = 0.0) -> list[Row]:
    """`each` rows per cause and regime; whole cars scatter around the middle with standard deviation `spread`."""
    rng = Random(f"made {seed}")
    return [_row(rng, cause, regime, spread) for regime in REGIMES for cause in CAUSES for _ in range(each)]
