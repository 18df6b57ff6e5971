"""Everything that can be derived from a test's inputs: each value with its standard uncertainty, or a named unknown.

One small function for each quantity, and one central-difference rule for all of them.
"""

from __future__ import annotations

from collections.abc import Callable

from sync.errors import LaybyError, OutOfRange, UnknownName
from sync.kernel import air, saturation
from sync.kernel.books import DerivedRow, Rulebook, SaturationTable
from sync.kernel.inputs import Inputs, Values, root_sum
from sync.kernel.interpolation import between
from sync.kernel.judgement import DerivedFigure, Unknown


class AboveCritical(LaybyError):
    """The high side lies above the critical pressure, so there is no saturation temperature."""

    code = "above_critical"


class Substance:
    """The refrigerant that is in the circuit now, with the rulebook to look it up in."""

    def __init__(self, refrigerant: str, rulebook: Rulebook) -> None:
        self.name = refrigerant
        self.rulebook = rulebook
        row = rulebook["refrigerants"]["refrigerants"].get(refrigerant)
        self.table: SaturationTable | None = None
        self.critical_kpa = 0.0
        if row is not None and row["table"] is not None:
            self.table, self.critical_kpa = saturation.table_of(refrigerant, rulebook), row["critical_kpa"]

    def saturation_c(self, pressure_kpa: float) -> float:
        """Saturation temperature at an absolute pressure [°C], or why there is none."""
        if not pressure_kpa > 0.0:
            raise OutOfRange(value=pressure_kpa, low=0.0, high=0.0)
        if self.table is None:
            raise UnknownName(what="refrigerant", name=self.name)
        if pressure_kpa >= self.critical_kpa:
            raise AboveCritical(value=pressure_kpa)
        return between(self.table["p_kpa"], self.table["t_c"], pressure_kpa)


Rule = Callable[[Values, Substance], float]


def _low_absolute(x: Values) -> float:
    return x["low_kpa_g"] + x["suction_drop_kpa"] + x["station_kpa"]


def _high_absolute(x: Values) -> float:
    return x["high_kpa_g"] - x["high_drop_kpa"] + x["station_kpa"]


def _station_kpa(x: Values, substance: Substance) -> float:
    return x["station_kpa"]


def _low_saturation_c(x: Values, substance: Substance) -> float:
    return substance.saturation_c(_low_absolute(x))


def _high_saturation_c(x: Values, substance: Substance) -> float:
    return substance.saturation_c(_high_absolute(x))


def _pressure_ratio(x: Values, substance: Substance) -> float:
    low = _low_absolute(x)
    high = _high_absolute(x)
    if not low > 0.0 or not high > 0.0:
        raise OutOfRange(value=low, low=0.0, high=0.0)
    return high / low


def _on_share(x: Values, substance: Substance) -> float:
    return x["on_share"]


def _humidity_ratio(x: Values, substance: Substance) -> float:
    return air.humidity_ratio(x["ambient_c"], x["humidity_pct"], x["station_kpa"], substance.rulebook)


def _dew_point_c(x: Values, substance: Substance) -> float:
    return air.dew_point_c(x["ambient_c"], x["humidity_pct"], substance.rulebook)


def _wet_bulb_c(x: Values, substance: Substance) -> float:
    return air.wet_bulb_c(x["ambient_c"], x["humidity_pct"], x["station_kpa"], substance.rulebook)


def _load_kj_kg(x: Values, substance: Substance) -> float:
    ratio = air.humidity_ratio(x["load_air_c"], x["load_humidity_pct"], x["station_kpa"], substance.rulebook)
    return air.enthalpy_kj_kg(x["load_air_c"], ratio)


RULES: dict[str, Rule] = {
    "station_kpa": _station_kpa,
    "low_saturation_c": _low_saturation_c,
    "high_saturation_c": _high_saturation_c,
    "pressure_ratio": _pressure_ratio,
    "on_share": _on_share,
    "humidity_ratio": _humidity_ratio,
    "dew_point_c": _dew_point_c,
    "wet_bulb_c": _wet_bulb_c,
    "load_kj_kg": _load_kj_kg,
}


def _or_none(rule: Rule, x: Values, substance: Substance) -> float | None:
    try:
        return rule(x, substance)
    except (OutOfRange, AboveCritical):
        # A step to the side may leave a table although the value itself lies inside; then the slope is one-sided.
        return None


def slope_times_u(rule: Rule, x: Values, substance: Substance, name: str, u: float) -> float:
    """What one input's standard uncertainty does to a quantity, by central difference.

    Args:
        rule: the quantity's rule [function]
        x: the inputs' values [by name]
        substance: the refrigerant with its rulebook [object]
        name: the input that is varied [name]
        u: its standard uncertainty [unit of the input]

    Returns:
        half the change between one standard uncertainty up and one down; one-sided at the edge of a table, 0 if neither
        side is available [unit of the quantity]

    Source: JCGM 100:2008, 5.1.3, note 2.
    """
    middle = x[name]
    x[name] = middle + u
    above = _or_none(rule, x, substance)
    x[name] = middle - u
    below = _or_none(rule, x, substance)
    x[name] = middle
    if above is not None and below is not None:
        return (above - below) / 2.0
    here = rule(x, substance)
    if above is not None:
        return above - here
    if below is not None:
        return here - below
    return 0.0


def parts_of(rule: Rule, names: list[str], inputs: Inputs, substance: Substance) -> dict[str, float]:
    """What each input's standard uncertainty does to a quantity; inputs without any are left out.

    Args:
        rule: the quantity's rule [function]
        names: the inputs it rests on [names]
        inputs: values and standard uncertainties [by name]
        substance: the refrigerant with its rulebook [object]

    Returns:
        {input: part} [unit of the quantity]

    Raises:
        OutOfRange, AboveCritical, UnknownName: the value itself is unavailable.

    Source: JCGM 100:2008, 5.1.3, note 2; their root sum of squares is the combined uncertainty of equation 10.
    """
    parts: dict[str, float] = {}
    for name in names:
        if inputs.u[name] > 0.0:
            parts[name] = slope_times_u(rule, inputs.values, substance, name, inputs.u[name])
    return parts


def _out_of_table_needs(row: DerivedRow, inputs: Inputs) -> list[str]:
    needs: list[str] = []
    for name in row["inputs"]:
        for need in inputs.needs.get(name, []):
            if need not in needs:
                needs.append(need)
    return needs


class _Derivation:
    """What has been derived so far, what each input does to it, and why something is unavailable."""

    def __init__(self, inputs: Inputs, substance: Substance) -> None:
        self.inputs = inputs
        self.substance = substance
        self.values: Values = {}
        self.parts: dict[str, Values] = {}
        self.failed: dict[str, str] = {}

    def by_rule(self, row: DerivedRow) -> None:
        """A quantity by its rule, with what each input does to it."""
        name = row["name"]
        try:
            self.values[name] = RULES[name](self.inputs.values, self.substance)
            self.parts[name] = parts_of(RULES[name], row["inputs"], self.inputs, self.substance)
        except AboveCritical:
            self.failed[name] = "above_critical"
        except (OutOfRange, UnknownName):
            self.failed[name] = "out_of_table"

    def by_difference(self, row: DerivedRow, of: list[str]) -> None:
        """A quantity as the difference of two that are already there, or why one of them is unavailable."""
        name, one, other = row["name"], of[0], of[1]
        for term in of:
            if term in self.failed:
                self.failed[name] = self.failed[term]
                return
        self.values[name] = self._value(one) - self._value(other)
        parts = dict(self._parts(one))
        less = self._parts(other)
        for term in less:
            parts[term] = parts.get(term, 0.0) - less[term]
        self.parts[name] = parts

    def _value(self, name: str) -> float:
        return self.values[name] if name in self.values else self.inputs.values[name]

    def _parts(self, name: str) -> Values:
        return self.parts[name] if name in self.parts else {name: self.inputs.u[name]}


def _missing(row: DerivedRow, inputs: Inputs) -> tuple[list[str], str]:
    """What a quantity still needs, and why it is unavailable."""
    needs: list[str] = []
    code = "not_taken"
    for name in row["inputs"]:
        if name not in inputs.values:
            code = inputs.codes.get(name, code)
            for need in inputs.needs[name]:
                if need not in needs:
                    needs.append(need)
    return needs, code


def derive(inputs: Inputs, refrigerant: str, rulebook: Rulebook) -> tuple[dict[str, DerivedFigure], list[Unknown]]:
    """All quantities of a test that its inputs allow, and the others as named unknowns.

    What each input does to a quantity is noted in `inputs.parts`.

    Args:
        inputs: values and standard uncertainties [by name]
        refrigerant: what is in the circuit now [code]
        rulebook: the rulebook [books by name]

    Returns:
        {name: {value, u, unit}} and [{what, code, needs}] [JSON object, list]

    Source: the rulebook's `quantities` book says what can be derived.
    """
    substance = Substance(refrigerant, rulebook)
    entry = rulebook["refrigerants"]["refrigerants"].get(refrigerant)
    known_table = entry is not None and entry["table"] is not None
    derived: dict[str, DerivedFigure] = {}
    unknown: list[Unknown] = []
    all_of_them = _Derivation(inputs, substance)
    for row in rulebook["quantities"]["derived"]:
        name, of = row["name"], row.get("difference")
        if row["refrigerant"] and not known_table:
            unknown.append({"what": name, "code": "refrigerant_unknown", "needs": ["vehicle.refrigerant"]})
            continue
        needs, code = _missing(row, inputs)
        if len(needs) > 0:
            unknown.append({"what": name, "code": code, "needs": needs})
            continue
        if of is None:
            all_of_them.by_rule(row)
        else:
            all_of_them.by_difference(row, of)
        if name in all_of_them.values:
            parts = all_of_them.parts[name]
            inputs.parts[name] = parts
            u = root_sum(list(parts.values()))
            derived[name] = {"value": all_of_them.values[name], "u": u, "unit": row["unit"]}
        else:
            code = all_of_them.failed[name]
            needs = [] if code == "above_critical" else _out_of_table_needs(row, inputs)
            unknown.append({"what": name, "code": code, "needs": needs})
    return derived, unknown
