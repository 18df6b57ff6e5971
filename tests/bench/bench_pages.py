"""The desk's page of a vehicle beside its page of a day of twelve, with 20,000 visits on file; both warm, taking turns.

Run by hand: `.venv/bin/python -m tests.bench.bench_pages [--visits 20000]`. The bar is three times. The pages are asked
of the application itself, without a network between.
"""

from __future__ import annotations

import argparse
import copy
import random
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

from flask.testing import FlaskClient

from server.app import create_app
from sync import rulebook as books
from sync.records.logbook import Logbook
from sync.records.passphrase import Passphrase
from sync.work.intake import LINES_MOST, take
from tests.bench import results
from tests.bench.bench_search import DAY_MS, VISITS_A_DAY
from tests.server.test_evening import DAY
from tests.support.ops import JUNE_12, Phone, line_of, uuid7
from tests.support.sheet_visits import PAIR, STARTED_MS, operations
from tests.support.visitor import PASSPHRASE

ROUNDS, TWELVE, CARS, MODELS = 7, 12, 7000, 30
VEHICLE = "v-long"


def car_lines(number: int, dice: random.Random) -> list[bytes]:
    """The op lines of one of many visits: a car of one of a few models, as a technician meets them again and again."""
    ms = JUNE_12 - 4000 * DAY_MS + number // VISITS_A_DAY * DAY_MS + number % VISITS_A_DAY * 3_600_000
    phone = Phone("a1de", ms)
    phone.seq = number * 2
    visit, car = uuid7(ms, number), dice.randrange(CARS)
    vehicle = {"id": f"v{car}", "plate": f"Q{car:04d}", "make": "Wren", "model": f"Model {car % MODELS}", "year": 2012}
    day = time.strftime("%Y-%m-%d", time.gmtime(ms / 1000))
    base = {f"/vehicle/{name}": None for name in vehicle}
    return [line_of(op)[:-1] for op in (phone.opening(visit, f"{day}T09:05:00-07:00"),
                                       phone.op(visit, "visit.set", {"vehicle": vehicle}, base))]


def file(logbook: Logbook, lines: list[bytes]) -> None:
    """File lines that are all accepted."""
    for start in range(0, len(lines), LINES_MOST):
        answers = take(logbook, lines[start : start + LINES_MOST], JUNE_12)
        assert {answer["status"] for answer in answers} == {"accepted"}, answers[:1]


def fill(logbook: Logbook, visits: int) -> None:
    """Many visits of many cars; a day of twelve; and one car that came twelve times, with a test before and after."""
    dice = random.Random(1)
    file(logbook, [line for number in range(visits) for line in car_lines(number, dice)])
    phone = Phone("b0b0", STARTED_MS)
    for number in range(TWELVE):
        for years_ago in (0, number + 1):
            visit = copy.deepcopy(PAIR)
            visit["id"] = uuid7(STARTED_MS - years_ago * 90 * DAY_MS + number * 60_000, 100 + number)
            if years_ago:
                visit["started_at"] = f"{2026 - years_ago}-06-14T13:55:00+02:00"
            identifier = VEHICLE if years_ago else f"d{number}"
            visit["vehicle"] = {"id": identifier, "plate": f"AC {100 + number}", "make": "Wren", "model": "Model 3",
                                "year": 2012, "refrigerant": "R134a"}
            file(logbook, operations(visit, phone).splitlines())


def signed_in(folder: Path) -> FlaskClient:
    """A browser at the desk of a folder, signed in."""
    app = create_app({"FOLDER": folder})
    logbook: Logbook = app.extensions["layby"]["logbook"]
    client = app.test_client()
    key = Passphrase(logbook.files).open_setting(time.time_ns() // 1_000_000)
    client.post("/desk/passphrase", data={"key": key, "passphrase": PASSPHRASE, "again": PASSPHRASE})
    return client


def duration(client: FlaskClient, path: str, holds: str) -> float:
    """How long a page takes [s]."""
    start = time.perf_counter()
    answer = client.get(path)
    spent = time.perf_counter() - start
    assert (answer.status_code, holds in answer.text) == (200, True), answer.text[:500]
    return spent


def compared(folder: Path) -> tuple[list[float], list[float]]:
    """The page of the day and that of the vehicle in turn, each once before it counts [s each]."""
    client = signed_in(folder)
    pages = ((f"/desk?day={DAY.isoformat()}", "AC 111"), (f"/desk/vehicle?id={VEHICLE}", "12 visits"))
    times: tuple[list[float], list[float]] = ([], [])
    for round_ in range(ROUNDS + 1):
        for (path, holds), own in zip(pages, times, strict=True):
            spent = duration(client, path, holds)
            if round_:
                own.append(spent)
    client.application.extensions["layby"]["logbook"].close()
    return times


def made(folder: Path, visits: int) -> None:
    """A folder with all that is compared."""
    book: Any = books.load()
    with Logbook(folder, book, floor_bytes=0) as logbook:
        fill(logbook, visits)


def main() -> None:
    """Measure, print and write down."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--visits", type=int, default=20_000)
    asked = parser.parse_args()
    run = results.Run.begin(f"python -m tests.bench.bench_pages --visits {asked.visits}")
    with tempfile.TemporaryDirectory() as place:
        made(Path(place), asked.visits)
        day, vehicle = compared(Path(place))
    on_file = f"with {asked.visits:,} visits on file"
    ratio = results.ratio(statistics.median(vehicle), statistics.median(day))
    results.report(results.BENCH, "Pages of the desk", run, [
        (f"the page of a day of {TWELVE}, {on_file}", results.spread(day), ""),
        (f"the page of a vehicle with {TWELVE} visits, {on_file}", results.spread(vehicle), ""),
        ("the vehicle's page by the day's", ratio, "3 times")])


if __name__ == "__main__":
    main()
