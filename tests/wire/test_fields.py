"""The book of fields: one row is enough for a new reading, each row says what it is, and the page of all matches it.

tests/phone/test_fields_form.py tests the resulting form in a browser.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from server.http.openapi import described
from sync import rulebook as books
from sync.language.words import Words
from sync.physics.diagnosis import diagnose
from sync.sheet.jobsheet import jobsheet
from sync.wire.schemas import check_op, check_visit, schemas_of
from tests.support.another_reading import LABEL, NAME, PATH, folder_with_reading
from tests.support.ops import STARTED, Phone, uuid7
from tests.support.sheet_visits import PAIR
from tests.wire.fields_page import PAGE, SCOPES, page
from tests.wire.test_schemas import found

VISIT = uuid7(1, 1)
Books = dict[str, Any]


@pytest.fixture(scope="module")
def more(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """The rulebook with one reading more."""
    return books.load(folder_with_reading(tmp_path_factory.mktemp("more")))


def with_reading(value: Any) -> Any:
    """A visit whose first test has the new reading."""
    visit = copy.deepcopy(PAIR)
    visit["tests"][0]["readings"][NAME] = value
    return visit


def test_a_new_reading_is_in_the_schema(rulebook: Books, more: Any) -> None:
    """Accepted as a number and as nothing else; the committed book doesn't know it."""
    assert check_visit(with_reading(41.5), more) == []
    assert found(check_visit(with_reading("41.5"), more)) == {(f"/tests/0/readings/{NAME}", "not_a_number")}
    assert found(check_visit(with_reading(41.5), rulebook)) == {(f"/tests/0/readings/{NAME}", "unknown_field")}
    body = {"id": "b1", "readings": {NAME: 41.5}}
    op = Phone().op(VISIT, "reading.set", body, {f"/tests/b1/readings/{NAME}": None})
    assert check_op(op, more) == []


def test_a_new_reading_is_in_the_description_of_the_service(more: Any) -> None:
    """Wherever a test is described: in a visit, in what adds one, in what changes one."""
    schemas = described(schemas_of(more))["components"]["schemas"]
    tests = [schemas["Visit"]["properties"]["tests"]["items"], schemas["test.add"], schemas["reading.set"]]
    for test in tests:
        readings = test["properties"]["readings"]["properties"]
        assert readings[NAME] == readings["vent_c"]
        assert "number" in readings[NAME]["type"]


def labelled(tree: Any) -> Iterator[Any]:
    """Every row of a sheet, wherever it is."""
    for inner in tree.values() if isinstance(tree, dict) else tree if isinstance(tree, list) else ():
        if isinstance(inner, dict) and {"label", "cells"} <= set(inner):
            yield inner
        yield from labelled(inner)


def test_a_new_reading_is_a_row_of_the_sheet(more: Any) -> None:
    """In its place, in the customer's unit (41.5 °C are 106.7 °F), and as not taken if the other test lacks it."""
    visit = with_reading(41.5)
    visit["tests"][0]["readings"]["liquid_line_c"] = 40
    rows = list(labelled(jobsheet(visit, diagnose(visit, more, "test"), more)))
    labels = [row["label"].partition(",")[0] for row in rows]
    assert labels.index(LABEL) == labels.index("Liquid line") + 1
    assert [cell["text"] for cell in rows[labels.index(LABEL)]["cells"]] == ["106.7", "not taken"]


def test_a_new_reading_is_questioned_out_of_its_range(more: Any) -> None:
    """A value that is plausible in the other unit is taken for a slip; another is called implausible."""
    for value, code in ((41.5, None), (106.0, "unit_slip"), (500.0, "implausible")):
        faults = diagnose(with_reading(value), more, "test")["tests"][0]["faults"]
        assert [one["code"] for one in faults if PATH in one["fields"]] == ([code] if code else [])


def test_a_new_reading_judges_by_its_range_alone(tmp_path: Path, rulebook: Books, more: Any) -> None:
    """Both editions differ; without the range, the edition of what judges is the committed one."""
    assert more["hash"] != rulebook["hash"]
    assert more["words_hash"] != rulebook["words_hash"]
    without = {name: book for name, book in copy.deepcopy(more).items() if not name.endswith("hash")}
    del without["fields"]["scopes"]["tests"][PATH]["range"]
    assert books.edition(without) == rulebook["hash"]


def test_the_order_of_the_rows_is_that_of_the_form(rulebook: Books) -> None:
    """Rows that change places change the edition of what is shown, but not that of what judges."""
    whole = {name: book for name, book in rulebook.items() if not name.endswith("hash")}
    scopes = {**rulebook["fields"]["scopes"], "rests": dict(reversed(rulebook["fields"]["scopes"]["rests"].items()))}
    turned: Any = {**whole, "fields": {**rulebook["fields"], "scopes": scopes}}
    assert books.edition(turned) == rulebook["hash"]
    assert books.words_edition(turned) != rulebook["words_hash"]


def test_every_field_says_what_it_is(rulebook: Books) -> None:
    """What the phone asks for has a label, except hidden fields and a check's state; the rest has a note."""
    words = Words(rulebook["words"])
    for scope, rows in rulebook["fields"]["scopes"].items():
        for path, row in rows.items():
            codes = [row.get("label", f"{scope}.{path}"), *row.get("labels", {}).values()]
            assert all(words.has(f"fields.{code}") for code in codes) or row.get("about"), (scope, path)
            if "step" in row and not row.get("hidden") and (scope, path) != ("checks", "state"):
                assert all(isinstance(words.find(f"fields.{code}"), str) for code in codes), (scope, path)
            for kind, code in (("suffix", row.get("suffix")), ("heading", row.get("mark"))):
                assert code is None or words.has(f"fields.{kind}.{code}"), (scope, path)
            assert "clock" not in row or words.has(f"fields.clock.{row['clock']}.start"), (scope, path)


@pytest.mark.parametrize("language", ["en", "en-US", "es"])
def test_no_two_fields_of_a_step_have_one_label(rulebook: Books, language: str) -> None:
    """Within a step's questions about one thing, a label identifies the field."""
    words = Words(rulebook["words"], language)
    for scope, rows in rulebook["fields"]["scopes"].items():
        labels = []
        for path, row in rows.items():
            if "step" in row and not row.get("hidden") and scope != "checks":
                step = "test" if row["step"] == "after" else row["step"]
                labels.append((step, words.say(f"fields.{row.get('label', f'{scope}.{path}')}")))
        assert len(labels) == len(set(labels)), (scope, labels)


def test_every_label_is_a_field_s(rulebook: Books) -> None:
    """No label is left over from a field that is gone."""
    scopes = rulebook["fields"]["scopes"]
    other = {code for rows in scopes.values() for row in rows.values() for code in row.get("labels", {}).values()}

    def leaves(tree: Any, before: str = "") -> list[str]:
        named = [(f"{before}{name}", inner) for name, inner in tree.items()]
        of_each = [leaves(inner, name + ".") if isinstance(inner, dict) else [name] for name, inner in named]
        return [code for codes in of_each for code in codes]

    words = rulebook["words"]["en"]["fields"]
    labels = {code for scope in scopes if scope in words for code in leaves(words[scope], scope + ".")}
    labels |= set(leaves(words["note"]))
    assert labels - other <= {f"{scope}.{path}" for scope, rows in scopes.items() for path in rows}


def test_the_page_of_fields_is_the_book_s(rulebook: Books) -> None:
    """`python -m tests.wire.fields_page --write` writes it again."""
    assert set(SCOPES) == set(rulebook["fields"]["scopes"])
    assert PAGE.read_text("utf-8") == page(rulebook)


@pytest.mark.parametrize(("customer", "fault"), [
    ({"language": "es-MX", "country": "MX"}, None),
    ({"language": None, "country": None}, None),
    ({"language": "x" * 36}, ("/customer/language", "too_long")),
    ({"language": 1}, ("/customer/language", "not_a_text")),
    ({"country": "MEX"}, ("/customer/country", "too_long")),
])
def test_a_customer_has_a_language_and_a_country(
    rulebook: Books, customer: Books, fault: tuple[str, str] | None
) -> None:
    """A tag of at most 35 characters (RFC 5646, 4.4.1) and a code of two letters (ISO 3166-1); both may be cleared."""
    visit = {"id": VISIT, "schema": 1, "started_at": STARTED, "customer": customer}
    assert found(check_visit(visit, rulebook)) == ({fault} if fault else set())
    body = {"id": "c1", **customer}
    op = Phone().op(None, "customer.set", body, {f"/{name}": None for name in customer})
    assert found(check_op(op, rulebook)) == ({(fault[0].replace("/customer", "/body"), fault[1])} if fault else set())


@pytest.mark.parametrize(("signed", "faults"), [
    ({"of": "a" * 64, "sum": "129.90", "work": "Condenser cleaned, charge corrected."}, set()),
    ({"of": "a" * 63}, {("/body/of", "not_a_digest")}),
    ({"sum": 129.9, "work": "x" * 1001}, {("/body/sum", "not_money"), ("/body/work", "too_long")}),
])
def test_a_signature_says_what_it_is_under(rulebook: Books, signed: Books, faults: set[tuple[str, str]]) -> None:
    """The digest, the sum and the work shown there; none of them is required."""
    body = {"name": "M. Okafor", "at": STARTED, "strokes": [[1, 2, 3, 4]], **signed}
    assert found(check_op(Phone().op(VISIT, "signature.add", body), rulebook)) == faults
