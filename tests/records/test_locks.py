"""Whose turn it is: many side by side, one exclusively, and a thread that waits for exclusive use isn't overtaken."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext

import pytest

from sync.records.locks import Locks, OutOfOrder, Ranked
from sync.records.store.files import Holds
from tests.support.service import PATIENCE_S
from tests.support.threads import join


def nobody(name: str, is_shared: bool) -> AbstractContextManager[Holds]:
    """No other process is there."""
    return nullcontext(lambda: None)


def test_many_work_side_by_side() -> None:
    """Eight at once: each waits inside for the other seven, which would never happen if they took turns."""
    turns, all_inside = Locks("sheets"), threading.Barrier(8, timeout=PATIENCE_S)

    def work() -> None:
        with turns.together(nobody):
            all_inside.wait()

    threads = [threading.Thread(target=work, daemon=True) for _ in range(8)]
    for thread in threads:
        thread.start()
    join(*threads)
    assert not all_inside.broken


def test_one_alone_has_nobody_beside_it() -> None:
    """Sixteen threads of both kinds, two hundred times each: an exclusive one sees nobody, and all finish."""
    turns, inside, seen = Locks("sheets"), [0], list[int]()
    count = threading.Lock()

    def beside() -> None:
        for _ in range(200):
            with turns.together(nobody):
                with count:
                    inside[0] += 1
                with count:
                    inside[0] -= 1

    def by_itself() -> None:
        for _ in range(200):
            with turns.alone(nobody):
                seen.append(inside[0])

    threads = [threading.Thread(target=by_itself if number % 4 == 0 else beside, daemon=True) for number in range(16)]
    for thread in threads:
        thread.start()
    join(*threads)
    assert seen == [0] * 800


def test_who_waits_to_be_alone_is_not_overtaken() -> None:
    """One is at work, one waits for exclusive use, a third comes later: the third works after the second."""
    turns, order = Locks("sheets"), list[str]()
    asked = threading.Event()

    def by_itself() -> None:
        asked.set()
        with turns.alone(nobody):
            order.append("alone")

    def later() -> None:
        with turns.together(nobody):
            order.append("later")

    waiting, third = threading.Thread(target=by_itself, daemon=True), threading.Thread(target=later, daemon=True)
    with turns.together(nobody):
        waiting.start()
        assert asked.wait(timeout=PATIENCE_S)
        while not turns.awaited:
            pass
        third.start()
        assert order == []
    join(waiting, third)
    assert order == ["alone", "later"]


def test_many_side_by_side_claim_once_among_processes() -> None:
    """The first of them takes it and the last gives it back; whoever couldn't take it isn't at work."""
    turns, told = Locks("sheets"), list[str]()

    @contextmanager
    def claim(name: str, is_shared: bool) -> Iterator[Holds]:
        told.append(f"take {name} {is_shared}")
        yield lambda: None
        told.append("give back")

    @contextmanager
    def refused(name: str, is_shared: bool) -> Iterator[Holds]:
        raise ConnectionError
        yield lambda: None

    with pytest.raises(ConnectionError), turns.together(refused):
        pass
    with pytest.raises(ConnectionError), turns.alone(refused):
        pass
    with turns.together(claim), turns.together(claim):
        told.append("work")
    with turns.alone(claim):
        told.append("alone")
    assert told == ["take sheets True", "work", "give back", "take sheets False", "alone", "give back"]


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
    first, later = Ranked("records"), Ranked("photos")
    with later, pytest.raises(OutOfOrder), first:
        pass
    with first, later, first:
        pass
    with first, pytest.raises(ValueError, match="x"), later:
        raise ValueError("x")
    with first, later:
        pass
