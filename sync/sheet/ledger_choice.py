"""Which moves of refrigerant a page of the books is about: of one refrigerant, one vehicle, one cylinder, or all.

Nothing is added up here.
"""

from __future__ import annotations

from dataclasses import dataclass

from sync.kernel.signs import unsigned
from sync.sheet.totals import MassMoved

UNKNOWN = "unknown"


@dataclass(frozen=True)
class LedgerChoice:
    """What was chosen, "" for all: a refrigerant's code, part of a plate, VIN, make or model, a cylinder's name."""

    refrigerant: str = ""
    vehicle: str = ""
    cylinder: str = ""

    def fits(self, row: MassMoved) -> bool:
        """Whether a move is among what was chosen [bool]."""
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
