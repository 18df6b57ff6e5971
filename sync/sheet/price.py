"""The sheet's bill: price lines, discount, tax of each rate and total, as the customer reads them.

It adds nothing up itself; the sums come exact from the kernel.
"""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

from sync.kernel.visit import Paid, Visit
from sync.sheet.exact_money import Bill, BillLine, full_bill
from sync.sheet.sheet_data import BillBlock, BillRow, TableTotal
from sync.sheet.wording import Phrases


def price(visit: Visit, phrases: Phrases) -> BillBlock | None:
    """Price lines, discount, tax and total in the visit's currency."""
    if not visit.get("charges"):
        return None
    digits = digits_of(visit, phrases)
    bill = full_bill(visit, digits)
    rates = {line["tax_pct"] for line in bill["lines"]}
    paid = visit.get("paid") or {}
    return {"name": "price", "kind": "bill", "title": phrases.say("section", "price"),
            "columns": [phrases.say("price_column", name) for name in ("what", "net")],
            "rows": [_line(line, digits, len(rates) > 1, phrases) for line in bill["lines"]],
            "totals": _totals(bill, visit.get("currency") or "", digits, phrases),
            "notes": [_paid(paid, phrases)] if paid.get("method") else []}


def total_of(visit: Visit, phrases: Phrases) -> str | None:
    """The total of the bill as it is printed; None without a price line."""
    if not visit.get("charges"):
        return None
    digits = digits_of(visit, phrases)
    return amount(full_bill(visit, digits)["total"], phrases, digits)


def money(text: str, visit: Visit, phrases: Phrases) -> str:
    """A sum that was kept as a decimal text, as it is printed; a text that isn't a number is printed unchanged."""
    try:
        return amount(Decimal(text), phrases, digits_of(visit, phrases))
    except InvalidOperation:
        return text


def digits_of(visit: Visit, phrases: Phrases) -> int:
    """The decimals of the visit's currency."""
    return phrases.rulebook["currencies"]["minor_digits"].get(visit.get("currency") or "", 2)


def _line(line: BillLine, digits: int, taxed_apart: bool, phrases: Phrases) -> BillRow:
    """A line, with the quantity and unit price if the quantity isn't one, and its tax if lines differ in it."""
    more = []
    if line["quantity"] != 1:
        more.append(phrases.say("price_more", "times", quantity=amount(line["quantity"], phrases),
                                each=amount(line["unit_price"], phrases, digits)))
    if taxed_apart:
        more.append(phrases.say("price_more", "tax", rate=amount(line["tax_pct"], phrases)))
    return {"text": line["text"], "more": phrases.row(more), "net": amount(line["net"], phrases, digits)}


def _paid(paid: Paid, phrases: Phrases) -> str:
    method = phrases.code("paid", paid["method"])
    if not paid.get("at"):
        return phrases.say("price", "paid_no_date", method=method)
    return phrases.say("price", "paid", method=method, date=phrases.date(paid["at"]))


def _totals(bill: Bill, currency: str, digits: int, phrases: Phrases) -> list[TableTotal]:
    rows = [(phrases.say("price", "net"), bill["net"], False)] if bill["taxes"] or bill["discount"] else []
    if bill["discount"]:
        rows.append((phrases.say("price", "discount"), -bill["discount"], False))
    for row in bill["taxes"]:
        base = amount(row["base"], phrases, digits)
        label = phrases.say("price", "tax", rate=amount(row["rate"], phrases), base=base)
        rows.append((label, row["tax"], False))
    label = phrases.say("price", "total" if currency else "total_plain", currency=currency)
    rows.append((label, bill["total"], True))
    return [{"label": label, "text": amount(value, phrases, digits), "grand": grand} for label, value, grand in rows]


def amount(value: Decimal, phrases: Phrases, digits: int | None = None) -> str:
    """Exact money or a quantity in this language: at least `digits` decimals, more only if they aren't zero."""
    fraction = format(value.normalize(), "f").partition(".")[2]
    decimals = max(digits or 0, len(fraction))
    return phrases.formats.exact(value, decimals)
