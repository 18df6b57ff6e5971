"""Whose turn it is: many side by side, one exclusively, and a thread that waits for exclusive use isn't overtaken."""

from __future__ import annotations

import threading

import pytest

from sync.records.locks import Locks, OutOfOrder, Ranked
from tests.support.service import PATIENCE_S
from tests.support.threads import join


def test_many_work_side_by_side() -> None:
    """Eight at once: each waits inside for the other seven, which would never happen if they took turns."""
    turns, all_inside = Locks(), threading.Barrier(8, timeout=PATIENCE_S)

    def work() -> None:
        with turns.together():
            all_inside.wait()

    threads = [threading.Thread(target=work, daemon=True) for _ in range(8)]
    for thread in threads:
        thread.start()
    join(*threads)
    assert not all_inside.broken


def test_one_alone_has_nobody_beside_it() -> None:
    """Sixteen threads of both kinds, two hundred times each: an exclusive one sees nobody, and all finish."""
    turns, inside, seen = Locks(), [0], list[int]()
    count = threading.Lock()

    def beside() -> None:
        for _ in range(200):
            with turns.together():
                with count:
                    inside[0] += 1
                with count:
                    inside[0] -= 1

    def by_itself() -> None:
        for _ in range(200):
            with turns.alone():
                seen.append(inside[0])

    threads = [threading.Thread(target=by_itself if number % 4 == 0 else beside, daemon=True) for number in range(16)]
    for thread in threads:
        thread.start()
    join(*threads)
    assert seen == [0] * 800


def test_who_waits_to_be_alone_is_not_overtaken() -> None:
    """One is at work, one waits for exclusive use, a third comes later: the third works after the second."""
    turns, order = Locks(), list[str]()
    asked = threading.Event()

    def by_itself() -> None:
        asked.set()
        with turns.alone():
            order.append("alone")

    def later() -> None:
        with turns.together():
            order.append("later")

    waiting, third = threading.Thread(target=by_itself, daemon=True), threading.Thread(target=later, daemon=True)
    with turns.together():
        waiting.start()
        assert asked.wait(timeout=PATIENCE_S)
        while not turns.awaited:
            pass
        third.start()
        assert order == []
    join(waiting, third)
    assert order == ["alone", "later"]


def test_a_lock_is_taken_again_by_its_own_thread_alone() -> None:
    """Others wait until the last of its takings is given back."""
    lock, order = Ranked("records"), list[str]()

    def other() -> None:
        with lock:
            order.append("other")

    waiting = threading.Thread(target=other, daemon=True)
    with lock:
        with lock:
            waiting.start()
            order.append("twice")
        order.append("once")
    join(waiting)
    assert order == ["twice", "once", "other"]


def test_a_lock_out_of_its_order_is_refused_at_once() -> None:
    """A thread with a later lock may not ask for an earlier one, unless it already holds it; nothing stays taken."""
    first, later = Ranked("records"), Ranked("files")
    with later, pytest.raises(OutOfOrder), first:
        pass
    with first, later, first:
        pass
    with first, pytest.raises(ValueError, match="x"), later:
        raise ValueError("x")
    with first, later:
        pass
