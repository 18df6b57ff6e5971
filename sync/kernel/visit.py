"""A visit of schema 1 and its parts, as types: what was captured, with the unit in the name of each number.

Nothing here checks a visit; the limits on its shape are tables of the wire. What wasn't recorded is absent.
"""

from __future__ import annotations

from typing import Literal, NotRequired, Required, TypedDict

from sync.kernel.vehicle import Vehicle

Outcome = Literal["done", "return_needed", "referred", "declined", "nothing_found"]
Role = Literal["before", "during", "after", "single"]


class Typed(TypedDict, total=False):
    """What a person typed into one field, exactly."""

    text: Required[str]
    unit: str


class Technician(TypedDict, total=False):
    """Who did the work."""

    id: str
    name: str
    business: str
    phone: str
    email: str
    certificate_no: str
    certificate_until: str


class Units(TypedDict, total=False):
    """The unit in which a person reads each quantity."""

    pressure: str
    temperature: str
    mass: str
    distance: str
    altitude: str


class UnitsOfBoth(TypedDict, total=False):
    """The units of the technician and of the customer."""

    technician: Units
    customer: Units


class Customer(TypedDict, total=False):
    """Who the visit is for."""

    id: str
    name: str
    email: str
    phone: str
    address: str
    language: str
    country: str
    units: Units


class Place(TypedDict, total=False):
    """Where the vehicle is; a measured pressure overrides the altitude."""

    label: str
    altitude_m: float
    station_pressure_kpa: float


class Gauge(TypedDict, total=False):
    """One gauge: its span, its class, and what it reads when open to the air."""

    span_kpa: float
    class_pct: float
    zero_kpa: float
    calibrated_until: str


class Instruments(TypedDict, total=False):
    """What was measured with."""

    low_gauge: Gauge
    high_gauge: Gauge
    thermometer_c: float
    hygrometer_pct: float
    thermometer_calibrated_until: str
    hygrometer_calibrated_until: str
    common_share: float


class Conditions(TypedDict, total=False):
    """The weather and settings during a test."""

    ambient_c: float
    humidity_pct: float
    rpm: float
    compressor_rpm: float
    blower: str
    air: str
    rear: str
    windows: str
    hood_open: bool
    in_sun: bool
    running_min: float
    fan: str
    face_wet: bool
    rinsed_min_ago: float
    mode: str
    charging: bool


class Readings(TypedDict, total=False):
    """What the instruments showed in a test."""

    low_kpa_g: float
    low_max_kpa_g: float
    high_kpa_g: float
    high_max_kpa_g: float
    vent_c: float
    vent_left_c: float
    vent_right_c: float
    return_air_c: float
    return_air_humidity_pct: float
    evaporator_in_c: float
    evaporator_out_c: float
    suction_line_c: float
    suction_at: str
    liquid_line_c: float
    liquid_at: str
    high_port: str
    discharge_line_c: float
    command_pct: float
    running: str
    on_s: float
    off_s: float


class TracePoint(TypedDict, total=False):
    """Readings a number of seconds after the test began."""

    s: Required[float]
    vent_c: float
    low_kpa_g: float
    high_kpa_g: float
    return_air_c: float
    ambient_c: float
    humidity_pct: float


class Test(TypedDict, total=False):
    """One running test."""

    id: Required[str]
    role: Required[Role]
    at: Required[str]
    note: str
    observed: list[str]
    conditions: Conditions
    readings: Readings
    trace: list[TracePoint]


class Rest(TypedDict, total=False):
    """Gauges of a car at rest, with the temperatures of metal and air around it."""

    id: Required[str]
    at: str
    low_kpa_g: float
    high_kpa_g: float
    metal_c: float
    air_c: float
    hours_off: float


class Cleaner(TypedDict, total=False):
    """How a coil cleaner was mixed and how long it was left on."""

    parts_cleaner: float
    parts_water: float
    made_ml: float
    dwell_min: float
    passes: int


class Work(TypedDict, total=False):
    """One piece of work."""

    id: Required[str]
    code: Required[str]
    at: str
    by: str
    note: str
    minutes: float
    cleaner: Cleaner


class Move(TypedDict, total=False):
    """Refrigerant, oil or dye moved, or a test of the circuit."""

    id: Required[str]
    kind: Required[str]
    at: str
    by: str
    refrigerant: str
    grams: float
    ml: float
    quality: str
    cylinder: str
    cylinder_before_g: float
    cylinder_after_g: float
    pressure_pa: float
    held_min: float
    rise_pa: float
    purity_pct: float
    air_pct: float
    result: str


class Charge(TypedDict, total=False):
    """A line of the bill, in decimal texts."""

    id: Required[str]
    text: str
    quantity: str
    unit_price: str
    tax_pct: str


class Paid(TypedDict, total=False):
    """How and when the bill was paid."""

    method: str
    at: str


class Confirmed(TypedDict, total=False):
    """A caution that was read, or a consent that was given."""

    id: Required[str]
    code: Required[str]
    at: str


class Check(TypedDict, total=False):
    """Something that was looked at."""

    id: Required[str]
    code: Required[str]
    state: str
    note: str


class Advice(TypedDict):
    """A sentence of advice to the customer."""

    id: str
    text: str


class Photo(TypedDict, total=False):
    """A photo, by the digest of its bytes."""

    sha256: Required[str]
    role: str
    at: str


Stroke = list[float] | list[list[float]]


class Signature(TypedDict, total=False):
    """A customer's signature, the digest of what was signed, and the sum and the work that stood there.

    `work` are the words that were shown, `done` and `moved` the codes and kinds that they stand for.
    """

    name: str
    at: str
    strokes: list[Stroke]
    of: str
    sum: str
    work: str
    done: list[str]
    moved: list[str]


class VerdictShown(TypedDict, total=False):
    """Which verdict the phone showed, by its digest."""

    rulebook: str
    app: str
    at: str
    digest: str


class Void(TypedDict):
    """Why a visit was set aside."""

    reason: NotRequired[str]


class Visit(TypedDict, total=False):
    """One visit, as it results from its operations."""

    id: Required[str]
    schema: Required[Literal[1]]
    started_at: Required[str]
    ended_at: str
    typed: dict[str, Typed]
    outcome: Outcome
    next_visit: str
    distance_km: float
    technician: Technician
    customer: Customer
    units: UnitsOfBoth
    vehicle: Vehicle
    place: Place
    complaint: str
    instruments: Instruments
    currency: str
    discount: str
    paid: Paid
    cautions: list[Confirmed]
    consent: list[Confirmed]
    checks: list[Check]
    rests: list[Rest]
    tests: list[Test]
    work: list[Work]
    refrigerant_moves: list[Move]
    charges: list[Charge]
    advice: list[Advice]
    photos: list[Photo]
    signature: Signature
    verdict_shown: VerdictShown
    void: Void
