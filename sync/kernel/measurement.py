"""The readings of one test as a vector: which quantities were measured, and how shared readings tie them together.

Which quantities there are, and what each consists of, is rulebook data. Nothing is judged here.
"""

from __future__ import annotations

from dataclasses import dataclass

from sync.kernel.distribution_book import DistributionBook
from sync.kernel.judgement import Fault
from sync.kernel.normal import Load, Matrix, Vector
from sync.kernel.ranking import Facts


@dataclass(frozen=True)
class Measurement:
    """What was measured: names, values, each value's part of the columns, and its covariance.

    `names` are quantities, `values` their values, `loads` what each is in terms of the columns of the `distribution`
    book, and `covariance` that of the instruments [unit of each quantity]. `readings` is how many readings stand behind
    them: one that is used twice counts once [count].
    """

    names: list[str]
    values: Vector
    loads: list[Load]
    covariance: Matrix
    readings: int


def doubted(faults: list[Fault]) -> list[str]:
    """The readings that can't be right; they are evidence of nothing."""
    fields: list[str] = []
    for fault in faults:
        fields.extend(fault["fields"])
    return fields


def _value(name: str, facts: Facts) -> float | None:
    if name == "vent_c":
        return facts.inputs.values.get("vent_c")
    figure = facts.judged["derived"].get(name)
    return None if figure is None else figure["value"]


def _taken(facts: Facts, book: DistributionBook) -> list[str]:
    """The quantities to use, in the order of the book; what others together already say is left out."""
    wrong = doubted(facts.judged["faults"])
    names: list[str] = []
    for name in book["observed"]:
        if _value(name, facts) is None:
            continue
        row = book["observed"][name]
        usable = not any(field in wrong for field in row["rests_on"])
        if usable and not any(other in names for other in row["unless"]):
            names.append(name)
    return names


def _shared(one: dict[str, float], other: dict[str, float]) -> float:
    total = 0.0
    for name in one:
        if name in other:
            total = total + one[name] * other[name]
    return total


def load_of(name: str, book: DistributionBook) -> Load:
    """What a quantity is in terms of the columns of the `distribution` book [places and factors]."""
    loads = book["observed"][name]["loads"]
    return [(book["columns"].index(column), loads[column]) for column in loads]


def measurement_of(facts: Facts, book: DistributionBook) -> Measurement:
    """What a test and its rest reading measured of the columns.

    Args:
        facts: the test's `inputs`, what is `judged` of it so far, and the judged `rest` reading or None [by name]
        book: the rulebook's `distribution` book [JSON object]

    Returns:
        the measurement; empty if nothing was measured that bears on a cause [unit of each quantity]

    Source: JCGM 102:2011, 6.2.1.3 (law of propagation for several quantities that share inputs).
    """
    names = _taken(facts, book)
    parts = [facts.inputs.parts[name] if name != "vent_c" else {name: facts.inputs.u[name]} for name in names]
    values: Vector = []
    for name in names:
        values.append(_value(name, facts) or 0.0)
    rest = facts.rest
    if rest is not None and rest["excess_kpa"] is not None and rest["finding"] in book["rest_findings"]:
        names.append("rest_excess_kpa")
        values.append(rest["excess_kpa"]["value"])
        parts.append({"rest": rest["excess_kpa"]["u"]})
    loads = [load_of(name, book) for name in names]
    covariance = [[_shared(one, other) for other in parts] for one in parts]
    return Measurement(names, values, loads, covariance, len(names))
