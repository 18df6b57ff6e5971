"""What the phone page costs on a slow phone: judging a visit, a cold start without a network, the download.

Run by hand: `python -m tests.bench.bench_phone [--slow 4] [--starts 7]`. Chromium's developer tools slow the processor
down. Nothing here decides pass or fail.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from playwright.sync_api import Page

from server.http.app_shell import PICTURES, WORKER, AppShell, File
from tests.bench import results
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
# When the first field of the step accepts typing and has been drawn, from the start of the navigation [ms].
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


def slow_down(handset: Phone, page: Page, rate: float) -> None:
    """Slow the page's processor down by this factor."""
    assert handset.context is not None
    handset.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": rate})


def judging(handset: Phone, service: Service, rate: float) -> list[float]:
    """How long each of 60 random visits of two tests takes to judge, warm [s]."""
    visits = [visit for visit in map(random_visit, range(200)) if len(visit["tests"]) == 2][:60]
    page = handset.open(service.url + "/manifest.webmanifest")
    slow_down(handset, page, rate)
    durations: list[float] = page.evaluate(JUDGE, [visits, TIMES])
    handset.close()
    return [duration / 1e3 for duration in durations]


def cold_start(handset: Phone, address: str, rate: float) -> float:
    """From the navigation to a field that accepts typing, in a browser just started [s]."""
    page = handset.open("about:blank")
    slow_down(handset, page, rate)
    page.add_init_script(WATCH)
    page.goto(address)
    duration = float(page.evaluate("window.typable"))
    write(page, "Phone", "5")
    handset.close()
    return duration / 1e3


def offline_visit(handset: Phone, page: Page, service: Service) -> str:
    """Leave the phone closed on a visit that holds a few entries, and stop its desk; returns the visit's address [URL].
    """
    ready_offline(page)
    visit = start_visit(page)
    write(page, "Customer", "M. Okafor")
    saved(page)
    handset.close()
    service.stop()
    return f"{service.url}/visit/{visit}/customer"


def download() -> tuple[int, int]:
    """How much the phone loads, compressed as it is served over https, and in how many files [bytes, count].

    It counts what the worker keeps (with the words of one language, the longest), the worker, and every picture that an
    installation may request.
    """
    shell = AppShell()
    paths = {*shell.stock, WORKER, *(path for path in shell.files if path.endswith(PICTURES))}
    sizes = [_size(shell.files[path]) for path in paths]
    words = max(_size(shell.files[path]) for path in shell.words.values())
    return sum(sizes) + words, len(sizes) + 1


def _size(file: File) -> int:
    """How much of a file is sent to a phone, which comes over https and accepts Brotli [bytes]."""
    return min(map(len, [file.content, *file.packings.values()]))


def rows_of(handset: Phone, service: Service, rate: float, starts: int) -> list[results.Row]:
    """All figures of the page."""
    size, count = download()
    what = "the download, compressed, rulebook, worker and all pictures included"
    rows = [(what, f"{size / 1000:.1f} kB in {count} files", "140 kB")]
    for slow in (1, rate):
        durations = judging(handset, service, slow)
        bar = "5 ms" if slow == 4 else ""
        rows.append((f"judging a visit of two tests at 1/{slow:g} speed", results.spread(durations), bar))
    address = offline_visit(handset, handset.open(service.url), service)
    durations = [cold_start(handset, address, rate) for _ in range(starts)]
    bar = "1 s" if rate == 4 else ""
    return [*rows, (f"cold offline start to typing at 1/{rate:g} speed", results.spread(durations), bar)]


def main() -> None:
    """Measure, print and write down."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--slow", type=float, default=4)
    parser.add_argument("--starts", type=int, default=7)
    asked = parser.parse_args()
    run = results.Run.begin(f"python -m tests.bench.bench_phone --slow {asked.slow:g} --starts {asked.starts}")
    with tempfile.TemporaryDirectory() as place, phone(Path(place) / "profile") as handset:
        service = Service(Path(place) / "layby").start()
        try:
            rows = rows_of(handset, service, asked.slow, asked.starts)
        finally:
            service.stop()
    results.report(results.BENCH, "The phone page", run, rows)


if __name__ == "__main__":
    main()
