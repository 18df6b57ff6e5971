"""The digest of a shown verdict: numbers by a published table, and the same digest from both engines.

The texts of numbers are those of RFC 8785, appendix B, quoted from memory.
"""

from __future__ import annotations

import json
import struct

import pytest

from sync import rulebook
from sync.kernel import assessment
from sync.kernel.primitives import number_text
from sync.kernel.verdict_digest import canonical
from sync.physics.diagnosis import diagnose
from sync.sheet.shown_verdict import verdict_digest
from tests.support.browser import borrowed
from tests.support.random_visits import visit as random_visit
from tests.support.service import Service

APPENDIX_B = {
    "0000000000000000": "0",
    "8000000000000000": "0",
    "0000000000000001": "5e-324",
    "8000000000000001": "-5e-324",
    "7fefffffffffffff": "1.7976931348623157e+308",
    "4340000000000000": "9007199254740992",
    "4430000000000000": "295147905179352830000",
    "44b52d02c7e14af5": "9.999999999999997e+22",
    "44b52d02c7e14af6": "1e+23",
    "444b1ae4d6e2ef4e": "999999999999999700000",
    "444b1ae4d6e2ef50": "1e+21",
    "3eb0c6f7a0b5ed8c": "9.999999999999997e-7",
    "3eb0c6f7a0b5ed8d": "0.000001",
    "41b3de4355555555": "333333333.3333333",
}

DIGESTS = """async (visits) => {
  const rulebook = await (await fetch("/rulebook.json")).json();
  const { assess, shown_text } = await import("/kernel.js");
  const { sha256Hex } = await import("/sync/op_line.js");
  return Promise.all(visits.map((visit) => sha256Hex(shown_text(assess(visit, rulebook, "phone")))));
}"""


@pytest.mark.parametrize("bits", sorted(APPENDIX_B))
def test_a_number_is_written_as_the_standard_writes_it(bits: str) -> None:
    """RFC 8785, appendix B: the bits of a double and its text."""
    assert number_text(struct.unpack(">d", bytes.fromhex(bits))[0]) == APPENDIX_B[bits]


def test_what_json_cannot_say_is_refused() -> None:
    """Infinity has no text."""
    with pytest.raises(ValueError) as refused:
        canonical({"x": [float("inf")]})
    assert "inf" in str(refused.value)


def test_names_are_sorted_and_texts_left_as_they_are() -> None:
    """No space, names in order, letters of any language unescaped."""
    assert canonical({"b": [True, None], "a": "Müller\n"}) == '{"a":"Müller\\n","b":[true,null]}'


def test_the_desk_reaches_the_digest_that_the_phone_showed(tmp_path_factory: pytest.TempPathFactory) -> None:
    """The same visits judged in Chromium and here: same digests; the desk's own figures and names don't change them."""
    books = rulebook.load()
    visits = [random_visit(seed) for seed in range(120)]
    service = Service(tmp_path_factory.mktemp("shown") / "layby").start()
    try:
        with borrowed() as browser:
            page = browser.new_page()
            page.goto(service.url + "/manifest.webmanifest")
            shown = page.evaluate(DIGESTS, visits)
    finally:
        service.stop()
    assert [verdict_digest(diagnose(visit, books, "desk")) for visit in visits] == shown
    assert len(set(shown)) == len(visits)


def test_a_verdict_that_differs_has_another_digest() -> None:
    """One reading changed slightly changes it; another edition of the rules that says the same doesn't."""
    books = rulebook.load()
    visit = next(one for one in map(random_visit, range(50)) if one.get("tests") and one["tests"][0].get("readings"))
    other = json.loads(json.dumps(visit))
    readings = other["tests"][0]["readings"]
    name = next(name for name, value in readings.items() if isinstance(value, float))
    readings[name] += 0.001
    first = verdict_digest(assessment.assess(visit, books, "one"))
    assert verdict_digest(assessment.assess(other, books, "one")) != first
    assert verdict_digest(assessment.assess(visit, {**books, "hash": "0" * 64}, "two")) == first
