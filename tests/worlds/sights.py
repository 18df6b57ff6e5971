"""What there is to see and hear on a car, and what a technician notices or imagines; no reading is taken here."""

from __future__ import annotations

from random import Random

from tests.worlds.draws import Draw
from tests.worlds.world import CarFacts, State

# How often a real sign is noticed and an absent one imagined: common practice, no source.
NOTICED = {
    "weak_air": 0.8, "uneven_vents": 0.8, "fan_dead": 0.9, "fan_low_only": 0.6, "face_dirty": 0.65,
    "frost_suction": 0.5, "frost_valve": 0.4, "frost_drier": 0.3, "short_cycling": 0.8, "icing_then_warm": 0.7,
    "compressor_noise": 0.35, "oil_seen": 0.4, "sight_bubbles": 0.3, "cabin_filter": 0.5, "gap_clean": 0.45,
    "fins_straight": 0.3, "belt": 0.15,
}  # fmt: skip
IMAGINED = {
    "weak_air": 0.03, "uneven_vents": 0.01, "fan_dead": 0.0, "fan_low_only": 0.0, "face_dirty": 0.1,
    "frost_suction": 0.01, "frost_valve": 0.01, "frost_drier": 0.0, "short_cycling": 0.02, "icing_then_warm": 0.01,
    "compressor_noise": 0.03, "oil_seen": 0.05, "sight_bubbles": 0.02, "cabin_filter": 0.08, "gap_clean": 0.07,
    "fins_straight": 0.08, "belt": 0.03,
}  # fmt: skip
# The share of area lost from which a restriction is visibly cold: it then costs 25 times the clear line's pressure.
FROSTS = 0.8


class Chances:
    """How likely technicians are to notice a real sign or imagine an absent one; each world has its own."""

    def __init__(self, name: str) -> None:
        rng = Random(f"chances {name}")
        self.noticed = {code: min(0.95, chance * rng.uniform(0.6, 1.4)) for code, chance in NOTICED.items()}
        self.imagined = {code: chance * rng.uniform(0.5, 2.0) for code, chance in IMAGINED.items()}


def signs_of(draw: Draw, state: State, facts: CarFacts) -> dict[str, bool]:
    """What there is to see or hear on a car."""
    faults, short = draw.faults, state.running == "cycling" and state.on_s + state.off_s < 14.0
    return {
        "weak_air": state.air_share < 0.72,
        "uneven_vents": abs(state.vent_left_c - state.vent_right_c) > 4.0,
        "fan_dead": draw.settings.fan == "off",
        "fan_low_only": draw.settings.fan == "low",
        "face_dirty": faults.dirt > 0.2,
        "frost_suction": state.frost > 0.4,
        "frost_valve": faults.restriction > FROSTS,
        "frost_drier": faults.restriction > FROSTS,
        "short_cycling": short,
        "icing_then_warm": faults.ice > 0.25,
        "compressor_noise": faults.weak > 0.3,
        "oil_seen": faults.charge < 0.85,
        "sight_bubbles": state.bubbles > 0.01 and facts.metering == "expansion_valve",
        "cabin_filter": faults.evaporator_air > 0.2,
        "gap_clean": faults.dirt > 0.2,
        "fins_straight": faults.dirt > 0.2,
        "belt": faults.weak > 0.3,
    }


CHECKS = {"weak_air": "air_strong", "cabin_filter": "cabin_filter", "gap_clean": "gap_clean",
          "fins_straight": "fins_straight", "belt": "belt"}  # fmt: skip


def sights_of(rng: Random, chances: Chances, signs: dict[str, bool]) -> set[str]:
    """The signs noticed, and those imagined."""
    return {code for code, there in signs.items()
            if rng.random() < (chances.noticed[code] if there else chances.imagined[code])}  # fmt: skip
