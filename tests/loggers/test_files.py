"""Loggers' files, honest and hostile, as Python and as two browsers read them: columns, entries, and what is named.

The files and what they come to are vectors written by hand; `==` holds between the languages.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from sync import rulebook as books
from sync.loggers import cells, entries, groups, table
from sync.work.logger_files import decoded
from tests.support.made_module import ENGINES, Engine, as_travelled, first_difference
from tests.support.service import Service

VECTORS = json.loads((Path(__file__).resolve().parents[1] / "vectors" / "loggers" / "files.json").read_text("utf-8"))
FILES: list[dict[str, Any]] = VECTORS["files"]
AT: str = VECTORS["at"]
NUMBER = 3
MODULE = "/loggers.js"


@cache
def book() -> Any:
    """The book of loggers."""
    return books.loggers()


@cache
def units() -> Any:
    """The units, as the phone has them."""
    return json.loads(books.combined())["units"]


def span_of(file: dict[str, Any]) -> dict[str, Any]:
    """The time of the test that a file is read for."""
    first, last = entries.span_of(AT, file.get("others", []), book())
    return {"at": AT, "from_s": first, "to_s": last, "zero_s": file.get("zero_s", 0), "number": NUMBER}


def match_of(file: dict[str, Any], read: Any) -> list[str]:
    """What a person would say of the columns."""
    return entries.known_match(file.get("match") or [column["guess"] for column in read["columns"]], read, book())


@pytest.mark.parametrize("file", FILES, ids=lambda file: str(file["name"]))
def test_a_file_comes_to_what_is_written_beside_it(file: dict[str, Any]) -> None:
    """Its columns and entries, what is left out, and every fault with its line."""
    read = table.table_of(file["text"], AT, book())
    if "broken" in file:
        code, line = file["broken"]
        assert [(fault["code"], fault["line"]) for fault in read["faults"]] == [(code, line)]
        return
    assert [column["guess"] for column in read["columns"]] == file["guess"]
    match = match_of(file, read)
    assert [fault["code"] for fault in entries.match_faults(match, read, book())] == file.get("unmatched", [])
    if "unmatched" in file:
        return
    found = entries.entries_of(read, match, span_of(file), (book(), units()))  # type: ignore[arg-type]
    seconds = [round(point.pop("s") - NUMBER / 1000, 6) for point in found["points"]]
    assert list(zip(seconds, found["points"], strict=True)) == [tuple(row) for row in file["points"]]
    assert [list(fault.values()) for fault in found["faults"]] == file.get("faults", [])
    left = {"before": found["before"], "after": found["after"], "thinned": found["thinned"]}
    assert left == {name: file.get(name, 0) for name in left}


def long_file(rows: int = 5000) -> str:
    """A file with a row a second: a vent that falls, a high side that swings, one peak and one pit in them."""
    lines = ["Time [s];Vent (°C);High (bar)"]
    lines += [f"{second};{20 - second / 1000:.3f};{14 + second % 7 / 10}" for second in range(rows)]
    lines[1235], lines[2346] = "1234;45;14", "2345;-7.25;14"
    return "\n".join(lines)


def read_whole(text: str, to_s: float = 1e6) -> Any:
    """All entries of a file whose columns are guessed."""
    read = table.table_of(text, AT, book())
    span: Any = {**span_of({}), "to_s": to_s}
    return entries.entries_of(read, match_of({}, read), span, (book(), units()))


def test_thinning_keeps_the_ends_and_the_extremes() -> None:
    """As many as the book says at most, in rising time, each an entry of the file."""
    found = read_whole(long_file())
    points = found["points"]
    assert 400 < len(points) <= book()["most"]["points"] == 500
    assert found["thinned"] == 5000 - len(points)
    assert [points[0]["s"], points[-1]["s"]] == [0.003, 4999.003]
    assert {45.0, -7.25} <= {point["vent_c"] for point in points}
    assert points == sorted(points, key=lambda point: point["s"])
    assert {point["high_kpa_g"] for point in points} >= {1400.0, 1460.0}


def test_no_more_than_ten_faults_are_listed_and_the_rest_is_counted() -> None:
    """A thousand torn rows among good ones; the good ones stay."""
    torn = "Time;Vent °C\n10:30:00;8\n" + "a;b;c\n" * 1000 + "10:30:10;9\n"
    found = read_whole(torn)
    assert [fault["line"] for fault in found["faults"]] == list(range(3, 13))
    assert (found["more"], len(found["points"])) == (990, 2)


def test_a_line_without_an_end_is_named_and_the_others_are_read() -> None:
    """Longer than the book allows, before and after the first row."""
    endless = "x;" * 50_000
    found = read_whole(f"{endless}\nTime;Vent °C\n10:30:00;8\n{endless}\n10:30:10;9\n")
    assert [(fault["code"], fault["line"]) for fault in found["faults"]] == [("long_line", 4)]
    assert len(found["points"]) == 2


def test_too_many_columns_are_named() -> None:
    """Sixty-one."""
    read = table.table_of(";".join(["10:30:00", *["1"] * 60]), AT, book())
    assert [fault["code"] for fault in read["faults"]] == ["many_columns"]


WRITTEN = "Time;Vent (°C)\r\n10:30:00;8,5\r\n"


@pytest.mark.parametrize(("mark", "encoding"), [
    (b"", "utf-8"), (b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"),
    (b"", "utf-16-le"), (b"", "utf-16-be"), (b"", "latin-1"),
])  # fmt: skip
def test_a_text_is_read_in_whichever_way_it_is_written(mark: bytes, encoding: str) -> None:
    """With or without its mark; the degree sign is the same everywhere."""
    read = table.table_of(decoded(mark + WRITTEN.encode(encoding)), AT, book())
    assert (read["header"], read["columns"][1]["guess"]) == ("Time\tVent (°C)", "vent_c:c")


def test_each_file_has_its_own_number() -> None:
    """Above all that the log ever had; what is typed has none."""
    assert groups.next_number([]) == 1
    assert groups.next_number([0, 12, -3.999, 7.002]) == 3
    assert [groups.number_at(second) for second in (5, 5.001, -4.999, 1234.999)] == [0, 1, 1, 999]
    assert groups.groups_of([0, 1.001, 2, 3.001]) == [
        {"number": 0, "count": 2, "first": 0, "last": 2}, {"number": 1, "count": 2, "first": 1.001, "last": 3.001}]


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """A real service that serves the module."""
    running = Service(tmp_path_factory.mktemp("made") / "layby").start()
    yield running
    running.stop()


@pytest.fixture(scope="module", params=ENGINES[:2])
def engine(
    request: pytest.FixtureRequest, service: Service, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Engine]:
    """The module in one browser after another."""
    with request.param(service.url + "/style.css", tmp_path_factory.mktemp("engine")) as opened:
        yield opened


def test_a_browser_reads_every_file_as_python_does(engine: Engine) -> None:
    """Tables, faults of matching, entries and encodings."""
    texts = [file["text"] for file in FILES] + [long_file(), "x;" * 50_000]
    heads = [list(WRITTEN.encode(name)[:64]) for name in ("utf-8", "utf-16", "utf-16-be", "latin-1")]
    calls: list[tuple[str, list[Any]]] = [("encoding_of", [head]) for head in heads]
    expected: list[Any] = [cells.encoding_of(head) for head in heads]
    for text, file in zip(texts, [*FILES, {}, {}], strict=True):
        read = table.table_of(text, AT, book())
        match, span = match_of(file, read), span_of(file)
        calls += [("table_of", [text, AT, book()]), ("known_match", [match, read, book()]),
                  ("match_faults", [match, read, book()])]
        expected += [read, match, entries.match_faults(match, read, book())]
        if read["columns"] and not expected[-1]:
            calls.append(("entries_of", [read, match, span, [book(), units()]]))
            expected.append(entries.entries_of(read, match, span, (book(), units())))  # type: ignore[arg-type]
    answers = engine.answers(calls, MODULE, None)
    for (name, _), here, there in zip(calls, expected, answers, strict=True):
        value = {"value": as_travelled(here)}
        assert there == value, f"{name}{first_difference(value, there)}"
