"""A maker's chart in a few words, for a line of a page or of a terminal.

Nothing here reads a chart's figures.
"""

from __future__ import annotations

from sync.kernel.vehicle import Chart


def chart_words(chart: Chart) -> str:
    """How many rows, and where it is from [text]."""
    count = len(chart["rows"])
    source = chart.get("source")
    return ", ".join([f"{count} row" if count == 1 else f"{count} rows", *([source] if source else [])])
