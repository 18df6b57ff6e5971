"""Whether what a customer signed for is what stands there now: the sum, and the work.

Nothing here says it in words or prints it. A signature that names no work and no sum says nothing of either.
"""

from __future__ import annotations

from sync.kernel.prices import reckon
from sync.kernel.primitives import Whole
from sync.kernel.visit import Visit


def _has_all(some: list[str], others: list[str]) -> bool:
    return all(code in others for code in some)


def _bill_differs(visit: Visit, digits: int) -> bool:
    signed = visit.get("signature") or {}
    charges = visit.get("charges") or []
    signed_sum = signed.get("sum")
    if signed_sum is None:
        # Without a sum it was signed before there was a bill, or by a phone that kept none.
        return "done" in signed and len(charges) > 0
    now: Whole = reckon(charges, visit.get("discount"), digits)["total"] if len(charges) > 0 else 0
    then: Whole = reckon([{"id": "", "unit_price": signed_sum}], None, digits)["total"]
    return now != then


def _work_differs(visit: Visit) -> bool:
    signed = visit.get("signature") or {}
    done, moved = signed.get("done"), signed.get("moved")
    work = [item["code"] for item in visit.get("work") or []]
    moves = [item["kind"] for item in visit.get("refrigerant_moves") or []]
    if done is not None and not (_has_all(done, work) and _has_all(work, done)):
        return True
    return moved is not None and not (_has_all(moved, moves) and _has_all(moves, moved))


def signed_otherwise(visit: Visit, digits: int) -> list[str]:
    """What was changed after it was signed.

    Args:
        visit: the visit [JSON object]
        digits: the decimals of its currency, 0 to 6 [count]

    Returns:
        of "bill" and "work" those that are another now; none without a signature [list]

    Raises:
        NoAmount: a price is no number.

    Source: common practice, no source.
    """
    changed: list[str] = []
    if _bill_differs(visit, digits):
        changed.append("bill")
    if _work_differs(visit):
        changed.append("work")
    return changed
