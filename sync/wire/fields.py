"""The shapes of a visit and of every operation's body, as data: which fields there are and what each may hold.

Nothing here checks anything; `schemas` reads these tables. Bounds are of shape only: a vent of 400 °C fits.

A field's name ends in `*` where it must be there. What it holds is written as:
`text N` (at most N characters), `number`, `whole`, `count` (whole, from 0 on), `range` (two numbers, the lower first),
`truth`, `time` (ISO 8601 with offset), `money` (decimal as text), `code BOOK` and `codes BOOK` (of a vocabulary),
`unit QUANTITY`, `id` (an item's name), `op` (UUID version 7), `digest` (SHA-256 in hex), `hex`, `oneof A B` (whole
numbers); an object is a table again.
"""

from __future__ import annotations

from dataclasses import dataclass


class Shape(dict[str, "Content"]):
    """An object of declared fields: what each may hold, by its name."""


@dataclass(frozen=True, slots=True)
class ListOf:
    """A list of `least` to `most` members of one shape."""

    inner: Content
    most: int
    least: int = 0


@dataclass(frozen=True, slots=True)
class TableOf:
    """An object whose member names are free and whose members have one shape."""

    inner: Content
    names: str = "name"


Content = str | Shape | ListOf | TableOf


TYPED = Shape({"text*": "text 200", "unit": "text 16"})

TECHNICIAN = Shape({
    "id": "id",
    "name": "text 200",
    "business": "text 200",
    "phone": "text 60",
    "email": "text 254",
    "certificate_no": "text 100",
    "certificate_until": "text 40",
})

UNITS = Shape({
    "pressure": "unit pressure",
    "temperature": "unit temperature",
    "mass": "unit mass",
    "distance": "unit distance",
    "altitude": "unit altitude",
})

CUSTOMER = Shape({
    "id": "id",
    "name": "text 200",
    "email": "text 254",
    "phone": "text 60",
    "language": "text 35",
    "country": "text 2",
    "address": "text 500",
    "units": UNITS,
})

HEALTHY_TEST = Shape({
    "at*": "time",
    "visit": "op",
    "test": "id",
    "refrigerant": "code refrigerant",
    "blower": "code blower",
    "air": "code air",
    "rear": "code rear",
    "windows": "code windows",
    "rpm": "number",
    "suction_at": "code suction_at",
    "values*": TableOf(Shape({"value*": "number", "u*": "number"})),
})

BASELINE = Shape({"entries*": ListOf(HEALTHY_TEST, 50), "refrigerant_work_at": "time"})

CHART_ROW = Shape({
    "ambient_c*": "number",
    "inlet_c": "number",
    "humidity_pct": "number",
    "low_kpa_g": "range",
    "high_kpa_g": "range",
    "vent_c": "range",
})

CHART = Shape({
    "source": "text 200",
    "rpm": "number",
    "blower": "code blower",
    "air": "code air",
    "windows": "code windows",
    "rows*": ListOf(CHART_ROW, 12, least=1),
})

VEHICLE = Shape({
    "id": "id",
    "vin": "text 40",
    "plate": "text 40",
    "make": "text 100",
    "model": "text 100",
    "year": "whole",
    "odometer_km": "number",
    "powertrain": "code powertrain",
    "refrigerant": "code refrigerant",
    "refrigerant_text": "text 200",
    "label_refrigerant": "text 100",
    "charge_spec_g": "number",
    "oil": "text 100",
    "evaporators": "oneof 1 2",
    "metering": "code metering",
    "compressor": "code compressor",
    "internal_exchanger": "truth",
    "baseline": BASELINE,
    "chart": CHART,
})

PLACE = Shape({"label": "text 300", "altitude_m": "number", "station_pressure_kpa": "number"})

GAUGE = Shape({"span_kpa": "number", "class_pct": "number", "zero_kpa": "number", "calibrated_until": "day"})

INSTRUMENTS = Shape({
    "low_gauge": GAUGE,
    "high_gauge": GAUGE,
    "thermometer_c": "number",
    "hygrometer_pct": "number",
    "thermometer_calibrated_until": "day",
    "hygrometer_calibrated_until": "day",
    "common_share": "number",
})

CONDITIONS = Shape({
    "ambient_c": "number",
    "humidity_pct": "number",
    "rpm": "number",
    "compressor_rpm": "number",
    "blower": "code blower",
    "air": "code air",
    "rear": "code rear",
    "windows": "code windows",
    "hood_open": "truth",
    "in_sun": "truth",
    "running_min": "number",
    "fan": "code fan",
    "face_wet": "truth",
    "rinsed_min_ago": "number",
    "mode": "code mode",
    "charging": "truth",
})

READINGS = Shape({
    "low_kpa_g": "number",
    "low_max_kpa_g": "number",
    "high_kpa_g": "number",
    "high_max_kpa_g": "number",
    "vent_c": "number",
    "vent_left_c": "number",
    "vent_right_c": "number",
    "return_air_c": "number",
    "return_air_humidity_pct": "number",
    "evaporator_in_c": "number",
    "evaporator_out_c": "number",
    "suction_line_c": "number",
    "suction_at": "code suction_at",
    "liquid_line_c": "number",
    "liquid_at": "code liquid_at",
    "high_port": "code high_port",
    "discharge_line_c": "number",
    "command_pct": "number",
    "running": "code running",
    "on_s": "number",
    "off_s": "number",
})

TEST = Shape({
    "id*": "id",
    "role*": "code role",
    "at*": "time",
    "note": "text 4000",
    "observed": "codes observed",
    "conditions": CONDITIONS,
    "readings": READINGS,
})

TRACE_POINT = Shape({
    "s*": "number",
    "vent_c": "number",
    "low_kpa_g": "number",
    "high_kpa_g": "number",
    "return_air_c": "number",
})

REST = Shape({
    "id*": "id",
    "at": "time",
    "low_kpa_g": "number",
    "high_kpa_g": "number",
    "metal_c": "number",
    "air_c": "number",
    "hours_off": "number",
})

CLEANER = Shape({
    "parts_cleaner": "number",
    "parts_water": "number",
    "made_ml": "number",
    "dwell_min": "number",
    "passes": "whole",
})

WORK = Shape({
    "id*": "id",
    "code*": "code work",
    "at": "time",
    "by": "text 200",
    "note": "text 4000",
    "minutes": "number",
    "cleaner": CLEANER,
})

MOVE = Shape({
    "id*": "id",
    "kind*": "code move",
    "at": "time",
    "by": "text 200",
    "refrigerant": "code refrigerant",
    "grams": "number",
    "ml": "number",
    "quality": "text 100",
    "cylinder": "text 100",
    "cylinder_before_g": "number",
    "cylinder_after_g": "number",
    "pressure_pa": "number",
    "held_min": "number",
    "rise_pa": "number",
    "purity_pct": "number",
    "air_pct": "number",
    "result": "text 500",
})

CHARGE = Shape({
    "id*": "id",
    "text": "text 500",
    "quantity": "money",
    "unit_price": "money",
    "tax_pct": "money",
})

CAUTION = Shape({"id*": "id", "code*": "code cautions", "at": "time"})
CONSENT = Shape({"id*": "id", "code*": "code consent", "at": "time"})
CHECK = Shape({"id*": "id", "code*": "code checks", "state": "code check_state", "note": "text 4000"})
ADVICE = Shape({"id*": "id", "text*": "text 4000"})
PHOTO = Shape({"sha256*": "digest", "role": "code photo_role", "at": "time"})

# A stroke is a row of numbers (x, y, x, y, …) or of [x, y] pairs.
SIGNATURE = Shape({"name": "text 200", "at": "time", "strokes": ListOf("stroke", 400), "of": "digest",
                   "sum": "money", "work": "text 1000"})
VERDICT_SHOWN = Shape({"rulebook": "hex", "app": "text 60", "at": "time", "digest": "hex"})

# What is set leaf by leaf, and may therefore be changed, cleared and disagreed on.
SETTABLE = Shape({
    "started_at*": "time",
    "ended_at": "time",
    "typed": TableOf(TYPED),
    "outcome": "code outcome",
    "next_visit": "text 300",
    "distance_km": "number",
    "technician": TECHNICIAN,
    "customer": CUSTOMER,
    "units": Shape({"technician": UNITS, "customer": UNITS}),
    "vehicle": VEHICLE,
    "place": PLACE,
    "complaint": "text 4000",
    "instruments": INSTRUMENTS,
    "currency": "text 3",
    "discount": "money",
    "paid": Shape({"method": "text 60", "at": "time"}),
})

# The items of a visit's lists by the name of the list, with the most a list may hold.
ITEMS: dict[str, tuple[Shape, int]] = {
    "cautions": (CAUTION, 200),
    "consent": (CONSENT, 50),
    "checks": (CHECK, 200),
    "rests": (REST, 100),
    "tests": (TEST, 100),
    "work": (WORK, 200),
    "refrigerant_moves": (MOVE, 200),
    "charges": (CHARGE, 200),
    "advice": (ADVICE, 100),
    "photos": (PHOTO, 200),
}

TRACE = ListOf(TRACE_POINT, 20_000)

VISIT = Shape({
    "id*": "op",
    "schema*": "oneof 1",
    **SETTABLE,
    "void": Shape({"reason": "text 4000"}),
    "signature": SIGNATURE,
    "verdict_shown": VERDICT_SHOWN,
    **{name: ListOf(item, most) for name, (item, most) in ITEMS.items() if name != "tests"},
    "tests": ListOf(Shape({**TEST, "trace": TRACE}), ITEMS["tests"][1]),
})

ITEM_TYPED = Shape({"typed": TableOf(TYPED)})

# What a correction beside the visits names: whom it is about, and which operations that disagree it settles.
CORRECTED = Shape({"id*": "id", "of": ListOf("op", 50)})


def _without(shape: Shape, *names: str) -> Shape:
    return Shape({name: content for name, content in shape.items() if name not in names})


# The bodies that are neither a tree of settings nor an item: what each kind carries.
BODIES: dict[str, Shape] = {
    "trace.add": Shape({"test*": "id", "points*": ListOf(TRACE_POINT, 2000)}),
    "signature.add": SIGNATURE,
    "verdict.shown": VERDICT_SHOWN,
    "item.strike": Shape({"list*": "code lists", "id*": "id"}),
    "visit.void": Shape({"reason*": "text 4000"}),
    "sheet.approve": Shape({"revision*": "hex"}),
    "vehicle.set": Shape({**CORRECTED, **_without(VEHICLE, "id", "baseline")}),
    "customer.set": Shape({**CORRECTED, **_without(CUSTOMER, "id")}),
    "baseline.mark": Shape({"vehicle*": "id", "visit*": "op", "test*": "id", "healthy*": "truth"}),
    "customer.merge": Shape({"keep*": "id", "drop*": "id"}),
}

SETTLE = Shape({
    "of*": ListOf("op", 50),
    "set*": Shape({**SETTABLE, **{name: TableOf(item, "id") for name, (item, _) in ITEMS.items()}}),
})

MEND = Shape({"replaces*": "op", "kind*": "code mendable", "body*": "object"})

ENVELOPE = Shape({
    "id*": "fresh",
    "device*": "device",
    "seq*": "count",
    "schema*": "oneof 1",
    "visit": "fresh",
    "kind*": "code kinds",
    "base*": TableOf("op", "pointer"),
    "body*": "object",
    "at*": "whole",
    "tz*": "whole",
})
