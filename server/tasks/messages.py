"""A task's arguments and results, as types: all of it JSON, for the way to the service and back.

Nothing here does a task, and nothing slow is imported, because the command line reads these types at its start.
"""

from __future__ import annotations

from typing import TypedDict

from sync.kernel.reason import Reason
from sync.kernel.vehicle import Chart
from sync.records.person import Person
from sync.wire.responses import Tally


class TaskArguments(TypedDict, total=False):
    """The arguments of all tasks by their names; days are YYYY-MM-DD, files are whole paths."""

    day: str | None
    first: str
    last: str | None
    refrigerant: str | None
    vehicle: str | None
    cylinder: str | None
    technician: str | None
    visit: str
    visits: list[str]
    all: bool
    files: list[str]
    file: str
    customer: str
    page: str | None
    text: str
    what: str
    id: str
    fields: dict[str, str]
    chart: Chart | None
    keep: str
    drop: str
    device: str
    person: str | None
    role: str
    section: str
    typed: dict[str, str]
    why: str
    seen: str | None
    complete: bool
    healthy: bool
    row: str
    remove: bool
    test: str
    entry: str
    title: str
    match: list[str] | None
    zero: str | None
    add: bool
    number: str


class Invitation(TypedDict):
    """A key with which a person sets their passphrase, told only now, and how long it works [ms since 1970]."""

    key: str
    until: int
    person: Person


class LoggerColumn(TypedDict):
    """A column of a logger's file: its name, its first values, and what it is taken for, "" where it is not used."""

    name: str
    firsts: list[str]
    match: str


class LoggerView(TypedDict):
    """A logger's file as read for a test, in words where a person reads them.

    `remembered` says whether the columns were matched before; `added` is how many entries were filed.
    """

    name: str
    text: str
    columns: list[LoggerColumn]
    remembered: bool
    counted: bool
    zero: str
    faults: list[str]
    count: int
    sums: list[str]
    left_out: list[str]
    more: int
    added: int


class Remark(Reason):
    """A reason with its sentence."""

    text: str


class Gist(TypedDict):
    """A visit on a line or two; `vent` and `high` are readings before and after, "" where none was taken.

    `signed` is the sum that the customer signed for.
    """

    verdict: str
    vent: str
    high: str
    sum: str
    signed: str


class EveningRow(TypedDict):
    """One visit's line in the evening's list; what is not known is None.

    `technician` is a name; `lacks` are the fields that keep its sheet from going.
    """

    visit: str
    technician: str | None
    started_at: str | None
    place: str | None
    customer: str | None
    vehicle: str | None
    outcome: str | None
    state: str | None
    revision: str | None
    number: int | None
    file: str | None
    reason: Remark | None
    to: str | None
    notes: list[Remark]
    vehicle_id: str | None
    customer_id: str | None
    lacks: list[str]
    gist: Gist | None


class PartName(TypedDict):
    """Which part of how many ("1/2") a file is, and whose."""

    device: str
    part: str


class TakenPart(Tally, PartName):
    """What happened to one part."""


class FileTally(TakenPart):
    """The same for one file, with the receipt for the phone."""

    receipt: str
