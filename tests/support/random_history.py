"""Seeded random histories of one visit on two devices: chains, conflicts, strikes, traces and clocks that lie.

No folding lives here; bases are what each device has seen itself.
"""

from __future__ import annotations

import random
from typing import Any

PLATES = ["PB 11", "PB 12", "PB 13", "ÄÖ 7/9"]
CHARTS = [{"rows": [{"ambient_c": 30, "low_kpa_g": [150, high]}], "rpm": 1500} for high in (250, 250.5)]


class Device:
    """One phone with its own clock and its own view of who last set what."""

    def __init__(self, name: str, dice: random.Random) -> None:
        self.name = name
        self.dice = dice
        self.seq = 0
        self.clock = dice.randint(0, 5000)
        self.heads: dict[str, str] = {}

    def op(self, kind: str, body: dict[str, Any], pointers: list[str]) -> dict[str, Any]:
        """One operation; its bases are what this device last saw."""
        self.seq += 1
        self.clock += self.dice.randint(-50, 200)
        made = {"id": f"{self.name}{self.seq:04d}", "device": self.name, "seq": self.seq, "schema": 1, "visit": "v"}
        made.update(kind=kind, body=body, base={p: self.heads.get(p) for p in pointers}, at=self.clock, tz=0)
        for pointer in pointers:
            self.heads[pointer] = str(made["id"])
        return made


def _mended(device: Device, dice: random.Random) -> list[dict[str, Any]]:
    """A refused operation that nobody filed, an edit built on it, and its replacement."""
    refused = device.op("visit.set", {"vehicle": {"plate": dice.choice(PLATES)}}, ["/vehicle/plate"])
    edit = device.op("visit.set", {"vehicle": {"plate": dice.choice(PLATES)}}, ["/vehicle/plate"])
    left = dice.choice([refused["body"], {"vehicle": {}}])
    body = {"replaces": refused["id"], "kind": "visit.set", "body": left}
    mend = device.op("op.mend", body, [])
    return [edit, {**mend, "base": refused["base"]}]


def _edit(device: Device, dice: random.Random, items: list[str]) -> dict[str, Any]:
    what = dice.choice(["plate", "reading", "reading", "work", "strike", "trace", "clear"])
    if what == "plate":
        return device.op("visit.set", {"vehicle": {"plate": dice.choice(PLATES)}}, ["/vehicle/plate"])
    if what == "clear":
        return device.op("visit.set", {"complaint": dice.choice([None, "warm air"])}, ["/complaint"])
    if what == "reading":
        body = {
            "id": "b",
            "readings": {"low_kpa_g": float(dice.randint(100, 300))},
            "typed": {"low_kpa_g": {"text": "27", "unit": "psi"}},
        }
        return device.op("reading.set", body, ["/tests/b/readings/low_kpa_g", "/typed/b.low_kpa_g"])
    if what == "work":
        items.append(f"w{len(items)}")
        return device.op("work.add", {"id": items[-1], "code": "tested_only", "at": "t"}, [])
    if what == "strike" and items:
        return device.op("item.strike", {"list": "work", "id": dice.choice(items)}, [])
    return device.op("trace.add", {"test": "b", "points": [{"s": float(device.seq), "vent_c": 7.5}]}, [])


def history(seed: int) -> list[dict[str, Any]]:
    """The operations of one visit in a random order of arrival [list of JSON objects]."""
    dice = random.Random(seed)
    one, other = Device("0a", dice), Device("f1", dice)
    opening = one.op(
        "visit.open",
        {"started_at": "2026-06-12T09:05:00-07:00", "vehicle": {"plate": "PB 1"}},
        ["/started_at", "/vehicle/plate"],
    )
    test = one.op("test.add", {"id": "b", "role": "before", "at": "t", "readings": {"low_kpa_g": 200.0}}, [])
    one.heads["/tests/b/readings/low_kpa_g"] = test["id"]
    other.heads = dict(one.heads)
    ops = [opening, test]
    items: list[str] = []
    for _ in range(dice.randint(3, 14)):
        device = dice.choice([one, other])
        if dice.random() < 0.06:
            ops += _mended(device, dice)
        else:
            ops.append(_edit(device, dice, items))
        if dice.random() < 0.3:
            other.heads.update(one.heads)
    dice.shuffle(ops)
    return ops


def cards(seed: int) -> dict[str, Any]:
    """What visits say about a vehicle and the operations beside them, in a random order [JSON object of two lists]."""
    dice = random.Random(seed)
    one, other = Device("0a", dice), Device("f1", dice)
    ops: list[dict[str, Any]] = []
    stated = []
    for _ in range(dice.randint(2, 12)):
        device = dice.choice([one, other])
        what = dice.random()
        if what < 0.3:
            fields = {"id": "v", "plate": dice.choice(PLATES), "year": dice.choice([None, 2004, 2011])}
            stated.append({"at": dice.randint(0, 2000), "fields": {**fields, "chart": dice.choice(CHARTS)}})
        elif what < 0.7:
            ops.append(device.op("vehicle.set", {"id": "v", "plate": dice.choice([None, *PLATES])}, ["/plate"]))
        elif what < 0.8 and ops:
            named = [op["id"] for op in ops if op["kind"] == "vehicle.set"]
            body = {"id": "v", "plate": dice.choice(PLATES), "of": named}
            ops.append(device.op("vehicle.set", body, ["/plate"]))
        elif what < 0.9:
            ops.append(device.op("vehicle.set", {"id": "v", "chart": dice.choice([None, *CHARTS])}, ["/chart"]))
        else:
            keep, drop = dice.choice("abcd"), dice.choice("abcd")
            ops.append(device.op("customer.merge", {"keep": keep, "drop": drop}, []))
        if dice.random() < 0.3:
            other.heads.update(one.heads)
    dice.shuffle(ops)
    return {"stated": stated, "ops": ops}
