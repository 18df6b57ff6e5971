"""The command line over a process boundary: visits in, judgements out, and a clear end for what isn't a visit."""

from __future__ import annotations

import json
import urllib.request

import pytest

from sync import rulebook
from sync.kernel import assessment
from sync.records.logbook import Logbook
from tests.support import children
from tests.support.ops import Phone, line_of
from tests.support.random_visits import visit as random_visit
from tests.support.service import LAYBY, PATIENCE_S


def layby(*words, given=b""):
    """Run `layby` and hand it standard input."""
    return children.run([str(LAYBY), *words], given=given, text=False)


def lines(*visits):
    """JSON lines."""
    return b"".join(json.dumps(one).encode() + b"\n" for one in visits)


def test_assess_judges_each_line_in_order_as_the_rules_do(rulebook):
    """Twenty visits through standard input: the same judgement as the rules give, completed by the desk's cycle."""
    visits = [random_visit(seed) for seed in range(20)]
    done = layby("assess", given=lines(*visits))
    assert done.returncode == 0, done.stderr
    results = [json.loads(line) for line in done.stdout.splitlines()]
    assert [result["visit"] for result in results] == [visit["id"] for visit in visits]
    for visit, result in zip(visits, results, strict=True):
        here = json.loads(json.dumps(assessment.assess(visit, rulebook, result["app"])))
        for test in result["tests"]:
            test["derived"].pop("ideal_cop", None)
            test["derived"].pop("specific_work_kj_kg", None)
        assert {**result, "cycle": None} == here
    assert any(result["cycle"] for result in results)


def test_a_line_that_is_no_visit_stands_in_its_place(tmp_path):
    """Broken JSON, a wrong shape with all its faults, a bare number; the good line between them is judged."""
    wrong = {**random_visit(1), "colour": "red", "schema": "1"}
    path = tmp_path / "visits.jsonl"
    path.write_bytes(b"{broken\n" + lines(random_visit(0), wrong) + b"7\n")
    done = layby("assess", str(path))
    assert done.returncode == 1
    results = [json.loads(line) for line in done.stdout.splitlines()]
    assert [result["visit"] is None for result in results] == [True, False, True, True]
    assert {fault["pointer"] for fault in results[2]["problem"]["errors"]} == {"/colour", "/schema"}
    assert "/colour" in results[2]["problem"]["detail"]


@pytest.mark.parametrize("text", [b'{"id": NaN}', b'{"id": 1e400}', b"[" * 5000, b'{"id": "\\ud800"}', b"\xff\xfe"])
def test_hostile_lines_end_in_a_named_problem(text):
    """NaN, overflow, deep nesting, a lone surrogate and bytes that aren't text."""
    done = layby("assess", given=text + b"\n")
    result = json.loads(done.stdout)
    assert done.returncode == 1
    assert result["visit"] is None
    assert result["problem"]["errors"]


def test_odd_physics_is_filed_and_named(folder, service):
    """A vent of 400 °C and a low side above the high side: kept, and named by the assessment."""
    phone = Phone()
    visit = phone.new_id()
    ops = [phone.opening(visit), phone.test(visit, "b1", vent_c=400.0, low_kpa_g=1500.0, high_kpa_g=200.0)]
    status, _, body = service.post("/sync", b"".join(line_of(op) for op in ops))
    assert status == 200
    assert [result["status"] for result in json.loads(body)["results"]] == ["accepted", "accepted"]
    service.stop()
    books = rulebook.load()
    with Logbook(folder, books) as logbook:
        kept = logbook.visit(visit)
    assert kept["tests"][0]["readings"]["vent_c"] == 400.0
    result = json.loads(layby("assess", given=lines(kept)).stdout)
    assert {"implausible", "sides_swapped"} <= {fault["code"] for fault in result["tests"][0]["faults"]}


def test_a_missing_file_is_told_in_a_sentence():
    """The path and what is wrong; exit status 2."""
    done = layby("assess", "no-such-file.jsonl")
    assert done.returncode == 2
    assert b"no-such-file.jsonl" in done.stderr
    assert b"Traceback" not in done.stderr


def test_a_day_that_is_none_is_told_in_a_sentence(folder):
    """What to write instead."""
    done = layby("--folder", str(folder), "evening", "--day", "yesterday")
    assert done.returncode == 2
    assert b"YYYY-MM-DD" in done.stderr


@pytest.mark.parametrize("word", ["no-such-visit", "", "../..", "019ebcb4-8d7c-7000-8000-00000000000"])
def test_a_visit_that_is_none_is_told_in_a_sentence(word, folder):
    """Showing or approving by a name that isn't a visit's id."""
    for command in ("sheet", "approve"):
        done = layby("--folder", str(folder), command, word)
        assert done.returncode == 2, done
        assert done.stderr.decode() == f"layby: Visit {word} isn't on file.\n"
    done = layby("--folder", str(folder), "approve", "019ebcb4-8d7c-7000-8000-000000000001", word)
    assert (done.returncode, done.stderr.decode()) == (2, f"layby: Visit {word} isn't on file.\n")


def test_committed_tables_agree_with_a_rebuild():
    """`layby rulebook --check` rebuilds every table from its source and finds no drift."""
    done = layby("rulebook", "--check")
    assert done.returncode == 0, done.stderr
    assert b"match a rebuild" in done.stdout


def test_a_table_that_drifted_is_told(tmp_path, rulebook):
    """One node moved by 0.05 K: the check names the book."""
    from sync import rulebook as books
    from sync.errors import RulebookDrift
    from sync.physics import build_tables

    for path in books.files():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    moved = json.loads((tmp_path / "saturation_R12.json").read_text("utf-8"))
    moved["t_c"][40] += 0.05
    (tmp_path / "saturation_R12.json").write_text(json.dumps(moved), "utf-8")
    with pytest.raises(RulebookDrift) as caught:
        build_tables.check(tmp_path)
    assert caught.value.values["book"] == "saturation_R12"


def test_find_looks_a_visit_up_with_and_without_a_service(service):
    """The same lines either way; the desk's own address gives them as data to a caller with the key."""
    phone = Phone()
    visit = phone.new_id()
    service.post("/sync", line_of(phone.opening(visit)) + line_of(phone.plate(visit, "LT 482")), "application/x-ndjson")
    words = ("--folder", str(service.folder), "find")
    while_served = layby(*words, "lt482")
    assert while_served.stdout.decode().split() == ["2026-06-12", "LT", "482", visit]
    assert service.get("/desk/find?text=lt482")[0] == 401
    key = json.loads((service.folder / "service.json").read_text())["key"]
    headers = {"Authorization": f"Bearer {key}"}
    request = urllib.request.Request(f"{service.url}/desk/find?text=lt%20482", headers=headers)
    with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:
        told = json.loads(answer.read())
    names = dict.fromkeys(("customer", "vehicle", "vin", "outcome", "vehicle_id", "customer_id"))
    assert told == {"visits": [{"id": visit, "day": "2026-06-12", "plate": "LT 482", **names}], "more": False}
    service.stop()
    assert layby(*words, "LT", "482").stdout == while_served.stdout
    nothing = layby(*words, "PB 11")
    assert (nothing.returncode, nothing.stdout) == (0, b"No visit matches.\n")


def test_a_card_is_shown_corrected_and_merged(service):
    """While the service runs and afterwards; a conflict gives exit status 1, an unknown field 2."""
    ops = [Phone(name).beside("customer.set", {"/phone": None}, id="c1", phone=f"555-010{at}")
           for at, name in enumerate(("aaaa", "bbbb"))]
    for op in ops:
        service.post("/sync", line_of(op), "application/x-ndjson")
    words = ("--folder", str(service.folder))
    told = layby(*words, "card", "customer", "c1")
    assert (told.returncode, b"corrections of phone disagree: 555-0100; 555-0101" in told.stdout) == (1, True)
    told = layby(*words, "card", "customer", "c1", "phone=555-0101", "name=M. Okafor")
    assert (told.returncode, told.stdout) == (0, b"c1\n  name: M. Okafor\n  phone: 555-0101\n")
    told = layby(*words, "merge", "c1", "c2")
    assert told.stdout.startswith(b"c1, c2\n")
    service.stop()
    assert layby(*words, "card", "customer", "c2").stdout == told.stdout
    wrong = layby(*words, "card", "vehicle", "v1", "colour=red")
    assert (wrong.returncode, b'no field "colour"' in wrong.stderr) == (2, True)
