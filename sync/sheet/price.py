"""The sheet's bill: price lines, discount, tax of each rate and total, as the customer reads them.

It adds nothing up itself; sums come exact from the reckoning.
"""

from __future__ import annotations

from decimal import Decimal

from sync.kernel.visit import Paid, Visit
from sync.sheet.blocks import table
from sync.sheet.exact_money import Bill, BillLine, full_bill
from sync.sheet.sheet_data import TableBlock, TableColumn, TableTotal
from sync.sheet.wording import Phrases


def price(visit: Visit, phrases: Phrases) -> TableBlock | None:
    """Price lines, discount, tax and total in the visit's currency."""
    if not visit.get("charges"):
        return None
    currency = visit.get("currency") or ""
    digits = phrases.rulebook["currencies"]["minor_digits"].get(currency, 2)
    bill = full_bill(visit, digits)
    columns: list[TableColumn] = [
        {"text": phrases.say("price_column", name), "kind": "text" if name == "what" else "value"}
        for name in ("what", "quantity", "unit_price", "tax", "net")]
    rows = [_line(line, digits, phrases) for line in bill["lines"]]
    block = table("price", phrases.say("section", "price"), columns, rows)
    block["totals"] = _totals(bill, currency, digits, phrases)
    paid = visit.get("paid") or {}
    if paid.get("method"):
        block["notes"].append(_paid(paid, phrases))
    return block


def _line(line: BillLine, digits: int, phrases: Phrases) -> list[str]:
    tax = f"{amount(line['tax_pct'], phrases)}\u00a0%"
    return [line["text"], amount(line["quantity"], phrases), amount(line["unit_price"], phrases, digits), tax,
            amount(line["net"], phrases, digits)]


def _paid(paid: Paid, phrases: Phrases) -> str:
    method = phrases.code("paid", paid["method"])
    if not paid.get("at"):
        return phrases.say("price", "paid_no_date", method=method) + "."
    return phrases.say("price", "paid", method=method, date=phrases.date(paid["at"])) + "."


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
    """Exact money or a quantity in this language: `digits` decimals at least, more only where they are not zero."""
    fraction = format(value.normalize(), "f").partition(".")[2]
    decimals = max(digits or 0, len(fraction))
    return phrases.formats.exact(value, decimals)
