"""This checkout compared with another, such as an older version: a cold offline start, filing a visit, a backlog.

Run by hand: `python -m tests.bench.side_by_side OTHER_CHECKOUT [--rounds 7]`; the other one needs its own `.venv`. Both
are driven only from outside, through `layby serve`, HTTP and the phone page, because names inside may differ, and they
take turns. Nothing here decides pass or fail.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import expect

from tests.bench import results
from tests.bench.bench_phone import cold_start, offline_visit
from tests.bench.bench_records import visit_lines
from tests.support.browser import Phone, parent_of
from tests.support.service import LAYBY, ROOT, Service

SLOW = 4
BAR = "no worse: about 1"
Both = tuple[list[float], list[float]]


@dataclass(frozen=True)
class Delivery:
    """What a phone hands in at once: this many visits of this many operations, in batches of this many lines.

    Visits are numbered from `first`, so that no two deliveries hand in the same one.
    """

    device: str
    first: int
    visits: int
    ops: int
    batch: int

    def batches(self, number: int) -> list[list[bytes]]:
        """The op lines of the delivery with this number; the visits differ each time."""
        start = self.first + number * self.visits
        visits = range(start, start + self.visits)
        lines = [line for visit in visits for line in visit_lines(visit, self.ops, self.device)]
        return [lines[place : place + self.batch] for place in range(0, len(lines), self.batch)]


def command_of(checkout: Path) -> Path:
    """The `layby` of a checkout's own environment [path]."""
    command = LAYBY if checkout == ROOT else checkout / ".venv" / LAYBY.parent.name / LAYBY.name
    if not command.exists():
        sys.exit(f"{checkout} has no environment of its own; run `python3 demo --once` there first")
    return command


@contextmanager
def services(checkouts: tuple[Path, Path], place: Path) -> Iterator[tuple[Service, Service]]:
    """A service of each checkout on an empty folder."""
    with ExitStack() as stack:
        running = []
        for name, checkout in zip(("this", "other"), checkouts, strict=True):
            service = Service(place / name, command_of(checkout), checkout).start()
            stack.callback(service.stop)
            running.append(service)
        yield running[0], running[1]


def post_duration(service: Service, lines: list[bytes]) -> float:
    """From sending a batch to its answer, all of it accepted [s]."""
    body = b"".join(line + b"\n" for line in lines)
    start = time.perf_counter()
    status, _, content = service.post("/sync", body)
    duration = time.perf_counter() - start
    assert status == 200, content
    assert {result["status"] for result in json.loads(content)["results"]} == {"accepted"}
    return duration


def work_of(service: Service) -> float:
    """The processor time that a service and all its children have used [s]; only where there is /proc."""
    assert service.child is not None
    everything = [path for path in Path("/proc").glob("[0-9]*") if path.name.isdigit()]
    parents = {int(path.name): parent_of(path) for path in everything}
    family = [service.child.pid]
    for pid in family:
        family += [child for child, parent in parents.items() if parent == pid]
    ticks = 0
    for pid in family:
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
        ticks += int(fields[11]) + int(fields[12])
    return ticks / os.sysconf("SC_CLK_TCK")


def in_turn(running: tuple[Service, Service], batches: list[list[bytes]]) -> Both:
    """Hand each batch to both, this checkout first every other time [s per batch each]."""
    durations: Both = ([], [])
    for number, lines in enumerate(batches):
        for which in (0, 1) if number % 2 == 0 else (1, 0):
            durations[which].append(post_duration(running[which], lines))
    return durations


def row(what: str, this: list[float], other: list[float]) -> results.Row:
    """The medians of both and their ratio; medians, because a busy machine delays one or the other now and then."""
    ratio = results.ratio(statistics.median(this), statistics.median(other))
    return f"{what}, medians of {len(this)}", ratio, BAR


def filing_rows(running: tuple[Service, Service], delivery: Delivery, rounds: int) -> list[results.Row]:
    """Handing in deliveries; the first round warms both up and doesn't count."""
    clock: Both = ([], [])
    work: Both = ([], [])
    for number in range(rounds + 1):
        before = [work_of(service) for service in running]
        durations = in_turn(running, delivery.batches(number))
        for which in (0, 1) if number else ():
            clock[which].extend(durations[which])
            work[which].append(work_of(running[which]) - before[which])
    what = f"{delivery.visits} visits of {delivery.ops} operations in batches of {delivery.batch}, over HTTP"
    return [row(f"{what}: a batch by the clock", *clock), row(f"{what}: all by the processor", *work)]


def address_of_visit(handset: Phone, service: Service) -> str:
    """Pair a phone using only what the page says, and leave it closed on a visit, with its desk stopped [URL]."""
    page = handset.open("about:blank")
    page.goto(f"{service.url}/pair#{service.offer()}")
    expect(page.locator("#status")).to_have_text(re.compile(r"^This phone is paired\.$|delivered to the desk\.$"))
    return offline_visit(handset, page, service)


def start_rows(running: tuple[Service, Service], place: Path, rounds: int) -> list[results.Row]:
    """Cold starts offline on a slow phone, in turn, after one that doesn't count."""
    handsets = [Phone(place / f"profile-{which}") for which in (0, 1)]
    addresses = [address_of_visit(handset, service) for handset, service in zip(handsets, running, strict=True)]
    durations: Both = ([], [])
    for number in range(rounds + 1):
        for which in (0, 1) if number % 2 == 0 else (1, 0):
            durations[which].append(cold_start(handsets[which], addresses[which], SLOW))
    this, other = (own[1:] for own in durations)
    what = f"cold offline start to typing at 1/{SLOW} speed"
    return [row(what, this, other), (f"{what}, the fastest", results.ratio(min(this), min(other)), BAR)]


def revision(checkout: Path) -> str:
    """The commit of a checkout [text]; empty if unavailable."""
    command = ["git", "-C", str(checkout), "rev-parse", "--short", "HEAD"]
    git = subprocess.run(command, capture_output=True, text=True, check=False)
    return git.stdout.strip()


def main() -> None:
    """Measure, print and write down."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("other", type=Path, help="another checkout with an environment of its own")
    parser.add_argument("--rounds", type=int, default=7, help="cold starts and backlogs of each [default: 7]")
    parser.add_argument("--visits", type=int, default=300, help="visits in a backlog [default: 300]")
    asked = parser.parse_args()
    checkouts = (ROOT, asked.other.resolve())
    run = results.Run.begin(
        f"python -m tests.bench.side_by_side OTHER_CHECKOUT --rounds {asked.rounds} --visits {asked.visits}"
    )
    single = Delivery("a1de", first=0, visits=50, ops=10, batch=10)
    backlog = Delivery("b0b0", first=50 * (asked.rounds + 1), visits=asked.visits, ops=30, batch=50)
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        with services(checkouts, place) as running:
            rows = filing_rows(running, single, asked.rounds) + filing_rows(running, backlog, asked.rounds)
            rows = start_rows(running, place, asked.rounds) + rows
    names = [revision(checkout) or "a checkout without a commit" for checkout in checkouts]
    note = f"This checkout, on {names[0]}, against the other, on {names[1]}."
    results.report(results.BENCH, "Side by side with another checkout", run, rows, note)


if __name__ == "__main__":
    main()
