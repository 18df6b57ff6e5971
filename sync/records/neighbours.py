"""Taking in what others did to the same records, before anything is read or judged.

Nothing here appends a record. A folder's records have no others; there only a filing of one's own may have stopped.
"""

from __future__ import annotations

from sync.records.attention import Attention
from sync.records.projection import Projection
from sync.records.store.interface import Store


def take_in(store: Store, projection: Projection, attention: Attention) -> None:
    """Enter what others filed, and read again what they replaced or an earlier filing left half entered. The caller has
    the logbook's lock.

    Args:
        store: the records, which others may have open [Store]
        projection: the views in use [Projection]
        attention: which records a person may have to see to [Attention]
    """
    seen = store.last
    # A filing stopped between the records and their views: nothing is looked up before they agree.
    is_half = projection.cache.complete.number < seen
    if store.look() or is_half:
        projection.cache.forget()
        projection.search.forget()
        projection.catch_up()
    elif projection.cache.complete.number < store.last:
        projection.go_on()
    # What couldn't be put in when it was entered.
    projection.search.settle()
    if store.last > seen:
        for record in store.records(seen):
            attention.see(record)
