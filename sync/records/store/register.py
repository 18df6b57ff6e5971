"""The register of a store that several services share: what finds each visit, kept beside the views.

Nothing here keeps anything, and nothing knows how a row is made from a visit or a query from a text. A store that only
one service has open needs none: there the views of the months are searched in memory.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple, Protocol

from sync.wire.results import VisitRow

# What is looked for: several ways to be found, each of words that all have to be there.
Ways = list[list[str]]


class RegisterRow(NamedTuple):
    """What is kept of one visit.

    `month` is the name of its month [7 signs], and `place` sorts visits from the oldest to the newest and begins with
    it. `vehicle` and `customer` are ids, `called` is make and model as compared. `words` has everything that a word of
    a query may begin, each once, in order. `shown` is what a list shows.
    """

    visit: str
    month: str
    place: str
    vehicle: str | None
    customer: str | None
    called: str
    words: list[str]
    shown: VisitRow


class Register(Protocol):
    """The rows of all visits. It says up to which record it has them, and may be asked by any thread at any time.

    Every method raises DatabaseAway if it can't be reached; nothing was changed then, or nobody knows.
    """

    def reach(self) -> int | None:
        """The number of the latest record that it has; None if it has to be filled [count or None]."""

    def put(self, rows: Sequence[tuple[int, RegisterRow]]) -> bool:
        """Put in what records changed, apart from those that it has already.

        Args:
            rows: each with the number of the latest record that changed it [(count, RegisterRow) each]

        Returns:
            whether it has all records up to these now; False if it has to be filled [bool]
        """

    def fill(self, month: str, rows: Sequence[RegisterRow]) -> bool:
        """Let a month have these visits and no others; only what differs is written.

        Returns:
            False if views were replaced since this service looked: nothing was written [bool]
        """

    def filled(self, months: Collection[str], number: int) -> bool:
        """Note that it has all records up to this one, once every month was filled; other months are removed.

        Returns:
            False if views were replaced since this service looked: nothing was written [bool]
        """

    def remove(self, visits: Collection[str]) -> None:
        """Remove visits; nothing of them stays."""

    def find(self, ways: Ways, most: int) -> list[VisitRow]:
        """The visits that are found in any of these ways, newest first, this many at most [VisitRow each]."""

    def newest(self, most: int) -> list[VisitRow]:
        """The newest visits, newest first [VisitRow each]."""

    def count(self) -> int:
        """How many visits there are [count]."""

    def visits_of(self, what: str, identifiers: Collection[str]) -> list[tuple[str, str]]:
        """The visits of vehicles or of customers.

        Args:
            what: "vehicle" or "customer" [text]
            identifiers: their ids [texts]

        Returns:
            (id of the visit, of the vehicle or customer), newest first [list of pairs of texts]
        """

    def vehicles_called(self, called: str) -> list[str]:
        """The vehicles of visits with this make and model, the newest visit's first, each once [texts]."""
