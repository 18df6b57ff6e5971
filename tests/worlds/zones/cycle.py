"""A switched compressor's cycle: on and off times from the coil's heat capacity, and the condenser's lag behind them.

Between cut-out and cut-in the coil's metal swings by a few kelvins. It warms with the mean heat from the air and cools
with what the refrigerant takes beyond it, so the times follow from the swing alone. It must not know the circuit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.worlds.zones.batch import Batch
from tests.worlds.zones.props import Array, soft

FADE = 0.5  # of the swing, from the end to the mean; less as the on share nears 1, as the coil then creeps to its end
LEAST_SWING = 2.0  # K; switch and clutch are no faster than that


@dataclass
class Cycle:
    """Times [s]; the coil's swing [K] and how far its mean while on is above its end; the condenser's lag.

    `damping` is the condenser's mean rise above air while on over what it would reach if it stayed on, `top` and
    `bottom` the same at cut-out and cut-in. `middle` is the mean air temperature that a thermostat holds [°C].
    """

    on_s: Array
    off_s: Array
    swing: Array
    apart: Array
    middle: Array
    damping: Array
    top: Array
    bottom: Array


def _swing(b: Batch, q_on: Array, flow: Array) -> Array:
    """How far the coil swings between cut-in and cut-out [K]."""
    x = b.x
    r_ref = 1 / (x["ua_ref_e"] * np.maximum(flow / x["flow_0"], 0.03) ** 0.5)
    # the two pressures differ by the coil's swing and the drop from wall to boiling liquid while it runs
    by_pressure = LEAST_SWING + soft(x["set_high"] - x["set_low"] - q_on * r_ref - LEAST_SWING, 0.6)
    ntu = x["ua_air_e"] / (1.006 * x["air_e"])
    by_vent = (x["set_high"] - x["set_low"]) / (1 - np.exp(-ntu))
    return np.where(b.regulated("cycling_pressure"), by_pressure, np.maximum(by_vent, 0.5))


def cycle(b: Batch, q_on: Array, share: Array, flow: Array) -> Cycle:
    """The cycle of a coil that gives `q_on` [kW] to the refrigerant during a share of the time, at a flow [kg/s]."""
    x, swing = b.x, _swing(b, q_on, flow)
    rest = np.maximum(1 - share, 1e-4)
    heat = x["metal_e"] * swing / np.maximum(q_on, 0.05)
    on_s, off_s = heat / rest, heat / share
    fade = FADE * rest
    e_on, e_off = np.exp(-on_s / x["lag_c"]), np.exp(-off_s / x["lag_c"])
    top = (1 - e_on) / np.maximum(1 - e_on * e_off, 1e-9)
    bottom = top * e_off
    damping = 1 - (1 - bottom) * x["lag_c"] / on_s * (1 - e_on)
    steady = ~b.cycling
    return Cycle(
        on_s=on_s,
        off_s=off_s,
        swing=swing,
        apart=fade * swing,
        middle=x["set_low"] + fade * (x["set_high"] - x["set_low"]),
        damping=np.where(steady, 1.0, np.clip(damping, 0.02, 1.0)),
        top=np.where(steady, 1.0, top),
        bottom=np.where(steady, 1.0, bottom),
    )
