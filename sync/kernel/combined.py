"""What two or three readings make together: ratios and differences that differ little between healthy cars.

Evidence of causes only, no derived quantity of the judgement. Nothing is judged here.
"""

from __future__ import annotations

from sync.kernel.causes_book import LeastTable
from sync.kernel.inputs import Inputs, root_sum
from sync.kernel.judgement import DerivedFigure
from sync.kernel.visit import Figure


def _over(above: Figure, below: Figure) -> Figure:
    """A ratio of two quantities with its standard uncertainty, as if they were independent."""
    ratio = above["value"] / below["value"]
    return {"value": ratio, "u": root_sum([above["u"], ratio * below["u"]]) / below["value"]}


def _air_effectiveness(inputs: Inputs, derived: dict[str, DerivedFigure], least_k: float) -> Figure | None:
    """How far the air is cooled of all that the evaporator could cool it; the vent counts in it once."""
    if "vent_drop_k" not in derived or "low_saturation_c" not in derived:
        return None
    evaporating = derived["low_saturation_c"]
    entering = inputs.values["entering_c"]
    most = entering - evaporating["value"]
    if most < least_k:
        return None
    share = (entering - inputs.values["vent_c"]) / most
    parts = [inputs.u["vent_c"], (1.0 - share) * inputs.u["entering_c"], share * evaporating["u"]]
    return {"value": share, "u": root_sum(parts) / most}


def combined_of(inputs: Inputs, derived: dict[str, DerivedFigure], least: LeastTable) -> dict[str, Figure]:
    """The combined quantities that a test's derived ones allow.

    Args:
        inputs: values and standard uncertainties [by name]
        derived: the test's derived quantities [by name]
        least: below what a divisor tells nothing: `most_drop_k`, `vent_drop_k`, `condenser_split_k` [K]

    Returns:
        {name: {value, u}} of `air_effectiveness` (the air's drop over the greatest it could have), `split_over_drop`
        (condenser split over the air's drop), `subcooling_over_split`, `share_over_drop` (compressor's share for 10 K
        of drop) [1] and `discharge_over_superheat_k` (discharge over condensing, less superheat) [K]

    Source: effectiveness as in Kays and London, Compact Heat Exchangers, from memory; JCGM 100:2008, equation 10.
    """
    figures: dict[str, Figure] = {}
    effectiveness = _air_effectiveness(inputs, derived, least["most_drop_k"])
    if effectiveness is not None:
        figures["air_effectiveness"] = effectiveness
    drop, split = derived.get("vent_drop_k"), derived.get("condenser_split_k")
    if drop is not None and drop["value"] >= least["vent_drop_k"]:
        if split is not None:
            figures["split_over_drop"] = _over(split, drop)
        if "on_share" in derived:
            share = _over(derived["on_share"], drop)
            figures["share_over_drop"] = {"value": 10.0 * share["value"], "u": 10.0 * share["u"]}
    if split is not None and split["value"] >= least["condenser_split_k"] and "subcooling_k" in derived:
        figures["subcooling_over_split"] = _over(derived["subcooling_k"], split)
    discharge, superheat = derived.get("discharge_over_condensing_k"), derived.get("superheat_k")
    if discharge is not None and superheat is not None:
        value = discharge["value"] - superheat["value"]
        figures["discharge_over_superheat_k"] = {"value": value, "u": root_sum([discharge["u"], superheat["u"]])}
    return figures
