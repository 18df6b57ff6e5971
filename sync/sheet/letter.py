"""The letter that carries a sheet to the customer: subject, paragraphs and file name, in the sheet's language.

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
        language, subject, paragraphs and the name of the file [Letter]
    """
    phrases = Phrases(rulebook, data["language"], visit.get("units"))
    date, business = phrases.date(visit["started_at"]), (visit.get("technician") or {}).get("business")
    subject = (phrases.mail("subject_business", business=business, date=date) if business
               else phrases.mail("subject", date=date))
    paragraphs = [[_hello(visit, phrases)], [_body(visit, date, phrases)], data["result"]["sentences"],
                  _coming(data), _total(visit, data, phrases), _close(visit, phrases)]
    return {"language": data["language"], "subject": subject, "paragraphs": [lines for lines in paragraphs if lines],
            "file": phrases.mail("file", date=moment(visit["started_at"]).date().isoformat())}


def _hello(visit: Visit, phrases: Phrases) -> str:
    name = (visit.get("customer") or {}).get("name")
    return phrases.mail("hello", name=name) if name else phrases.mail("hello_nobody")


def _body(visit: Visit, date: str, phrases: Phrases) -> str:
    vehicle = visit.get("vehicle") or {}
    name = " ".join(part for part in (vehicle.get("make"), vehicle.get("model"), vehicle.get("plate")) if part)
    if name:
        return phrases.mail("body_vehicle", vehicle=name, date=date)
    return phrases.mail("body", date=date)


def _coming(data: Sheet) -> list[str]:
    """Outcome, advice and next visit as the sheet prints them."""
    paragraphs = next((block["paragraphs"] for block in data["blocks"] if block["name"] == "coming"
                       and block["kind"] == "prose"), [])
    return [" ".join(part for part in (item["lead"], item["text"]) if part) for item in paragraphs]


def _total(visit: Visit, data: Sheet, phrases: Phrases) -> list[str]:
    totals = next((block["totals"] for block in data["blocks"] if block["kind"] == "bill"), None)
    if not totals:
        return []
    total = "\u00a0".join(part for part in (totals[-1]["text"], visit.get("currency")) if part)
    return [phrases.mail("total_paid" if (visit.get("paid") or {}).get("method") else "total", total=total)]


def _close(visit: Visit, phrases: Phrases) -> list[str]:
    technician = visit.get("technician") or {}
    lines = (technician.get("name"), technician.get("business"), technician.get("phone"), technician.get("email"))
    named = [line for line in lines if line]
    return [phrases.mail("close"), *named] if named else []
