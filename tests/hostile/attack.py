"""The attacks as a report requests them: each is carried out completely, and the result is returned as counts.

Nothing is judged here except by the parts; a test or a report decides what to make of it.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterable
from pathlib import Path

from tests.hostile import carried, folders
from tests.hostile.attacked import attacked
from tests.hostile.described import ask_as_described
from tests.hostile.exchange import Outcome, exchange
from tests.hostile.routes import requests_at, rules_of

# Who asks as described, with their share of all requests; a caller who shows nothing gets no further than the door.
CALLERS = {"none": 0.1, "phone": 0.45, "key": 0.45}
# Kind, status or outcome, and how often.
Row = tuple[str, str, int]


def attack_routes(root: Path, seed: int, count: int) -> Outcome:
    """This many requests to the routes of the application in turn, by callers who may ask and by others.

    Args:
        root: an empty folder for the service and everything its commands leave [path]
        seed: which requests [number]
        count: how many [count]

    Returns:
        what came back, and what is wrong with it or with the service afterwards [Outcome]
    """
    outcome = Outcome()
    rules = rules_of(root / "map")
    with attacked(root / "service") as victim:
        for request in requests_at(rules, victim.callers, seed, count):
            outcome.note(request, exchange(victim.service, request), victim.secrets(request))
        outcome.faults += victim.faults()
        outcome.traces += victim.traces()
    return outcome


def attack_described(root: Path, seed: int, count: int) -> Outcome:
    """About this many requests by the service's own description: by nobody, a paired phone and the owner's commands.

    Args:
        root: an empty folder for the service and everything its commands leave [path]
        seed: which requests [number]
        count: how many [count]

    Returns:
        what came back, and what is wrong with it or with the service afterwards [Outcome]
    """
    outcome = Outcome()
    with attacked(root) as victim:
        for caller, share in CALLERS.items():
            shown = victim.callers.bearers[caller]
            headers = {"Authorization": shown} if shown else {}
            outcome.add(ask_as_described(victim.service.url, caller, headers, seed, round(count * share)))
        outcome.faults += victim.faults()
        outcome.traces += victim.traces()
    return outcome


def attack_by_hand(root: Path, seed: int, count: int) -> Outcome:
    """This many turns of `layby receive` on one logbook, with one to three hostile files each.

    Args:
        root: a folder; its `logbook` may already hold one [path]
        seed: which files [number]
        count: how many turns [count]

    Returns:
        the outcome of each, in the words of `folders.came_of` [Outcome]
    """
    outcome = Outcome()
    for number in range(count):
        place = root / f"files-{number}"
        came, said = carried.receive(root / "logbook", place, seed + number)
        shutil.rmtree(place)
        outcome.note_doing("by hand: receive", (came, said), f"seed {seed + number}", may_refuse=True)
    return outcome


def attack_folders(root: Path, seeds: Iterable[int]) -> Outcome:
    """Damaged folders, and the outcome of a start and of commands on each.

    Args:
        root: an empty folder [path]
        seeds: one damage each [numbers]

    Returns:
        the outcome of each action, in the words of `folders.came_of` [Outcome]
    """
    outcome = Outcome()
    sound = folders.sound_folder(root / "sound")
    for seed in seeds:
        place = root / str(seed)
        place.mkdir()
        what, came = folders.try_damage(sound, place, seed)
        for name, *outcomes in came:
            kind = f"folder: {folders.kind_of(what)}: {name}"
            outcome.note_doing(kind, (outcomes[0], outcomes[1]), what, may_refuse=(name in folders.MAY_REFUSE))
        shutil.rmtree(place)
    return outcome


def table_of(outcomes: Iterable[Outcome]) -> list[Row]:
    """What was tried and what came back, over several attacks.

    Args:
        outcomes: of attacks [Outcome each]

    Returns:
        kind, outcome (an HTTP status, "ended" for a connection that ended, or a word), how often [rows]
    """
    total = sum((outcome.counts for outcome in outcomes), Outcome().counts)
    return [(kind, "ended" if came == 0 else str(came), count)
            for (kind, came), count in sorted(total.items(), key=lambda row: (row[0][0], str(row[0][1])))]
