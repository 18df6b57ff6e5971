"""Where the refrigerant is: masses by void fraction and zone volumes, and the air in it.

Void fraction after Zivi (1964), averaged over the quality at even heat flux (from memory). Volumes L, masses kg.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.worlds.zones.batch import Batch
from tests.worlds.zones.props import KELVIN, Array, saturated, tables


def mean_density(fluid: NDArray[np.intp], t_sat: Array, low: Array, high: Array) -> Array:
    """Mean density [kg/m³] of a two-phase zone between two qualities (0 to 1)."""
    rho_g, rho_l = saturated("D_vapour", fluid, t_sat), saturated("D_liquid", fluid, t_sat)
    c = (rho_g / rho_l) ** (2 / 3)
    low = np.clip(low, 0.0, 0.999)
    high = np.maximum(np.clip(high, 0.0, 1.0), low + 1e-3)

    def integral(x: Array) -> Array:
        return x / (1 - c) - c / (1 - c) ** 2 * np.log(c + (1 - c) * x)

    void = (integral(high) - integral(low)) / (high - low)
    return void * rho_g + (1 - void) * rho_l


@dataclass
class Masses:
    """Refrigerant by place [kg]."""

    condenser: Array
    liquid: Array
    evaporator: Array
    gas: Array
    store: Array

    @property
    def total(self) -> Array:
        """All of it [kg]."""
        return self.condenser + self.liquid + self.evaporator + self.gas + self.store


@dataclass
class Filling:
    """What the inventory depends on: saturation [°C], shares of the condenser's face, qualities, level of the store."""

    t_e: Array
    t_c: Array
    vapour: Array
    two_phase: Array
    liquid: Array
    quality_out: Array
    pass_quality: Array
    wetted: Array
    quality_in: Array
    quality_e: Array
    level: Array
    gas_density: Array


def _behind(b: Batch, f: Filling, rho_l: Array) -> Array:
    """Mean density [kg/m³] in the pass behind the store, where liquid has the density `rho_l`."""
    fluid = b.fluid
    behind = mean_density(fluid, f.t_c, np.zeros_like(f.t_c), f.quality_out)
    behind = np.where(f.pass_quality > 1e-6, mean_density(fluid, f.t_c, f.pass_quality, f.quality_out), behind)
    # behind a store that holds liquid the pass is full; otherwise it holds what condenses in it
    emptiness = np.clip(f.quality_out / 0.05, 0.0, 1.0)
    return rho_l * (1 - emptiness) + behind * emptiness


def masses(b: Batch, f: Filling) -> Masses:
    """Masses by place. Shares of the condenser's front part are scaled to one together."""
    x, fluid = b.x, b.fluid
    rho_l, rho_g = saturated("D_liquid", fluid, f.t_c), saturated("D_vapour", fluid, f.t_c)
    rho_low_l, rho_low_g = saturated("D_liquid", fluid, f.t_e), saturated("D_vapour", fluid, f.t_e)
    whole = f.vapour + f.two_phase + f.liquid
    two = mean_density(fluid, f.t_c, f.quality_out, np.ones_like(f.t_c))
    front = (f.vapour * 0.9 * rho_g + f.two_phase * two + f.liquid * rho_l) / whole
    behind = _behind(b, f, rho_l)
    v_front, v_pass = x["v_cond"] * (1 - x["pass_share"]), x["v_cond"] * x["pass_share"]
    line = mean_density(fluid, f.t_c, f.pass_quality - 5e-4, f.pass_quality + 5e-4)
    boiling = mean_density(fluid, f.t_e, f.quality_in, f.quality_e)
    coil = f.wetted * boiling + (1 - f.wetted) * rho_low_g * 0.95
    tube = x["orifice"] > 0
    stored = f.level * np.where(tube, rho_low_l, rho_l) + (1 - f.level) * np.where(tube, rho_low_g, rho_g)
    return Masses(
        condenser=(v_front * front + v_pass * behind) / 1000,
        liquid=x["v_liquid"] * line / 1000,
        evaporator=x["v_evap"] * coil / 1000,
        gas=(x["v_suction"] * f.gas_density + x["v_discharge"] * 0.85 * rho_g) / 1000,
        store=x["v_store"] * stored / 1000,
    )


def volume(b: Batch) -> Array:
    """Inner volume of the circuit [L]."""
    x = b.x
    return x["v_cond"] + x["v_evap"] + x["v_liquid"] + x["v_suction"] + x["v_discharge"] + x["v_store"]


def rest_vapour(b: Batch, t_c: Array) -> Array:
    """Vapour space [L] of the whole circuit at rest at a temperature [°C]."""
    rho_l, rho_g = saturated("D_liquid", b.fluid, t_c), saturated("D_vapour", b.fluid, t_c)
    whole = volume(b)
    charge = b["charge"] * b["charge_share"] * 1000
    return np.clip((whole * rho_l - charge) / (rho_l - rho_g), 0.1 * whole, whole)


def air_running(b: Batch, vapour_l: Array, t_c: Array) -> Array:
    """Partial pressure [kPa] of air in the running high side, where most of it is swept and stays."""
    at_rest = rest_vapour(b, np.full_like(t_c, 40.0))
    moles = b["air_kpa"] * at_rest / (40.0 + KELVIN) * b["air_trap"]
    return np.asarray(moles * (t_c + KELVIN) / np.maximum(vapour_l, 0.15))


def rest_pressure(b: Batch) -> Array:
    """Pressure [kPa] of both gauges after hours in the shade: saturation or, without liquid, vapour; and air."""
    t = b["ambient_c"]
    p_sat, rho_g = saturated("P", b.fluid, t), saturated("D_vapour", b.fluid, t)
    density = b["charge"] * b["charge_share"] * 1000 / volume(b)
    fill = np.minimum(density / rho_g, 1.0)
    gas = tables().gas_constant[b.fluid] * (t + KELVIN)
    z_g = p_sat / (rho_g * gas)
    vapour = fill * rho_g * gas * (1 - (1 - z_g) * fill)
    air = b["air_kpa"] * rest_vapour(b, np.full_like(t, 40.0)) / rest_vapour(b, t) * (t + KELVIN) / 313.15
    return vapour + air
