"""Disks that fail: a sync that reports an error, once, and syncs that claim to have done what they did not.

Nothing here decides which of them are tried.
"""

from __future__ import annotations

import random
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from sync.records.logbook import Logbook
from sync.work.rebuild import rebuild
from tests.crash.day import DESK, Day
from tests.crash.disk import KILLED, POWER_CUTS, Call, Disk
from tests.crash.promises import Kept, Promises, op_of
from tests.crash.recorder import SYNCS, Event, Fact, Recorder
from tests.crash.replay import Moment, Replay, take, write_out

Books = dict[str, Any]
JOURNAL = f"{DESK}/journal.log"


def failed_run(failing: int, rulebook: Books, ground: Path) -> list[Event]:
    """The events of a day in which one sync fails."""
    with tempfile.TemporaryDirectory(dir=ground) as top:
        recorder = Recorder(Path(top), failing)
        Day(Path(top), rulebook, recorder).play()
    return recorder.events


def refused_after(events: Sequence[Event]) -> None:
    """Check that nothing was accepted or promised after a failed sync of the journal, until the next start."""
    disk, failed = Disk(), False
    for event in events:
        if isinstance(event, Fact):
            failed = failed and event.what != "opened"
            assert not (failed and event.what in ("answered", "sheet", "handed", "erased")), f"promised: {event}"
            assert not (failed and event.what == "broken" and event.key not in
                        ("journal_failed", "erasure_unfinished")), f"another reason: {event}"
            continue
        if event.name == "sync_fails":
            failed = disk.is_at(event.args[0], JOURNAL)
        disk.apply(event)


def open_failed(events: Sequence[Event], rulebook: Books, ground: Path, failed_sync: str) -> Replay:
    """A crash some time after a failed sync, of which everything is lost or half stayed: opened, and then again."""
    [at] = [number for number, event in enumerate(events) if isinstance(event, Call) and event.name.endswith("_fails")]
    dice = random.Random(f"{at} {failed_sync}")
    moments = [Moment(at + 1, dice.choice(POWER_CUTS)), Moment(at + 1, KILLED),
               Moment(dice.randrange(at + 1, len(events) + 1), dice.choice(POWER_CUTS)),
               Moment(len(events), dice.choice(POWER_CUTS))]
    replay = Replay(events, rulebook, ground)
    replay.failed_sync = failed_sync
    replay.play(moments)
    return replay


def open_lied_to(events: Sequence[Event], moment: Moment, lies_from: int, rulebook: Books, ground: Path) -> bool:
    """From some event on, no sync does anything: what was promised before holds, and the phones bring back the rest.

    Returns:
        whether the earlier promises were checked; they can't hold if the journal was swapped for a new file whose bytes
        never reached the disk
    """
    disk, before, after = Disk(), Promises(), Promises()
    for number, event in enumerate(events[: moment.events]):
        if number == lies_from:
            journal, disk.lies = disk.stands_at(JOURNAL), True
            before = after.copy()
        take(event, disk, after)
    tree = disk.left(moment.variant, moment.seeded())
    is_same = disk.stands_at(JOURNAL) is journal and disk.node(JOURNAL) is journal
    promises = before if is_same else Promises()
    # The phones still have what they sent, whatever was answered.
    promises.sent = dict(after.sent)
    promises.erasing |= after.erasing
    promises.is_garbled = promises.is_lied_to = True
    with tempfile.TemporaryDirectory(dir=ground) as place:
        write_out(tree, Path(place))
        with Recorder(Path(place)) as recorder, Logbook(Path(place) / DESK, rulebook, floor_bytes=0) as logbook:
            kept = Kept(Path(place), rulebook, promises, recorder)
            journalled = {record.line for record in logbook.store.records()}
            assert {line.rstrip(b"\n") for line in promises.answers if not promises.is_open(line)} <= journalled
            kept.send_again(logbook)
            # A view that the disk calls new although it is old can't be told from a good one, and may claim something
            # that isn't here. Made again it is right, and the phones bring what is missing.
            rebuild(logbook, lambda done, of: None)
            lines = kept.send_again(logbook)
            kept.visits(logbook, lines, promises.erasing)
            kept.found(logbook, lines, promises.erasing)
            kept.receipts(logbook)
            refilled = {op_of(line)["id"] for line in lines}
            assert refilled >= {op_of(line)["id"] for line, answer in after.answers.items()
                                if answer["status"] in ("accepted", "conflict") and not after.is_open(line)}
    return is_same


def syncs(events: Sequence[Event]) -> list[int]:
    """The places of all syncs of a run."""
    return [number for number, event in enumerate(events) if isinstance(event, Call) and event.name in SYNCS]
