"""What a person has to settle: fields that two entries set to different values, and entries that were refused.

Nothing here knows words or a page; a refused entry stays as it came.
"""

from __future__ import annotations

import json
import math
from typing import TypedDict, cast

from sync.errors import LaybyError
from sync.isolation import each_apart
from sync.kernel.fold import put, replay
from sync.kernel.json_tree import Json, JsonObject
from sync.kernel.operation import Conflict
from sync.records.attention import ASIDE
from sync.records.logbook import Logbook
from sync.records.record import FILED, FiledRecord
from sync.records.store.interface import Record
from sync.wire import op_line
from sync.wire.results import Problem
from sync.work import cards, desk_operations

# So many of the newest records are looked at; most of them were settled long ago.
LOOKED_MOST = 500
VISIT = "visit"
# Refused for the bytes they came in, so that the entry itself may have arrived since.
RESENT = ("damaged", "not_its_own")


class NoDispute(LaybyError):
    """Nothing is open under that name: it was settled meanwhile, or never disagreed."""

    code = "no_dispute"


class Disagreement(TypedDict):
    """A field of a visit, a vehicle or a customer that entries set to different values; the first value stands."""

    what: str
    id: str
    conflict: Conflict


class Refused(TypedDict):
    """An entry that was refused: the number of its record, what can be read of it, when it came, and why."""

    number: int
    at: int
    device: str | None
    visit: str | None
    kind: str | None
    body: JsonObject
    problem: Problem


class Disputes(TypedDict):
    """What is open, the newest first, and how many older entries weren't looked at."""

    disagreements: list[Disagreement]
    refused: list[Refused]
    older: int


def disputes(logbook: Logbook) -> Disputes:
    """Everything that waits to be settled.

    Args:
        logbook: the open logbook [Logbook]

    Returns:
        fields that disagree and entries that were refused, as far as nobody settled them or set them aside [Disputes]
    """
    if not logbook.attention.is_whole:
        logbook.look_through()
    numbers = logbook.attention.newest()
    looked = [record for number in numbers[:LOOKED_MOST] if (record := logbook.record(number)) is not None]
    subjects = dict.fromkeys(FiledRecord(record, logbook.kinds).subject for record in looked
                             if record.result["status"] == "conflict")
    by_name = {f"{what} {identifier}": (what, identifier) for what, identifier in subjects}
    found, _ = each_apart(by_name, lambda name: disagreements_of(logbook, *by_name[name]))
    refused = [_refused(record) for record in looked
               if record.result["status"] == "rejected" and not _is_over(logbook, record)]
    return {"disagreements": [one for some in found for one in some], "refused": refused,
            "older": max(0, len(numbers) - LOOKED_MOST)}


def disagreements_of(logbook: Logbook, what: str, identifier: str) -> list[Disagreement]:
    """The fields of a visit, a vehicle or a customer that disagree [Disagreement each]."""
    if what == VISIT:
        replayed = replay(logbook.ops(identifier), logbook.kinds)
        conflicts = [] if replayed["visit"].get("void") else replayed["conflicts"]
    else:
        read = cards.vehicle if what == "vehicle" else cards.customer
        conflicts = read(logbook, identifier)["conflicts"]
    return [{"what": what, "id": identifier, "conflict": one} for one in conflicts]


def _refused(record: Record) -> Refused:
    content = op_line.parts(record.line)[1]
    outline, tree = op_line.outline(content), _read(content)
    kind, body = tree.get("kind"), tree.get("body")
    problem = cast(JsonObject, record.result.get("problem") or {"code": "shape", "detail": ""})
    return {
        "number": record.number, "at": record.received_ms, "device": outline["device"], "visit": outline["visit"],
        "kind": kind if isinstance(kind, str) else None, "body": body if isinstance(body, dict) else {},
        "problem": cast(Problem, _presentable(problem)),
    }


def _read(content: bytes) -> JsonObject:
    """What can be read of an entry; {} where it isn't JSON."""
    try:
        tree = _presentable(cast(Json, json.loads(content)))
    except (ValueError, RecursionError):
        return {}
    return tree if isinstance(tree, dict) else {}


def _presentable(tree: Json) -> Json:
    """A tree without what an entry may be refused for and no answer can be written with: halves of characters, numbers
    without an end.
    """
    if isinstance(tree, str):
        return tree.encode("utf-16", "surrogatepass").decode("utf-16", "replace")
    if isinstance(tree, float) and not math.isfinite(tree):
        return str(tree)
    if isinstance(tree, dict):
        return {cast(str, _presentable(name)): _presentable(value) for name, value in tree.items()}
    return [_presentable(each) for each in tree] if isinstance(tree, list) else tree


def _is_over(logbook: Logbook, record: Record) -> bool:
    """Whether a refused entry has been replaced, or has arrived sound since."""
    outline = op_line.outline(op_line.parts(record.line)[1])
    if outline["id"] is None:
        return False
    if (record.result.get("problem") or {"code": ""})["code"] in RESENT:
        earlier = logbook.lookup(outline["id"])
        return earlier is not None and earlier["status"] in FILED
    heads = logbook.visit_heads(outline["visit"]) if outline["visit"] else None
    return heads is not None and outline["id"] in heads["stand_ins"]


def settle(logbook: Logbook, visit: str, chosen: str, why: str, when: tuple[int, int]) -> None:
    """Say of an entry that its values count wherever it disagrees with others, with the reason why.

    Args:
        logbook: where it is filed [Logbook]
        visit: the visit [UUIDv7]
        chosen: the entry [op id]
        why: the reason, kept with the visit [text]
        when: now and the local offset [ms since 1970, minutes]

    Raises:
        NoDispute: the entry disagrees with none, or no longer.
        NotFiled: the logbook refused it.
    """
    with logbook.writing():
        of, setting = set[str](), JsonObject()
        base: dict[str, str | None] = {}
        for one in disagreements_of(logbook, VISIT, visit):
            conflict = one["conflict"]
            choice = next((value for value in conflict["values"] if value["op"] == chosen), None)
            if choice is not None:
                put(setting, conflict["pointer"].split("/")[1:], choice["value"])
                base[conflict["pointer"]] = chosen
                of |= {value["op"] for value in conflict["values"]}
        if not of:
            raise NoDispute(name=visit)
        desk_operations.settle(logbook, visit, {"of": sorted(of), "set": setting, "base": base}, why, when)


def set_aside(logbook: Logbook, number: int, at_ms: int) -> None:
    """Note that a person has seen to a refused entry, so that it is listed no more.

    Args:
        logbook: where it is noted [Logbook]
        number: of its record [count]
        at_ms: when [ms since 1970]

    Raises:
        NoDispute: no refused entry of that number is open.
    """
    if all(one["number"] != number for one in disputes(logbook)["refused"]):
        raise NoDispute(name=str(number))
    logbook.note(ASIDE, None, {"number": number}, at_ms)
