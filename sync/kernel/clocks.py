"""After how many minutes a running clock asks for the next thing.

The minutes are those of the rulebook's own checks; the instants, and what is asked for then, are the phone's.
"""

from __future__ import annotations

from sync.kernel.books import Rulebook


def clock_limit_min(name: str, rulebook: Rulebook) -> float | None:
    """The minutes that a clock counts down.

    Args:
        name: the clock's, "dwell", "rinsed", "hold" or "running", and after a point what it belongs to [name]
        rulebook: the rulebook [books by name]

    Returns:
        the longest that a cleaner stays on, the shortest that a face dries or a vacuum is held; None for a clock that
        only counts up [min]

    Source: the rulebook's `checks_at_rest` and `comparison` books (common practice, no source).
    """
    kind = name.split(".")[0]
    if kind == "dwell":
        return rulebook["checks_at_rest"]["cleaner"]["dwell_min"]
    if kind == "rinsed":
        return rulebook["comparison"]["limits"]["rinsed_min"]
    if name == "hold.vacuum":
        return rulebook["checks_at_rest"]["evacuation"]["held_min"]
    return None
