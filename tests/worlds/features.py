"""What the fit reads from a visit: its quantities, what they depend on, and how shared readings tie them together.

It asks the kernel for quantities and settings; nothing is ranked here.
"""

from __future__ import annotations

from typing import Any

from sync.kernel.conditions import settings_of
from sync.kernel.inputs import inputs_of
from sync.kernel.quantities import derive
from sync.kernel.rest_checks import rest_of

Json = dict[str, Any]
COLUMNS = (
    "low_saturation_c",
    "condenser_split_k",
    "vent_over_evaporating_k",
    "superheat_k",
    "subcooling_k",
    "discharge_over_condensing_k",
    "on_share",
    "rest_excess_kpa",
)


def quantities_of(visit: Json, rulebook: Any) -> tuple[Json, Json]:
    """The columns of the visit's one test, None if unavailable, and the settings they depend on."""
    test = visit["tests"][0]
    inputs = inputs_of(visit, test, rulebook)  # type: ignore[arg-type]
    derived, _ = derive(inputs, visit["vehicle"]["refrigerant"], rulebook)
    values: Json = {name: derived[name]["value"] if name in derived else None for name in COLUMNS}
    rest = rest_of(visit, rulebook)  # type: ignore[arg-type]
    excess = rest["excess_kpa"] if rest else None
    values["rest_excess_kpa"] = excess["value"] if excess else None
    return values, settings_of(visit, test, inputs, rulebook)  # type: ignore[arg-type,return-value]
