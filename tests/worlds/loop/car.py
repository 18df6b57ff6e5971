"""The invented cars of the loop model, part by part, and how they are drawn; no physics and no readings."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import log
from random import Random

from tests.worlds.world import REGULATIONS


@dataclass(frozen=True)
class Evaporator:
    """The cold coil and its blower: dry air [kg/s] by blower step, heat transfer [kW/K]."""

    air_kg_s: dict[str, float]
    bypass: float
    ua_wet: float
    ua_vapour: float
    duct_ua: float
    blower_kw: float
    heat_kj_k: float
    unevenness: float


@dataclass(frozen=True)
class Condenser:
    """The hot coil and its fan: air [m3/s] with the fan on high, transfer units at that flow."""

    air_m3_s: float
    low_fan_share: float
    still_share: float
    engine_fan_share: float
    units: float
    inside_share: float
    hot_air_share: float
    hot_air_seen: float
    liquid_units: float
    heat_kj_k: float


@dataclass(frozen=True)
class Compressor:
    """Displacement [m3] at full stroke, engine to compressor speed, efficiencies, speed limit when electric."""

    kind: str
    displacement_m3: float
    belt_ratio: float
    filling: float
    filling_slope: float
    isentropic: float
    part_loss: float
    heat_loss_share: float
    top_rpm: float


@dataclass(frozen=True)
class Switching:
    """Set points of the regulation: kPa absolute at the suction, or degrees of the air behind the coil."""

    vent_c: float
    suction_kpa: float
    droop: float
    cut_out: float
    cut_in: float
    trip_kpa: float


@dataclass(frozen=True)
class Metering:
    """Expansion valve or orifice tube: flow coefficient, superheat held [K], line flow coefficient."""

    kind: str
    coefficient: float
    superheat_k: float
    line_coefficient: float
    exchanger: float


@dataclass(frozen=True)
class Lines:
    """Pressure drops [kPa] at the design flow, where the ports sit, heat taken up on the way."""

    suction_kpa: float
    low_port_share: float
    discharge_kpa: float
    high_port: str
    design_kg_s: float
    gain_ua: float


@dataclass(frozen=True)
class Charge:
    """Where the charge sits, as shares of the nominal charge."""

    grams: float
    reserve: float
    room: float
    flooded: float
    subcool_share: float
    subcool: float
    evaporator: float
    gas_share_at_rest: float


@dataclass(frozen=True)
class Cabin:
    """Heat through the shell [kW/K], sun through the glass [kW at full sun], leaks and time constant."""

    shell_ua: float
    sun_kw: float
    fresh_share: float
    draught_kg_s: float
    people_kw: float
    people_g_s: float
    heat_kj_k: float


@dataclass(frozen=True)
class Car:
    """One invented car."""

    refrigerant: str
    evaporator: Evaporator
    condenser: Condenser
    compressor: Compressor
    switching: Switching
    metering: Metering
    lines: Lines
    charge: Charge
    cabin: Cabin


@dataclass
class Size:
    """What a drawn car is sized by: design cooling [kW], flow [kg/s] and rejected heat [kW]."""

    cooling_kw: float
    flow_kg_s: float
    rejected_kw: float = field(init=False)

    def __post_init__(self) -> None:
        self.rejected_kw = 1.32 * self.cooling_kw


def _regulation(rng: Random, metering: str) -> str:
    if metering == "orifice_tube":
        weights = (0.80, 0.06, 0.07, 0.07, 0.0)
    else:
        weights = (0.12, 0.20, 0.26, 0.28, 0.14)
    return rng.choices(REGULATIONS, weights)[0]


def _evaporator(rng: Random, size: Size) -> Evaporator:
    top = size.cooling_kw * rng.uniform(0.023, 0.031)
    steps = {"low": top * rng.uniform(0.34, 0.48), "medium": top * rng.uniform(0.60, 0.76), "high": top}
    return Evaporator(
        air_kg_s=steps,
        bypass=rng.uniform(0.08, 0.22),
        ua_wet=size.cooling_kw / rng.uniform(2.5, 5.0),
        ua_vapour=size.cooling_kw * rng.uniform(0.05, 0.09),
        duct_ua=rng.uniform(0.004, 0.014),
        blower_kw=rng.uniform(0.14, 0.26),
        heat_kj_k=size.cooling_kw * rng.uniform(0.45, 0.9),
        unevenness=rng.choice((-1.0, 1.0)) * rng.uniform(0.4, 1.0),
    )


def _condenser(rng: Random, size: Size, metering: str) -> Condenser:
    share = rng.uniform(0.58, 0.80)
    split = rng.uniform(21.0, 36.0)
    heat_capacity = size.rejected_kw / (split * share)
    return Condenser(
        air_m3_s=heat_capacity / 1.12,
        low_fan_share=rng.uniform(0.5, 0.7),
        still_share=rng.uniform(0.10, 0.22),
        engine_fan_share=0.5 if rng.random() < 0.08 else 0.0,
        units=_units(share),
        inside_share=rng.uniform(0.15, 0.35),
        hot_air_share=rng.uniform(0.0, 0.12),
        hot_air_seen=rng.uniform(0.0, 1.0),
        liquid_units=rng.uniform(0.35, 0.8),
        heat_kj_k=size.cooling_kw * rng.uniform(0.8, 1.5),
    )


def _units(share: float) -> float:
    """Transfer units of a coil that reaches a share of the whole difference."""
    return -log(1.0 - share)


def _compressor(rng: Random, size: Size, kind: str, vapour_kg_m3: float) -> Compressor:
    spare = rng.uniform(1.05, 1.5) if kind.startswith("cycling") else rng.uniform(1.1, 1.9)
    top_rpm = rng.uniform(6000.0, 8600.0)
    belt = rng.uniform(1.1, 1.45)
    speed = top_rpm if kind == "electric" else 2000.0 * belt
    if kind == "electric":
        spare = rng.uniform(1.05, 1.5)
    filling = rng.uniform(0.90, 0.97)
    slope = rng.uniform(0.025, 0.05)
    volume = size.flow_kg_s * spare / (vapour_kg_m3 * (filling - slope * 3.0) * speed / 60.0)
    return Compressor(
        kind=kind,
        displacement_m3=volume,
        belt_ratio=belt,
        filling=filling,
        filling_slope=slope,
        isentropic=rng.uniform(0.67, 0.82),
        part_loss=rng.uniform(0.04, 0.22) if kind.startswith("variable") else rng.uniform(0.0, 0.06),
        heat_loss_share=rng.uniform(0.05, 0.20),
        top_rpm=top_rpm,
    )


def _switching(rng: Random, kind: str, yf: bool) -> Switching:
    lift = 24.0 if yf else 0.0
    vent = rng.uniform(1.0, 5.5)
    if kind == "cycling_pressure":
        cut_out = rng.uniform(232.0, 272.0) + lift
        cut_in = cut_out + rng.uniform(110.0, 165.0)
    else:
        cut_out = rng.uniform(0.8, 3.2)
        cut_in = cut_out + rng.uniform(2.5, 4.5)
    return Switching(
        vent_c=vent,
        suction_kpa=rng.uniform(278.0, 315.0) + lift,
        droop=rng.uniform(0.0, 0.025),
        cut_out=cut_out,
        cut_in=cut_in,
        trip_kpa=rng.uniform(2750.0, 3250.0),
    )


def _metering(rng: Random, kind: str, size: Size, yf: bool) -> Metering:
    density = 1.0e3
    spare = rng.uniform(1.3, 1.9) if kind == "expansion_valve" else rng.uniform(1.1, 1.45)
    drop = 1000.0 if kind == "expansion_valve" else 520.0
    coefficient = size.flow_kg_s * spare / (density * drop) ** 0.5
    line_drop = rng.uniform(15.0, 60.0)
    exchanger = rng.uniform(0.15, 0.35) if kind == "expansion_valve" and rng.random() < (0.4 if yf else 0.08) else 0.0
    return Metering(
        kind=kind,
        coefficient=coefficient,
        superheat_k=rng.uniform(4.0, 9.0),
        line_coefficient=size.flow_kg_s / (density * line_drop) ** 0.5,
        exchanger=exchanger,
    )


def _lines(rng: Random, size: Size) -> Lines:
    return Lines(
        suction_kpa=rng.uniform(4.0, 40.0),
        low_port_share=rng.uniform(0.2, 1.0),
        discharge_kpa=rng.uniform(5.0, 90.0),
        high_port="discharge" if rng.random() < 0.6 else "liquid",
        design_kg_s=size.flow_kg_s,
        gain_ua=rng.uniform(0.0005, 0.0035),
    )


def _charge(rng: Random, metering: str) -> Charge:
    subcooled = metering == "expansion_valve" and rng.random() < 0.6
    share = rng.uniform(0.12, 0.24) if subcooled else rng.uniform(0.03, 0.08)
    if metering == "orifice_tube":
        share = rng.uniform(0.10, 0.18)
    return Charge(
        grams=float(round(rng.uniform(420.0, 850.0) / 10.0) * 10),
        reserve=rng.uniform(0.15, 0.30),
        room=rng.uniform(0.06, 0.16),
        flooded=rng.uniform(1.1, 1.8),
        subcool_share=share,
        subcool=rng.uniform(0.06, 0.15) if share > 0.09 else rng.uniform(0.03, 0.06),
        evaporator=rng.uniform(0.22, 0.36),
        gas_share_at_rest=rng.uniform(0.30, 0.55),
    )


def _cabin(rng: Random, size: Size) -> Cabin:
    return Cabin(
        shell_ua=size.cooling_kw * rng.uniform(0.011, 0.020),
        sun_kw=size.cooling_kw * rng.uniform(0.14, 0.32),
        fresh_share=rng.uniform(0.04, 0.20),
        draught_kg_s=rng.uniform(0.002, 0.010),
        people_kw=rng.choice((0.0, 0.08, 0.08, 0.16)),
        people_g_s=rng.uniform(0.005, 0.05),
        heat_kj_k=size.cooling_kw * rng.uniform(9.0, 20.0),
    )


def draw_car(rng: Random, kind: str | None = None, metering: str | None = None, refrigerant: str | None = None) -> Car:
    """Draw an invented car; kind of regulation, metering and refrigerant may be given."""
    name = rng.choices(("R134a", "R1234yf"), (0.62, 0.38))[0]
    name = refrigerant or name
    yf = name == "R1234yf"
    meter = "orifice_tube" if rng.random() < (0.08 if yf else 0.32) else "expansion_valve"
    meter = metering or meter
    chosen = _regulation(rng, meter)
    chosen = kind or chosen
    cooling = rng.uniform(3.6, 6.6)
    size = Size(cooling, cooling / (112.0 if yf else 140.0))
    return Car(
        refrigerant=name,
        evaporator=_evaporator(rng, size),
        condenser=_condenser(rng, size, meter),
        compressor=_compressor(rng, size, chosen, 18.3 if yf else 15.5),
        switching=_switching(rng, chosen, yf),
        metering=_metering(rng, meter, size, yf),
        lines=_lines(rng, size),
        charge=_charge(rng, meter),
        cabin=_cabin(rng, size),
    )
