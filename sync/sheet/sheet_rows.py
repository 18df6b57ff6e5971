"""The rows of the sheet's table of readings, in the order of the rulebook's book of fields.

No visit is read here, and nothing is put into words.
"""

from __future__ import annotations

from dataclasses import dataclass

from sync.kernel.books import Rulebook
from sync.kernel.fields_book import SheetPlace


@dataclass(frozen=True, slots=True)
class SheetRow:
    """A row: the path in a test or the derived quantity that it shows, and the quantity it is written as.

    A row without a `quantity` is written with this many `decimals`, in the unit whose word is `suffix`. A row that is
    `kept` stays, as "not taken", even if nobody read it.
    """

    place: SheetPlace
    path: str | None
    derived: str | None
    quantity: str | None
    suffix: str | None
    side: str

    @property
    def label(self) -> str:
        """The code of its words."""
        return self.place["label"]

    @property
    def decimals(self) -> int:
        """The number of decimals of a figure without a quantity."""
        return self.place.get("decimals", 0)


def sheet_rows(rulebook: Rulebook) -> list[SheetRow]:
    """The rows of readings and derived quantities in the order of the sheet [SheetRow each]."""
    book = rulebook["fields"]
    rows = [SheetRow(row["sheet"], path, None, row.get("quantity"), row.get("suffix"), row.get("side", ""))
            for path, row in book["scopes"]["tests"].items() if "sheet" in row]
    rows += [SheetRow(row["sheet"], None, name, row.get("quantity"), None, "")
             for name, row in book["derived"].items()]
    return sorted(rows, key=lambda row: row.place["order"])
