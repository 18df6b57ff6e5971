"""Help as the desk serves it: a text for all that can be read, meant or pressed, in each language, with true figures.

No test can say whether a text is good.
"""

from __future__ import annotations

import hashlib
import json
import re
import shutil
from pathlib import Path
from typing import Any

import pytest

from server.http.app_shell import AppShell
from server.http.help_texts import FIGURES, figure_of, help_files
from sync import rulebook as books
from sync.kernel.books import Rulebook
from sync.language.words import blanks_of
from tests.support.service import ROOT, Service

LANGUAGES = ("en", "en-US", "es")
MOST_BYTES = 40_000
PARTS = ["what", "how", "spoils", "normal"]
# Besides a test's conditions and readings: those of the place, a rest, moves of refrigerant and a cleaner.
OTHERS = {"altitude_m", "station_pressure_kpa", "hours_off", "metal_c", "air_c", "pressure_pa", "held_min", "rise_pa",
          "air_pct", "dwell_min"}  # fmt: skip
# Keys whose code the page chooses as it draws them.
NOT_ON_THE_PAGE = {"as_usual", "same_as_before"}
# Where a text may have a number: names of refrigerants, standards and rules.
NAMED = re.compile(r"R-\d+\w*|SAE J\d+|ISO \d+|EN \d+|\{\w+\}")


def told(tag: str) -> dict[str, Any]:
    """What the desk serves of a language."""
    told: dict[str, Any] = json.loads(help_files()[tag])
    return told


def every_text(tag: str) -> dict[str, str]:
    """Each sentence of a language by its code."""
    return {
        f"{kind}.{code}.{part}": text
        for kind, codes in told(tag)["text"].items() for code, parts in codes.items() for part, text in parts.items()
    }  # fmt: skip


def keys_on_the_page() -> set[str]:
    """The keys that have help beside them, by the codes in the page's modules."""
    code = "\n".join(path.read_text("utf-8") for path in sorted((ROOT / "pwa" / "form").glob("*.js")))
    named = re.findall(r"""(?:withHelp\(.+?, |helpKey\("key", )"(\w+)"\)""", code)
    clocks = re.search(r"const CLOCKS = \{(.*)\};", code)
    assert clocks is not None
    return {*named, *re.findall(r'"(\w+)"', clocks[1])}


def wanted(rulebook: Rulebook) -> dict[str, set[str]]:
    """What needs help, by kind."""
    book: Any = rulebook
    derived = {row["name"] for row in book["quantities"]["derived"]} | {"rest_excess_kpa"}
    scopes = book["fields"]["scopes"]
    of_tests = [path for path in scopes["tests"] if path.startswith(("conditions.", "readings."))]
    taken = OTHERS | {path.rpartition(".")[2] for path in of_tests}
    assert set(scopes["rests"]) - taken == {"id", "at"}
    return {
        "quantity": taken | derived,
        "cause": set(book["causes"]["order"]),
        "check": {row["what"] for row in book["causes"]["checks"]},
        "key": keys_on_the_page() | NOT_ON_THE_PAGE,
    }


@pytest.mark.parametrize("tag", LANGUAGES)
def test_everything_has_its_help_and_nothing_else_has(rulebook: Rulebook, tag: str) -> None:
    """Each in up to four parts, what it is first."""
    text = told(tag)["text"]
    assert {kind: set(codes) for kind, codes in text.items()} == wanted(rulebook)
    for codes in text.values():
        for code, parts in codes.items():
            assert next(iter(parts)) == "what", code
            assert [part for part in PARTS if part in parts] == list(parts), code


def test_the_languages_say_the_same_things() -> None:
    """The same parts with the same figures; a region has only what differs."""
    english, american, spanish = (every_text(tag) for tag in LANGUAGES)
    assert set(english) == set(american) == set(spanish)
    assert [code for code in english if blanks_of(english[code]) != blanks_of(spanish[code])] == []
    assert [code for code in english if english[code] == spanish[code]] == []
    own = [code for code in english if american[code] != english[code]]
    assert 0 < len(own) < 20
    assert "hood" in american["quantity.hood_open.what"].lower()


@pytest.mark.parametrize("tag", LANGUAGES)
def test_no_figure_is_written_into_a_text(tag: str) -> None:
    """Each is a blank, so that it has a source and is shown in the reader's units."""
    texts = every_text(tag)
    assert {code: text for code, text in texts.items() if re.search(r"\d", NAMED.sub("", text))} == {}
    figures = {name for text in texts.values() for name in blanks_of(text)}
    assert figures == set(told(tag)["figures"])


@pytest.mark.parametrize("tag", LANGUAGES)
def test_help_stays_small(tag: str) -> None:
    """A technician's evening has better uses for a poor signal."""
    assert len(help_files()[tag]) <= MOST_BYTES


def test_figures_are_the_rulebooks_or_have_a_source(rulebook: Rulebook) -> None:
    """A path is followed; otherwise its source is named, "common practice, no source" if there is none."""
    rows = json.loads((books.FOLDER / books.WORDS / FIGURES).read_text("utf-8"))["figures"]
    for name, row in rows.items():
        assert ("path" in row) != ("value" in row and bool(row["source"])), name
    assert figure_of(rows["rinse_wait"], rulebook)["value"] == [rulebook["comparison"]["limits"]["rinsed_min"]]
    assert figure_of(rows["settle_high"], rulebook) == {"quantity": "percent", "value": [2.0]}
    low, high = figure_of(rows["ambient_range"], rulebook)["value"]
    assert {"name": "ambient", "low": low, "high": high, "needed": True} in rulebook["yardsticks"]["valid"]


def test_what_makers_print_is_what_their_tables_hold() -> None:
    """The smallest and largest of all rows at the named ambient temperature."""
    figures = told("en")["figures"]
    table = json.loads((books.FOLDER / "yardsticks.json").read_text("utf-8"))["published"]
    rows = [dict(zip(table["columns"], row, strict=True)) for row in table["rows"]]
    rows = [row for row in rows if row["ambient_c"] == figures["published_at"]["value"][0]]
    for figure, column in (("low", "low_kpa_g"), ("high", "high_kpa_g"), ("vent", "vent_c")):
        values = [row[column] for row in rows if row[column] is not None]
        assert figures[f"published_{figure}"]["value"] == [min(values), max(values)]
    assert {row["windows"] for row in rows} == {"open"}


def test_dangers_are_those_of_the_cautions(rulebook: Rulebook) -> None:
    """25 bar and 100 bar: 100 kPa is 1 bar."""
    terms: Any = rulebook["words"]["en"]["terms"]
    for figure, caution in (("high_danger", "hoses_stopped"), ("r744_danger", "very_high_pressure")):
        bar = told("en")["figures"][figure]["value"][0] / 100
        assert f" {bar:.0f}\u00a0bar" in terms["caution"][caution]


@pytest.mark.parametrize("tag", LANGUAGES)
def test_help_is_served_and_no_worker_keeps_it(service: Service, tag: str) -> None:
    """Its ETag is its hash; the list of what a phone downloads doesn't name it."""
    status, headers, content = service.get(f"/help/{tag}.json")
    assert (status, headers["Content-Type"]) == (200, "application/json")
    assert headers["ETag"] == f'"{hashlib.sha256(content).hexdigest()}"'
    assert content == help_files()[tag]
    assert f"/help/{tag}".encode() not in service.get("/sw.js")[2]
    assert service.get("/help/tlh.json")[0] == 404


def test_another_help_is_another_version(tmp_path: Path) -> None:
    """So a phone fetches it; a rulebook without help is served without, and starts."""
    folder = tmp_path / "rulebook"
    shutil.copytree(books.FOLDER, folder)
    before = AppShell(folder).version
    assert before == AppShell().version
    book = folder / "words" / "en" / "help.json"
    book.write_text(book.read_text("utf-8").replace("Nothing stands out", "Nothing shows"), "utf-8")
    assert AppShell(folder).version != before
    (folder / "words" / FIGURES).unlink()
    assert [path for path in AppShell(folder).files if path.startswith("/help/")] == []
