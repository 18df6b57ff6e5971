"""The two engines against each other in a real browser, and both against vectors of known answers.

`==` holds for everything but what the desk alone adds; the normal run takes 500 random visits, `--long` 5,000.
"""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import pytest
from playwright.sync_api import sync_playwright

from sync.kernel import assessment, card, cautions, fold, units
from tests.support.browser import FLAGS, chromium
from tests.support.random_visits import visit as random_visit
from tests.support.service import Service

VECTORS = sorted(Path(__file__).resolve().parents[1].joinpath("vectors").glob("*.json"))

OF_A_VISIT = ["rest", "vacuum", "cleaner", "comparison", "co2e"]
OF_A_TEST = ["faults", "unknown", "expected", "levelled", "causes", "undecided", "next_check"]
OF_A_PAIR = ["condenser_split", "vent", "reasons", "credits", "notes"]

JUDGE = """async (visits) => {
  const rulebook = await (await fetch("/rulebook.json")).json();
  const { assess } = await import("/trade/assessment.js");
  const { cautionsFor } = await import("/trade/cautions.js");
  return visits.map((visit) => ({ judged: assess(visit, rulebook, "test"), cautions: cautionsFor(visit, rulebook) }));
}"""

FOLD = """async (cases) => {
  const rulebook = await (await fetch("/rulebook.json")).json();
  const { replay } = await import("/trade/fold.js");
  return cases.map((ops) => replay(ops, rulebook.kinds));
}"""

CARDS = """async (cases) => {
  const rulebook = await (await fetch("/rulebook.json")).json();
  const { cardOf, merged } = await import("/trade/card.js");
  const kinds = rulebook.kinds;
  return cases.map(({ stated, ops }) => [cardOf("vehicle", stated, ops, kinds), merged(ops, kinds)]);
}"""

ROUND = """async (numbers) => {
  const { roundHalfAway } = await import("/trade/units.js");
  return numbers.map(([number, decimals]) => roundHalfAway(number, decimals));
}"""


@pytest.fixture(scope="module")
def page(request, tmp_path_factory):
    """The phone page in a real Chromium, served by a real service; the fixture tells which browser it was."""
    service = Service(tmp_path_factory.mktemp("twins") / "layby").start()
    try:
        with sync_playwright() as engine:
            browser = engine.chromium.launch(executable_path=chromium(), args=FLAGS)
            opened = browser.new_page()
            opened.goto(service.url + "/manifest.webmanifest")
            if request.config.pluginmanager.has_plugin("terminalreporter"):  # not where several cores share the tests
                request.config.get_terminal_writer().line(f" the twins run in Chromium {browser.version}")
            yield opened
            browser.close()
    finally:
        service.stop()


def plain(value):
    """As it would travel: through JSON, so that whole floats and integers are alike."""
    return json.loads(json.dumps(value))


def first_difference(one, other, path=""):
    """Where two results part, for a person to read."""
    if isinstance(one, dict) and isinstance(other, dict):
        for key in sorted({*one, *other}):
            if key not in one or key not in other:
                return f"{path}/{key} is on one side only"
            if one[key] != other[key]:
                return first_difference(one[key], other[key], f"{path}/{key}")
    if isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        for i, (left, right) in enumerate(zip(one, other, strict=True)):
            if left != right:
                return first_difference(left, right, f"{path}/{i}")
    return f"{path}: {one!r} on the desk, {other!r} on the phone"


def run_both(page, rulebook, seeds):
    """Both engines on random visits; how often each output was there."""
    seen: Counter[str] = Counter()
    for start in range(0, len(seeds), 250):
        visits = [random_visit(seed) for seed in seeds[start : start + 250]]
        answers = page.evaluate(JUDGE, visits)
        for visit, answer in zip(visits, answers, strict=True):
            here = plain(assessment.assess(visit, rulebook, "test"))
            assert here == answer["judged"], f"{visit['id']}{first_difference(here, answer['judged'])}"
            assert cautions.cautions_for(visit, rulebook) == answer["cautions"]
            count_outputs(here, seen)
    return seen


def count_outputs(judged, seen):
    """Note which outputs of a judgement were there; tests count as `tests`, visits as `visits`."""
    seen["visits"] += 1
    seen.update(name for name in OF_A_VISIT if judged[name])
    for test in judged["tests"]:
        seen["tests"] += 1
        seen.update(test["derived"].keys())
        seen.update(name for name in OF_A_TEST if test[name])
    comparison = judged["comparison"]
    if comparison:
        seen.update(name for name in OF_A_PAIR if comparison[name])
        seen["figures"] += comparison["high_side"]["interval_kpa"] is not None


def check_presence(seen, rulebook):
    """Each output was there in at least a fifth of the cases, so that agreeing means something."""
    of_tests = [row["name"] for row in rulebook["quantities"]["derived"]] + OF_A_TEST
    shares = {name: seen[name] / seen["tests"] for name in of_tests}
    shares.update({name: seen[name] / seen["visits"] for name in [*OF_A_VISIT, *OF_A_PAIR, "figures"]})
    assert {name: share for name, share in shares.items() if share < 0.2} == {}


def test_both_engines_give_the_same_judgement(page, rulebook):
    """500 seeded random visits, compared with ==."""
    check_presence(run_both(page, rulebook, list(range(500))), rulebook)


@pytest.mark.long
def test_both_engines_give_the_same_judgement_on_many_visits(page, rulebook):
    """5,000 further seeded random visits, compared with ==."""
    check_presence(run_both(page, rulebook, list(range(10_000, 15_000))), rulebook)


def test_both_engines_fold_alike(page, rulebook):
    """Random histories of two devices with chains, conflicts, strikes and wrong clocks."""
    from tests.support.random_history import history

    cases = [history(seed) for seed in range(200)]
    answers = page.evaluate(FOLD, cases)
    conflicts = 0
    for ops, answer in zip(cases, answers, strict=True):
        here = plain(fold.replay(ops, rulebook["kinds"]))
        assert here == answer, first_difference(here, answer)
        conflicts += bool(here["conflicts"])
    assert conflicts >= 40


def test_both_engines_make_the_same_cards(page, rulebook):
    """Random statements, corrections that disagree or settle, and mergings that contradict each other."""
    from tests.support.random_history import cards

    cases = [cards(seed) for seed in range(300)]
    kinds, conflicts, mergings = rulebook["kinds"], 0, 0
    for case, answer in zip(cases, page.evaluate(CARDS, cases), strict=True):
        made = card.card_of("vehicle", case["stated"], case["ops"], kinds)
        here = plain([made, card.merged(case["ops"], kinds)])
        assert here == answer, first_difference(here, answer)
        conflicts += bool(made["conflicts"])
        mergings += bool(here[1])
    assert conflicts >= 60
    assert mergings >= 60


def test_both_engines_round_alike(page):
    """Halves, negatives and what binary cannot hold."""
    numbers = [[n / 8, d] for n in range(-40, 41) for d in (0, 1, 2)] + [[0.15, 1], [-0.05, 1], [1e9 + 0.5, 0]]
    here = [units.round_half_away(number, decimals) for number, decimals in numbers]
    assert here == page.evaluate(ROUND, numbers)


def vector_cases():
    """Every case of every vector file, under its own id."""
    for path in VECTORS:
        for case in json.loads(path.read_text("utf-8"))["cases"]:
            yield pytest.param(case, id=f"{path.stem}:{case['id']}")


def at(node, path):
    """What lies at a slash path."""
    for part in path.strip("/").split("/"):
        node = node[int(part) if isinstance(node, list) else part]
    return node


@pytest.mark.parametrize("case", list(vector_cases()))
def test_both_engines_meet_the_vectors(page, rulebook, case):
    """The answers of a vector come from its source, not from either engine."""
    results = [
        plain(assessment.assess(case["visit"], rulebook, "test")),
        page.evaluate(JUDGE, [case["visit"]])[0]["judged"],
    ]
    for result in results:
        for path, expected in case["expected"].items():
            if isinstance(expected, dict):
                assert at(result, path) == pytest.approx(expected["value"], abs=expected["within"]), path
            else:
                assert at(result, path) == expected, path


def test_vectors_are_well_formed():
    """Each file says what it holds; ids are unique; each case names its source."""
    ids = []
    for path in VECTORS:
        book = json.loads(path.read_text("utf-8"))
        assert book["about"]
        for case in book["cases"]:
            ids.append(case["id"])
            assert case["source"]
            assert case["expected"]
    assert len(ids) == len(set(ids)) > 0
