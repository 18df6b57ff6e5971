"""Requests as arrays: one value per request for every number of its car, weather, settings and faults.

It turns what a person sets into air flows and inlet states; it must not touch the refrigerant.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tests.worlds.world import BLOWERS, Request
from tests.worlds.zones.cars import NUMBERS
from tests.worlds.zones.props import Array, moisture, wet_bulb

AIR_GAS = 0.28705  # kJ/(kg K)
STILL_AIR = 0.012  # share of the fan's air that natural draught and radiation make up for


class Batch:
    """Arrays of shape (n,). `x` holds numbers by name; the rest need types of their own."""

    def __init__(self, requests: Sequence[Request]) -> None:
        self.requests = list(requests)
        self.x: dict[str, Array] = {name: np.array([float(getattr(r.car, name)) for r in requests]) for name in NUMBERS}
        for part in ("weather", "settings", "faults"):
            for name, kind in vars(type(getattr(requests[0], part)))["__dataclass_fields__"].items():
                if kind.type in ("float", "bool"):
                    self.x[name if name != "charge" or part != "faults" else "charge_share"] = np.array(
                        [float(getattr(getattr(r, part), name)) for r in requests]
                    )
        self.fluid: NDArray[np.intp] = self.x["fluid"].astype(np.intp)
        self.regulation = np.array([r.car.regulation for r in requests])
        self.x["pin"] = np.zeros(len(self.requests))  # a share to hold despite the regulation, or 0
        self._air()

    def __getitem__(self, name: str) -> Array:
        return self.x[name]

    def regulated(self, *names: str) -> NDArray[np.bool_]:
        """Which requests are regulated in one of these ways."""
        return np.isin(self.regulation, names)

    @property
    def cycling(self) -> NDArray[np.bool_]:
        """Which compressors are switched."""
        return self.regulated("cycling_pressure", "cycling_vent")

    def _air(self) -> None:
        """Air flows [kg/s] and the air at the faces; fans move volumes, so the flow follows the air's density."""
        x = self.x
        density = x["pressure_kpa"] / (AIR_GAS * (x["ambient_c"] + 273.15)) / 1.165
        stage = [r.settings.fan for r in self.requests]
        fan = np.select([np.array([s == n for s in stage]) for n in ("high", "low")], [1.0, x["fan_low"]], x["fan_off"])
        x["m_air_c"] = x["air_c"] * density * x["fan_gust"] * (fan * (1 - x["dirt"]) + STILL_AIR)
        x["steered"] = np.where(fan >= 1, x["fan_gain"], 0.0)
        steps = (x["blower_low"], x["blower_medium"], np.ones(len(fan)))
        blower = np.select([np.array([r.settings.blower == n for r in self.requests]) for n in BLOWERS], steps, 1.0)
        x["m_air_e"] = x["air_e"] * density * blower
        x["blower_heat"] = x["blower_kw"] * blower**2.2
        x["w_out"] = moisture(x["ambient_c"], x["humidity_pct"] / 100, x["pressure_kpa"])
        hood = np.where(x["hood_open"] > 0, 0.3, 1.0)
        x["face_c"] = x["ambient_c"] + (x["face_k"] + x["hood_k"] * hood) * (1.5 - fan) + x["face_gust_k"]
        bulb = wet_bulb(x["face_c"], x["w_out"], x["pressure_kpa"])
        x["inlet_c"] = x["face_c"] - 0.95 * x["wet_share"] * (x["face_c"] - bulb)
        x["wet_gain"] = 1 + 0.65 * x["wet_share"]
        x["outside"] = np.array([float(r.settings.air != "recirculated") for r in self.requests])
        x["open"] = np.array([float(r.settings.windows == "open") for r in self.requests])
        x["rev_s"] = np.where(x["speed_max"] > 0, x["speed_max"], x["rpm"] * x["drive"]) / 60

    def part(self, chosen: NDArray[np.intp], scale: Array | None = None) -> Batch:
        """The batch of some requests; `scale` (0 to 1) scales their faults down."""
        part = Batch.__new__(Batch)
        part.requests = [self.requests[i] for i in chosen]
        part.x = {name: value[chosen] for name, value in self.x.items()}
        part.fluid, part.regulation = self.fluid[chosen], self.regulation[chosen]
        if scale is not None:
            for name in ("dirt", "weak", "restriction", "evaporator_air", "ice"):
                part.x[name] = 1 - (1 - part.x[name]) ** scale
            for name in ("air_kpa", "valve_open", "blend", "set_point_k"):
                part.x[name] = part.x[name] * scale
            part.x["charge_share"] = part.x["charge_share"] ** scale
            part._air()
        return part
