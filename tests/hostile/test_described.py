"""The description of the service, tried by schemathesis over a real port: it holds for every caller."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.hostile.attack import attack_described
from tests.hostile.pending import traces_to_explain

SEED = 5


# Hundreds of actions: a busy machine takes its time, and each action has its own patience.
@pytest.mark.timeout(7200)
@pytest.mark.parametrize("count", [1_000, pytest.param(25_000, marks=pytest.mark.long)])
def test_no_described_request_breaks_the_service(count: int, tmp_path: Path) -> None:
    """As a paired phone, as nobody and as the owner's commands; statuses, types and shapes are those described."""
    outcome = attack_described(tmp_path, SEED, count)
    assert sum(outcome.counts.values()) >= count * 0.9
    assert not outcome.faults, "\n".join(outcome.faults[:20])
    assert len(outcome.traces) <= traces_to_explain(outcome.pending), outcome.traces
