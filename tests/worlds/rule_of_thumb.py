"""Thirty healthy rows by the trade's rule of thumb for R-134a at sea level: common practice, no source.

Pressures by outside air alone, in pounds per square inch, vent some 20 K below outside air, doors open and blower
high: the figures a technician knows by heart. Nothing is fitted to these rows.
"""

from __future__ import annotations

from typing import Any

Json = dict[str, Any]
KPA = 6.894757293168
# Outside air [°F]; low-side and high-side ranges [psi gauge].
ROWS = (
    (70, (35, 40), (145, 160)),
    (75, (35, 45), (150, 170)),
    (80, (40, 50), (175, 210)),
    (85, (45, 55), (225, 250)),
    (90, (45, 55), (250, 270)),
    (95, (50, 55), (275, 300)),
    (100, (50, 55), (315, 325)),
    (105, (50, 55), (330, 335)),
    (110, (50, 55), (340, 345)),
)
UNDER_AMBIENT_F = 35.0
WARMEST_VENT_F = 65.0
COLDEST_VENT_F = 40.0


def _visit(fahrenheit: float, low_psi: float, high_psi: float, with_vent: bool) -> Json:
    readings = {"low_kpa_g": float(round(low_psi * KPA)), "high_kpa_g": float(round(high_psi * KPA))}
    if with_vent:
        vent = min(max(fahrenheit - UNDER_AMBIENT_F, COLDEST_VENT_F), WARMEST_VENT_F)
        readings["vent_c"] = round((vent - 32.0) / 1.8, 1)
    ambient = round((fahrenheit - 32.0) / 1.8, 1)
    conditions = {"ambient_c": ambient, "blower": "high", "air": "recirculated", "windows": "open", "rpm": 1500.0}
    return {
        "id": "0198f000-0000-7000-8000-000000000000",
        "schema": 1,
        "started_at": "2025-07-14T09:00:00+02:00",
        "vehicle": {"refrigerant": "R134a"},
        "place": {"altitude_m": 0.0},
        "tests": [{
            "id": "single", "role": "single", "at": "2025-07-14T09:20:00+02:00", "conditions": conditions,
            "readings": readings,
        }],
    }  # fmt: skip


def visits() -> list[Json]:
    """Both ends and the middle of every row, and three middles without a vent."""
    rows = []
    for fahrenheit, (low, low_to), (high, high_to) in ROWS:
        for share in (0.0, 0.5, 1.0):
            rows.append(_visit(fahrenheit, low + share * (low_to - low), high + share * (high_to - high), True))
    for fahrenheit, (low, low_to), (high, high_to) in ROWS[1:8:3]:
        rows.append(_visit(fahrenheit, (low + low_to) / 2.0, (high + high_to) / 2.0, False))
    return rows
