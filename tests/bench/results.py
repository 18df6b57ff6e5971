"""Results files: pages of sections, one per measurement, that the measuring commands write themselves.

A measurement replaces only its own section. Nothing is measured here, and neither the machine's name nor a path on it
is written down.
"""

from __future__ import annotations

import datetime
import os
import platform
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
Row = tuple[str, str, str]


@dataclass(frozen=True)
class Run:
    """The conditions of a measurement; begin it before the work, whose own load would otherwise count.

    command: as typed in the checkout, without a path of this machine
    day: date, local [YYYY-MM-DD]
    load: average of the last minute [processes]
    cores: processors in the system [count]
    """

    command: str
    day: str
    python: str
    load: float
    cores: int

    @classmethod
    def begin(cls, command: str) -> Run:
        """A run of a command, today on this machine."""
        day = datetime.datetime.now().astimezone().date().isoformat()
        return cls(command, day, platform.python_version(), os.getloadavg()[0], os.cpu_count() or 1)

    def line(self) -> str:
        """The line under a section's heading."""
        return (
            f"`{self.command}`, {self.day}, Python {self.python}, {self.cores} cores, load average {self.load:.1f}."
        )


@dataclass(frozen=True)
class Page:
    """A results file.

    opening: what comes before the first section, for a file that doesn't exist yet [Markdown]
    order: the headings, in the order of their sections; a section with another heading stays, after these
    """

    path: Path
    opening: str
    order: tuple[str, ...]

    def sections(self) -> tuple[str, dict[str, str]]:
        """The opening and every section's text by heading, in the order of the file [Markdown]."""
        text = self.path.read_text("utf-8") if self.path.exists() else self.opening
        opening, *parts = text.split("\n## ")
        split = [part.partition("\n") for part in parts]
        return opening.strip(), {heading: body.strip() for heading, _, body in split}

    def put(self, heading: str, run: Run, *parts: str) -> None:
        """Replace one section with the run's line and these parts; all others stay as they are.

        Raises:
            ValueError: the heading isn't one of this page's, or a part would begin another section.
        """
        if heading not in self.order:
            raise ValueError(f"{self.path.name} has no section {heading!r}; add it to the order of its page")
        body = "\n\n".join([run.line(), *(part.strip() for part in parts)])
        if "\n## " in body:
            raise ValueError(f"a part of {heading!r} holds a heading of its own")
        opening, sections = self.sections()
        sections[heading] = body
        ranked = [name for name in self.order if name in sections]
        ranked += [name for name in sections if name not in self.order]
        text = "\n\n".join([opening, *(f"## {name}\n\n{sections[name]}" for name in ranked)])
        self.path.write_text(text + "\n", "utf-8")


BENCH = Page(
    TESTS / "bench" / "RESULTS.md",
    """# Results of the benchmarks

The command under its heading writes each section except the last three, and replaces only that section. A bar is what
the design asks for. Machines differ by a factor of four, so most bars are ratios of two things timed alternately in one
run. None of this decides whether a test passes.
""",
    (
        "Starting",
        "Judging a visit",
        "The phone page",
        "Filing",
        "Several services over one database",
        "Two services as two processes",
        "Many visits loaded into the database",
        "A long life",
        "Searching",
        "Searching in a database",
        "Pages of the desk",
        "Printing",
        "Long work beside",
        "Side by side with another checkout",
        "Long tests",
        "Setting up",
        "From outside",
    ),
)
PROOF = Page(
    TESTS / "proof" / "RESULTS.md",
    """# Results of the proof that nothing is lost

The command under its heading writes each section: `python -m tests.proof --write`, with `--long` for those at length.
For each row, `tests/proof/faults.py` names the test that does what the row says. The tests decide, not this page.
""",
    ("The desk", "The phone", "The desk, at length", "The phone, at length"),
)
LOOP = Page(
    TESTS / "loop" / "RESULTS.md",
    """# Results of the judgement on random cars

`python -m tests.loop.report --write` writes the first four sections; the others are written by hand. Three worlds of
invented cars, written independently of each other, solve each random car, so the truth is known. The judgement sees
only the readings. In turn, everything is fitted on two worlds and reported on the third; published rows are left out
one maker at a time. None of this decides whether a test passes.
""",
    ("Causes, each world left out", "Faults that hardly show", "Published rows", "Before and after", "Variants tried",
     "How to read them"),
)


def table(rows: Sequence[Row], titles: Row = ("what", "measured", "bar")) -> str:
    """Rows as a table [Markdown]; an empty bar shows as "none"."""
    cells = [titles, ("---",) * 3, *((what, measured, bar or "none") for what, measured, bar in rows)]
    return "\n".join("| " + " | ".join(cell.strip().replace("|", "\\|") for cell in row) + " |" for row in cells)


def text_block(lines: Sequence[str]) -> str:
    """Lines as printed [Markdown]."""
    return "\n".join(["```text", *(line.rstrip() for line in lines), "```"])


def time_text(seconds: float) -> str:
    """A duration to three figures [text with its unit]."""
    return f"{seconds * 1e3:.3g} ms" if seconds < 0.9995 else f"{seconds:.3g} s"


def spread(durations: Sequence[float]) -> str:
    """The median of some durations [s], with the fastest and the slowest, which show how busy the machine was."""
    ends = f"{time_text(min(durations))} to {time_text(max(durations))}"
    return f"{time_text(statistics.median(durations))}, median of {len(durations)}; {ends}"


def ratio(one: float, other: float) -> str:
    """How many times the second duration the first is, and both [s, s]."""
    return f"{one / other:.2f} times: {time_text(one)} against {time_text(other)}"


def report(page: Page, heading: str, run: Run, rows: Sequence[Row], *notes: str) -> None:
    """Print a table's rows and write them into their section, with notes under them [Markdown]."""
    for what, measured, bar in rows:
        print(f"{what}: {measured}" + (f" (bar {bar})" if bar else ""))
    page.put(heading, run, table(rows), *notes)
