"""The invented technician's phone: turns what was typed that day into the op lines that a phone keeps and sends.

It makes no judgement and sends nothing. Ids are derived from the scenario instead of chance, so that a second run
produces the same operations and the desk can say that it already has them.
"""

from __future__ import annotations

import hashlib
import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from demo import scenes
from sync.kernel import cautions, fold, units
from sync.kernel.assessment import assess
from sync.sheet.shown_verdict import verdict_digest
from sync.wire import op_line

DAY = Path(__file__).with_name("day.json")
STEP = timedelta(seconds=20)  # between two operations of one step
# The end of a field's name gives its unit; the longer ending is tried first.
ENDINGS = (
    ("_kpa_g", "pressure"), ("_kpa", "pressure"), ("_c", "temperature"),
    ("_g", "mass"), ("grams", "mass"), ("_km", "distance"), ("_m", "altitude"),
)  # fmt: skip
# The ids of these include their content, because it changes with the rules and the libraries that the demo runs on.
BY_CONTENT = ("verdict.shown", "photo.add", "signature.add")

Tree = dict[str, Any]


def load_day(path: Path = DAY) -> Tree:
    """The scenario as written down [JSON object]."""
    day: Tree = json.loads(path.read_text("utf-8"))
    return day


def quantity_of(field: str) -> str | None:
    """The quantity that the end of a field's name stands for; None if it isn't a quantity with a choice of units."""
    return next((quantity for ending, quantity in ENDINGS if field.endswith(ending)), None)


def uuid7(instant: datetime, name: str) -> str:
    """A UUID of version 7 for an instant, with its random part derived from a name (RFC 9562, section 5.7)."""
    milliseconds = int(instant.timestamp() * 1000)
    drawn = hashlib.sha256(name.encode()).hexdigest()
    variant = "89ab"[int(drawn[3], 16) % 4]
    digits = f"{milliseconds:012x}7{drawn[:3]}{variant}{drawn[4:19]}"
    return "-".join((digits[:8], digits[8:12], digits[12:16], digits[16:20], digits[20:]))


class Phone:
    """One phone on one day: it numbers its operations and knows which operation last set each field."""

    def __init__(self, day: Tree, rulebook: Tree) -> None:
        self.day = day
        self.rulebook = rulebook
        self.seqs: dict[str, int] = {}
        # (device, line) in the order they were made; the desk's answers that aren't "accepted".
        self.made: list[tuple[str, bytes]] = []
        self.expected: dict[str, str] = {}
        self.photos: dict[str, bytes] = {}

    def instant(self, clock: str) -> datetime:
        """A time of the scenario's day, such as "09:31", with its offset."""
        return datetime.fromisoformat(f"{self.day['day']}T{clock}:00{self.day['offset']}")

    def number(self, device: str) -> int:
        """The next number in a device's own sequence."""
        self.seqs[device] = self.seqs.get(device, 0) + 1
        return self.seqs[device]

    def visit(self, entry: Tree) -> None:
        """Write down one visit's operations in the order a technician would make them."""
        Visit(self, entry).write_down()


class Visit:
    """One visit while it is being captured."""

    def __init__(self, phone: Phone, entry: Tree) -> None:
        self.phone = phone
        self.entry = entry
        self.now = phone.instant(entry["started"])
        self.id = uuid7(self.now, f"visit {entry['started']}")
        self.ops: list[Tree] = []
        self.last_set: dict[str, str] = {}

    def write_down(self) -> None:
        """The whole visit, first to last."""
        self._arrive()
        for code in self.entry.get("consent", []):
            self._add("consent.add", {"code": code})
        for code in self._cautions():
            self._add("caution.confirm", {"code": code})
        for check in self.entry.get("checks", []):
            self._add("check.add", check, timed=False)
        captures = {"tests": self._test, "work": self._work, "moves": self._move, "rests": self._rest,
                    "photos": self._photo}
        events = [(item["at"], capture, item) for name, capture in captures.items()
                  for item in self.entry.get(name, [])]
        if "conflict" in self.entry:
            events.append((self.entry["conflict"]["at"], self._conflict, self.entry["conflict"]))
        for _, capture, item in sorted(events, key=lambda event: event[0]):
            capture(item)
        self._leave()

    def _arrive(self) -> None:
        day = self.phone.day
        person = day.get("person") or uuid7(self.phone.instant("00:00"), "technician")
        technician = {"id": person, **day["technician"]}
        opening = {"started_at": self.now.isoformat(), "technician": technician, "units": self.entry["units"]}
        self._op("visit.open", opening)
        for section in ("customer", "vehicle", "place", "instruments"):
            if section in self.entry:
                values, typed = self._understood(self.entry[section], section)
                if section in ("customer", "vehicle"):
                    values["id"] = uuid7(self.now, section)
                self._op("visit.set", {section: values} | ({"typed": typed} if typed else {}))
        self._op("visit.set", {"complaint": self.entry["complaint"]})

    def _cautions(self) -> list[str]:
        """The cautions that fit what is known on arrival, as the phone shows them before the first reading."""
        visit = fold.fold(self.ops, self.phone.rulebook["kinds"])
        return cautions.standing_cautions(visit, self.phone.rulebook)

    def _test(self, test: Tree) -> None:
        self.now = self.phone.instant(test["at"])
        name = uuid7(self.now, f"test {test['role']}")
        self._op("test.add", {"id": name, "role": test["role"], "at": self.now.isoformat()})
        for part in ("conditions", "readings"):
            values, typed = self._understood(test[part], part)
            body = {"id": name, part: values} | ({"typed": typed} if typed else {})
            if test.get("slip") in values:
                self._slip(test["slip"], part, body)
            else:
                self._op("reading.set", body)
        if "trace" in test:
            points = [{"s": float(place * test["trace"]["every_s"]), "vent_c": vent}
                      for place, vent in enumerate(test["trace"]["vent_c"])]
            self._op("trace.add", {"test": name, "points": points})
        rest = {key: test[key] for key in ("note", "observed") if key in test}
        if rest:
            self._op("reading.set", {"id": name, **rest})

    def _read(self, name: str, code: str) -> None:
        """The cautions of a deed that were not read yet, as the phone shows them before it."""
        read = {op["body"]["code"] for op in self.ops if op["kind"] == "caution.confirm"}
        for caution in cautions.cautions_at(name, code, self.phone.rulebook):
            if caution not in read:
                self._add("caution.confirm", {"code": caution})

    def _work(self, work: Tree) -> None:
        self.now = self.phone.instant(work["at"])
        self._read("work", work["code"])
        self._add("work.add", {**work, "by": self.phone.day["technician"]["name"]})

    def _slip(self, field: str, part: str, body: Tree) -> None:
        """A number written as text: the desk refuses the whole entry, and a replacement stands in for it."""
        wrong = self._op("reading.set", {**body, part: {**body[part], field: str(body[part][field])}}, "rejected")
        mending = {"replaces": wrong["id"], "kind": "reading.set", "body": body}
        mended = self._op("op.mend", mending, base=wrong["base"])
        self.last_set |= dict.fromkeys(wrong["base"], mended["id"])

    def _move(self, move: Tree) -> None:
        self.now = self.phone.instant(move["at"])
        self._read("refrigerant_moves", move["kind"])
        self._add("move.add", {**self._understood(move, "move")[0], "by": self.phone.day["technician"]["name"]})

    def _rest(self, rest: Tree) -> None:
        self.now = self.phone.instant(rest["at"])
        self._add("rest.add", self._understood(rest, "rest")[0])

    def _photo(self, shot: Tree) -> None:
        """A drawn picture; its bytes go beside the operations."""
        self.now = self.phone.instant(shot["at"])
        content = scenes.photo(shot["scene"], self.id)
        digest = hashlib.sha256(content).hexdigest()
        self.phone.photos[digest] = content
        self._op("photo.add", {"sha256": digest, "role": shot["role"], "at": self.now.isoformat()})

    def _conflict(self, conflict: Tree) -> None:
        """A second phone that hadn't heard from the first sets the same field; the technician picks the value."""
        section, field = conflict["section"], conflict["field"]
        pointer = f"/{section}/{field}"
        mine, body = self.last_set[pointer], {section: {field: conflict["theirs"]}}
        theirs = self._op("visit.set", body, "conflict", self.phone.day["helper"]["device"], {pointer: None})
        settling = {"of": [mine, theirs["id"]], "set": {section: {field: conflict["settled"]}}}
        settled = self._op("conflict.settle", settling, base={})
        self.last_set[pointer] = settled["id"]

    def _leave(self) -> None:
        ended = self.now = self.phone.instant(self.entry["ended"])
        for charge in self.entry.get("charges", []):
            self._add("charge.add", charge, timed=False)
        for text in self.entry.get("advice", []):
            self._add("advice.add", {"text": text}, timed=False)
        names = ("outcome", "currency", "next_visit", "distance_km")
        values, typed = self._understood({key: self.entry[key] for key in names if key in self.entry}, "visit")
        if "paid" in self.entry:
            paid = self.entry["paid"]
            values["paid"] = {**paid, "at": self.phone.instant(paid["at"]).isoformat()}
        self._op("visit.set", {"ended_at": ended.isoformat(), **values} | ({"typed": typed} if typed else {}))
        self._sign(self._show_verdict())

    def _show_verdict(self) -> str:
        """The verdict that the phone shows at the end, by its digest."""
        rulebook = self.phone.rulebook
        digest = verdict_digest(assess(fold.fold(self.ops, rulebook["kinds"]), rulebook))
        self._op("verdict.shown", {"rulebook": rulebook["hash"], "app": "demo", "at": self.now.isoformat(),
                                   "digest": digest})
        return digest

    def _sign(self, shown: str) -> None:
        signed = self.entry.get("signature")
        if signed:
            at = self.phone.instant(signed["at"]).isoformat()
            self._op("signature.add", {"name": signed["name"], "at": at, "of": shown,
                                       "strokes": scenes.strokes(signed["name"])})

    def _understood(self, entries: Tree, section: str) -> tuple[Tree, Tree]:
        """Values in canonical units, and beside them what was typed, both as the phone keeps them."""
        values: Tree = {}
        typed: Tree = {}
        for field, entry in entries.items():
            quantity = quantity_of(field)
            if quantity is None or not isinstance(entry, str):
                values[field] = entry
                continue
            text, unit = entry.rsplit(" ", 1)
            number = float(text.replace(",", "."))
            values[field] = units.to_canonical(quantity, unit, number, self.phone.rulebook)
            path = field if section in ("conditions", "readings") else f"{section}.{field}"
            typed[path] = {"text": text, "unit": unit}
        return values, typed

    def _add(self, kind: str, body: Tree, timed: bool = True) -> None:
        """An item for one of the visit's lists, with its own id."""
        item = {"id": uuid7(self.now, f"{self.id} {kind} {self.phone.seqs}"), **body}
        if timed:
            item["at"] = self.now.isoformat()
        self._op(kind, item)

    def _op(self, kind: str, body: Tree, answer: str = "accepted", device: str | None = None,
            base: dict[str, str | None] | None = None) -> Tree:
        """One operation, by this phone or another; `answer` is the desk's expected answer."""
        phone, by = self.phone, device or self.phone.day["device"]
        seq = phone.number(by)
        salt = op_line.digest(json.dumps(body, sort_keys=True).encode())[:16] if kind in BY_CONTENT else ""
        name = uuid7(self.now, f"op {by} {seq} {salt}".strip())
        offset = self.now.utcoffset() or timedelta()
        op = {
            "id": name, "device": by, "seq": seq, "schema": 1, "visit": self.id,
            "kind": kind, "base": self._base(kind, body, name) if base is None else base, "body": body,
            "at": int(self.now.timestamp() * 1000), "tz": int(offset.total_seconds() // 60),
        }  # fmt: skip
        if phone.day.get("person"):
            op["by"] = phone.day["person"]
        if answer == "accepted":
            self.ops.append(op)
        else:
            phone.expected[name] = answer
        phone.made.append((by, op_line.line(op)))
        self.now += STEP
        return op

    def _base(self, kind: str, body: Tree, name: str) -> dict[str, str | None]:
        """Which operation last set each of these fields; from now on it is this one."""
        kinds = self.phone.rulebook["kinds"]
        pointers = [pointer for pointer, _ in fold.leaves(body, kind, kinds)]
        before = {pointer: self.last_set.get(pointer) for pointer in pointers}
        self.last_set |= dict.fromkeys(pointers, name)
        return before if kinds["kinds"][kind]["does"] in ("set", "set_item") else {}


def whole_day(rulebook: Tree, day: Tree | None = None) -> Phone:
    """The whole day as it was captured.

    Args:
        rulebook: the rulebook [books by name]
        day: the scenario; the demo's own when None [JSON object]

    Returns:
        the phone with the lines made, the desk's expected answers, and the photos [Phone]
    """
    phone = Phone(day if day is not None else load_day(), rulebook)
    for entry in phone.day["visits"]:
        phone.visit(entry)
    return phone
