"""Damped Newton's method on many small systems at once, with steps of bounded length and a search along each.

Cars that do not settle are led to their faults in steps from their healthy state. It must not know physics beyond
the first guess.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tests.worlds.zones.batch import Batch
from tests.worlds.zones.circuit import HIGHEST, LOWEST, UNKNOWNS, evaluate
from tests.worlds.zones.props import Array

NUDGE = np.array([0.01, 0.01, 1e-4, 1e-4, 1e-4, 1e-4, 0.01, 1e-6])
LONGEST = np.array([5.0, 6.0, 0.12, 0.3, 0.25, 0.5, 6.0, 0.004])
TRIALS = np.array([1.0, 0.5, 0.2, 0.05])
SETTLED = 1e-6
ROUNDS = 48
PATIENCE = 12


def first_guess(b: Batch, share: float = 0.6, iced: bool = False) -> Array:
    """Unknowns (8, n) of a car at ordinary load, or at another share of it."""
    x = b.x
    n = len(b.fluid)
    z = np.empty((UNKNOWNS, n))
    fan = np.clip(x["m_air_c"] / x["air_c"], 0.05, 1.2)
    z[0] = np.clip(x["ambient_c"] * 0.3 - 4.0, -5.0, 10.0)
    if iced:  # an iced coil may have two states; the one where ice lasts is tried first
        z[0] = np.where(x["ice"] > 0, -4.0 + x["set_point_k"], z[0])
    z[1] = np.minimum(x["inlet_c"] + (8.0 + 14.0 * share) / fan**0.6, 80.0)
    z[2] = np.where(x["orifice"] > 0, 0.12, 0.06)
    z[3] = np.clip(0.5 + 2.0 * (x["charge_share"] - 1), -0.2, 1.1)
    z[4] = share
    z[5] = np.log(x["flow_0"] * np.where(b.cycling, 0.9, 0.2 + 0.8 * share))
    z[6] = x["ambient_c"] - 3.0 * (1 - x["open"])
    z[7] = x["w_out"] * (0.7 + 0.3 * x["open"])
    return np.clip(z, LOWEST[:, None], HIGHEST[:, None])


def _residual(b: Batch, z: Array) -> Array:
    """Residuals; NaN where a trial point is undefined, so that it is never chosen."""
    with np.errstate(all="ignore"):
        return evaluate(b, z).residual


def _norm(residual: Array) -> Array:
    return np.asarray(np.sqrt(np.nansum(residual**2, axis=0)) + np.where(np.isnan(residual).any(axis=0), 1e6, 0.0))


def _direction(b: Batch, z: Array) -> tuple[Array, Array]:
    """Newton's step (8, n), bounded in length, and the residual's norm."""
    trial = np.repeat(z[:, None, :], UNKNOWNS + 1, axis=1)
    for k in range(UNKNOWNS):
        trial[k, k + 1] += np.where(z[k] + NUDGE[k] > HIGHEST[k], -NUDGE[k], NUDGE[k])
    f = _residual(b, trial)
    delta = np.stack([trial[k, k + 1] - z[k] for k in range(UNKNOWNS)])
    jacobian = np.moveaxis((f[:, 1:] - f[:, :1]) / delta[None], 2, 0)
    jacobian = np.nan_to_num(jacobian, nan=0.0, posinf=0.0, neginf=0.0)
    # a little of the diagonal keeps the switch points of the store and the regulation solvable
    normal = np.einsum("nij,nik->njk", jacobian, jacobian)
    scale = np.einsum("njj->nj", normal)
    normal = normal + np.eye(UNKNOWNS)[None] * (1e-10 * scale[:, None, :] + 1e-12)
    right = -np.einsum("nij,in->nj", jacobian, np.nan_to_num(f[:, 0]))
    step = np.linalg.solve(normal, right[..., None])[..., 0].T
    ratio = np.max(np.abs(step) / LONGEST[:, None], axis=0)
    return step / np.maximum(ratio, 1.0), _norm(f[:, 0])


def _search(b: Batch, z: Array, step: Array, norm: Array, turn: int) -> tuple[Array, Array]:
    """The best of some lengths of a step: unknowns (8, n) and norms of their residuals."""
    trial = z[:, None, :] + step[:, None, :] * TRIALS[None, :, None]
    trial = np.clip(trial, LOWEST[:, None, None], HIGHEST[:, None, None])
    norms = _norm(_residual(b, trial))
    best = np.argmin(norms, axis=0)
    # every sixth step is taken as it is: a search alone can get stuck in a corner
    best = np.where((turn % 6 == 5) & (norms.min(axis=0) > 0.7 * norm), 1, best)
    cars = np.arange(z.shape[1])
    return trial[:, best, cars], norms[best, cars]


def newton(b: Batch, z: Array, rounds: int = ROUNDS) -> tuple[Array, Array]:
    """Unknowns and norms of the residuals after at most `rounds` steps; cars that have settled are left out."""
    z = z.copy()
    norm, mark = np.full(z.shape[1], np.inf), np.full(z.shape[1], np.inf)
    open_: NDArray[np.intp] = np.arange(z.shape[1])
    for turn in range(rounds):
        part = b.part(open_)
        here = z[:, open_]
        step, norm[open_] = _direction(part, here)
        keep = norm[open_] > SETTLED
        if not keep.any():
            break
        chosen, reached = _search(part, here, step, norm[open_], turn)
        z[:, open_] = np.where(keep, chosen, here)
        norm[open_] = np.where(keep, reached, norm[open_])
        open_ = open_[keep]
        if turn % PATIENCE == PATIENCE - 1:  # cars that get nowhere are left to another attempt
            open_ = open_[norm[open_] < 0.7 * mark[open_]]
            mark[open_] = norm[open_]
    return z, norm


def solve(b: Batch) -> tuple[Array, Array]:
    """Unknowns (8, n) and norms of the residuals, directly or by the attempts below."""
    z, norm = newton(b, first_guess(b, iced=True))
    for attempt in (_saturated, _low, _lead):
        # a condenser too full of liquid to condense has no steady state to find, nor, mostly, has one this hot
        full = (z[3] > 1.4) & (b["charge_share"] > 1.2)
        hot = (z[1] > 80.0) & (attempt is _lead)
        late = np.flatnonzero((norm > SETTLED) & ((attempt is _saturated) | ~(full | hot)))
        if len(late):
            _keep(z, norm, late, attempt(b, late))
    return z, norm


def _saturated(b: Batch, late: NDArray[np.intp]) -> tuple[Array, Array]:
    """From the state with the compressor held at full displacement, which is often the answer itself."""
    part = b.part(late)
    part.x["pin"] = np.ones(len(late))
    here, _ = newton(part, first_guess(part, 1.0))
    return newton(b.part(late), here)


def _low(b: Batch, late: NDArray[np.intp]) -> tuple[Array, Array]:
    """From a guess at low load."""
    part = b.part(late)
    return newton(part, first_guess(part, 0.15))


def _keep(z: Array, norm: Array, late: NDArray[np.intp], attempt: tuple[Array, Array]) -> None:
    """Keep what improved in `z` and `norm`."""
    better = attempt[1] < norm[late]
    z[:, late[better]], norm[late[better]] = attempt[0][:, better], attempt[1][better]


def _lead(b: Batch, late: NDArray[np.intp]) -> tuple[Array, Array]:
    """From the healthy state to the faults in steps."""
    here = first_guess(b.part(late))
    rest = np.zeros(len(late))
    for scale in (0.0, 0.4, 0.7, 1.0):
        part = b.part(late, np.full(len(late), scale))
        here, rest = newton(part, here, 25 if scale < 1 else ROUNDS)
    return here, rest
