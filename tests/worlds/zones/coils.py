"""Condenser and evaporator as zones along the refrigerant's path, each by effectiveness and NTU.

Every zone is a strip of the face with its share of the air. Within a strip the refrigerant is mixed, so the air at one
place meets one wall: cross flow with one side mixed, whose solution is an exponential in the strip's share of the face
(Kays and London, Compact Heat Exchangers; from memory). The wet coil uses the enthalpy potential (Threlkeld; ASHRAE
Handbook; from memory). It must not know where the flow comes from.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.worlds.zones.batch import Batch
from tests.worlds.zones.props import Array, air_enthalpy, air_temperature, moisture, saturated, soft

CP_AIR = 1.006
Pair = tuple[Array, Array]


@dataclass
class CondenserSide:
    """Needed shares of the face, heat [kW] and the liquid's temperature [°C] behind the condenser."""

    vapour: Array
    two_phase: Array
    liquid: Array
    h_out: Array
    t_out: Array
    quality: Array
    q: Array


def _conductance(b: Batch, m: Array, blown: Array) -> Pair:
    """Conductances [kW/K] of the whole face where the refrigerant condenses and where it is of one phase.

    `blown` is the factor by which a controlled fan moves more or less air than at the design point.
    """
    x = b.x
    air = CP_AIR * x["m_air_c"] * blown
    ntu = x["ua_air_c"] * x["wet_gain"] * (x["m_air_c"] * blown / x["air_c"]) ** 0.55 / air
    r_air = 1 / (air * (1 - np.exp(-ntu)))
    flow = np.maximum(m / x["flow_0"], 0.05)
    r_two = 1 / (x["ua_ref_c"] * flow**0.7)
    r_one = 1 / (x["ua_ref_c"] * x["zone_vapour_c"] * flow**0.7)
    return 1 / (r_air + r_two), 1 / (r_air + r_one)


@dataclass
class _Hot:
    """What both parts of the face share: flow [kg/s], span to the air [K], enthalpies [kJ/kg], conductances [kW/K]."""

    m: Array
    span: Array
    h_g: Array
    h_l: Array
    cp_l: Array
    g_two: Array
    g_one: Array

    def latent(self) -> Array:
        """Heat of condensation [kJ/kg]."""
        return self.h_g - self.h_l


def _front(b: Batch, hot: _Hot, gas: Pair, flooded: Array, quality: Array) -> tuple[Array, Array, Array, Array]:
    """The part ahead of a receiver: needed shares of vapour and of condensing, liquid's span at its end [K], heat [kW].

    `gas` is the inlet's enthalpy [kJ/kg] and the vapour's heat capacity [kJ/kg K].
    """
    h_in, cp_v = gas
    front = 1 - b["pass_share"]
    # the gas near the inlet condenses on a wall under saturation: a mean of both conductances
    heat = np.maximum(h_in - hot.h_g, 0.0) / cp_v
    vapour = hot.m * cp_v / (0.5 * (hot.g_one + hot.g_two)) * np.log1p(heat / hot.span)
    latent = hot.m * soft(np.minimum(h_in, hot.h_g) - hot.h_l - quality * hot.latent(), 0.2)
    two = latent / (hot.g_two * hot.span)
    q = hot.m * np.maximum(h_in - hot.h_g, 0.0) + latent
    cooled = hot.span * np.exp(-hot.g_one * flooded * front / (hot.m * hot.cp_l))
    q = (q + hot.m * hot.cp_l * (hot.span - cooled)) * front / np.maximum(vapour + two + flooded * front, 1e-6)
    return vapour, two, cooled, q


def _pass(b: Batch, hot: _Hot, cooled: Array, quality: Array) -> tuple[Array, Array, Array]:
    """The pass behind it, which first condenses the remaining vapour, then cools the liquid.

    The liquid's span at its end [K], the remaining quality, and heat [kW].
    """
    need = hot.m * hot.latent() * quality / (hot.g_two * hot.span)
    share = np.minimum(b["pass_share"], need)
    left = np.where(need > 0, quality * (1 - share / np.maximum(need, 1e-12)), 0.0)
    end = cooled * np.exp(-hot.g_one * (b["pass_share"] - share) / (hot.m * hot.cp_l))
    return end, left, hot.m * (hot.latent() * (quality - left) + hot.cp_l * (cooled - end))


def condenser(b: Batch, m: Array, t_c: Array, hot_gas: tuple[Array, Array, Array], kappa: Array) -> CondenserSide:
    """The zones at a condensing temperature [°C] and an inlet enthalpy [kJ/kg].

    `hot_gas` is that enthalpy, a factor on the face's conductance (metal that cools between spells takes up heat) and
    one on the fan's air. `kappa` is the share of the first part's face flooded with liquid, or minus the quality that
    leaves it. The shares are those of the first part (all of the face ahead of a receiver); behind it lies the pass.
    """
    fluid, inlet_c, front = b.fluid, b["inlet_c"], 1 - b["pass_share"]
    h_in, factor, blown = hot_gas
    g_two, g_one = (g * factor for g in _conductance(b, m, blown))
    span = np.maximum(t_c - inlet_c, 0.2)
    h_g, h_l = saturated("H_vapour", fluid, t_c), saturated("H_liquid", fluid, t_c)
    hot = _Hot(m, span, h_g, h_l, saturated("C_liquid", fluid, t_c), g_two, g_one)
    flooded, quality = soft(kappa, 0.004), np.minimum(soft(-kappa, 0.004), 0.98)
    gas = (h_in, saturated("C_vapour", fluid, t_c) * 0.93)
    vapour, two, cooled, q_front = _front(b, hot, gas, flooded, quality)
    end, left, q_pass = _pass(b, hot, cooled, quality)
    return CondenserSide(
        vapour=vapour / front, two_phase=two / front, liquid=flooded,
        h_out=h_l + left * hot.latent() - hot.cp_l * (span - end), t_out=inlet_c + end + (t_c - inlet_c - span),
        quality=left, q=q_front + q_pass,
    )  # fmt: skip


@dataclass
class EvaporatorSide:
    """Share of the face that holds liquid, heat from the air [kW], enthalpy out [kJ/kg] and air out [°C, kg/kg].

    `t_cold` and `t_warm` are the air behind the wetted and the superheated strip, `t_metal` the wetted strip's wall,
    `air_share` the part of the blower's healthy air that passes.
    """

    wetted: Array
    q: Array
    h_out: Array
    t_air: Array
    w_air: Array
    t_cold: Array
    t_warm: Array
    t_metal: Array
    air_share: Array
    m_air: Array


def _wall(b: Batch, m_air: Array, t_e: Array, inlet: Pair, r_ref: Array) -> tuple[Array, Array, Array]:
    """Heat [kW] of a coil wetted inside all over, its wall [°C] and the effectiveness of its air side."""
    t_in, w_in = inlet
    air = m_air * CP_AIR
    ntu = b["ua_air_e"] * (m_air / b["air_e"]) ** 0.55 / air
    effectiveness = 1 - np.exp(-ntu)
    dry = (t_in - t_e) / (1 / (air * effectiveness) + r_ref)
    kpa = b["pressure_kpa"]
    h_in = air_enthalpy(t_in, w_in)
    h_e = air_enthalpy(t_e, moisture(t_e, 1.0, kpa))
    wall = t_e + 3.0
    wet = dry
    for _ in range(3):
        apart = np.maximum(wall - t_e, 0.3)
        slope = (air_enthalpy(t_e + apart, moisture(t_e + apart, 1.0, kpa)) - h_e) / apart
        wet = m_air * effectiveness * (h_in - h_e) / (1 + m_air * effectiveness * slope * r_ref)
        wall = t_e + wet * r_ref
    full = dry + soft(wet - dry, 0.01)
    return np.maximum(full, 1e-4), t_e + full * r_ref, effectiveness


def _blown(b: Batch, t_e: Array) -> Pair:
    """The part of the blower's healthy air that passes, and its flow [kg/s]; ice lasts where the coil is freezing."""
    iced = b["ice"] / (1 + np.exp(np.clip((t_e + 0.5) / 2.0, -40, 40)))
    air_share = (1 - b["evaporator_air"]) * (1 - iced)
    return air_share, b["m_air_e"] * np.maximum(air_share, 0.012)


def _behind(
    b: Batch, inlet: Pair, strip: tuple[Array, Array, Array], wetted: Array, heat: Pair
) -> tuple[Array, Array, Array, Array]:
    """Air behind the coil, mixed [°C, kg/kg], and behind the wetted and the superheated strip [°C].

    `strip` is the wetted strip's air [kg/s], wall [°C] and effectiveness, `heat` what the coil would take if it were
    wetted all over, and what the superheated strip takes [kW].
    """
    t_in, w_in = inlet
    m_air, wall, effectiveness = strip
    full, dry = heat
    w_cold = w_in - effectiveness * soft(w_in - moisture(wall, 1.0, b["pressure_kpa"]), 2e-5)
    t_cold = air_temperature(air_enthalpy(t_in, w_in) - full / m_air, w_cold)
    t_warm = t_in - dry / (m_air * CP_AIR) / np.maximum(1 - wetted, 1e-3)
    w_air = w_in - wetted * (w_in - w_cold)
    t_air = air_temperature(air_enthalpy(t_in, w_in) - (full * wetted + dry) / m_air, w_air)
    return t_air, w_air, t_cold, t_warm


def evaporator(b: Batch, flow: Pair, t_e: Array, h_in: Array, inlet: Pair) -> EvaporatorSide:
    """The zones at an evaporating temperature [°C].

    `flow` is the refrigerant's mean flow [kg/s] and the share of time it flows: a coil fed part of the time has
    its inner resistance only then; for its mean heat that counts as the resistance divided by the share.
    """
    m, share = flow
    h_g, cp_v = saturated("H_vapour", b.fluid, t_e), saturated("C_vapour", b.fluid, t_e)
    instant = np.maximum(m / share / b["flow_0"], 0.03)
    r_ref = 1 / (b["ua_ref_e"] * instant**0.5) / share
    air_share, m_air = _blown(b, t_e)
    full, wall, effectiveness = _wall(b, m_air, t_e, inlet, r_ref)
    need = np.maximum(m * (h_g - h_in) / full, 1e-3)
    wetted = np.minimum(need - soft(need - 1, 0.003), 1.0)
    # superheat on the rest of the face; gas carries heat a tenth as well as boiling liquid
    g_dry = 1 / (1 / (m_air * CP_AIR * effectiveness) + 9 * r_ref)
    gain = (inlet[0] - t_e) * (1 - np.exp(-g_dry * (1 - wetted) / (m * cp_v)))
    dry = m * cp_v * gain
    q = full * wetted + dry
    air = _behind(b, inlet, (m_air, wall, effectiveness), wetted, (full, dry))
    return EvaporatorSide(wetted, q, h_in + q / m, *air, wall, air_share, m_air)
