"""The fit on made rows with known answers, its text, and the committed book against it."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from sync.rulebook import FOLDER
from tests.support import children
from tests.support.service import ROOT
from tests.worlds.draws import CAUSES
from tests.worlds.features import COLUMNS
from tests.worlds.fit import (
    PRINTED,
    REGIMES,
    SHARE,
    SHIFT_STEP,
    Fit,
    Options,
    clusters,
    fitted,
    published_rows,
    regime_of,
    row_of,
    text_of,
)
from tests.worlds.made_rows import AMBIENT, LOW_BLOWER, REST_EXCESS_KPA, SHIFTS, WIDTH, rows, slopes
from tests.worlds.published import healthy_rows
from tests.worlds.test_cases import drawn

LOW = COLUMNS.index("low_saturation_c")
SPLIT = COLUMNS.index("condenser_split_k")
REST = COLUMNS.index("rest_excess_kpa")
FREE = Options(ridge=0.0, shifts=1)
PULL = 0.02  # the most that pulling a centre to zero costs here; a fifth of the book's rounding
PATIENCE_S = 5400.0


def test_middles_and_shifts_that_were_made_are_recovered() -> None:
    """Without scatter the fit gives back what was put in, but for the slight pull on a centre."""
    fit = Fit([rows(1), rows(2)], [], FREE)
    for regime in REGIMES:
        assert fit.slopes[regime] == pytest.approx(slopes(regime), abs=PULL)
        for cause, shift in SHIFTS.items():
            expected = shift.copy()
            expected[REST] = REST_EXCESS_KPA if cause == "non_condensables" else 0.0
            assert fit.shifts[regime][cause][0] == pytest.approx(expected, abs=PULL)
        assert fit.shifts[regime]["healthy"] == pytest.approx(np.zeros((1, len(COLUMNS))))


def test_whole_cars_scatter_is_the_fleets_and_no_cause_moves_by_it() -> None:
    """Offsets with a standard deviation of 2 K give a variance of 4 K² beside the options' own; shifts stay as made."""
    fit = Fit([rows(3, each=200, spread=2.0)], [], replace(FREE, car=(0.5,) * len(COLUMNS)))
    for regime in REGIMES:
        assert np.diag(fit.fleet[regime])[:REST] == pytest.approx(4.25, rel=0.1)
        assert fit.shifts[regime]["undercharge"][0][:REST] == pytest.approx(SHIFTS["undercharge"][:REST], abs=PULL)


def test_worlds_count_alike_however_many_cases_they_bring() -> None:
    """A world with twice the rows, all 4 K warmer, moves the middle by half of that."""
    warm = [replace(row, twin=row.twin + 4.0, sick=row.sick + 4.0) for row in rows(5, each=40)]
    fit = Fit([rows(4), warm], [], FREE)
    assert fit.slopes["regulated"][LOW, 0] == pytest.approx(slopes("regulated")[LOW, 0] + 2.0, abs=0.3)


def test_published_tables_move_a_middle_half_way_each_maker_alike() -> None:
    """Three rows of one maker 8 K above and one of another at the middle: 4 K in the mean, so 2 K; slopes stay."""
    around = np.array([1.0, *[0.0] * (WIDTH - 1)])
    middle = slopes("regulated") @ around
    printed = [("one", middle + 8.0, around)] * 3 + [("other", middle, around)]
    fit = Fit([rows(1)], printed, FREE)
    moved = fit.slopes["regulated"] - slopes("regulated")
    for name in COLUMNS[:REST]:
        expected = 2.0 if name in PRINTED else 0.0
        assert moved[COLUMNS.index(name), 0] == pytest.approx(expected, abs=PULL)
    assert moved[:, 1:] == pytest.approx(0.0, abs=PULL)
    assert fit.slopes["cycling"] == pytest.approx(slopes("cycling"), abs=PULL)


def test_a_cause_that_a_regime_hardly_knows_is_taken_from_another() -> None:
    """Too few cycling cars with icing: they move as those that stay on."""
    few = [row for row in rows(1) if (row.cause, row.regimes[0]) != ("icing", "cycling")]
    fit = Fit([few], [], FREE)
    assert fit.shifts["cycling"]["icing"] == pytest.approx(fit.shifts["stays_on"]["icing"])


def test_groups_of_near_points_are_parted() -> None:
    """Two groups around (0, 0) and (10, 10): their means, and which point is in which."""
    points = np.array([[0.0, 1.0], [1.0, 0.0], [-1.0, -1.0], [10.0, 11.0], [11.0, 10.0], [9.0, 9.0]])
    means, nearest = clusters(points, 2)
    ordered = sorted(means.tolist())
    assert ordered[0] == pytest.approx([0.0, 0.0])
    assert ordered[1] == pytest.approx([10.0, 10.0])
    assert len(set(nearest[:3])) == len(set(nearest[3:])) == 1
    assert nearest[0] != nearest[3]


def test_a_regime_is_how_the_compressor_is_regulated_and_runs() -> None:
    """A switched one that does not switch stays on; all others are regulated."""
    assert regime_of("cycling_pressure", "cycling") == regime_of("cycling_vent", "cycling") == "cycling"
    assert regime_of("cycling_vent", "steady") == "stays_on"
    assert regime_of("electric", "steady") == regime_of("variable_internal", "steady") == "regulated"


def test_air_in_a_faulty_car_is_not_in_its_twin(rulebook: Any) -> None:
    """A visit holds one reading at rest, the faulty car's: whole cars must not scatter by it."""
    by_cause: dict[str, list[Any]] = {}
    for case in drawn("zones"):
        by_cause.setdefault(case.truth["cause"], []).append(row_of(case, rulebook))
    for cause, made in by_cause.items():
        airy = cause == "non_condensables"
        assert all(np.isnan(row.twin[REST]) == airy and not np.isnan(row.sick[REST]) for row in made)
    assert len(by_cause["non_condensables"]) == 4


def test_the_book_says_what_was_fitted(rulebook: Any) -> None:
    """Centre, slope and code of a middle, rounded; a lower triangle per matrix; all causes in every regime."""
    book = Fit([rows(1)], [], FREE).book(rulebook["distribution"])
    assert book["middles"]["cycling"]["condenser_split_k"] == {
        "centre": 10.0 + REGIMES.index("cycling") + SPLIT, "per": {"ambient": 0.5}, "by": {"blower": {"low": 3.0}},
    }  # fmt: skip
    assert slopes("cycling")[SPLIT, [AMBIENT, LOW_BLOWER]].tolist() == [0.5, 3.0]
    for name in ("fleet", "scatter"):
        assert [len(row) for row in book[name]["regulated"]] == list(range(1, len(COLUMNS) + 1))
    assert all(list(book["shifts"][regime]) == list(CAUSES) for regime in REGIMES)
    assert list(book) == list(rulebook["distribution"])


def test_a_maker_that_is_left_out_is_left_out(rulebook: Any) -> None:
    """Only its rows are left out; the middles then differ."""
    everyone = published_rows(rulebook)
    makers = {maker for maker, _, _ in everyone}
    assert len(everyone) >= 23
    assert makers <= {row.maker for row in healthy_rows(rulebook)}
    for maker in makers:
        others = published_rows(rulebook, maker)
        assert [name for name, _, _ in others] == [name for name, _, _ in everyone if name != maker]
    made = [rows(1)]
    assert fitted(made, rulebook, FREE)["middles"] != fitted(made, rulebook, FREE, "Chrysler")["middles"]


def test_the_text_of_a_book_is_the_book(rulebook: Any) -> None:
    """It reads back as the book it was made from, and the committed book is such a text."""
    made = fitted([rows(1, each=8)], rulebook, Options())
    assert json.loads(text_of(made)) == json.loads(json.dumps(made))
    committed = (FOLDER / "distribution.json").read_text("utf-8")
    assert text_of(json.loads(committed)) == committed


def step_of(path: tuple[str | int, ...]) -> float:
    """What the number at a place of the book is rounded to."""
    if SHARE not in path[-2:] and "on_share" not in path:
        return SHIFT_STEP if path[0] == "shifts" else 0.1
    return 0.001 if path[0] in ("fleet", "scatter") else 0.01


def apart(one: Any, other: Any, path: tuple[str | int, ...] = ()) -> list[str]:
    """Where two books differ by more than one step of their rounding; a number missing from a middle is zero."""
    pairs = []
    if isinstance(one, dict) and isinstance(other, dict):
        empty: Any = {} if path[-1:] == ("by",) else 0.0
        pairs = [(name, one.get(name, empty), other.get(name, empty)) for name in dict.fromkeys([*one, *other])]
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        pairs = list(zip(range(len(one)), one, other, strict=True))
    elif isinstance(one, float) and isinstance(other, float):
        return [] if abs(one - other) < 1.01 * step_of(path) else [f"{path}: {one} or {other}"]
    elif one != other:
        return [f"{path}: {one} or {other}"]
    return [line for name, mine, its in pairs for line in apart(mine, its, (*path, name))]


def test_books_are_told_apart_by_more_than_a_step() -> None:
    """The comparison itself, on books written here."""
    assert apart({"a": [1.0, 2.0]}, {"a": [1.1, 2.0]}) == []
    assert apart({"a": [1.0, 2.0]}, {"a": [1.2, 2.0]}) != []
    assert apart({"per": {"ambient": 0.1}, "by": {"air": {"outside": 0.1}}}, {"per": {}, "by": {}}) == []
    assert apart({"on_share": {"centre": 0.5}}, {"on_share": {"centre": 0.52}}) != []
    assert apart({"fleet": [[0.0] * 6, [0.0] * 6 + [0.004]]}, {"fleet": [[0.0] * 6, [0.0] * 6 + [0.006]]}) != []
    assert apart({"a": [1.0]}, {"a": [1.0, 2.0]}) != []


@pytest.mark.long
def test_the_committed_book_is_what_the_fit_gives() -> None:
    """All worlds drawn and fitted again by the command: each number within a step of its rounding."""
    command = [sys.executable, "-m", "tests.worlds.fit"]
    printed = children.run(command, patience_s=PATIENCE_S, cwd=ROOT, check=True).stdout
    assert apart(json.loads((FOLDER / "distribution.json").read_text("utf-8")), json.loads(printed)) == []
