"""What two services as two processes take in at once, against one: real `layby serve`, phones in other processes.

Run by hand: `python -m tests.bench.bench_processes [--vans 10] [--rounds 3]`. The runs with one and with two services
take turns, each over a fresh database, with as many clients. Nothing here decides pass or fail.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

from tests.bench import results
from tests.bench.bench_several import OPS_OF_A_VISIT, VISITS_OF_A_VAN, batches_of
from tests.support.children import PATIENCE_S, Child
from tests.support.postgres import server
from tests.support.service import ROOT, Service

CLIENTS = 2


def send(port: int, tokens: dict[str, str], go: Path) -> None:
    """Be the phones of some vans: hand in their day, batch by batch, once the file `go` is there.

    Args:
        port: of the service
        tokens: of each van's phone, by its device
        go: when everybody may begin
    """
    own = [batch for batch in batches_of(max(int(device, 16) for device in tokens) + 1)
           if json.loads(batch[0][65:])["device"] in tokens]
    print("ready", flush=True)
    while not go.exists():
        time.sleep(0.001)
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
    for batch in own:
        device = json.loads(batch[0][65:])["device"]
        headers = {"Content-Type": "application/x-ndjson", "Authorization": f"Bearer {tokens[device]}"}
        connection.request("POST", "/sync", b"".join(line + b"\n" for line in batch), headers)
        response = connection.getresponse()
        answer = json.loads(response.read())
        assert {one["status"] for one in answer["results"]} == {"accepted"}, answer
    print("done", flush=True)


def through(services: int, vans: int, place: Path) -> float:
    """How long a day of all vans takes through this many services at once, its clients being two in any case [s]."""
    os.environ["LAYBY_DATABASE"] = server().fresh()
    running = [Service(place / f"desk-{number}").start() for number in range(services)]
    tokens = {}
    for van in range(vans):
        running[0].bearer(f"{van:04x}")
    tokens = running[0].tokens
    go, clients = place / "go", []
    for number in range(CLIENTS):
        own = {device: token for device, token in tokens.items() if int(device, 16) % CLIENTS == number}
        command = [sys.executable, "-m", "tests.bench.bench_processes", "--send", json.dumps(own), "--go", go,
                   "--port", str(running[number % services].port)]
        clients.append(Child(command, cwd=ROOT, patience_s=10 * PATIENCE_S))
    for client in clients:
        client.wait_for("ready")
    start = time.perf_counter()
    go.write_text("")
    for client in clients:
        client.wait_for("done")
    took = time.perf_counter() - start
    for child in clients:
        child.forget()
    for service in running:
        service.stop()
    return took


def main() -> None:
    """Measure, print and write down; or, as a process of its own, be a client."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--vans", type=int, default=10)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--send", help=argparse.SUPPRESS)
    parser.add_argument("--go", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--port", type=int, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.send:
        send(asked.port, json.loads(asked.send), asked.go)
        return
    run = results.Run.begin(f"python -m tests.bench.bench_processes --vans {asked.vans} --rounds {asked.rounds}")
    times: dict[int, list[float]] = {1: [], 2: []}
    for _ in range(asked.rounds):
        for services, own in times.items():
            with tempfile.TemporaryDirectory() as name:
                own.append(through(services, asked.vans, Path(name)))
    ratios = sorted(one / two for one, two in zip(times[1], times[2], strict=True))
    what = f"a day of {asked.vans} vans, {VISITS_OF_A_VAN} visits of {OPS_OF_A_VISIT} operations each"
    rows = [(f"{what}, through one service", results.spread(times[1]), ""),
            (f"{what}, through two at once", results.spread(times[2]), ""),
            ("one against two, by the clock, median of the rounds",
             f"{statistics.median(ratios):.2f} times; {ratios[0]:.2f} to {ratios[-1]:.2f}", "at least 0.9 times")]
    beside = (f"{CLIENTS} clients in any case, each a process that waits for every answer. Clients, services and the"
              " database share the machine's cores, and the database doesn't sync: what two services can gain on more"
              " cores, or on several hosts, was not measured, and no other engine was tried.")
    results.report(results.BENCH, "Two services as two processes", run, rows, beside)


if __name__ == "__main__":
    main()
