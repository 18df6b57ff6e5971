"""A phone of the model: its op lines, their state, and what it has learnt, by the rules of outbox.js and client.js.

It judges nothing and folds with the kernel's fold; other tests check that the generated fold on the phone is the same.
"""

from __future__ import annotations

import hashlib
import json
import random
from dataclasses import dataclass, field
from typing import Any

from sync.kernel import fold
from tests.support.ops import JUNE_12, line_of, uuid7

Op = dict[str, Any]
STATE_OF_RESULT = {"accepted": "filed", "conflict": "filed", "rejected": "refused", "deferred": "deferred"}
PENDING = ("waiting", "deferred")
VEHICLE = uuid7(JUNE_12, 7)  # the vehicle of every visit of the model


@dataclass
class Kept:
    """One operation of this phone: the line that is kept and sent, its state, and what was known when it was made."""

    op: Op
    line: bytes
    knew: frozenset[str]
    disputed: frozenset[str]
    state: str = "waiting"
    faults: list[Any] = field(default_factory=list)

    @property
    def digest(self) -> str:
        """The digest the line claims [hex]."""
        return self.line[:64].decode()


class PlainPhone:
    """One device; its clock may be decades off and may jump.

    Args of the constructor:
        device: its name [lower-case hex]
        clock_ms: what its clock shows [ms since 1970]
        dice: the schedule's own random numbers [random.Random]
        kinds: the rulebook's `kinds` book [JSON object]
    """

    def __init__(self, device: str, clock_ms: int, dice: random.Random, kinds: dict[str, Any]) -> None:
        self.device = device
        self.clock_ms = clock_ms
        self.dice = dice
        self.kinds = kinds
        self.kept: dict[str, Kept] = {}
        self.learnt: dict[str | None, dict[str, Op]] = {}
        self.checked_once = False
        self.cursor = ""

    # Capturing ------------------------------------------------------------------------------------------------------

    def now(self) -> int:
        """The clock, a little later each time it is read [ms since 1970]."""
        self.clock_ms += self.dice.randint(1, 90_000)
        return self.clock_ms

    def new_id(self) -> str:
        """A fresh id by this phone's clock."""
        return uuid7(self.clock_ms, self.dice.getrandbits(70))

    def ops_of(self, visit: str | None) -> list[Op]:
        """The operations this phone folds: its own without the replaced ones, and those it learnt; None: the card."""
        own = [kept.op for kept in self.kept.values() if kept.op["visit"] == visit and kept.state != "mended"]
        return [*own, *self.learnt.get(visit, {}).values()]

    def view(self, visit: str | None) -> dict[str, Any]:
        """{visit, heads, conflicts} as this phone sees them now."""
        return fold.replay(self.ops_of(visit), self.kinds)

    def set(self, visit: str | None, kind: str, body: dict[str, Any]) -> Op:
        """Write what a form would: each leaf based on the operation that last set it, as far as this phone knows."""
        heads = self.view(visit)["heads"]
        pointers = [pointer for pointer, _ in fold.leaves(body, kind, self.kinds)]
        return self.write(visit, kind, body, {pointer: (heads.get(pointer) or [None])[0] for pointer in pointers})

    def write(self, visit: str | None, kind: str, body: dict[str, Any], base: dict[str, str | None]) -> Op:
        """Write one operation; the first of a visit is preceded by its opening, which names the vehicle."""
        if visit is not None and kind != "visit.open" and not self.ops_of(visit):
            opening = {"started_at": "2026-06-12T09:05:00-07:00", "vehicle": {"id": VEHICLE}}
            self.set(visit, "visit.open", opening)
        at = self.now()
        op = {"id": self.new_id(), "device": self.device, "seq": len(self.kept) + 1, "schema": 1, "visit": visit}
        op |= {"kind": kind, "base": base, "body": body, "at": at, "tz": -420}
        disputed = frozenset(conflict["pointer"] for conflict in self.view(visit)["conflicts"])
        knew = frozenset(known["id"] for known in self.ops_of(visit))
        self.kept[op["id"]] = Kept(op, line_of(op)[:-1], knew, disputed)
        if kind == "op.mend":
            self.kept[body["replaces"]].state = "mended"
        return op

    def mend(self) -> int:
        """Replace every refused entry, leaving its faulty parts out, as conflicts.js does; returns how many."""
        refused = [kept for kept in self.kept.values() if kept.state == "refused"]
        for kept in refused:
            body = json.loads(json.dumps(kept.op["body"]))
            for problem in kept.faults:
                for fault in problem["errors"]:
                    _leave_out(body, fault["pointer"].removeprefix("/body").split("/")[1:])
            inner = {"replaces": kept.op["id"], "kind": kept.op["kind"], "body": body}
            self.write(kept.op["visit"], "op.mend", inner, kept.op["base"])
        return len(refused)

    def settle_disputes(self, visit: str | None) -> int:
        """A person picks one side for all pointers it takes part in, as conflicts.js does; returns how many are done.
        """
        conflicts = self.view(visit)["conflicts"]
        if not conflicts:
            return 0
        chosen = self.dice.choice(self.dice.choice(conflicts)["values"])["op"]
        settled: dict[str, Any] = {}
        base, of = {}, []
        for conflict in conflicts:
            kept = next((value for value in conflict["values"] if value["op"] == chosen), None)
            if kept is not None:
                _put(settled, conflict["pointer"].split("/")[1:], kept["value"])
                base[conflict["pointer"]] = chosen
                of += [value["op"] for value in conflict["values"] if value["op"] not in of]
        if visit is None:
            self.write(None, "vehicle.set", {"id": VEHICLE, "of": of, **settled}, base)
        else:
            self.write(visit, "conflict.settle", {"of": of, "set": settled}, base)
        return len(base)

    # Filing ---------------------------------------------------------------------------------------------------------

    def pending(self, after: int, count: int) -> list[Kept]:
        """Up to `count` operations still to be filed whose seq is above `after`, oldest first."""
        found = [kept for kept in self.kept.values() if kept.state in PENDING and kept.op["seq"] > after]
        return found[:count]

    def settle(self, results: list[dict[str, Any]]) -> None:
        """Apply what the desk answered; what matches no operation here changes nothing."""
        for result in results:
            kept = self.kept.get(str(result["id"]))
            if kept is None or kept.digest != result["digest"] or kept.state == "mended":
                continue
            problem = result.get("problem")
            kept.faults = [problem] if problem else []
            damaged = bool(problem) and problem["code"] == "damaged"
            kept.state = "waiting" if damaged else STATE_OF_RESULT[result["status"]]

    def verify(self, after: int, up_to: int, receipts: list[dict[str, Any]]) -> int:
        """What is filed here but missing there waits again; returns how many."""
        known = {receipt["id"]: receipt["digest"] for receipt in receipts if receipt["status"] != "rejected"}
        missing = [
            kept
            for kept in self.kept.values()
            if kept.state == "filed" and after < kept.op["seq"] <= up_to and known.get(kept.op["id"]) != kept.digest
        ]
        for kept in missing:
            kept.state = "waiting"
        return len(missing)

    def learn(self, answer: dict[str, Any]) -> int:
        """Take in what others did, and where to ask from next time; returns how many operations were new."""
        fresh = 0
        for change in answer["changes"]:
            if change["kind"] == "op":
                claimed, _, content = change["line"].partition(" ")
                assert hashlib.sha256(content.encode()).hexdigest() == claimed
                op = json.loads(content)
                fresh += op["id"] not in self.learnt.setdefault(op["visit"], {})
                self.learnt[op["visit"]][op["id"]] = op
        self.cursor = answer["cursor"]
        return fresh

    def bundle(self, parts: int) -> list[bytes]:
        """What waits, as files carried by hand in this many parts."""
        lines = [kept.line + b"\n" for kept in self.pending(0, 10_000)]
        size = -(-len(lines) // parts)
        made = []
        for part in range(parts):
            inner = lines[part * size : (part + 1) * size]
            digest = hashlib.sha256(b"".join(inner)).hexdigest()
            head = f"layby-bundle 1 {self.device} {part + 1}/{parts}\n".encode()
            made.append(head + b"".join(inner) + f"end {len(inner)} {digest}\n".encode())
        return made


def _leave_out(body: dict[str, Any], path: list[str]) -> None:
    for key in path[:-1]:
        body = body[key]
    del body[path[-1]]


def _put(tree: dict[str, Any], path: list[str], value: Any) -> None:
    for key in path[:-1]:
        tree = tree.setdefault(key, {})
    tree[path[-1]] = value
