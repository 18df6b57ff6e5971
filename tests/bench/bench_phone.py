"""What the phone page costs on a slow phone: judging a visit, a cold start without a network, the download.

Run by hand: `.venv/bin/python -m tests.bench.bench_phone [--slow 4] [--starts 7]`. The bars are 5 ms for judging a
visit of two tests and 1 s from a cold offline start to typing, both at a quarter of this processor's speed as
Chromium's developer tools slow it, and 150 kB compressed. Nothing here decides pass or fail.
"""

from __future__ import annotations

import argparse
import os
import statistics
import tempfile
from pathlib import Path

from playwright.sync_api import Page

from server.http.app_shell import AppShell
from tests.support.browser import Phone, phone
from tests.support.hands import ready_offline, saved, start_visit, write
from tests.support.random_visits import visit as random_visit
from tests.support.service import Service

TIMES = 20
JUDGE = """async ([visits, times]) => {
  const rulebook = await (await fetch("/rulebook.json")).json();
  const { assess } = await import("/kernel.js");
  for (const visit of visits) assess(visit, rulebook, "bench");
  return visits.map((visit) => {
    const start = performance.now();
    for (let time = 0; time < times; time += 1) assess(visit, rulebook, "bench");
    return (performance.now() - start) / times;
  });
}"""
# When the first field of the step can be typed into and has been drawn, from the start of the navigation [ms].
WATCH = """
  window.typable = new Promise((resolve) => {
    const watch = new MutationObserver(() => {
      if (document.querySelector("#page input") === null) return;
      watch.disconnect();
      requestAnimationFrame(() => setTimeout(() => resolve(performance.now())));
    });
    watch.observe(document, { childList: true, subtree: true });
  });
"""


def slowed(handset: Phone, page: Page, rate: float) -> None:
    """Slow the page's processor down so many times."""
    assert handset.context is not None
    handset.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": rate})


def judging(handset: Phone, service: Service, rate: float) -> list[float]:
    """How long each of 60 random visits of two tests takes to judge, warm [ms]."""
    visits = [made for made in map(random_visit, range(200)) if len(made["tests"]) == 2][:60]
    page = handset.open(service.url + "/manifest.webmanifest")
    slowed(handset, page, rate)
    found: list[float] = page.evaluate(JUDGE, [visits, TIMES])
    handset.close()
    return found


def cold_start(handset: Phone, address: str, rate: float) -> float:
    """From the navigation to a field that takes typing, in a browser just started [ms]."""
    page = handset.open("about:blank")
    slowed(handset, page, rate)
    page.add_init_script(WATCH)
    page.goto(address)
    found = float(page.evaluate("window.typable"))
    write(page, "Telephone", "5")
    handset.close()
    return found


def starts(handset: Phone, service: Service, rate: float, count: int) -> list[float]:
    """So many cold starts into a visit that holds a few entries, with no desk in reach [ms each]."""
    page = handset.open(service.url)
    ready_offline(page)
    visit = start_visit(page)
    write(page, "Customer", "M. Okafor")
    saved(page)
    handset.close()
    service.stop()
    return [cold_start(handset, f"{service.url}/visit/{visit}/customer", rate) for _ in range(count)]


def download() -> tuple[int, int]:
    """How much the phone loads, compressed as it is served, and in how many files [bytes, count]."""
    files = AppShell().files
    listed = [file for path, file in files.items() if not path.startswith("/rulebook/")]
    return sum(len(file.packed or file.content) for file in listed), len(listed)


def told(costs: list[float]) -> str:
    """Fastest, middle and slowest; on a busy machine the fastest says most."""
    return f"{min(costs):.2f} ms, median {statistics.median(costs):.2f} ms, slowest {max(costs):.2f} ms"


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--slow", type=float, default=4)
    parser.add_argument("--starts", type=int, default=7)
    given = parser.parse_args()
    size, count = download()
    print(f"waiting for this machine's processors: {os.getloadavg()[0]:.1f} processes")
    print(f"download: {size / 1000:.1f} kB in {count} files, the worker's list among them (bar 150 kB)")
    with tempfile.TemporaryDirectory() as place, phone(Path(place) / "profile") as handset:
        service = Service(Path(place) / "layby").start()
        try:
            for rate in (1, given.slow):
                costs = judging(handset, service, rate)
                print(f"judging two tests at 1/{rate:g} speed: {told(costs)} (bar 5 ms at 1/4)")
            costs = starts(handset, service, given.slow, given.starts)
            print(f"cold offline start to typing at 1/{given.slow:g} speed: {told(costs)} (bar 1000 ms)")
        finally:
            service.stop()


if __name__ == "__main__":
    main()
