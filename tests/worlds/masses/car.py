"""One invented car and how it is drawn: sizes, volumes, valves, set points, all in SI-like units (kg, s, kW, kPa, °C).

It holds a healthy car's hardware; it must not know about weather, faults or readings.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp
from random import Random
from typing import Literal

from tests.worlds.world import REGULATIONS, Refrigerant, Regulation

Metering = Literal["expansion_valve", "orifice_tube"]


@dataclass(frozen=True)
class Evaporator:
    """Coil and blower: air at full blower [kg/s at 1.2 kg/m³], `inside_ua`, `dry_ua` [kW/K], `bypass` at full blower,
    volumes [m³], liquid when wet throughout `full_kg`, metal with its liquid [kJ/K], water the fins hold [kg], ice that
    closes it [kg], blower's heat [kW], `duct` share of the way to the dash's temperature, `mixing` of the halves."""

    air: float
    medium: float
    low: float
    inside_ua: float
    dry_ua: float
    bypass: float
    volume: float
    vapour_volume: float
    full_kg: float
    metal: float
    hold_kg: float
    block_kg: float
    blower_kw: float
    duct: float
    mixing: float
    lean_k: float
    heater_c: float
    blend_lean: float


@dataclass(frozen=True)
class Condenser:
    """Condenser and its fans: air [kg/s at 1.15 kg/m³], `ntu` of the air side, `inside_ua` [kW/K], metal [kJ/K],
    volumes [m³], liquid held [kg], `pass_share` of the face behind the receiver, `receiver_cap` [kg], the face's
    heat drawn back in with hood open or closed (shares), drops [kPa at 35 g/s], 1 for a high port on the liquid line,
    `follow` how much the fans' speed follows the high side."""

    air: float
    stage_low: float
    stage_off: float
    ntu: float
    inside_ua: float
    metal: float
    volume: float
    vapour_volume: float
    hold_kg: float
    line_kg: float
    pass_share: float
    pass_kg: float
    receiver_cap: float
    return_open: float
    return_closed: float
    drop: float
    discharge_drop: float
    high_liquid: float
    follow: float


@dataclass(frozen=True)
class Compressor:
    """Displacement [m³], speed ratio to the engine, `top_rps` of a motor, clearance, efficiencies, losses; `set_c`
    saturation or air temperature the regulation aims at [°C], `band_k` until it switches on again [K], `tilt` share by
    which the internal valve's set pressure falls with the high side, `sensor_s` lag of the probe [s]."""

    displacement: float
    pulley: float
    top_rps: float
    clearance: float
    volumetric: float
    speed_loss: float
    isentropic: float
    shell_loss: float
    motor_kw: float
    set_c: float
    band_k: float
    tilt: float
    smallest: float
    sensor_s: float
    trip_kpa: float


@dataclass(frozen=True)
class Lines:
    """Metering and pipes: `meter` flow of the open valve or tube at 900 kPa of 1,130 kg/m³ [kg/s], `line` the same of
    the liquid line, `spring_k` static superheat at 0 °C [K], `stroke_k` further superheat that opens it [K], bulb lag
    [s], suction drop [kPa at 35 g/s and 14 kg/m³] with the share before the port, `exchanger` effectiveness of the
    internal exchanger, conductances to the engine bay [kW/K], accumulator [kg] and its bleed."""

    meter: float
    line: float
    spring_k: float
    stroke_k: float
    bulb_s: float
    suction_drop: float
    port_share: float
    exchanger: float
    suction_ua: float
    discharge_ua: float
    accumulator_cap: float
    bleed: float


@dataclass(frozen=True)
class Cabin:
    """Cabin: air [kJ/K], wall conductance [kW/K], inner masses [kJ/K] and their conductance [kW/K], sun at 1 [kW],
    leak and exchange of open windows [kg/s], heat of the engine through the wall [kW]."""

    air: float
    walls: float
    masses: float
    masses_ua: float
    sun: float
    leak: float
    open_exchange: float
    engine_kw: float


@dataclass(frozen=True)
class Car:
    """A healthy car."""

    refrigerant: Refrigerant
    regulation: Regulation
    metering: Metering
    charge_kg: float
    evaporator: Evaporator
    condenser: Condenser
    compressor: Compressor
    lines: Lines
    cabin: Cabin


def _wide(rng: Random, middle: float, spread: float) -> float:
    """A positive number with that median; `spread` is the standard deviation of its logarithm, cut at two of them."""
    return middle * exp(spread * max(-2.0, min(2.0, rng.gauss(0.0, 1.0))))


def _evaporator(rng: Random, size: float, tube: bool) -> Evaporator:
    volume = _wide(rng, 0.68e-3 * size, 0.12)
    return Evaporator(
        air=_wide(rng, 0.145 * size, 0.17), medium=rng.uniform(0.58, 0.74), low=rng.uniform(0.3, 0.45),
        inside_ua=_wide(rng, (1.45 if tube else 1.1) * size, 0.27),
        dry_ua=_wide(rng, 0.12 * size, 0.15), bypass=rng.uniform(0.08, 0.32),
        volume=volume, vapour_volume=0.8 * volume + rng.uniform(0.5e-3, 0.9e-3),
        full_kg=1270.0 * volume * rng.uniform(0.14, 0.2), metal=rng.uniform(1.7, 3.0) * size * (1.6 if tube else 1.0),
        hold_kg=rng.uniform(0.12, 0.3), block_kg=rng.uniform(0.5, 0.95) * size, blower_kw=rng.uniform(0.12, 0.25),
        duct=rng.uniform(0.02, 0.09), mixing=rng.uniform(0.2, 0.7), lean_k=rng.gauss(0.0, 0.5),
        heater_c=rng.uniform(48.0, 66.0), blend_lean=rng.choice((0.0, 0.0, rng.uniform(-0.9, 0.9))),
    )


def _condenser(rng: Random, size: float, tube: bool) -> Condenser:
    volume = _wide(rng, 0.62e-3 * size, 0.15)
    share = 0.0 if tube or rng.random() < 0.45 else rng.uniform(0.12, 0.22)
    return Condenser(
        air=_wide(rng, 0.42 * size, 0.40), stage_low=rng.uniform(0.45, 0.68), stage_off=rng.uniform(0.08, 0.2),
        ntu=_wide(rng, 1.35, 0.22), inside_ua=_wide(rng, 1.25 * size, 0.22), metal=rng.uniform(1.8, 3.2) * size,
        volume=volume, vapour_volume=0.75 * volume + rng.uniform(0.15e-3, 0.3e-3),
        hold_kg=1130.0 * volume * rng.uniform(0.15, 0.23), line_kg=rng.uniform(0.045, 0.085),
        pass_share=share, pass_kg=1130.0 * volume * share * 0.8, receiver_cap=0.0,
        return_open=rng.uniform(0.01, 0.06), return_closed=rng.uniform(0.05, 0.13),
        drop=rng.uniform(8.0, 45.0), discharge_drop=rng.uniform(10.0, 70.0), high_liquid=float(rng.random() < 0.55),
        follow=rng.uniform(0.0, 0.7),
    )


def _compressor(rng: Random, size: float, regulation: Regulation) -> Compressor:
    electric = regulation == "electric"
    set_c, band_k = {
        "cycling_pressure": (rng.uniform(-5.0, 0.0), rng.uniform(8.0, 13.0)),
        "cycling_vent": (rng.uniform(1.0, 4.0), rng.uniform(2.0, 4.5)),
        "variable_internal": (rng.uniform(-3.5, 4.5), 0.0),
        "variable_external": (rng.uniform(1.5, 6.5), 0.0),
        "electric": (rng.uniform(1.5, 6.5), 0.0),
    }[regulation]
    return Compressor(
        displacement=_wide(rng, 30e-6 if electric else 106e-6 * size * (0.84 if band_k > 0 else 1.0), 0.18),
        pulley=rng.uniform(1.1, 1.45),
        top_rps=rng.uniform(95.0, 140.0), clearance=rng.uniform(0.02, 0.045), volumetric=rng.uniform(0.82, 0.94),
        speed_loss=rng.uniform(0.15, 0.3), isentropic=rng.uniform(0.6, 0.76), shell_loss=rng.uniform(0.05, 0.14),
        motor_kw=rng.uniform(2.6, 4.5), set_c=set_c, band_k=band_k, tilt=rng.uniform(0.0, 0.02),
        smallest=rng.uniform(0.03, 0.08), sensor_s=rng.uniform(4.0, 9.0), trip_kpa=rng.uniform(2750.0, 3050.0),
    )


def _lines(rng: Random, size: float, tube: bool, exchanger: bool) -> Lines:
    flow = 0.033 * size
    meter = flow * (_wide(rng, 1.5, 0.12) if tube else _wide(rng, 2.0, 0.15))
    return Lines(
        meter=meter, line=flow * rng.uniform(14.0, 20.0), spring_k=rng.uniform(2.0, 6.5),
        stroke_k=rng.uniform(5.0, 9.0), bulb_s=rng.uniform(5.0, 10.0), suction_drop=_wide(rng, 22.0, 0.5),
        port_share=rng.uniform(0.1, 0.4) if tube else rng.uniform(0.25, 0.9),
        exchanger=rng.uniform(0.2, 0.4) if exchanger else 0.0,
        suction_ua=rng.uniform(0.002, 0.005), discharge_ua=rng.uniform(0.0015, 0.003),
        accumulator_cap=0.0, bleed=rng.uniform(0.01, 0.04),
    )


def _cabin(rng: Random) -> Cabin:
    bulk = _wide(rng, 1.0, 0.2)
    return Cabin(
        air=rng.uniform(5.0, 8.0) * bulk, walls=rng.uniform(0.04, 0.11) * bulk, masses=rng.uniform(40.0, 90.0) * bulk,
        masses_ua=rng.uniform(0.06, 0.16) * bulk, sun=rng.uniform(0.5, 1.5) * bulk, leak=rng.uniform(0.006, 0.035),
        open_exchange=rng.uniform(0.9, 2.0) * bulk, engine_kw=rng.uniform(0.05, 0.25),
    )


def draw(rng: Random) -> Car:
    """A healthy car drawn at random; the charge follows from the volumes and a reserve of 15 to 30 %."""
    regulation: Regulation = REGULATIONS[rng.randrange(len(REGULATIONS))]  # type: ignore[assignment]
    tube = rng.random() < {"cycling_pressure": 0.8, "cycling_vent": 0.15, "electric": 0.0}.get(regulation, 0.2)
    refrigerant: Refrigerant = "R1234yf" if rng.random() < (0.6 if regulation == "electric" else 0.4) else "R134a"
    exchanger = not tube and rng.random() < (0.6 if refrigerant == "R1234yf" else 0.25)
    size = _wide(rng, 1.0, 0.14)
    evaporator, condenser = _evaporator(rng, size, tube), _condenser(rng, size, tube)
    lines, compressor = _lines(rng, size, tube, exchanger), _compressor(rng, size, regulation)
    return _charged(rng, Car(refrigerant, regulation, "orifice_tube" if tube else "expansion_valve", 0.0,
                             evaporator, condenser, compressor, lines, _cabin(rng)))


def _charged(rng: Random, car: Car) -> Car:
    """The same car with its label's charge and a receiver or an accumulator that holds the reserve."""
    tube = car.metering == "orifice_tube"
    coil, face = car.evaporator, car.condenser
    backed = 0.12 * 900.0 * face.volume if tube else 0.0
    need = 0.94 * coil.full_kg + face.hold_kg + face.line_kg + face.pass_kg + backed
    need += 14.0 * coil.vapour_volume + 62.0 * face.vapour_volume
    charge = need / (1.0 - rng.uniform(0.15, 0.3))
    cap = (charge - need) / rng.uniform(0.5, 0.75)
    values = {**car.__dict__, "charge_kg": charge}
    if tube:
        values["lines"] = Lines(**{**car.lines.__dict__, "accumulator_cap": cap})
        values["evaporator"] = Evaporator(**{**coil.__dict__, "vapour_volume": coil.vapour_volume + 0.5e-3})
    else:
        values["condenser"] = Condenser(**{**face.__dict__, "receiver_cap": cap})
    return Car(**values)
