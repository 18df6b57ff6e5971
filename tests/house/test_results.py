"""The results files: one measurement replaces only its own section, in an order that stays; what they may hold.

Nothing is measured here, and no figure is judged.
"""

from __future__ import annotations

import importlib.util
import platform
import re
from pathlib import Path

import pytest

from tests.bench import results
from tests.bench.results import BENCH, LOOP, PROOF, Page, Run

RUN = Run("python -m tests.bench.bench_assess", "2026-11-25", "3.11.7", 2.52, 2)
LATER = Run("python -m tests.bench.bench_assess", "2026-12-01", "3.13.0", 0.4, 8)
COMMITTED = [BENCH, LOOP, PROOF]


@pytest.fixture
def page(tmp_path: Path) -> Page:
    """A results file that doesn't exist yet."""
    return Page(tmp_path / "RESULTS.md", "# Results\n\nOf what is measured.\n", ("First", "Second", "Third"))


def test_a_section_is_written_whole(page: Page) -> None:
    """Opening, heading, the run's line, the table and a note, as Markdown."""
    page.put("Second", RUN, results.table([("this | that", "1.50 times", "2 times"), ("plain", "3 ms", "")]), "A note.")
    assert page.path.read_text("utf-8") == (
        "# Results\n\nOf what is measured.\n\n## Second\n\n"
        "`python -m tests.bench.bench_assess`, 2026-11-25, Python 3.11.7, 2 cores, load average 2.5.\n\n"
        "| what | measured | bar |\n| --- | --- | --- |\n"
        "| this \\| that | 1.50 times | 2 times |\n| plain | 3 ms | none |\n\nA note.\n"
    )


def test_a_measurement_replaces_its_own_section_only(page: Page) -> None:
    """The others keep every byte, including a person's edits to the opening, and the file has each heading once."""
    for name in page.order:
        page.put(name, RUN, f"Text of {name}.\n\n```text\n  kept   as it is\n```")
    page.path.write_text(page.path.read_text("utf-8").replace("Of what is measured.", "By hand."), "utf-8")
    before = page.path.read_text("utf-8")
    page.put("Second", LATER, "Other text.")
    after = page.path.read_text("utf-8")
    start, end = before.index("## Second"), before.index("## Third")
    assert after.startswith(before[:start])
    assert after.endswith(before[end:])
    assert after[start : len(after) - len(before[end:])] == f"## Second\n\n{LATER.line()}\n\nOther text.\n\n"


def test_writing_the_same_again_changes_nothing(page: Page) -> None:
    """No line is added from one writing to the next."""
    page.put("Third", RUN, "Text.")
    page.put("First", RUN, "Text.")
    once = page.path.read_bytes()
    page.put("Third", RUN, "Text.")
    assert page.path.read_bytes() == once


def test_sections_stay_in_their_order(page: Page) -> None:
    """In any order of measuring; a section with an unknown heading stays, at the end."""
    page.put("Third", RUN, "c")
    page.path.write_text(page.path.read_text("utf-8") + "\n## By hand\n\nKept.\n", "utf-8")
    page.put("First", RUN, "a")
    page.put("Second", RUN, "b")
    _, sections = page.sections()
    assert list(sections) == ["First", "Second", "Third", "By hand"]
    assert sections["By hand"] == "Kept."


def test_a_heading_that_the_page_does_not_know_is_refused(page: Page) -> None:
    """So is a part with a heading in it, which would be lost at the next writing; nothing is written."""
    with pytest.raises(ValueError, match="no section 'Fourth'"):
        page.put("Fourth", RUN, "Text.")
    with pytest.raises(ValueError, match="heading of its own"):
        page.put("First", RUN, "Text.\n\n## Second\n\nText.")
    assert not page.path.exists()


def test_a_run_says_what_it_was_taken_with() -> None:
    """Command, day, Python, cores and load, but neither the machine's name nor a folder."""
    line = Run.begin("python -m tests.bench.bench_assess").line()
    assert re.fullmatch(
        rf"`python -m tests\.bench\.bench_assess`, \d{{4}}-\d\d-\d\d, Python {re.escape(platform.python_version())},"
        r" \d+ cores, load average \d+\.\d\.",
        line,
    )


def test_durations_are_written_to_three_figures() -> None:
    """Milliseconds below a second, seconds above."""
    assert [results.time_text(seconds) for seconds in (0.000123, 0.01234, 0.9991, 1.2345, 62)] == [
        "0.123 ms", "12.3 ms", "999 ms", "1.23 s", "62 s"]  # fmt: skip
    assert results.spread([0.003, 0.001, 0.010]) == "3 ms, median of 3; 1 ms to 10 ms"
    assert results.ratio(0.3, 0.2) == "1.50 times: 300 ms against 200 ms"


@pytest.mark.parametrize("page", COMMITTED, ids=lambda page: page.path.parent.name)
def test_the_committed_results_hold_nothing_of_a_machine(page: Page) -> None:
    """Known headings in their order; no path; each section dated, with a command that exists."""
    _, sections = page.sections()
    assert list(sections) == [name for name in page.order if name in sections]
    for heading, body in sections.items():
        assert re.search(r"\b20\d\d-\d\d-\d\d\b", body), heading
        commands = re.findall(r"python -m ([\w.]+)", body)
        assert [name for name in commands if importlib.util.find_spec(name) is None] == [], heading
    text = page.path.read_text("utf-8")
    assert not re.search(r"(?<![\w.)])/\w+/|\b[A-Z]:\\", text)
