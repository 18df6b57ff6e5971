"""What is tried: a day's crashes and failing disks, counted, as a table for a report.

Run as `python -m tests.crash.tried [--long]`, it plays them and prints the table; a broken promise ends it.
"""

from __future__ import annotations

import logging
import random
import sys
import tempfile
from pathlib import Path
from typing import Any, NamedTuple

from sync import rulebook as books
from sync.records import logbook as logbook_module
from tests.crash.bad_disks import failed_run, open_failed, open_lied_to, refused_after, syncs
from tests.crash.day import Day
from tests.crash.disk import POWER_CUTS, Call
from tests.crash.recorder import Event, Recorder
from tests.crash.replay import MEMORY, Moment, Replay, every, killed_in_sync, sampled

Books = dict[str, Any]


class Row(NamedTuple):
    """One kind of trouble: what it is, at how many places of the day, and how many folders were opened after it."""

    what: str
    places: int
    opened: int


def day_of(rulebook: Books, ground: Path) -> list[Event]:
    """The events of a day without a fault."""
    with tempfile.TemporaryDirectory(dir=ground) as top:
        recorder = Recorder(Path(top))
        Day(Path(top), rulebook, recorder).play()
    return recorder.events


def crashes(events: list[Event], rulebook: Books, ground: Path, moments: list[Moment], what: str) -> Row:
    """Play some crashes, each with a second one."""
    replay = Replay(events, rulebook, ground)
    replay.play(moments)
    return Row(what, len({moment.events for moment in moments}), sum(replay.opened.values()))


def failures(rulebook: Books, ground: Path, numbers: list[int]) -> Row:
    """Let each of some syncs fail, each in a day of its own."""
    opened = 0
    for number in numbers:
        try:
            events = failed_run(number, rulebook, ground)
            refused_after(events)
            for failed_sync in ("lost", "half"):
                opened += sum(open_failed(events, rulebook, ground, failed_sync).opened.values())
        except Exception as error:
            error.add_note(f"sync {number} of the day failed")
            raise
    return Row("a sync fails, once", len(numbers), opened)


def lies(events: list[Event], rulebook: Books, ground: Path, count: int) -> Row:
    """Let syncs lie from some moments on."""
    dice = random.Random(11)
    starts = [dice.choice(syncs(events)) for _ in range(count)]
    asked = 0
    for start in starts:
        end = dice.randrange(start + 1, min(start + 120, len(events)) + 1)
        moment = Moment(end, dice.choice(POWER_CUTS))
        try:
            asked += open_lied_to(events, moment, start, rulebook, ground)
        except Exception as error:
            error.add_note(f"syncs lie from event {start} on; crash behind event {end}: {moment.variant}")
            raise
    assert asked > count // 3, "of hardly any the promises were asked for"
    return Row("syncs lie from there on", len(set(starts)), count)


def tried(is_long: bool, rulebook: Books, ground: Path) -> list[Row]:
    """Play everything; returns what was tried [Row each].

    Raises:
        AssertionError: a promise wasn't kept; its notes say where.
    """
    place = MEMORY if MEMORY.is_dir() else ground
    events = day_of(rulebook, place)
    numbers = list(range(len(syncs(events))))
    kills = killed_in_sync(events)
    moments = every(events, 8) if is_long else sampled(events, 190)
    return [
        Row("calls of the day", sum(isinstance(event, Call) for event in events), 0),
        crashes(events, rulebook, ground, moments, "a power cut or a kill"),
        crashes(events, rulebook, ground, kills if is_long else kills[::4], "a kill inside a sync, then a power cut"),
        failures(rulebook, place, numbers if is_long else random.Random(5).sample(numbers, 24)),
        lies(events, rulebook, place, 3000 if is_long else 60),
    ]


def table(rows: list[Row]) -> str:
    """The rows as a table in Markdown."""
    lines = [f"| {row.what} | {row.places:,} | {row.opened:,} |" for row in rows]
    return "\n".join(["| what | places | folders opened |", "| --- | ---: | ---: |", *lines])


if __name__ == "__main__":
    logging.disable(logging.CRITICAL)
    # The thread that writes the views in quiet times would make every day different.
    logbook_module.IDLE_S = 86_400.0
    with tempfile.TemporaryDirectory() as folder:
        sys.stdout.write(table(tried("--long" in sys.argv, books.load(), Path(folder))) + "\n")
