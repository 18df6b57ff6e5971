"""The rows of the evening's list: the state of each visit and what a person should see to.

Words come from the rulebook; nothing is changed here.
"""

from __future__ import annotations

from reports import mail
from server.tasks.desk_words import OTHER_ADDRESS, RETURNED
from server.tasks.messages import EveningRow, Remark
from server.tasks.visit_gist import lacking
from sync.errors import LaybyError
from sync.kernel.books import Rulebook
from sync.kernel.json_tree import Json, JsonObject
from sync.kernel.reason import Reason
from sync.kernel.visit import Visit
from sync.language.reader import words_of
from sync.records.findable import squeezed
from sync.records.sheet_record import SheetRecord, state_of


class _Worded(LaybyError):
    """A reason on its way to its sentence."""

    def __init__(self, code: str, values: JsonObject) -> None:
        self.code = code
        super().__init__(**values)


def reason_of(code: str, **values: Json) -> Reason:
    """A reason by its code and values."""
    return {"code": code, "values": values}


def unfiled(visit_id: str) -> Visit:
    """A visit whose operations are gone from this folder; its sheet's record stays for a person to see."""
    return {"id": visit_id, "schema": 1, "started_at": ""}


def row_of(visit: Visit, record: SheetRecord | None, reason: Reason | None, rulebook: Rulebook) -> EveningRow:
    """One visit's line in the evening's list.

    Args:
        visit: the visit [Visit]
        record: its newest sheet's record; None if it has none [mapping]
        reason: what just went wrong; None if nothing did [Reason]
        rulebook: the rulebook [Rulebook]

    Returns:
        the row; its reason is the given one, else that of the sheet's last state [EveningRow]
    """
    customer, vehicle = visit.get("customer") or {}, visit.get("vehicle") or {}
    why = reason or (_why(record, customer.get("email") or "") if record else None)
    parts = (vehicle.get("year"), vehicle.get("make"), vehicle.get("model"), vehicle.get("plate"))
    return {
        "visit": visit["id"], "technician": (visit.get("technician") or {}).get("name"),
        "started_at": visit.get("started_at") or None,
        "place": (visit.get("place") or {}).get("label"), "customer": customer.get("name"),
        "vehicle": " ".join(str(part) for part in parts if part) or None, "outcome": visit.get("outcome"),
        "state": state_of(record) if record else "failed" if reason else None,
        "revision": record["revision"] if record else None, "number": record["number"] if record else None,
        "file": record["file"] if record else None, "reason": remark(why, rulebook) if why else None,
        "vehicle_id": vehicle.get("id"), "customer_id": customer.get("id"), "lacks": lacking(visit), "gist": None,
        "to": customer.get("email"), "notes": [remark(reason_of(code), rulebook) for code in _notes(visit)],
    }


def _why(record: SheetRecord, address: str) -> Reason | None:
    """The reason of a sheet's last state; of a letter that came back, that there is another address now."""
    why = record["states"][-1].get("reason")
    if why is None or why["code"] not in RETURNED or not address or not record["recipients"]:
        return why
    try:
        is_other = mail.address(address) not in record["recipients"]
    except mail.MailFault:
        return why
    return reason_of(OTHER_ADDRESS, address=address) if is_other else why


def with_twins(rows: list[EveningRow], visits: list[Visit], rulebook: Rulebook) -> list[EveningRow]:
    """The day's rows; each that may have been entered twice is marked with the time of the other.

    The same vehicle by its id, its number or its plate; a person has to say whether it is one visit or two.

    Args:
        rows: as from `row_of` [list]
        visits: the day's visits in the same order [list]
        rulebook: the rulebook [Rulebook]

    Returns:
        the rows with their notes [list]
    """
    marked: list[EveningRow] = []
    for row, visit in zip(rows, visits, strict=True):
        others = [other for other in visits if other is not visit and not other.get("void") and not visit.get("void")
                  and _marks(other) & _marks(visit)]
        notes = [remark(reason_of("note_duplicate", time=other["started_at"][11:16]), rulebook) for other in others]
        marked.append({**row, "notes": [*row["notes"], *notes]})
    return marked


def _marks(visit: Visit) -> set[tuple[str, str]]:
    vehicle = visit.get("vehicle") or {}
    named = {"id": vehicle.get("id"), "vin": vehicle.get("vin"), "plate": vehicle.get("plate")}
    # Earlier versions also filed things that aren't texts, and this looks at all visits of a day together.
    signs = {key: squeezed(str(text or "")) for key, text in named.items()}
    return {(key, sign) for key, sign in signs.items() if sign}


def remark(reason: Reason, rulebook: Rulebook) -> Remark:
    """A reason with its sentence.

    Args:
        reason: code and values [Reason]
        rulebook: the rulebook [Rulebook]

    Returns:
        the same with its text [Remark]
    """
    text = words_of(rulebook).error(_Worded(reason["code"], reason["values"]))
    return {"code": reason["code"], "values": reason["values"], "text": text}


def _notes(visit: Visit) -> list[str]:
    """What a person should see to before this sheet goes out [codes]."""
    notes = {
        "note_no_address": not (visit.get("customer") or {}).get("email"),
        "note_no_test": not visit.get("tests"),
        "note_no_after": _lacks_after(visit),
        "note_not_ended": not visit.get("ended_at"),
        "note_no_outcome": not visit.get("outcome"),
        "note_return": visit.get("outcome") == "return_needed",
        "note_unpaid": bool(visit.get("charges")) and not (visit.get("paid") or {}).get("method"),
    }
    return [code for code, applies in notes.items() if applies]


def _lacks_after(visit: Visit) -> bool:
    """Whether a test and some work were done but no test after the work, which the first test calls for."""
    roles = {test["role"] for test in visit.get("tests") or []}
    worked = any(item["code"] != "tested_only" for item in visit.get("work") or [])
    return worked and "before" in roles and "after" not in roles
