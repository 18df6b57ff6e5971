"""Every route of the application under hostile requests, over a real port: each is answered, and nothing breaks."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.hostile.attack import attack_routes
from tests.hostile.pending import traces_to_explain

SEED = 20260612


# Hundreds of actions: a busy machine takes its time, and each action has its own patience.
@pytest.mark.timeout(7200)
@pytest.mark.parametrize("count", [1_000, pytest.param(25_000, marks=pytest.mark.long)])
def test_no_request_breaks_the_service(count: int, tmp_path: Path) -> None:
    """Answered in words, at a limited cost; memory limited, nothing kept that wasn't judged, an evening prints."""
    outcome = attack_routes(tmp_path, SEED, count)
    assert sum(outcome.counts.values()) == count
    assert not outcome.faults, "\n".join(outcome.faults[:20])
    assert len(outcome.traces) <= traces_to_explain(outcome.pending), outcome.traces
    assert {status for _, status in outcome.counts} >= {200, 400, 401, 403, 404, 405, 411, 413, 415, 421, 422}
