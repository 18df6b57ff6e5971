"""Invented gauges, thermometers and hygrometers with their errors, the same for cars of every world; no verdicts."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from random import Random

from tests.worlds.world import Weather

COMMON_SHARE = 0.6


@dataclass(frozen=True)
class Instruments:
    """Limits of the instruments of one visit, and the part of their errors that stays for the whole visit."""

    low_span_kpa: float
    high_span_kpa: float
    class_pct: float
    thermometer_c: float
    hygrometer_pct: float
    low_zero_kpa: float
    low_common: float
    high_common: float
    thermometer_common: float
    hygrometer_common: float
    clamp_loss: float

    def stated(self) -> dict[str, object]:
        """The instruments as a visit states them."""
        low: dict[str, float] = {"span_kpa": self.low_span_kpa, "class_pct": self.class_pct}
        if self.low_zero_kpa:
            low["zero_kpa"] = self.low_zero_kpa
        return {
            "low_gauge": low,
            "high_gauge": {"span_kpa": self.high_span_kpa, "class_pct": self.class_pct},
            "thermometer_c": self.thermometer_c,
            "hygrometer_pct": self.hygrometer_pct,
            "common_share": COMMON_SHARE,
        }

    def u_kpa(self, side: str) -> float:
        """Standard uncertainty of a gauge [kPa]."""
        span = self.low_span_kpa if side == "low" else self.high_span_kpa
        return span * self.class_pct / 100.0 / sqrt(3.0)


def _whole(rng: Random, limit: float) -> float:
    return rng.uniform(-limit, limit)


def draw_instruments(rng: Random) -> Instruments:
    """Draw the instruments of one visit; every error is rectangular within its part of the limit."""
    grade = rng.choices((1.0, 1.6, 2.5), (0.45, 0.4, 0.15))[0]
    low_span, high_span = rng.choice((1000.0, 1100.0, 1500.0)), rng.choice((3500.0, 3500.0, 4000.0))
    thermometer, hygrometer = rng.choice((0.5, 1.0, 1.0, 1.5)), rng.choice((2.0, 3.0, 5.0))
    share = sqrt(COMMON_SHARE)
    return Instruments(
        low_span_kpa=low_span,
        high_span_kpa=high_span,
        class_pct=grade,
        thermometer_c=thermometer,
        hygrometer_pct=hygrometer,
        low_zero_kpa=float(rng.choice((0, 0, 0, 0, 0, 0, 0, 5, -5, 10))),
        low_common=share * _whole(rng, low_span * grade / 100.0),
        high_common=share * _whole(rng, high_span * grade / 100.0),
        thermometer_common=sqrt(0.5) * _whole(rng, thermometer),
        hygrometer_common=sqrt(0.5) * _whole(rng, hygrometer),
        clamp_loss=rng.uniform(0.0, 0.05),
    )


class Reader:
    """One test read with the instruments of a visit; perfect=True reads without any error."""

    def __init__(self, tools: Instruments, rng: Random, weather: Weather, perfect: bool = False) -> None:
        self.tools, self.rng, self.weather, self.perfect = tools, rng, weather, perfect

    def low(self, kpa: float) -> float:
        """A low-side gauge reading [kPa gauge] of an absolute pressure."""
        if self.perfect:
            return kpa - self.weather.pressure_kpa
        tools = self.tools
        own = sqrt(1.0 - COMMON_SHARE) * _whole(self.rng, tools.low_span_kpa * tools.class_pct / 100.0)
        return float(round(kpa - self.weather.pressure_kpa + tools.low_common + own + tools.low_zero_kpa))

    def high(self, kpa: float) -> float:
        """A high-side gauge reading [kPa gauge] of an absolute pressure."""
        if self.perfect:
            return kpa - self.weather.pressure_kpa
        tools = self.tools
        own = sqrt(1.0 - COMMON_SHARE) * _whole(self.rng, tools.high_span_kpa * tools.class_pct / 100.0)
        return float(round((kpa - self.weather.pressure_kpa + tools.high_common + own) / 5.0) * 5)

    def air(self, t_c: float) -> float:
        """A thermometer in air [°C]."""
        if self.perfect:
            return t_c
        own = sqrt(0.5) * _whole(self.rng, self.tools.thermometer_c)
        return round(t_c + self.tools.thermometer_common + own, 1)

    def clamp(self, t_c: float) -> float:
        """A clamp on a line [°C], which loses a little to the air under the hood."""
        if self.perfect:
            return t_c
        return self.air(t_c + self.tools.clamp_loss * (self.weather.ambient_c + 8.0 - t_c))

    def damp(self, rh_pct: float) -> float:
        """A hygrometer [%]."""
        if self.perfect:
            return rh_pct
        own = sqrt(0.5) * _whole(self.rng, self.tools.hygrometer_pct)
        return float(min(max(round(rh_pct + self.tools.hygrometer_common + own), 1), 100))
