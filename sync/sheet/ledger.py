"""The day page and the ledger of refrigerant as plain data: pages for the press, and rows for a spreadsheet.

Sums come from `totals`; nothing is drawn here, and every word is rulebook data.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from sync.isolation import Odd
from sync.sheet import totals
from sync.sheet.blocks import named_refrigerant, table
from sync.sheet.price import amount
from sync.sheet.wording import Phrases, clock, sentence

Visit = dict[str, Any]
Cells = list[Any]
Page = dict[str, Any]


class Totals:
    """The visits of a period, for one technician's pages in that technician's units."""

    def __init__(self, visits: Sequence[Visit], period: tuple[date, date], rulebook: dict[str, Any],
                 settings: dict[str, Any], odd: Sequence[Odd] = ()) -> None:
        """Take the visits; those declared void are counted and left out.

        Args:
            visits: the visits in the order of time [design shapes]
            period: its first and last day [dates]
            rulebook: the rulebook with its `sheet_words` [books by name]
            settings: `language` and `paper` [mapping]
            odd: visits of the period that cannot be worked out, to be named [list]

        Raises:
            KeyError: a language the words lack.
        """
        self.visits = [visit for visit in visits if not visit.get("void")]
        self.odd = odd
        self.void = len(visits) - len(self.visits)
        self.first, self.last = period
        self.technician = _latest(self.visits, "technician")
        units = {"technician": _latest(self.visits, "units").get("technician") or {}}
        self.phrases = Phrases(rulebook, settings["language"], units)
        self.paper = settings["paper"]
        self.minor_digits: dict[str, int] = rulebook["sheet_words"]["minor_digits"]
        self.moves = totals.moves(self.visits)

    # The pages -------------------------------------------------------------------------------------------------------

    def day_page(self) -> Page:
        """The day on one page: visits, distance, money, cylinders weighed against the book [data for the press]."""
        say = self.phrases.say
        blocks = [self._visits(), *self._money(), *self._cylinders()]
        driven = [float(visit["distance_km"]) for visit in self.visits if visit.get("distance_km") is not None]
        said = [say("accounts", "day_said" if driven else "day_said_no_distance", visits=str(len(self.visits)),
                    distance=self.phrases.measure("distance", sum(driven), 1))]
        return self._page("day", said, blocks)

    def ledger_page(self) -> Page:
        """Every mass of refrigerant recovered or charged in the period, and its sums [data for the press]."""
        say = self.phrases.say
        said = [say("accounts", "ledger_said" if self.moves else "ledger_none", moves=str(len(self.moves)))]
        return self._page("ledger", said, [*self._ledger(), *self._sums(), *self._cylinders()])

    def _page(self, kind: str, said: list[str], blocks: list[Page]) -> Page:
        phrases = self.phrases
        period = phrases.date(self.first.isoformat())
        if self.last != self.first:
            period = phrases.say("accounts", "period", first=period, last=phrases.date(self.last.isoformat()))
        title = phrases.say("accounts", f"{kind}_title")
        lines = [str(self.technician[key]) for key in ("name", "certificate_no") if self.technician.get(key)]
        business = str(self.technician.get("business") or "")
        detail = [phrases.say("accounts", "void", count=str(self.void))] if self.void else []
        detail += [phrases.say("accounts", "odd", visit=one.name, why=one.why) for one in self.odd]
        return {
            "language": phrases.language, "paper": self.paper, "title": f"{title}, {period}",
            "author": business or "Layby", "subject": phrases.say("accounts", f"{kind}_subject"),
            "created": f"{self.last.isoformat()}T00:00:00+00:00",
            "identifier": f"{kind}-{self.first.isoformat()}-{self.last.isoformat()}",
            "running": f"{title}, {period}", "page_words": phrases.words["page"],
            "heading": {"title": title, "when": period, "business": business, "lines": [" · ".join(lines)]},
            "parties": [], "result": {"sentences": said, "detail": detail},
            "blocks": [{"name": f"{kind}-{number}", **block} for number, block in enumerate(blocks)],
            "edition": phrases.say("accounts", "from_filed"), "revision": None,
        }

    def _table(self, title: str, columns: Sequence[tuple[str, str]], rows: list[list[str]]) -> Page:
        heads = [{"text": self.phrases.say("accounts_column", name), "kind": kind} for name, kind in columns]
        return table(self.phrases.say("accounts", title), heads, rows)

    def _visits(self) -> Page:
        columns = [("at", "text"), ("customer", "text"), ("vehicle", "text"), ("outcome", "text"),
                   ("distance", "value"), ("total", "value")]
        return self._table("visits", columns, [self._visit(visit) for visit in self.visits])

    def _visit(self, visit: Visit) -> list[str]:
        phrases, bill = self.phrases, totals.bill_of(visit, self.minor_digits)
        driven = visit.get("distance_km")
        outcome = phrases.code("accounts_outcome", visit["outcome"]) if visit.get("outcome") else ""
        who = [(visit.get("customer") or {}).get("name"), (visit.get("place") or {}).get("label")]
        total = "" if bill is None else self._sum(bill["total"], bill["currency"])
        if bill is not None and not bill["paid"]:
            total = phrases.say("accounts", "unpaid", total=total)
        return [clock(visit["started_at"]), ", ".join(str(part) for part in who if part), _vehicle(visit), outcome,
                "" if driven is None else phrases.measure("distance", driven, 1), total]

    def _sum(self, value: Decimal, currency: str) -> str:
        return f"{amount(value, self.phrases, self.minor_digits.get(currency, 2))} {currency}".strip()

    def _money(self) -> list[Page]:
        rows = [self._currency(row) for row in totals.money(self.visits, self.minor_digits)]
        columns = [("currency", "text"), ("net", "value"), ("tax", "value"), ("sum", "value"), ("paid", "value"),
                   ("unpaid", "value")]
        return [self._table("money", columns, rows)] if rows else []

    def _currency(self, row: dict[str, Any]) -> list[str]:
        digits = self.minor_digits.get(row["currency"], 2)
        paid = [f"{amount(total, self.phrases, digits)} {self.phrases.code('paid', method)}"
                for method, total in sorted(row["paid"].items())]
        figures = [amount(row[part], self.phrases, digits) for part in ("net", "tax", "total")]
        return [row["currency"] or self.phrases.say("accounts", "no_currency"), *figures, ", ".join(paid),
                amount(row["unpaid"], self.phrases, digits)]

    def _mass(self, grams: float | None, signed: bool = False) -> str:
        if grams is None:
            return self.phrases.say("accounts", "not_weighed")
        return f"{self.phrases.signed('mass', grams)}\u00a0{self.phrases.unit('mass')}" if signed else (
            self.phrases.measure("mass", grams))

    def _cylinders(self) -> list[Page]:
        rows = [[row["cylinder"] or self.phrases.say("accounts", "no_cylinder"), self._mass(row["first_g"]),
                 self._mass(row["last_g"]), self._mass(row["weighed_g"], True), self._mass(row["book_g"], True),
                 self._mass(row["difference_g"], True)] for row in totals.cylinders(self.moves)]
        columns = [("cylinder", "text"), ("first", "value"), ("last", "value"), ("weighed", "value"),
                   ("book", "value"), ("difference", "value")]
        if not rows:
            return []
        found = self._table("cylinders", columns, rows)
        return [{**found, "notes": [self.phrases.say("accounts", "cylinders_note")]}]

    def _ledger(self) -> list[Page]:
        columns = [("at", "text"), ("vehicle", "text"), ("move", "text"), ("refrigerant", "text"), ("mass", "value"),
                   ("cylinder", "text"), ("by", "text")]
        rows = [self._entry(row) for row in self.moves]
        return [self._table("entries", columns, rows)] if rows else []

    def _entry(self, row: dict[str, Any]) -> list[str]:
        move, visit, phrases = row["move"], row["visit"], self.phrases
        what = [sentence(phrases.code("move", move["kind"])), str(move.get("quality") or "")]
        return [f"{phrases.date(row['at'])}, {clock(row['at'])}", _vehicle(visit),
                ", ".join(part for part in what if part), named_refrigerant(move.get("refrigerant"), phrases),
                self._mass(move.get("grams")), str(move.get("cylinder") or ""), _by(row)]

    def _sums(self) -> list[Page]:
        rows = []
        for row in totals.refrigerants(self.moves):
            named = named_refrigerant(row["refrigerant"], self.phrases)
            missing = self.phrases.say("accounts", "without_mass", count=str(row["unweighed"])) if row[
                "unweighed"] else ""
            rows.append([named, self._mass(row["recovered_g"]), self._mass(row["charged_g"]), missing])
        columns = [("refrigerant", "text"), ("recovered", "value"), ("charged", "value"), ("missing", "text")]
        return [self._table("sums", columns, rows)] if rows else []

    # The files -------------------------------------------------------------------------------------------------------

    def day_rows(self) -> tuple[list[str], list[Cells]]:
        """The day's visits for a spreadsheet: heads in plain words, figures as numbers [heads, rows]."""
        heads = ["visit", "started_at", "ended_at", "customer", "place", "make", "model", "plate", "vin", "outcome",
                 "distance_km", "currency", "net", "tax", "total", "paid", "paid_at"]
        rows: list[Cells] = []
        for visit in self.visits:
            vehicle, bill = visit.get("vehicle") or {}, totals.bill_of(visit, self.minor_digits)
            figures = [bill[part] for part in ("currency", "net", "tax", "total", "paid")] if bill else [None] * 5
            rows.append([visit["id"], visit["started_at"], visit.get("ended_at"),
                         (visit.get("customer") or {}).get("name"), (visit.get("place") or {}).get("label"),
                         *(vehicle.get(key) for key in ("make", "model", "plate", "vin")), visit.get("outcome"),
                         visit.get("distance_km"), *figures, (visit.get("paid") or {}).get("at")])
        return heads, rows

    def cylinder_rows(self) -> tuple[list[str], list[Cells]]:
        """Cylinders, weighed and by the book, for a spreadsheet [heads, rows]."""
        heads = ["cylinder", "first_g", "last_g", "weighed_g", "book_g", "difference_g"]
        return heads, [[row[head] for head in heads] for row in totals.cylinders(self.moves)]

    def ledger_rows(self) -> tuple[list[str], list[Cells]]:
        """The moves of refrigerant for a spreadsheet [heads, rows]."""
        heads = ["at", "visit", "make", "model", "plate", "vin", "move", "refrigerant", "grams", "quality", "cylinder",
                 "cylinder_before_g", "cylinder_after_g", "by", "certificate_no"]
        rows: list[Cells] = []
        for row in self.moves:
            move, visit = row["move"], row["visit"]
            vehicle = visit.get("vehicle") or {}
            rows.append([row["at"], visit["id"], *(vehicle.get(key) for key in ("make", "model", "plate", "vin")),
                         move["kind"], *(move.get(key) for key in ("refrigerant", "grams", "quality", "cylinder",
                                                                   "cylinder_before_g", "cylinder_after_g")),
                         _by(row), (visit.get("technician") or {}).get("certificate_no")])
        return heads, rows


def _latest(visits: Sequence[Visit], section: str) -> dict[str, Any]:
    """A section as the last visit that has it says."""
    held = [visit[section] for visit in visits if visit.get(section)]
    return dict(held[-1]) if held else {}


def _vehicle(visit: Visit) -> str:
    vehicle = visit.get("vehicle") or {}
    return " ".join(str(vehicle[key]) for key in ("make", "model", "plate") if vehicle.get(key))


def _by(row: dict[str, Any]) -> str:
    return str(row["move"].get("by") or (row["visit"].get("technician") or {}).get("name") or "")
