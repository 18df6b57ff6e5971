"""Regulation of the compressor: switches, internal valve, command by the coil's probe, motor, high-pressure cut-out.

It moves only clutch and stroke.
"""

from __future__ import annotations

import numpy as np

from tests.worlds.masses.air import Coil
from tests.worlds.masses.batch import Batch, Masses
from tests.worlds.masses.properties import Array
from tests.worlds.masses.refrigerant import Pressures, Pumped

ENGAGE_S = 1.0  # until an engaged clutch turns the compressor at full speed
SWITCH_S = 1.2  # lag of the pressure switch behind its valve core, common practice
RESET_KPA = 750.0  # below the cut-out, where the high-pressure switch lets the clutch in again


def _switch(b: Batch, m: Masses, p: Pressures, dt: Array) -> None:
    """Clutch of a switched compressor: by suction pressure, or by the air behind the coil."""
    pressure, vent = b.regulated("cycling_pressure"), b.regulated("cycling_vent")
    shift = b.faults.set_point_k
    open_at, close_at = b.pump.set_c + shift, b.pump.set_c + b.pump.band_k + shift
    port = p.evaporator - b.lines.port_share * (p.evaporator - p.suction)
    m.felt_kpa += (1.0 - np.exp(-dt / SWITCH_S)) * (port - m.felt_kpa)
    off = (pressure & (m.felt_kpa < b.open_kpa)) | (vent & (m.probe < open_at))
    on = (pressure & (m.felt_kpa > b.close_kpa)) | (vent & (m.probe > close_at))
    m.clutch = np.where(off, 0.0, np.where(on, 1.0, m.clutch))


def _displace(b: Batch, m: Masses, p: Pressures, power_kw: Array, dt: Array) -> None:
    """Stroke or speed: integral on suction pressure (internal), proportional and integral on the probe (external)."""
    inner = b.regulated("variable_internal")
    aim = b.open_kpa - b.pump.tilt * (p.discharge - 1200.0)
    by_pressure = (p.suction - aim) / 700.0 * (0.15 + m.stroke)
    error = m.probe - (b.pump.set_c + b.faults.set_point_k)
    by_probe = error / 450.0 * (0.15 + m.stroke)
    over = np.maximum(power_kw - b.pump.motor_kw, 0.0) * b.regulated("electric")
    rate = np.where(inner, by_pressure, by_probe) - 0.08 * over
    smallest = np.where(b.regulated("electric"), 0.06, b.pump.smallest)
    m.integral = np.clip(m.integral + dt * np.clip(rate, -0.12, 0.12), smallest, 1.0)
    extra = np.where(inner, (p.suction - aim) / 250.0, error / 60.0) * (0.1 + m.integral)
    wanted = np.clip(m.integral + np.where(over > 0, 0.0, extra), smallest, 1.0)
    moved = m.stroke + (1.0 - np.exp(-dt / 2.0)) * (wanted - m.stroke)
    m.stroke = np.where(b.regulated("cycling_pressure", "cycling_vent"), 1.0, moved)


def regulate(b: Batch, m: Masses, seen: tuple[Pressures, Coil, Pumped], dt: Array) -> None:
    """One step of the regulation. Low-pressure protection opens at about 70 kPa absolute only where it is a switch."""
    p, coil, pump = seen
    felt = 0.45 * m.coil_metal + 0.3 * coil.wet_c + 0.25 * coil.leaving  # a probe between the fins
    m.probe += (1.0 - np.exp(-dt / b.pump.sensor_s)) * (felt - m.probe)
    _displace(b, m, p, pump.work, dt)
    _switch(b, m, p, dt)
    high = p.discharge
    m.tripped = np.where(high > b.pump.trip_kpa, 1.0, np.where(high < b.pump.trip_kpa - RESET_KPA, 0.0, m.tripped))
    m.clutch = np.where(b.regulated("cycling_pressure", "cycling_vent"), m.clutch, 1.0) * (m.tripped == 0)
    m.turning = np.where(m.clutch > 0, np.minimum(m.turning + dt / ENGAGE_S, 1.0), 0.0)
