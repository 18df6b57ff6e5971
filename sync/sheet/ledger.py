"""The day page and the ledger of refrigerant as plain data: pages for printing, and rows for a spreadsheet.

Sums come from `totals`; nothing is drawn here, and every word is rulebook data.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from sync.isolation import Odd
from sync.kernel.books import Rulebook
from sync.kernel.vehicle import Vehicle
from sync.kernel.visit import Technician, Units, UnitsOfBoth, Visit
from sync.language.locales import SPOKEN, chosen
from sync.sheet import totals
from sync.sheet.blocks import named_refrigerant, table
from sync.sheet.ledger_choice import LedgerChoice
from sync.sheet.price import amount
from sync.sheet.sheet_data import Block, Sheet, SheetSettings, TableBlock, TableColumn
from sync.sheet.totals import CurrencyTotals, MassMoved
from sync.sheet.wording import Phrases, clock, sentence

Cell = str | float | Decimal | None
Cells = list[Cell]


class Totals:
    """The visits of a period, for one technician's pages in that technician's units."""

    def __init__(self, visits: Sequence[Visit], period: tuple[date, date], rulebook: Rulebook,
                 settings: SheetSettings, odd: Sequence[Odd] = ()) -> None:
        """Take the visits; void ones are counted and left out.

        Args:
            visits: the visits in order of time [list]
            period: its first and last day [dates]
            rulebook: the rulebook [Rulebook]
            settings: language and paper [SheetSettings]
            odd: visits of the period that can't be evaluated, to be named [list]
        """
        self.visits = [visit for visit in visits if not visit.get("void")]
        self.odd = odd
        self.void = len(visits) - len(self.visits)
        self.first, self.last = period
        self.technician = self._latest_technician()
        self.phrases = Phrases(rulebook, chosen([settings.get("language") or SPOKEN], rulebook["words"]),
                               {"technician": self._latest_units()})
        self.paper = settings.get("paper") or "A4"
        self.minor_digits = rulebook["currencies"]["minor_digits"]
        self.moves = self.all_moves = totals.moves(self.visits)
        self.choice = LedgerChoice()

    def chosen(self, choice: LedgerChoice) -> Totals:
        """These pages, about the moves that fit a choice and no others [Totals]."""
        self.choice, self.moves = choice, [row for row in self.all_moves if choice.fits(row)]
        return self

    def _latest_technician(self) -> Technician:
        """The technician, from the last visit that names one."""
        technician: Technician = {}
        return next((visit["technician"] for visit in reversed(self.visits) if visit.get("technician")), technician)

    def _latest_units(self) -> Units:
        """The technician's units, from the last visit that names any units."""
        units: UnitsOfBoth = {}
        units = next((visit["units"] for visit in reversed(self.visits) if visit.get("units")), units)
        return units.get("technician") or {}

    # The pages -------------------------------------------------------------------------------------------------------

    def day_page(self) -> Sheet:
        """The day on one page: visits, distance, money, cylinders weighed and by the book [data for printing]."""
        say = self.phrases.say
        blocks = [self._visits(), *self._money(), *self._cylinders()]
        driven = [float(visit["distance_km"]) for visit in self.visits if visit.get("distance_km") is not None]
        summary = say("accounts", "day_said" if driven else "day_said_no_distance", count=len(self.visits),
                      distance=self.phrases.measure("distance", sum(driven), 1))
        return self._page("day", summary, blocks)

    def ledger_page(self) -> Sheet:
        """Every mass of refrigerant recovered or charged in the period, and its sums [data for printing]."""
        say = self.phrases.say
        summary = say("accounts", "ledger_said" if self.moves else "ledger_none", count=len(self.moves))
        return self._page("ledger", summary, [*self._ledger(), *self._sums(), *self._cylinders()])

    def _page(self, kind: str, summary: str, tables: list[TableBlock]) -> Sheet:
        phrases = self.phrases
        period = phrases.date(self.first.isoformat())
        if self.last != self.first:
            period = phrases.say("accounts", "period", first=period, last=phrases.date(self.last.isoformat()))
        title = phrases.say("accounts", f"{kind}_title")
        lines = [text for text in (self.technician.get("name"), self.technician.get("certificate_no")) if text]
        business = self.technician.get("business") or ""
        blocks: list[Block] = [{**block, "name": f"{kind}-{number}"} for number, block in enumerate(tables)]
        detail = [phrases.say("accounts", "void", count=self.void)] if self.void else []
        detail += self._narrowed()
        detail += [phrases.say("accounts", "odd", visit=one.name, why=one.why) for one in self.odd]
        return {
            "language": phrases.language, "paper": self.paper, "title": f"{title}, {period}",
            "author": business or "Layby", "subject": phrases.say("accounts", f"{kind}_subject"),
            "created": f"{self.last.isoformat()}T00:00:00+00:00",
            "identifier": f"{kind}-{self.first.isoformat()}-{self.last.isoformat()}",
            "foot": f"{title}, {period}", "audience": "",
            "page_words": [phrases.say("page", "page"), phrases.say("page", "of")],
            "heading": {"name": business, "lines": [" · ".join(lines)] if lines else [], "title": title,
                        "beside": [period]},
            "parties": [], "result": {"sentences": [summary], "detail": detail}, "figures": [], "blocks": blocks,
            "technician": None,
            "edition": phrases.say("accounts", "from_filed"), "revision": None,
        }

    def _narrowed(self) -> list[str]:
        """What was chosen, in words, and what is left out because of it."""
        choice, phrases = self.choice, self.phrases
        named = [phrases.say("accounts", f"only_{name}", value=value) for name, value in (
            ("refrigerant", named_refrigerant(choice.refrigerant, phrases)), ("vehicle", choice.vehicle),
            ("cylinder", choice.cylinder)) if value]
        return [*named, *([phrases.say("accounts", "no_cylinders")] if choice.splits_cylinders else [])]

    def _table(self, title: str, columns: Sequence[tuple[str, str]], rows: list[list[str]]) -> TableBlock:
        heads: list[TableColumn] = [{"text": self.phrases.say("accounts_column", name), "kind": kind}
                                    for name, kind in columns]
        return table(title, self.phrases.say("accounts", title), heads, rows)

    def _visits(self) -> TableBlock:
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
        return [clock(visit["started_at"]), ", ".join(part for part in who if part), _vehicle(visit), outcome,
                "" if driven is None else phrases.measure("distance", driven, 1), total]

    def _sum(self, value: Decimal, currency: str) -> str:
        return f"{amount(value, self.phrases, self.minor_digits.get(currency, 2))} {currency}".strip()

    def _money(self) -> list[TableBlock]:
        rows = [self._currency(row) for row in totals.money(self.visits, self.minor_digits)]
        columns = [("currency", "text"), ("net", "value"), ("tax", "value"), ("sum", "value"), ("paid", "value"),
                   ("unpaid", "value")]
        return [self._table("money", columns, rows)] if rows else []

    def _currency(self, row: CurrencyTotals) -> list[str]:
        digits = self.minor_digits.get(row["currency"], 2)
        paid = [f"{amount(total, self.phrases, digits)} {self.phrases.code('paid', method)}"
                for method, total in sorted(row["paid"].items())]
        figures = [amount(part, self.phrases, digits) for part in (row["net"], row["tax"], row["total"])]
        return [row["currency"] or self.phrases.say("accounts", "no_currency"), *figures, ", ".join(paid),
                amount(row["unpaid"], self.phrases, digits)]

    def _mass(self, grams: float | None, signed: bool = False) -> str:
        if grams is None:
            return self.phrases.say("accounts", "not_weighed")
        return f"{self.phrases.signed('mass', grams)}\u00a0{self.phrases.unit('mass')}" if signed else (
            self.phrases.measure("mass", grams))

    def _cylinders(self) -> list[TableBlock]:
        rows = [[row["cylinder"] or self.phrases.say("accounts", "no_cylinder"), self._mass(row["first_g"]),
                 self._mass(row["last_g"]), self._mass(row["weighed_g"], True), self._mass(row["book_g"], True),
                 self._mass(row["difference_g"], True)] for row in totals.cylinders(self.moves)]
        columns = [("cylinder", "text"), ("first", "value"), ("last", "value"), ("weighed", "value"),
                   ("book", "value"), ("difference", "value")]
        if not rows or self.choice.splits_cylinders:
            return []
        return [{**self._table("cylinders", columns, rows), "notes": [self.phrases.say("accounts", "cylinders_note")]}]

    def _ledger(self) -> list[TableBlock]:
        columns = [("at", "text"), ("vehicle", "text"), ("move", "text"), ("refrigerant", "text"), ("mass", "value"),
                   ("cylinder", "text"), ("by", "text")]
        rows = [self._entry(row) for row in self.moves]
        return [self._table("entries", columns, rows)] if rows else []

    def _entry(self, row: MassMoved) -> list[str]:
        move, visit, phrases = row["move"], row["visit"], self.phrases
        what = [sentence(phrases.code("move", move["kind"])), move.get("quality") or ""]
        return [f"{phrases.date(row['at'])}, {clock(row['at'])}", _vehicle(visit),
                ", ".join(part for part in what if part), named_refrigerant(move.get("refrigerant"), phrases),
                self._mass(move.get("grams")), move.get("cylinder") or "", _by(row)]

    def _sums(self) -> list[TableBlock]:
        rows = []
        for row in totals.refrigerants(self.moves):
            named = named_refrigerant(row["refrigerant"], self.phrases)
            missing = self.phrases.say("accounts", "without_mass", count=row["unweighed"]) if row["unweighed"] else ""
            rows.append([named, self._mass(row["recovered_g"]), self._mass(row["charged_g"]), missing])
        columns = [("refrigerant", "text"), ("recovered", "value"), ("charged", "value"), ("missing", "text")]
        return [self._table("sums", columns, rows)] if rows else []

    # The files -------------------------------------------------------------------------------------------------------

    def day_rows(self) -> tuple[list[str], list[Cells]]:
        """The day's visits for a spreadsheet: headings in plain words, figures as numbers [headings, rows]."""
        heads = ["visit", "started_at", "ended_at", "customer", "place", "make", "model", "plate", "vin", "outcome",
                 "distance_km", "currency", "net", "tax", "total", "paid", "paid_at"]
        rows: list[Cells] = []
        for visit in self.visits:
            vehicle, bill = visit.get("vehicle") or {}, totals.bill_of(visit, self.minor_digits)
            figures: Cells = [bill["currency"], bill["net"], bill["tax"], bill["total"], bill["paid"]] if bill else (
                [None] * 5)
            rows.append([visit["id"], visit["started_at"], visit.get("ended_at"),
                         (visit.get("customer") or {}).get("name"), (visit.get("place") or {}).get("label"),
                         *_marks(vehicle), visit.get("outcome"),
                         visit.get("distance_km"), *figures, (visit.get("paid") or {}).get("at")])
        return heads, rows

    def cylinder_rows(self) -> tuple[list[str], list[Cells]]:
        """Cylinders, weighed and by the book, for a spreadsheet [headings, rows]."""
        heads = ["cylinder", "first_g", "last_g", "weighed_g", "book_g", "difference_g"]
        return heads, [[row["cylinder"], row["first_g"], row["last_g"], row["weighed_g"], row["book_g"],
                        row["difference_g"]] for row in totals.cylinders(self.moves)]

    def sum_rows(self) -> tuple[list[str], list[Cells]]:
        """The sums by refrigerant for a spreadsheet [headings, rows]."""
        heads = ["refrigerant", "recovered_g", "charged_g", "moves_not_weighed"]
        return heads, [[row["refrigerant"], row["recovered_g"], row["charged_g"], row["unweighed"]]
                       for row in totals.refrigerants(self.moves)]

    def ledger_rows(self) -> tuple[list[str], list[Cells]]:
        """The moves of refrigerant for a spreadsheet [headings, rows]."""
        heads = ["at", "visit", "make", "model", "plate", "vin", "move", "refrigerant", "grams", "quality", "cylinder",
                 "cylinder_before_g", "cylinder_after_g", "by", "certificate_no"]
        rows: list[Cells] = []
        for row in self.moves:
            move, visit = row["move"], row["visit"]
            vehicle = visit.get("vehicle") or {}
            rows.append([row["at"], visit["id"], *_marks(vehicle), move["kind"], move.get("refrigerant"),
                         move.get("grams"), move.get("quality"), move.get("cylinder"), move.get("cylinder_before_g"),
                         move.get("cylinder_after_g"), _by(row), (visit.get("technician") or {}).get("certificate_no")])
        return heads, rows


def _vehicle(visit: Visit) -> str:
    vehicle = visit.get("vehicle") or {}
    return " ".join(part for part in (vehicle.get("make"), vehicle.get("model"), vehicle.get("plate")) if part)


def _marks(vehicle: Vehicle) -> Cells:
    return [vehicle.get("make"), vehicle.get("model"), vehicle.get("plate"), vehicle.get("vin")]


def _by(row: MassMoved) -> str:
    return row["move"].get("by") or (row["visit"].get("technician") or {}).get("name") or ""
