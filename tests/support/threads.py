"""Threads of the tests: waited for with a patience; one that doesn't end fails the test, with where it hangs.

No test lives here. Such threads are daemons, so that one that hangs doesn't delay the end of the tests.
"""

from __future__ import annotations

import sys
import threading
import time
import traceback

import pytest

from tests.support.children import PATIENCE_S


def join(*threads: threading.Thread, patience_s: float = PATIENCE_S) -> None:
    """Wait until threads have ended.

    Args:
        threads: the threads, already started
        patience_s: how long to wait for all of them; then the test fails [s]
    """
    end = time.monotonic() + patience_s
    for thread in threads:
        thread.join(timeout=max(0.0, end - time.monotonic()))
        if thread.is_alive():
            frame = sys._current_frames().get(thread.ident or 0)
            stands = "".join(traceback.format_stack(frame))
            pytest.fail(f"{thread.name} did not end within {patience_s} s; it stands at:\n{stands}")
