"""The table of what the desk was put through names existing tests, and the report counts their outcomes."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest

from tests.proof.__main__ import came, read
from tests.proof.faults import DESK, PHONE, Fault

TESTS = Path(__file__).resolve().parents[1]
REPORT = """<testsuites><testsuite>
<testcase classname="tests.a.test_b" name="test_one[5]"/><testcase classname="tests.a.test_b" name="test_one[6]">
<failure message="x"/></testcase><testcase classname="tests.a.test_b" name="test_two"><skipped/></testcase>
<testcase classname="tests.a.test_c" name="test_three"/></testsuite></testsuites>"""


@pytest.mark.parametrize("fault", DESK + PHONE, ids=[fault.name for fault in DESK + PHONE])
def test_a_fault_of_the_table_is_tried_by_a_test(fault: Fault) -> None:
    """Its file exists and has a test of that name."""
    file, _, name = fault.test.partition("::")
    text = (TESTS / file).read_text("utf-8")
    assert re.search(rf"^def {name or 'test_'}", text, re.MULTILINE)


def test_what_came_is_counted_by_file_and_by_name(tmp_path: Path) -> None:
    """One per set of parameters; a failure is never hidden behind a success."""
    (tmp_path / "report.xml").write_text(REPORT)
    outcomes = read(tmp_path / "report.xml")
    assert outcomes["a/test_b.py"] == Counter(passed=1, failed=1, skipped=1)
    said = {name: came(Fault("", "", "", name), outcomes) for name in
            ("a/test_b.py::test_one", "a/test_b.py::test_two", "a/test_c.py", "a/test_d.py")}
    assert said == {
        "a/test_b.py::test_one": "DID NOT HOLD in 1 of 2 tests",
        "a/test_b.py::test_two": "not possible on this machine",
        "a/test_c.py": "held, 1 tests", "a/test_d.py": "not tried in this run",
    }
