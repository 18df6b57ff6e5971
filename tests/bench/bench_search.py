"""What a search costs with many visits on file: by plate, VIN, name and day, at first and once it is warm.

Run by hand: `.venv/bin/python -m tests.bench.bench_search [--visits 20000]`. The bar is 100 ms at 20,000 visits. The
first search after a start reads every month's page; both are printed, with the changes of one device beside them.
"""

from __future__ import annotations

import argparse
import random
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

from sync import rulebook as books
from sync.records.logbook import Logbook
from sync.records.notifications import Notifications
from sync.work.changes import changes
from sync.work.intake import LINES_MOST, take
from tests.support.ops import JUNE_12, Phone, line_of, uuid7

DAY_MS = 86_400_000
VISITS_A_DAY = 8
NAMES = ("Okafor", "Varga", "Lindqvist", "Moreau", "Tanaka", "Ferreira", "Novak", "Petrov", "Haddad", "Byrne")
LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"


def visit_lines(number: int, dice: random.Random) -> list[bytes]:
    """The op lines of one visit: eight a day, from one phone, another one in every fourth."""
    ms = JUNE_12 - 4000 * DAY_MS + number // VISITS_A_DAY * DAY_MS + number % VISITS_A_DAY * 3_600_000
    phone, other = Phone("a1de", ms), Phone("b0b0", ms + 500)
    phone.seq, other.seq = number * 3, number
    visit, car = uuid7(ms, number), dice.randrange(7000)
    day = time.strftime("%Y-%m-%d", time.gmtime(ms / 1000))
    vehicle = {"id": f"v{car}", "plate": f"{LETTERS[car % 24]}{car:04d}", "vin": f"1G4AH59H4{car:08d}", "make": "Wren"}
    body = {"vehicle": vehicle, "customer": {"name": f"{chr(65 + car % 26)}. {dice.choice(NAMES)}"}}
    base = {f"/{part}/{name}": None for part, fields in body.items() for name in fields}
    made = [phone.opening(visit, f"{day}T09:05:00-07:00"), phone.op(visit, "visit.set", body, base)]
    if number % 4 == 0:
        made.append(other.op(visit, "sheet.approve", {"revision": "ab" * 32}))
    return [line_of(op)[:-1] for op in made]


def fill(logbook: Logbook, visits: int) -> None:
    """File so many visits."""
    dice, lines = random.Random(1), list[bytes]()
    for number in range(visits):
        lines += visit_lines(number, dice)
        while len(lines) >= LINES_MOST or (lines and number == visits - 1):
            results = take(logbook, lines[:LINES_MOST], JUNE_12)
            assert {result["status"] for result in results} == {"accepted"}
            lines = lines[LINES_MOST:]


def timed(work: Any) -> tuple[float, Any]:
    """How long something takes, and what it gives [ms, any]."""
    start = time.perf_counter()
    found = work()
    return (time.perf_counter() - start) * 1e3, found


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--visits", type=int, default=20_000)
    given = parser.parse_args()
    book = books.load()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        with Logbook(folder, book, floor_bytes=0) as logbook:
            spent, _ = timed(lambda: fill(logbook, given.visits))
            print(f"{given.visits} visits filed in {spent / 1e3:.1f} s")
        searches = ("Q0123", "1G4AH59H400004711", "okafor", "h. okafor", "2019-11-05", "2025", "no such thing")
        with Logbook(folder, book, floor_bytes=0) as logbook:
            spent, _ = timed(lambda: logbook.search.find("Q0123"))
            print(f"the first search after a start: {spent:.1f} ms")
            for text in searches:
                times = [timed(lambda text=text: logbook.search.find(text)) for _ in range(9)]
                count = len(times[0][1]["visits"])
                middle = statistics.median(spent for spent, _ in times)
                print(f"{text!r}: {middle:.1f} ms, slowest {max(spent for spent, _ in times):.1f} ms, {count} shown")
            answer = changes(logbook, Notifications(folder), "a1de", "")
            while answer["more"]:
                answer = changes(logbook, Notifications(folder), "a1de", answer["cursor"])
            told = Notifications(folder)
            asked = [timed(lambda: changes(logbook, told, "a1de", answer["cursor"]))[0] for _ in range(21)]
            print(f"the changes of a phone that knows them all: {statistics.median(asked):.2f} ms")


if __name__ == "__main__":
    main()
