"""One seeded schedule of two phones and a desk: what happens, in which order, and what must hold in any case.

The desk is real; nothing here decides what is accepted, what conflicts or what a visit is.
"""

from __future__ import annotations

import json
import random
from collections import Counter
from pathlib import Path
from typing import Any

from sync.kernel import fold
from sync.records import receipts
from sync.wire import op_line
from tests.model.plainphone import PENDING, VEHICLE, Kept, PlainPhone
from tests.model.realdesk import RealDesk
from tests.support.ops import JUNE_12, uuid7

CLOCKS_OFF_MS = (0, 0, 3_600_000, -86_400_000, 40 * 365 * 86_400_000, 1 - JUNE_12)
ROUNDS_MOST = 12
Op = dict[str, Any]


class Schedule:
    """Two phones, one desk and two visits; `seen` counts what occurred, so that a run can show what it proved."""

    def __init__(self, seed: int, ground: Path, rulebook: dict[str, Any], desk: type[RealDesk] = RealDesk) -> None:
        self.dice = random.Random(seed)
        self.kinds = rulebook["kinds"]
        self.seen: Counter[str] = Counter()
        self.desk = desk(ground, rulebook, self.dice)
        clocks = [JUNE_12 + self.dice.choice(CLOCKS_OFF_MS) for _ in range(2)]
        self.phones = [
            PlainPhone(name, clock, self.dice, self.kinds) for name, clock in zip(("0a1e", "f10b"), clocks, strict=True)
        ]
        self.visits = [uuid7(JUNE_12 + place, self.dice.getrandbits(70)) for place in range(2)]
        self.subjects: list[str | None] = [*self.visits, None]  # None: the card of the vehicle, beside the visits
        self.on_the_way: list[bytes] = []
        self.carried: list[bytes] = []

    def run(self, steps: int = 40) -> None:
        """Play the schedule, let everything arrive, and check what must hold."""
        events = [self.edit] * 14 + [self.go_online] * 6 + [self.carry_by_hand, self.late_copy, self.clock_jump]
        events += [self.mend, self.settle, self.crash, self.spoil, self.approve]
        for _ in range(steps):
            self.dice.choice(events)()
        self.come_to_rest()
        self.check_end()
        self.desk.end()

    # What happens ---------------------------------------------------------------------------------------------------

    def _phone(self) -> PlainPhone:
        return self.dice.choice(self.phones)

    def edit(self) -> None:
        """Somebody writes something, sometimes a chain of changes of one field."""
        phone, visit = self._phone(), self.dice.choice(self.visits)
        if self.dice.random() < 0.15:
            self._card(phone)
            return
        what = self.dice.choice([self._field, self._field, self._chain, self._reading, self._item, self._faulty])
        what(phone, visit)

    def _card(self, phone: PlainPhone) -> None:
        """Somebody corrects what is known of the vehicle, beside the visits; sometimes with what must be refused."""
        fault = {"year": "old"} if self.dice.random() < 0.2 else {}
        body = {"id": VEHICLE, "plate": f"CA {self.dice.randint(0, 99)}", **fault}
        phone.set(None, "vehicle.set", body)
        self.seen["card"] += 1

    def _field(self, phone: PlainPhone, visit: str) -> None:
        number = self.dice.randint(0, 99)
        body = self.dice.choice([
            {"vehicle": {"plate": f"PB {number}"}},
            {"vehicle": {"plate": f"ÄÖ {number}", "model": "estate"}},
            {"customer": {"name": f"M. Okafor {number}"}},
            {"complaint": None if number % 3 == 0 else f"warm air {number}"},
            {"place": {"altitude_m": float(number)}, "typed": {"place.altitude_m": {"text": f"{number}", "unit": "m"}}},
        ])  # fmt: skip
        phone.set(visit, "visit.set", body)

    def _chain(self, phone: PlainPhone, visit: str) -> None:
        for number in range(self.dice.randint(2, 6)):
            phone.set(visit, "visit.set", {"vehicle": {"plate": f"CH {number}"}})
        self.seen["chain"] += 1

    def _reading(self, phone: PlainPhone, visit: str) -> None:
        tests = [test["id"] for test in phone.view(visit)["visit"].get("tests", [])]
        if not tests or self.dice.random() < 0.3:
            body = {"id": f"t{phone.device}{len(phone.kept)}", "role": "before", "at": "2026-06-12T09:20:00-07:00"}
            phone.write(visit, "test.add", body | {"readings": {"low_kpa_g": 180.0}}, {})
            return
        name = self.dice.choice(tests)
        if self.dice.random() < 0.3:
            points = [{"s": float(self.dice.randint(0, 300)), "vent_c": 7.5}]
            phone.write(visit, "trace.add", {"test": name, "points": points}, {})
        else:
            readings = {"low_kpa_g": float(self.dice.randint(100, 300))}
            phone.set(visit, "reading.set", {"id": name, "readings": readings})

    def _item(self, phone: PlainPhone, visit: str) -> None:
        listed = [item["id"] for item in phone.view(visit)["visit"].get("work", [])]
        if listed and self.dice.random() < 0.4:
            phone.write(visit, "item.strike", {"list": "work", "id": self.dice.choice(listed)}, {})
        else:
            body = {"id": f"w{phone.device}{len(phone.kept)}", "code": "tested_only", "at": "2026-06-12T09:40:00-07:00"}
            phone.write(visit, "work.add", body, {})

    def _faulty(self, phone: PlainPhone, visit: str) -> None:
        """A page of an older version writes what the desk must refuse; sometimes none of it is valid."""
        body: Op = {"year": "old"} if self.dice.random() < 0.5 else {"year": "old", "plate": "FA 1"}
        phone.set(visit, "visit.set", {"vehicle": body})
        if self.dice.random() < 0.5:
            phone.set(visit, "visit.set", {"vehicle": {"year": 2011}})

    def mend(self) -> None:
        """Somebody corrects what was refused."""
        self.seen["mended"] += self._phone().mend()

    def settle(self) -> None:
        """Somebody settles a conflict."""
        self.seen["settled"] += self._phone().settle_disputes(self.dice.choice(self.subjects))

    def approve(self) -> None:
        """The desk writes an operation of its own."""
        self.desk.approve(self.dice.choice(self.visits))

    def clock_jump(self) -> None:
        """A phone's clock is set, forwards or back."""
        self._phone().clock_ms = max(1, JUNE_12 + self.dice.choice(CLOCKS_OFF_MS))

    def crash(self) -> None:
        """The desk's power fails while nobody talks to it."""
        self.desk.crash()
        self.seen["crash"] += 1
        self.check_acknowledged()

    def spoil(self) -> None:
        """Pages are lost or unreadable at a start."""
        self.desk.spoil()
        self.seen["rebuilt"] += 1
        self.check_acknowledged()

    # The ways between phone and desk --------------------------------------------------------------------------------

    def go_online(self) -> None:
        """A phone carries what waits, checks its receipts and learns, until the network ends it."""
        phone = self._phone()
        if self._carry(phone, self.dice.choice([1, 3, 50])) and self.dice.random() < 0.7:
            self._check_and_learn(phone, self.dice.random() < 0.3)

    def _carry(self, phone: PlainPhone, most: int, trouble: float = 0.35) -> bool:
        """Batches from the oldest on, each deferred one tried once; False if the network broke off."""
        after = 0
        while batch := phone.pending(after, most):
            body = b"".join(kept.line + b"\n" for kept in batch)
            if self.dice.random() < trouble:
                return self._lost(body)
            results = self.desk.sync(body)
            self._count(results)
            phone.settle(results)
            after = batch[-1].op["seq"]
            if self.dice.random() < trouble:
                self.on_the_way.append(body)
        return True

    def _lost(self, body: bytes) -> bool:
        """The request is lost, the reply is lost, or the desk's power fails in the middle."""
        how = self.dice.choice(["lost request", "lost reply", "lost reply", "torn write"])
        self.seen[how] += 1
        if how == "lost request":
            self.on_the_way.append(body)
        elif how == "lost reply":
            self._count(self.desk.sync(body))
        else:
            self.desk.crash(body)
            self.check_acknowledged()
        return False

    def _check_and_learn(self, phone: PlainPhone, whole: bool) -> None:
        if whole or not phone.checked_once:
            told = receipts.receipts(self.desk.logbook, phone.device, 0, 10_000)["receipts"]
            returned = phone.verify(0, len(phone.kept), told)
            assert returned == 0, "an entry that was acknowledged is missing from the receipts"
            phone.checked_once = True
        self._learn(phone)

    def _learn(self, phone: PlainPhone, trouble: float = 0.2) -> int:
        """Ask what others did until there is no more; if an answer is lost, it is requested again the next time."""
        fresh, more = 0, True
        while more:
            answer = self.desk.changes(phone.device, phone.cursor)
            if self.dice.random() < trouble:
                self.seen["lost changes"] += 1
                return fresh
            fresh, more = fresh + phone.learn(answer), answer["more"]
        return fresh

    def late_copy(self) -> None:
        """A request that was lost, or an answered one, comes in once more, much later; nobody hears the answer."""
        if self.on_the_way:
            self._count(self.desk.sync(self.on_the_way.pop(self.dice.randrange(len(self.on_the_way)))))
            self.seen["late copy"] += 1

    def carry_by_hand(self) -> None:
        """Parts of a file arrive in any order, some damaged, some twice, some never; so do their receipts."""
        phone = self._phone()
        parts = phone.bundle(self.dice.randint(1, 3))
        self.dice.shuffle(parts)
        for part in parts:
            if self.dice.random() < 0.25:
                self.carried.append(part)
                continue
            damaged = len(part) > 200 and self.dice.random() < 0.3
            receipt = self.desk.carried(self._damage(part) if damaged else part)
            self.seen["part"] += 1
            if self.dice.random() < 0.7:
                phone.settle(self._told(receipt))
        if self.carried and self.dice.random() < 0.5:
            self.desk.carried(self.carried.pop())
            self.seen["late part"] += 1

    def _damage(self, part: bytes) -> bytes:
        self.seen["damaged part"] += 1
        at = self.dice.randrange(60, len(part) - 60)
        return part[:at] + bytes([part[at] ^ 1]) + part[at + 1 :]

    def _told(self, receipt: bytes) -> list[Op]:
        told = [json.loads(line[op_line.DIGEST_LENGTH + 1 :]) for line in receipt.splitlines()[1:-1]]
        results = [entry for entry in told if entry["status"] != "unreadable"]
        self._count(results)
        return results

    def _count(self, results: list[Op]) -> None:
        for result in results:
            self.seen[result["status"]] += 1
            self.seen["repeat"] += bool(result.get("repeat"))

    # Rest -----------------------------------------------------------------------------------------------------------

    def come_to_rest(self) -> None:
        """No more trouble on the way: correct, carry, learn and settle until nothing is left to do."""
        for _ in range(ROUNDS_MOST):
            busy = 0
            for phone in self.phones:
                mended = phone.mend()
                self.seen["mended"] += mended
                busy += mended
                self._carry(phone, 50, trouble=0)
                self._check_and_learn(phone, whole=True)
                busy += len(phone.pending(0, 1000)) + sum(kept.state == "refused" for kept in phone.kept.values())
            disputes = sum(self._who_sees(visit).settle_disputes(visit) for visit in self.subjects)
            self.seen["settled"] += disputes
            while self.on_the_way:
                self.late_copy()
            for part in self.carried:
                self.desk.carried(part)
            if busy == 0 and disputes == 0 and self._all_learnt():
                return
        left = [(kept.op["kind"], kept.state, kept.faults) for one in self.phones for kept in one.pending(0, 99)]
        raise AssertionError(f"it never comes to rest: {left}")

    def _who_sees(self, visit: str | None) -> PlainPhone:
        """The phone that sees the most of it: the card comes only to a phone that has a visit with the vehicle."""
        return max(self.phones, key=lambda phone: len(phone.ops_of(visit)))

    def _all_learnt(self) -> bool:
        return sum(self._learn(phone, trouble=0) for phone in self.phones) == 0

    # What must hold -------------------------------------------------------------------------------------------------

    def check_acknowledged(self) -> None:
        """Everything a phone was told is filed is on file, as it was written."""
        stored = {op["id"]: op for visit in self.subjects for op in self.desk.ops(visit)}
        for phone in self.phones:
            for kept in phone.kept.values():
                if kept.state == "filed":
                    assert stored.get(kept.op["id"]) == kept.op, "acknowledged, and not on file"

    def check_end(self) -> None:
        """Everything arrived once, nothing was silently overwritten, and all three see the same visits."""
        self.check_acknowledged()
        for phone in self.phones:
            assert not [kept for kept in phone.kept.values() if kept.state in (*PENDING, "refused")]
            for kept in phone.kept.values():
                if kept.state == "filed":
                    assert self.desk.count_of(kept.line) == 1, "one operation, one record"
        for visit in self.subjects:
            ops = self.desk.ops(visit)
            assert len({op["id"] for op in ops}) == len(ops)
            if ops:
                self._check_visit(visit, ops)

    def _check_visit(self, visit: str | None, ops: list[Op]) -> None:
        desk = fold.replay(ops, self.kinds)
        assert visit is None or desk["visit"] == self.desk.logbook.visit(visit)
        assert desk["conflicts"] == []
        entry = self.desk.entry(visit)
        kept = {pointer: sorted(heads) for pointer, heads in entry["heads"].items()}
        assert kept == {pointer: sorted(heads) for pointer, heads in desk["heads"].items()}
        for phone in self.phones:
            theirs = ops if visit is not None else self._all()
            if any(op["device"] == phone.device for op in theirs):
                assert phone.view(visit)["visit"] == desk["visit"], "a phone and the desk see different visits"
        self._check_nothing_overwritten(ops, desk["heads"], entry)

    def _all(self) -> list[Op]:
        return [op for visit in self.visits for op in self.desk.ops(visit)]

    def _check_nothing_overwritten(self, ops: list[Op], heads: dict[str, list[str]], entry: Op) -> None:
        """Each value that isn't shown gave way to one whose writer had seen it; a conflict needs two who had not."""
        made = {name: kept for phone in self.phones for name, kept in phone.kept.items()}
        stand_ins = {op["body"]["replaces"]: op["id"] for op in ops if op["kind"] == "op.mend"}
        setters: dict[str, list[Op]] = {}
        for op in ops:
            for pointer, _ in fold.leaves(op["body"], op["kind"], self.kinds):
                setters.setdefault(pointer, []).append(op)

        def then(op: Op) -> Kept:
            # A replacement stands where the refused one stood, so it knows what was known then.
            return made[op["body"]["replaces"] if op["kind"] == "op.mend" else op["id"]]

        def saw(op: Op) -> set[str]:
            knew = then(op).knew
            return knew | {stand_ins.get(name, name) for name in knew}

        for pointer, found in setters.items():
            for op in found:
                seen = any(op["id"] in saw(other) for other in found if other is not op)
                assert op["id"] in heads[pointer] or seen, f"{pointer} was overwritten by one who had not seen it"
        for told in entry["ops"]:
            if told["status"] == "conflict":
                op = made[told["id"]].op
                pointers = {pointer for pointer, _ in fold.leaves(op["body"], op["kind"], self.kinds)}
                if pointers & then(op).disputed:
                    continue  # written into a conflict that its writer saw: it continues that one and isn't a new one
                unseen = [other for pointer in pointers for other in setters[pointer] if other["id"] not in saw(op)]
                assert any(other is not op and other["device"] != op["device"] for other in unseen), "a false conflict"
