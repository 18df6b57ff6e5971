"""Visits of the invented day for the tests of sheets and mail, and the operations that a phone would send for them.

No test lives here. People, places and readings are invented; psi to kPa as in NIST SP 811 (2008), appendix B.
"""

from __future__ import annotations

import copy
from typing import Any

from tests.support.ops import Phone, line_of, uuid7

PSI = 6.894757293168
STARTED_MS = 1_784_030_100_000  # 2026-07-14T11:55:00Z, 13:55 by the visits' own clock [ms since 1970]
KINDS = {"tests": "test.add", "rests": "rest.add", "work": "work.add", "refrigerant_moves": "move.add",
         "charges": "charge.add", "checks": "check.add", "consent": "consent.add", "advice": "advice.add",
         "cautions": "caution.confirm", "photos": "photo.add"}

TECHNICIAN = {
    "id": "t1", "name": "I. Varga", "business": "Alder Coast Mobile Cooling", "phone": "555-0142",
    "email": "varga@aldercoast.example", "certificate_no": "AC-0173", "certificate_until": "2028-03-31",
}
SETTINGS_SAME = {"rpm": 2000, "blower": "low", "air": "recirculated", "fan": "high", "windows": "closed"}

PAIR: dict[str, Any] = {
    "id": uuid7(STARTED_MS, 1), "schema": 1, "started_at": "2026-07-14T13:55:00+02:00",
    "ended_at": "2026-07-14T15:20:00+02:00", "outcome": "done", "next_visit": "2027-05-10",
    "technician": TECHNICIAN,
    "customer": {"id": "c1", "name": "Noor Halloran", "email": "noor@halloran.example", "address": "Wren Lane 4"},
    "units": {"technician": {"pressure": "kpa", "temperature": "c"},
              "customer": {"pressure": "psi", "temperature": "f"}},
    "vehicle": {"id": "v1", "vin": "1G4AH59H45G118341", "plate": "AC 418 KD", "model": "blue estate", "year": 2016,
                "odometer_km": 84120, "powertrain": "combustion", "refrigerant": "R134a", "charge_spec_g": 550,
                "compressor": "variable"},
    "place": {"label": "Wren Lane 4", "altitude_m": 610},
    "complaint": "Cools poorly in traffic.",
    "cautions": [{"id": "k1", "code": "engine_running", "at": "2026-07-14T13:58:00+02:00"}],
    "consent": [{"id": "n1", "code": "work_agreed"}, {"id": "n2", "code": "price_agreed"}],
    "checks": [{"id": "h1", "code": "belt", "state": "ok"},
               {"id": "h2", "code": "face_clean", "state": "fault", "note": "two thirds under dirt"}],
    "instruments": {"low_gauge": {"span_kpa": 150 * PSI, "class_pct": 1.6},
                    "high_gauge": {"span_kpa": 500 * PSI, "class_pct": 1.6}, "thermometer_c": 1.0, "hygrometer_pct": 5},
    "tests": [
        {"id": "a1", "role": "before", "at": "2026-07-14T14:06:00+02:00", "observed": ["face_dirty"],
         "conditions": {**SETTINGS_SAME, "ambient_c": 27.5, "humidity_pct": 46},
         "readings": {"low_kpa_g": 26 * PSI, "high_kpa_g": 214 * PSI, "vent_c": 5.0}},
        {"id": "a2", "role": "after", "at": "2026-07-14T15:02:00+02:00",
         "conditions": {**SETTINGS_SAME, "ambient_c": 29.0, "humidity_pct": 44},
         "readings": {"low_kpa_g": 25 * PSI, "high_kpa_g": 167 * PSI, "vent_c": 5.0}},
    ],
    "work": [{"id": "w1", "code": "condenser_cleaned", "minutes": 25, "note": "Seeds and dirt.",
              "cleaner": {"parts_cleaner": 1, "parts_water": 4, "made_ml": 2500, "dwell_min": 9, "passes": 2}}],
    "charges": [{"id": "p1", "text": "Test before and after", "quantity": "1", "unit_price": "45.00", "tax_pct": "20"},
                {"id": "p2", "text": "Condenser cleaned", "quantity": "1.5", "unit_price": "40.00", "tax_pct": "20"}],
    "currency": "EUR", "discount": "5.00", "paid": {"method": "card", "at": "2026-07-14T15:18:00+02:00"},
    "advice": [{"id": "d1", "text": "Rinse the face each spring."}],
    "signature": {"name": "Noor Halloran", "at": "2026-07-14T15:19:00+02:00",
                  "strokes": [[[10, 60], [18, 20], [24, 62]], [60, 50, 66, 40, 74, 46]]},
}

SINGLE: dict[str, Any] = {
    "id": uuid7(STARTED_MS + 7_200_000, 2), "schema": 1, "started_at": "2026-07-14T17:05:00+02:00",
    "outcome": "return_needed", "technician": TECHNICIAN,
    "customer": {"id": "c2", "name": "Πέτρος Жуков-Łąkowski", "email": "petros@gorse.example"},
    "units": {"technician": {"pressure": "kpa", "temperature": "c"}},
    "vehicle": {"id": "v2", "refrigerant": "R1234yf", "powertrain": "hybrid", "compressor": "electric"},
    "place": {"label": "Gorse Hill 1", "altitude_m": 1640},
    "tests": [{"id": "b1", "role": "single", "at": "2026-07-14T17:10:00+02:00", "conditions": {"ambient_c": 24},
               "readings": {"high_kpa_g": 1120}}],
    "advice": [{"id": "d1", "text": "The condenser fan needs a new motor."}],
}

DECLINED: dict[str, Any] = {
    "id": uuid7(STARTED_MS + 9_000_000, 3), "schema": 1, "started_at": "2026-07-14T18:00:00+02:00",
    "outcome": "declined", "technician": TECHNICIAN, "customer": {"id": "c3", "name": "O. Lindqvist"},
}

MOVED: dict[str, Any] = {
    **copy.deepcopy(PAIR), "id": uuid7(STARTED_MS + 9_600_000, 4), "started_at": "2026-07-14T18:30:00+02:00",
    "rests": [{"id": "r1", "at": "2026-07-14T18:31:00+02:00", "low_kpa_g": 590, "high_kpa_g": 594, "metal_c": 27}],
    "refrigerant_moves": [
        {"id": "m1", "kind": "recovered", "refrigerant": "R134a", "grams": 410, "quality": "recycled"},
        {"id": "m2", "kind": "vacuum", "pressure_pa": 65, "held_min": 30, "rise_pa": 20},
        {"id": "m3", "kind": "charged", "refrigerant": "R134a", "grams": 550},
    ],
}

ALL = {"pair": PAIR, "single": SINGLE, "declined": DECLINED, "moved": MOVED}

# A judgement with every part filled, as a full comparison gives it; figures invented.
COMPARISON: dict[str, Any] = {
    "pair": ["a1", "a2"], "reference": "before_day",
    "high_side": {"raw_change_kpa": -47 * PSI, "conditions_share_kpa": 8 * PSI, "work_share_kpa": -55 * PSI,
                  "interval_kpa": [-69 * PSI, -41 * PSI], "verdict": "better"},
    "condenser_split": None, "vent": None, "verdict": "better", "reasons": [], "credits": [], "notes": [],
}


def blocks_of(data: dict[str, Any]) -> dict[str, Any]:
    """The blocks of a sheet's pages by name; of several with a name, the first."""
    blocks = [*data["blocks"], *(data["technician"]["blocks"] if data["technician"] else [])]
    return {block["name"]: block for block in reversed(blocks)}


def judged(visit: dict[str, Any], rulebook: dict[str, Any], comparison: dict[str, Any] | None = None) -> dict[str, Any]:
    """The visit's own assessment, with its comparison replaced by the given one (None: nothing was compared)."""
    from sync.kernel.assessment import assess

    return {**assess(visit, rulebook), "comparison": comparison}


def operations(visit: dict[str, Any], phone: Phone) -> bytes:
    """The op lines that make up a visit."""
    lists = {key: visit[key] for key in KINDS if key in visit}
    leaves = {key: value for key, value in visit.items() if key not in (*KINDS, "id", "schema", "signature", "void")}
    ops = [phone.op(visit["id"], "visit.open", leaves, dict.fromkeys(_pointers(leaves)))]
    ops += [phone.op(visit["id"], KINDS[key], item) for key, items in lists.items() for item in items]
    if "signature" in visit:
        ops.append(phone.op(visit["id"], "signature.add", visit["signature"]))
    return b"".join(line_of(op) for op in ops)


def changed(visit: dict[str, Any], phone: Phone, advice: str) -> bytes:
    """The op line that adds a piece of advice to a visit."""
    return line_of(phone.op(visit["id"], "advice.add", {"id": f"x{phone.seq}", "text": advice}))


def _pointers(node: dict[str, Any], prefix: str = "") -> list[str]:
    found = []
    for key, value in node.items():
        pointer = f"{prefix}/{key}"
        found += _pointers(value, pointer) if isinstance(value, dict) else [pointer]
    return found
