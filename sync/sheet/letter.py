"""The letter that carries a sheet to the customer: subject, summary and file name, as plain text.

It sends nothing and repeats no figure that the sheet does not print.
"""

from __future__ import annotations

from sync.kernel.books import Rulebook
from sync.kernel.visit import Visit
from sync.sheet.sheet_data import Letter, Sheet
from sync.sheet.wording import Phrases, moment


def letter(visit: Visit, data: Sheet, rulebook: Rulebook) -> Letter:
    """What is written to the customer.

    Args:
        visit: the visit [Visit]
        data: its sheet's data [Sheet]
        rulebook: the rulebook [Rulebook]

    Returns:
        subject, text and the name of the file [Letter]
    """
    phrases = Phrases(rulebook, data["language"], visit.get("units"))
    date, business = phrases.date(visit["started_at"]), (visit.get("technician") or {}).get("business")
    subject = (phrases.say("mail", "subject_business", business=business, date=date) if business
               else phrases.say("mail", "subject", date=date))
    parts = [_hello(visit, phrases), _body(visit, date, phrases), "\n".join(data["result"]["sentences"]),
             "\n".join(_paragraphs(data)), _total(visit, data, phrases), phrases.say("mail", "attached"), _close(visit)]
    return {"subject": subject, "text": "\n\n".join(part for part in parts if part) + "\n",
            "file": phrases.say("mail", "file", date=moment(visit["started_at"]).date().isoformat())}


def _hello(visit: Visit, phrases: Phrases) -> str:
    name = (visit.get("customer") or {}).get("name")
    return phrases.say("mail", "hello", name=name) if name else phrases.say("mail", "hello_nobody")


def _body(visit: Visit, date: str, phrases: Phrases) -> str:
    vehicle = visit.get("vehicle") or {}
    name = " ".join(part for part in (vehicle.get("make"), vehicle.get("model"), vehicle.get("plate")) if part)
    if name:
        return phrases.say("mail", "body_vehicle", vehicle=name, date=date)
    return phrases.say("mail", "body", date=date)


def _paragraphs(data: Sheet) -> list[str]:
    """Outcome, advice and next visit as the sheet prints them."""
    columns = next((block["columns"] for block in data["blocks"] if block["name"] == "coming"
                    and block["kind"] == "prose"), [])
    return [" ".join(part for part in (item["lead"], item["text"]) if part) for column in columns for item in column]


def _total(visit: Visit, data: Sheet, phrases: Phrases) -> str:
    totals = next((block["totals"] for block in data["blocks"] if block["kind"] == "table"
                   and block["name"] == "price"), None)
    if not totals:
        return ""
    total = " ".join(part for part in (totals[-1]["text"], visit.get("currency")) if part)
    key = "total_paid" if (visit.get("paid") or {}).get("method") else "total"
    return phrases.say("mail", key, total=total)


def _close(visit: Visit) -> str:
    technician = visit.get("technician") or {}
    lines = (technician.get("name"), technician.get("business"), technician.get("phone"), technician.get("email"))
    return "\n".join(line for line in lines if line)
