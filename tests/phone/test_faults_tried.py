"""The table of what the phone was put through names existing tests; what they do is up to them."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.support.phone_faults import FAULTS, Fault


@pytest.mark.parametrize("fault", FAULTS, ids=[fault.name for fault in FAULTS])
def test_a_fault_of_the_table_is_tried_by_a_test(fault: Fault) -> None:
    """Its file has a test of that name."""
    file, _, name = fault.test.partition("::")
    assert re.search(rf"^def {name}\(", Path(__file__).with_name(file).read_text("utf-8"), re.MULTILINE)
