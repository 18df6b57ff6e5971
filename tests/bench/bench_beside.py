"""How long phones and pages wait while the desk makes the sheets of four days at once.

Run by hand: `python -m tests.bench.bench_beside`. Nothing here decides pass or fail.
"""

from __future__ import annotations

import http.client
import itertools
import json
import statistics
import tempfile
import threading
import time
from collections import defaultdict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path

from tests.bench import results
from tests.support.ops import Phone, body_of, uuid7
from tests.support.service import Service, hand_in_day
from tests.support.sheet_visits import PAIR, STARTED_MS, operations
from tests.support.visitor import Visitor, wait_for_key

DAYS = ("2026-07-14", "2026-07-15", "2026-07-16", "2026-07-17")
VISITS = 12
EVERY_S = 0.05
QUIET_S = 3.0
Probe = Callable[[], int]


def file_days(service: Service) -> None:
    """Twelve visits on each of the days, handed in as a phone does."""
    phone, lines = Phone(), []
    for number, (day, _) in enumerate(itertools.product(DAYS, range(VISITS))):
        own = {"id": uuid7(STARTED_MS + number, number), "vehicle": {**PAIR["vehicle"], "id": f"v{number}"}}
        visit = json.loads(json.dumps({**PAIR, **own}).replace(DAYS[0], day))
        lines += [(phone.device, line) for line in operations(visit, phone).splitlines(keepends=True)]
    hand_in_day(service, lines)


def evening(service: Service, day: str) -> None:
    """A day's sheets, requested as `layby evening` requests them from a running service."""
    key = json.loads((service.folder / "service.json").read_text())["key"]
    connection = http.client.HTTPConnection("127.0.0.1", service.port, timeout=600)
    headers = {"Authorization": f"Bearer {key}", "Content-Type": "application/json"}
    connection.request("POST", "/desk/evening", json.dumps({"day": day}), headers)
    answer = connection.getresponse()
    rows = json.loads(answer.read())["result"]
    assert [row["state"] for row in rows] == ["made"] * VISITS, rows
    connection.close()


def probes_of(service: Service) -> dict[str, Probe]:
    """What is requested meanwhile, by name; each gives the status of its answer."""
    wait_for_key(service)
    visitor, phone = Visitor(service).first(), Phone("cafe")
    service.bearer(phone.device)

    def one_op() -> int:
        return service.post("/sync", body_of(phone.opening(phone.new_id())))[0]

    return {
        "a page's own file": lambda: service.get("/page.js")[0],
        "`/receipts`": lambda: service.get(f"/receipts?device={phone.device}&after=0&limit=50")[0],
        "`/sync` of one operation": one_op,
        "the desk's page of a day": lambda: visitor.ask("GET", f"/desk?day={date.fromisoformat(DAYS[0])}")[0],
    }


def probed(probes: dict[str, Probe], work: Callable[[], object]) -> dict[str, list[float]]:
    """Each probe every 50 ms while some work is done, or as soon as it has been answered if that takes longer [s].

    A page of the day takes longer to work out: requested more often, it would itself be the load.
    """
    waits: dict[str, list[float]] = defaultdict(list)
    done = threading.Event()

    def keep_asking(name: str) -> None:
        while not done.is_set():
            start = time.perf_counter()
            status = probes[name]()
            assert status == 200, (name, status)
            waits[name].append(time.perf_counter() - start)
            done.wait(max(0.0, start + EVERY_S - time.perf_counter()))

    with ThreadPoolExecutor(len(probes)) as pool:
        asking = [pool.submit(keep_asking, name) for name in probes]
        work()
        done.set()
        for one in asking:
            one.result()
    return waits


def row(name: str, waits: list[float], when: str, bar: str) -> results.Row:
    """The 99th percentile and the worst of a probe's waits."""
    last = statistics.quantiles(waits, n=100, method="inclusive")[-1]
    figures = f"{results.time_text(last)}, worst {results.time_text(max(waits))}, of {len(waits)}"
    return (f"{name} {when}, 99th percentile", figures, bar)


def main() -> None:
    """Measure, print and write down."""
    run = results.Run.begin("python -m tests.bench.bench_beside")
    with tempfile.TemporaryDirectory() as place:
        service = Service(Path(place) / "layby").start()
        file_days(service)
        probes = probes_of(service)
        for probe in probes.values():
            probe()  # what is loaded once has now been loaded
        quiet = probed(probes, lambda: time.sleep(QUIET_S))

        def four_at_once() -> None:
            with ThreadPoolExecutor(len(DAYS)) as pool:
                list(pool.map(evening, [service] * len(DAYS), DAYS))

        start = time.perf_counter()
        busy = probed(probes, four_at_once)
        duration = time.perf_counter() - start
        service.stop()
    rows = [row(name, quiet[name], "while nothing else is done", "") for name in probes]
    rows += [row(name, busy[name], f"while {len(DAYS)} days of {VISITS} sheets are made", "0.5 s") for name in probes]
    rows.append((f"these {len(DAYS)} days, asked for at once, until the last answer", results.time_text(duration), ""))
    results.report(results.BENCH, "Long work beside", run, rows)


if __name__ == "__main__":
    main()
