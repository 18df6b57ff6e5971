"""The replay: a crash after each call of a day, each disk it may leave, and a second crash while that is opened.

Every choice comes from a seed that the failure names. Nothing here knows the questions to a desk.
"""

from __future__ import annotations

import copy
import random
import tempfile
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from tests.crash.disk import GARBLED, KILLED, POWER_CUTS, VARIANTS, Call, Disk, Tree, Variant, write_out
from tests.crash.promises import Kept, Promises, traces
from tests.crash.recorder import SYNCS, Event, Recorder

# A crash in the model is a picture of the files; in memory it proves the same as on a disk that is slow to sync.
MEMORY = Path("/dev/shm")
Books = dict[str, Any]
Ask = Callable[[Kept], None]


class Moment(NamedTuple):
    """A crash: after how many events, and which of the rest is on the disk."""

    events: int
    variant: Variant

    def seeded(self) -> random.Random:
        """Its own random numbers."""
        return random.Random(f"{self.events} {self.variant}")


class Replay:
    """The replay of one run's events.

    `opened` counts the states that were opened, by variant and by whether it was the first or the second crash.

    Args of the constructor:
        events: the run [Event each]
        rulebook: all books
        ground: a folder to write states into [path]
        start: what was there before the run [Tree]
    """

    def __init__(self, events: Sequence[Event], rulebook: Books, ground: Path, start: Tree | None = None) -> None:
        self.events, self.rulebook = events, rulebook
        self.ground = MEMORY if MEMORY.is_dir() else ground
        self.start = start or {}
        self.failed_sync = "lost"
        self.opened: Counter[tuple[str, Variant]] = Counter()

    def play(self, moments: Iterable[Moment], twice: bool = True) -> None:
        """Open what is left at some moments, in the order of the run, and then what a crash of that leaves."""
        disk, promises, done = Disk(self.start, self.failed_sync), Promises(), 0
        for moment in sorted(moments, key=lambda one: one.events):
            for event in self.events[done : moment.events]:
                take(event, disk, promises)
            done = moment.events
            try:
                self.open(disk, promises, moment, twice)
            except Exception as error:
                error.add_note(f"crash behind event {moment.events}, {self.events[moment.events - 1]!r:.200}; "
                               f"left: {moment.variant}")
                raise

    def open(self, disk: Disk, promises: Promises, moment: Moment, twice: bool) -> None:
        """Open one state; then, from what that did, one state of a second crash, a power cut."""
        tree = disk.left(moment.variant, moment.seeded())
        if promises.erased and moment.variant != KILLED:
            assert traces(tree) == [], "what was erased is on the disk"
        events = self._opened(tree, promises.copy(), "first", [moment.variant])
        if not twice:
            return
        dice = moment.seeded()
        second = Moment(dice.randrange(len(events) + 1), dice.choice(POWER_CUTS))
        disk = copy.deepcopy(disk) if moment.variant == KILLED else Disk(tree)
        promises = promises.copy()
        for event in events[: second.events]:
            take(event, disk, promises)
        try:
            self._opened(disk.left(second.variant, second.seeded()), promises, "second",
                         [moment.variant, second.variant])
        except Exception as error:
            error.add_note(f"second crash behind event {second.events} of the opening, "
                           f"{events[second.events - 1]!r:.200}; left: {second.variant}")
            raise

    def _opened(self, tree: Tree, promises: Promises, which: str, variants: list[Variant]) -> list[Event]:
        self.opened[which, variants[-1]] += 1
        promises.is_garbled = any(variant.content in GARBLED for variant in variants)
        with tempfile.TemporaryDirectory(dir=self.ground) as place:
            write_out(tree, Path(place))
            with Recorder(Path(place)) as recorder:
                Kept(Path(place), self.rulebook, promises, recorder).ask()
        return recorder.events


def take(event: Event, disk: Disk, promises: Promises) -> None:
    """Let one event of a run happen."""
    if isinstance(event, Call):
        disk.apply(event)
    else:
        promises.take(event)


def sampled(events: Sequence[Event], count: int, seed: int = 7) -> list[Moment]:
    """Some crashes: moments spread over the run, and each variant in its turn."""
    dice = random.Random(seed)
    ends = [number + 1 for number, event in enumerate(events) if isinstance(event, Call)]
    return [Moment(end, VARIANTS[number % len(VARIANTS)]) for number, end in enumerate(dice.sample(ends, count))]


def every(events: Sequence[Event], each: int = 4) -> list[Moment]:
    """A crash behind every call, in some variants each."""
    moments = []
    for number, event in enumerate(events):
        if isinstance(event, Call):
            variants = random.Random(number).sample(VARIANTS, each)
            moments += [Moment(number + 1, variant) for variant in variants]
    return moments


def killed_in_sync(events: Sequence[Event]) -> list[Moment]:
    """The process dies in each sync: what was written reads back, and none of it is durable."""
    return [Moment(number, KILLED) for number, event in enumerate(events)
            if isinstance(event, Call) and event.name in SYNCS and number]
