"""What a page of the books is about: one technician, refrigerant, vehicle or cylinder, or all.

Nothing is added up here.
"""

from __future__ import annotations

from dataclasses import dataclass

from sync.kernel.signs import unsigned
from sync.sheet.totals import MassMoved

UNKNOWN = "unknown"


@dataclass(frozen=True)
class LedgerChoice:
    """What was chosen, "" for all: a refrigerant's code, part of a plate, VIN, make or model, a cylinder's name.

    And a technician's id or name, which is held against all visits of a period at once (`Vans.chosen`).
    """

    refrigerant: str = ""
    vehicle: str = ""
    cylinder: str = ""
    technician: str = ""

    def fits(self, row: MassMoved) -> bool:
        """Whether a move is among what was chosen, whoever made it [bool]."""
        move = row["move"]
        if self.refrigerant and (move.get("refrigerant") or UNKNOWN) != self.refrigerant:
            return False
        if self.cylinder and (move.get("cylinder") or "").strip() != self.cylinder.strip():
            return False
        vehicle = row["visit"].get("vehicle") or {}
        name = f"{vehicle.get('make') or ''}{vehicle.get('model') or ''}"
        called = (vehicle.get("plate") or "", vehicle.get("vin") or "", name)
        return not self.vehicle or any(unsigned(self.vehicle) in unsigned(one) for one in called)

    @property
    def splits_cylinders(self) -> bool:
        """Whether moves of one cylinder may be left out, so that its weight can't be held against its book."""
        return bool(self.refrigerant or self.vehicle)

    @property
    def is_all_moves(self) -> bool:
        """Whether no move of refrigerant is left out for what it moved, so that a page may speak of whole visits."""
        return not (self.refrigerant or self.vehicle or self.cylinder)
