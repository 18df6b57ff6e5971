"""How long sheets take compared with plain pages of the same text, and how much memory thirty photos need.

Run by hand: `python -m tests.bench.bench_sheet`. Nothing here decides pass or fail.
"""

from __future__ import annotations

import copy
import os
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from reports import fonts
from reports.sheet import PAPERS, VARIANT, markup, render
from server.tasks import evening
from sync import rulebook
from sync.physics import refrigerant
from sync.physics.diagnosis import diagnose
from sync.records.logbook import Logbook
from sync.records.sheet_records import SheetRecords
from sync.sheet.jobsheet import jobsheet, marked
from tests.bench import results
from tests.server.test_evening import DAY, Desk
from tests.support.drawn_photos import digest, photo
from tests.support.ops import uuid7
from tests.support.sheet_visits import MOVED, PAIR, STARTED_MS, operations

ROUNDS = 9
SHEETS = 12
EVENINGS = 3
PHOTOS = 30

# A child that prints one sheet with photos reports its own peak. It reads /proc, because getrusage would include what
# its parent held when it was started.
CHILD = """
import json, re, sys
from pathlib import Path
from reports.print_worker import limit, LIMITS
from reports.photos import derived
from reports.sheet import render
limit(LIMITS)
folder = Path(sys.argv[1])
pictures = {path.name: derived(path.read_bytes()) for path in sorted((folder / "photos").iterdir())}
pdf = render(json.loads((folder / "sheet.json").read_text("utf-8")), pictures)
print(re.search(r"VmHWM:\\s*(\\d+)", Path("/proc/self/status").read_text())[1], len(pdf))
"""


def plain(data: dict[str, Any]) -> str:
    """The sheet's own page without classes and style: the same words in the same headings, paragraphs and tables."""
    body = markup(data).partition("<body")[2].partition(">")[2].rpartition("</body>")[0]
    bare = re.sub(r' class="[^"]*"|<svg.*?</svg>|<img[^>]*>', "", body, flags=re.DOTALL)
    return f"<!DOCTYPE html><html lang=en><head><title>Sheet</title></head><body>{bare}</body></html>"


def rendered_plainly(html: str, faces: Any, config: Any) -> tuple[bytes, int]:
    """WeasyPrint on plain HTML in the same fonts and variant [PDF, pages]."""
    from weasyprint import CSS, HTML

    style = CSS(string=f'@page {{ size: {PAPERS["A4"]}; margin: 17mm 18mm }} html {{ font: 9.6pt/1.42 "Sheet Sans" }}'
                       " p { margin: 0 0 1mm }")
    document = HTML(string=html).render(stylesheets=[faces, style], font_config=config, **VARIANT)
    return document.write_pdf(**VARIANT), len(document.pages)


def work_of(task: Any, *inputs: Any) -> float:
    """One call by the processor, so that other work on this machine counts less [s]."""
    start = time.process_time()
    task(*inputs)
    return time.process_time() - start


def one_sheet(books: dict[str, Any]) -> list[results.Row]:
    """A two-page sheet and the same words as plain HTML, printed in turn; the best of some rounds each."""
    from weasyprint import CSS
    from weasyprint.text.fonts import FontConfiguration

    data = marked(jobsheet(PAIR, diagnose(PAIR, books, "0"), books), 1, books)
    config = FontConfiguration()
    faces = CSS(string=fonts.style(), font_config=config)
    html = plain(data)
    _, pages = rendered_plainly(html, faces, config)
    render(data)
    own, bare = [], []
    for _ in range(ROUNDS):
        own.append(work_of(render, data))
        bare.append(work_of(rendered_plainly, html, faces, config))
    what = f"a two-page sheet, against plain HTML of the same text ({pages} pages), by the processor"
    return [(what, results.ratio(min(own), min(bare)), "2 times")]


def an_evening(books: dict[str, Any]) -> list[results.Row]:
    """Twelve sheets without photos on the available cores, with CoolProp and renderers loaded beforehand."""
    refrigerant.saturation_temperature_c("R134a", 300.0)
    clock, work = [], []
    for _ in range(EVENINGS):
        with tempfile.TemporaryDirectory() as place, Logbook(Path(place), books) as logbook:
            desk = Desk(logbook, books)
            for number in range(SHEETS):
                visit = copy.deepcopy(PAIR if number % 2 else MOVED)
                visit["id"] = uuid7(STARTED_MS + number * 60_000, 100 + number)
                # Twelve vehicles: none of the day's visits is another's history.
                visit["vehicle"] = {**visit["vehicle"], "id": f"v{number}", "plate": f"AC {100 + number}"}
                del visit["vehicle"]["vin"]
                desk.file(operations(visit, desk.phone))
            start, before = time.perf_counter(), os.times()
            rows = evening.make_sheets(logbook, SheetRecords(logbook), DAY, books)
            clock.append(time.perf_counter() - start)
            work.append(sum(after - then for after, then in zip(os.times()[:4], before[:4], strict=True)))
            assert [row["state"] for row in rows] == ["made"] * SHEETS, rows
    times = f"{results.time_text(min(clock))} by the clock, {results.time_text(min(work))} by the processor"
    what = f"an evening of {SHEETS} sheets, its printing children started within; the best of {EVENINGS}"
    return [(what, times, "4 s")]


def thirty_photos(books: dict[str, Any]) -> list[results.Row]:
    """Peak memory of the child that prints thirty photos of nearly 2 MB each."""
    import json

    shots = [photo(seed, 4000, 3000, 520) for seed in range(PHOTOS)]
    visit = {**PAIR, "photos": [{"sha256": digest(shot), "role": "before"} for shot in shots]}
    data = jobsheet(visit, diagnose(visit, books, "0"), books, None, {"photos": [digest(shot) for shot in shots]})
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        (folder / "photos").mkdir()
        for shot in shots:
            (folder / "photos" / digest(shot)).write_bytes(shot)
        (folder / "sheet.json").write_text(json.dumps(data), "utf-8")
        child = subprocess.run([sys.executable, "-c", CHILD, place], capture_output=True, text=True, check=True)
    peak_kb, size = (int(part) for part in child.stdout.split())
    mean = sum(len(shot) for shot in shots) / PHOTOS / 1e6
    what = f"peak memory of the child that prints {PHOTOS} photos of {mean:.2f} MB"
    return [(what, f"{peak_kb / 1000:.0f} MB, for a PDF of {size / 1e6:.1f} MB", "300 MB")]


def main() -> None:
    """Measure, print and write down."""
    run = results.Run.begin("python -m tests.bench.bench_sheet")
    books = rulebook.load()
    rows = one_sheet(books) + an_evening(books) + thirty_photos(books)
    results.report(results.BENCH, "Printing", run, rows)


if __name__ == "__main__":
    main()
