"""Integration of many tests at once, and the history of their last minutes.

Steps are 1 s at first and 0.25 s in the window that is read; requests that begin later wait with steps of 0.
"""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from tests.worlds.masses.air import outside_wet_bulb
from tests.worlds.masses.batch import Batch, Flags, Masses, start
from tests.worlds.masses.circuit import Step, step
from tests.worlds.masses.properties import Array

COARSE_S, FINE_S, WINDOW_S = 1.0, 0.25, 360.0
SHOWN = tuple(f.name for f in fields(Step))


def _wait(m: Masses, first: Masses, live: Flags) -> None:
    """Reset the requests that have not begun to their start, so that no test depends on its batch."""
    if live.all():
        return
    for f in fields(Masses):
        setattr(m, f.name, np.where(live, getattr(m, f.name), getattr(first, f.name)))


def integrate(b: Batch) -> tuple[dict[str, Array], Masses]:
    """History [step, request] of what instruments show in the last `WINDOW_S`, and the masses at the end.

    A test shorter than the window has NaN before its start.
    """
    m = start(b)
    wet_bulb_c = outside_wet_bulb(b)
    whole = 60.0 * b.settings.running_min
    count = len(whole)
    window = round(WINDOW_S / FINE_S)
    early = max(int(np.ceil((whole.max() - WINDOW_S) / COARSE_S)), 0)
    history = {name: np.full((window, count), np.nan) for name in SHOWN}
    first = start(b)
    for tick in range(early):
        left = WINDOW_S + (early - tick) * COARSE_S
        step(b, m, np.where(whole >= left, COARSE_S, 1e-9), wet_bulb_c)
        _wait(m, first, whole >= left)
    for tick in range(window):
        left = WINDOW_S - tick * FINE_S
        live = whole >= left - 1e-6
        shown = step(b, m, np.where(live, FINE_S, 1e-9), wet_bulb_c)
        _wait(m, first, live)
        for name in SHOWN:
            history[name][tick] = np.where(live, getattr(shown, name), np.nan)
    return history, m
