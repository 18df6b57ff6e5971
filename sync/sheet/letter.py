"""The letter that carries a sheet to the customer: subject, summary and file name, as plain text.

It sends nothing and repeats no figure that the sheet does not print.
"""

from __future__ import annotations

from typing import Any

from sync.sheet.wording import Phrases, moment


def letter(visit: dict[str, Any], data: dict[str, Any], rulebook: dict[str, Any]) -> dict[str, str]:
    """What is written to the customer.

    Args:
        visit: the visit [design shape]
        data: its sheet's data [plain data]
        rulebook: the rulebook with its `sheet_words` [books by name]

    Returns:
        {subject, text, file} [texts]
    """
    phrases = Phrases(rulebook, data["language"], visit.get("units"))
    date, business = phrases.date(visit["started_at"]), (visit.get("technician") or {}).get("business")
    subject = (phrases.say("mail", "subject_business", business=business, date=date) if business
               else phrases.say("mail", "subject", date=date))
    parts = [_hello(visit, phrases), _body(visit, date, phrases), "\n".join(data["result"]["sentences"]),
             "\n".join(_paragraphs(data)), _total(visit, data, phrases), phrases.say("mail", "attached"), _close(visit)]
    return {"subject": subject, "text": "\n\n".join(part for part in parts if part) + "\n",
            "file": phrases.say("mail", "file", date=moment(visit["started_at"]).date().isoformat())}


def _hello(visit: dict[str, Any], phrases: Phrases) -> str:
    name = (visit.get("customer") or {}).get("name")
    return phrases.say("mail", "hello", name=name) if name else phrases.say("mail", "hello_nobody")


def _body(visit: dict[str, Any], date: str, phrases: Phrases) -> str:
    vehicle = visit.get("vehicle") or {}
    named = " ".join(str(vehicle[key]) for key in ("make", "model", "plate") if vehicle.get(key))
    if named:
        return phrases.say("mail", "body_vehicle", vehicle=named, date=date)
    return phrases.say("mail", "body", date=date)


def _paragraphs(data: dict[str, Any]) -> list[str]:
    """Outcome, advice and next visit as the sheet prints them."""
    found = next((block for block in data["blocks"] if block["name"] == "coming"), None)
    if not found:
        return []
    return [" ".join(part for part in (item["lead"], item["text"]) if part) for item in found["columns"][0]]


def _total(visit: dict[str, Any], data: dict[str, Any], phrases: Phrases) -> str:
    price = next((block for block in data["blocks"] if block["name"] == "price"), None)
    if not price:
        return ""
    total = " ".join(part for part in (price["totals"][-1]["text"], visit.get("currency")) if part)
    key = "total_paid" if (visit.get("paid") or {}).get("method") else "total"
    return phrases.say("mail", key, total=total)


def _close(visit: dict[str, Any]) -> str:
    technician = visit.get("technician") or {}
    return "\n".join(str(technician[key]) for key in ("name", "business", "phone", "email") if technician.get(key))
