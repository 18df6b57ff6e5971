"""The rules in Python compared with the module made from them, in three real browsers, and both with known answers.

`==` holds for everything; the normal run takes 500 random cases of each kind, `--long` 5,000 visits.
"""

from __future__ import annotations

import json
import random
from collections import Counter
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest

import sync.kernel
from sync import rulebook as books
from sync.errors import LaybyError
from sync.kernel import assessment, card, cautions, fold, prices, signing, verdict_digest
from tests.kernel.test_prices import random_bill
from tests.support.made_module import ENGINES, Engine, as_travelled, first_difference, with_wholes
from tests.support.random_history import cards, history
from tests.support.random_visits import visit as random_visit
from tests.support.service import Service

CASES = 500
VECTORS = Path(__file__).resolve().parents[1] / "vectors"
OF_VISITS = sorted(VECTORS.glob("*.json"))
OF_CALLS = sorted((VECTORS / "calls").glob("*.json"))

OF_A_VISIT = ["rest", "vacuum", "cleaner", "comparison", "co2e"]
OF_A_TEST = ["faults", "unknown", "expected", "levelled", "causes", "undecided", "evidence", "range", "next_check"]
YARDSTICKS = ["fleet", "chart", "history"]
OF_A_PAIR = ["condenser_split", "vent", "reasons", "credits", "notes"]


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """A real service that serves the page and the module."""
    running = Service(tmp_path_factory.mktemp("made") / "layby").start()
    yield running
    running.stop()


@pytest.fixture(scope="module", params=ENGINES)
def engine(
    request: pytest.FixtureRequest, service: Service, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Engine]:
    """The module in one browser after another."""
    with request.param(service.url + "/style.css", tmp_path_factory.mktemp("engine")) as opened:
        yield opened


@cache
def book() -> dict[str, Any]:
    """The rulebook as the phone has it."""
    parsed: dict[str, Any] = json.loads(books.combined(None))
    return parsed


def hold(engine: Engine, name: str, inputs: list[list[Any]], expected: list[Any]) -> None:
    """Every call gives the same in the browser as in Python."""
    answers = engine.answers([(name, given) for given in inputs])
    for number, (here, there) in enumerate(zip(expected, answers, strict=True)):
        assert there == {"value": here}, f"{name} {number}{first_difference({'value': here}, there)}"


@cache
def judgements(start: int, count: int) -> list[Any]:
    """Random visits as Python judges them."""
    return [as_travelled(assessment.assess(random_visit(seed), book(), "test")) for seed in range(start, start + count)]


def judge(engine: Engine, start: int, count: int) -> None:
    """Random visits, judged alike; each output occurs in a fifth of the cases, so that agreement means something."""
    visits = [random_visit(seed) for seed in range(start, start + count)]
    expected = judgements(start, count)
    hold(engine, "assess", [[visit, "@rulebook", "test"] for visit in visits], expected)
    hold(
        engine,
        "cautions_for",
        [[visit, "@rulebook"] for visit in visits],
        [cautions.cautions_for(visit, book()) for visit in visits],
    )
    hold(
        engine,
        "standing_cautions",
        [[visit, "@rulebook"] for visit in visits],
        [cautions.standing_cautions(visit, book()) for visit in visits],
    )
    check_presence(expected)


def test_deeds_have_the_same_cautions_in_both(engine: Engine) -> None:
    """Every work and move of the vocabularies, with what begins with it."""
    books = (("work", "work"), ("refrigerant_moves", "move"))
    given = [[name, code, "@rulebook"] for name, words in books for code in book()["vocabularies"][words]]
    hold(engine, "cautions_at", given, [cautions.cautions_at(name, code, book()) for name, code, _ in given])
    hold(engine, "deed_at", given, [cautions.deed_at(name, code, book()) for name, code, _ in given])


def test_signatures_are_held_against_the_same_bill(engine: Engine) -> None:
    """Signed for the sum and the work as they are, or for others, in currencies of two decimals and of none."""
    visits = [random_visit(seed) for seed in range(40)]
    signed = [{"sum": "129.90", "done": [item["code"] for item in visit.get("work") or []], "moved": []}
              for visit in visits]
    line = {"id": "p", "unit_price": "120.00", "tax_pct": "8.25"}
    given = [[{**visit, "signature": signature, "charges": [line] * (1 + number % 2)}, number % 3]
             for number, (visit, signature) in enumerate(zip(visits, signed, strict=True))]
    expected = [signing.signed_otherwise(visit, digits) for visit, digits in given]
    assert [] in expected
    assert ["bill"] in expected
    hold(engine, "signed_otherwise", given, expected)


def check_presence(judged: list[Any]) -> None:
    """Each output occurred in at least a fifth of the cases."""
    seen: Counter[str] = Counter()
    for one in judged:
        seen.update(name for name in OF_A_VISIT if one[name])
        for test in one["tests"]:
            seen["tests"] += 1
            seen.update(test["derived"].keys())
            seen.update(name for name in OF_A_TEST if test[name])
            seen.update(name for name in YARDSTICKS if any(one[name] for one in test["expected"].values()))
        if one["comparison"]:
            seen.update(name for name in OF_A_PAIR if one["comparison"][name])
            seen["figures"] += one["comparison"]["high_side"]["interval_kpa"] is not None
    of_tests = [row["name"] for row in book()["quantities"]["derived"]] + OF_A_TEST + YARDSTICKS
    shares = {name: seen[name] / seen["tests"] for name in of_tests}
    shares.update({name: seen[name] / len(judged) for name in [*OF_A_VISIT, *OF_A_PAIR, "figures"]})
    assert {name: share for name, share in shares.items() if share < 0.2} == {}


def test_visits_are_judged_alike(engine: Engine) -> None:
    """Everything that follows from a visit's readings, including cautions."""
    judge(engine, 0, CASES)


@pytest.mark.long
def test_many_visits_are_judged_alike(engine: Engine) -> None:
    """5,000 further random visits."""
    judge(engine, 10_000, 5_000)


def test_digests_are_taken_of_the_same_text(engine: Engine) -> None:
    """The canonical text of a judgement, byte for byte."""
    judged = judgements(0, CASES)
    hold(engine, "shown_text", [[one] for one in judged], [verdict_digest.shown_text(one) for one in judged])


def test_histories_are_folded_alike(engine: Engine) -> None:
    """Two devices with chains, conflicts, strikes and wrong clocks."""
    cases = [history(seed) for seed in range(CASES)]
    expected = [as_travelled(fold.replay(ops, book()["kinds"])) for ops in cases]
    hold(engine, "replay", [[ops, "@kinds"] for ops in cases], expected)
    assert sum(bool(found["conflicts"]) for found in expected) >= CASES / 5


def test_cards_are_made_alike(engine: Engine) -> None:
    """Statements, corrections that conflict or settle, merges that contradict each other, marks and subjects."""
    cases = [cards(seed) for seed in range(CASES)]
    kinds = book()["kinds"]
    made = [as_travelled(card.card_of("vehicle", case["stated"], case["ops"], kinds)) for case in cases]
    hold(engine, "card_of", [["vehicle", case["stated"], case["ops"], "@kinds"] for case in cases], made)
    mergings = [card.merged(case["ops"], kinds) for case in cases]
    hold(engine, "merged", [[case["ops"], "@kinds"] for case in cases], mergings)
    marks = [card.marks_of(case["ops"], kinds) for case in cases]
    hold(engine, "marks_of", [[case["ops"], "@kinds"] for case in cases], marks)
    ops = [op for case in cases for op in case["ops"]][:CASES]
    subjects = [as_travelled(card.subjects_of(op, kinds)) for op in ops]
    hold(engine, "subjects_of", [[op, "@kinds"] for op in ops], subjects)
    assert sum(bool(found["conflicts"]) for found in made) >= CASES / 5
    assert sum(bool(found) for found in mergings) >= CASES / 5


def test_bills_are_reckoned_alike(engine: Engine) -> None:
    """Odd fractions, credits, several rates, with and without a discount."""
    chance = random.Random(20261126)
    bills = [list(random_bill(chance)) for _ in range(CASES)]
    hold(engine, "reckon", bills, [with_wholes(as_travelled(prices.reckon(*bill))) for bill in bills])


# Names that mean something to every JavaScript object, that its objects would put first, or that aren't ASCII.
HOSTILE = ["__proto__", "constructor", "toString", "valueOf", "7", "0", "", "a/b~c", "köä", "\U0001f697", "\uffee"]


def hostile_history(seed: int) -> list[dict[str, Any]]:
    """Operations whose bodies, ids and lists use such names."""
    chance = random.Random(seed)
    names = chance.sample(HOSTILE, 3)
    opened = {"started_at": "s", "vehicle": {"plate": "P"}}
    bodies = [
        ("visit.open", opened),
        ("visit.set", {names[0]: {names[1]: 1.5}, "customer": {names[2]: "x"}}),
        ("work.add", {"id": names[1], "code": names[0]}),
        ("visit.set", {"vehicle": {names[0]: {names[0]: None}, names[1]: [1]}}),
        ("trace.add", {"test": names[2], "points": [{"s": 1}]}),
        ("item.strike", {"list": names[0], "id": names[1]}),
        (names[0], {"id": names[1]}),
    ]
    ops = []
    for number, (kind, body) in enumerate(bodies):
        base = {f"/vehicle/{names[0]}": chance.choice(HOSTILE)} if number else {}
        frame = {"id": f"op{number}", "device": "aa", "seq": number, "schema": 1, "visit": "v", "at": number, "tz": 0}
        ops.append({**frame, "kind": kind, "base": base, "body": body})
    return ops


def test_hostile_names_are_names_like_any_other(engine: Engine) -> None:
    """A key such as `__proto__` or `constructor` neither vanishes nor finds something that nobody wrote."""
    cases = [hostile_history(seed) for seed in range(200)]
    expected = [as_travelled(fold.replay(ops, book()["kinds"])) for ops in cases]
    hold(engine, "replay", [[ops, "@kinds"] for ops in cases], expected)
    hold(engine, "canonical", [[found] for found in expected], [verdict_digest.canonical(found) for found in expected])


def called(name: str, given: list[Any]) -> Any:
    """A call of a vector in Python."""
    known = {"@rulebook": book(), "@kinds": book()["kinds"]}
    module, function = name.rsplit(".", 1)
    rule: Callable[..., Any] = getattr(__import__(f"sync.kernel.{module}", fromlist=["x"]), function)
    try:
        return {"value": as_travelled(rule(*[known.get(one, one) if isinstance(one, str) else one for one in given]))}
    except LaybyError as error:
        return {"error": error.code}


def call_cases() -> Iterator[Any]:
    """Every case of the vectors of calls, under its own id."""
    for path in OF_CALLS:
        for number, case in enumerate(json.loads(path.read_text("utf-8"))["cases"]):
            yield pytest.param(case, id=f"{path.stem}:{case.get('id', number)}")


@pytest.mark.parametrize("case", list(call_cases()))
def test_calls_meet_their_known_answers(engine: Engine, case: dict[str, Any]) -> None:
    """The answers come from their sources, not from either version of the rules."""
    module, name = case["call"].split(".")
    here, [there] = called(case["call"], case["given"]), engine.answers([(name, case["given"])])
    whole = with_wholes(here) if module == "prices" else here
    assert whole == there, first_difference(whole, there)
    if "error" in case:
        assert here == {"error": case["error"]}
    elif "within" in case:
        assert here["value"] == pytest.approx(case["gives"], abs=case["within"])
    elif "share" in case:
        assert here["value"] == pytest.approx(case["gives"], rel=case["share"], abs=case["share"])
    else:
        assert here["value"] == case["gives"]


def visit_cases() -> Iterator[Any]:
    """Every case of the vectors of visits, under its own id."""
    for path in OF_VISITS:
        for case in json.loads(path.read_text("utf-8"))["cases"]:
            yield pytest.param(case, id=f"{path.stem}:{case['id']}")


def at(node: Any, path: str) -> Any:
    """The value at a slash path."""
    for part in path.strip("/").split("/"):
        node = node[int(part) if isinstance(node, list) else part]
    return node


@pytest.mark.parametrize("case", list(visit_cases()))
def test_visits_meet_their_known_answers(engine: Engine, case: dict[str, Any]) -> None:
    """Visits whose derived quantities are known from published tables."""
    here = as_travelled(assessment.assess(case["visit"], book(), "test"))
    [there] = engine.answers([("assess", [case["visit"], "@rulebook", "test"])])
    assert there == {"value": here}
    for path, expected in case["expected"].items():
        if isinstance(expected, dict):
            assert at(here, path) == pytest.approx(expected["value"], abs=expected["within"]), path
        else:
            assert at(here, path) == expected, path


def test_vectors_are_well_formed() -> None:
    """Each file says what it holds; each case names its source, and the ids of visits are unique."""
    ids = []
    for path in [*OF_VISITS, *OF_CALLS]:
        vectors = json.loads(path.read_text("utf-8"))
        assert vectors["about"]
        assert all(case.get("source") or vectors.get("source") for case in vectors["cases"])
        ids += [case["id"] for case in vectors["cases"] if "id" in case]
    assert len(ids) == len(set(ids)) > 0
    assert all(Path(sync.kernel.__file__).with_name(f"{path.stem}.py").exists() for path in OF_CALLS)
