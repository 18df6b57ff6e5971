"""What most tests of the desk's pages share: a service for all tests of a file, somebody signed in, and a phone.

A file whose desk holds something from the start has its own. No test lives here.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.support.ops import Phone
from tests.support.service import Service
from tests.support.visitor import Visitor, running_desk


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """A real service for all tests of a file."""
    with running_desk(tmp_path_factory.mktemp("desk")) as running:
        yield running


@pytest.fixture(scope="module")
def visitor(desk: Service) -> Visitor:
    """Somebody who is signed in."""
    return Visitor(desk).first()


@pytest.fixture(scope="module")
def phone() -> Phone:
    """The phone that the visits of a file come from."""
    return Phone("7e57ab")
