"""The day page and the ledger of refrigerant as plain data: pages for printing.

Sums come from `totals` and `van_totals`, tables for a spreadsheet from `ledger_files`. Nothing is drawn here, and every
word is rulebook data.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import TypeVar

from sync.isolation import Odd
from sync.kernel.books import Rulebook
from sync.kernel.visit import Technician, Units, UnitsOfBoth, Visit
from sync.language.locales import SPOKEN, chosen
from sync.sheet import totals, van_totals
from sync.sheet.blocks import named_refrigerant, table
from sync.sheet.ledger_choice import LedgerChoice
from sync.sheet.price import amount
from sync.sheet.sheet_data import Block, Sheet, SheetSettings, TableBlock, TableColumn
from sync.sheet.totals import CurrencyTotals, CylinderTotals, MassMoved, RefrigerantTotals
from sync.sheet.van_totals import Transfer, VanCylinder, VanTotals
from sync.sheet.vans import Van, Vans, name_key
from sync.sheet.wording import Phrases, clock, sentence

T = TypeVar("T")


class Totals:
    """The visits of a period, for the pages of one technician, or of a firm, in the units of who worked last."""

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
        self._filed, self.odd, self._rulebook = visits, odd, rulebook
        self._everybodys = [visit for visit in visits if not visit.get("void")]
        self.first, self.last = period
        self._language = chosen([settings.get("language") or SPOKEN], rulebook["words"])
        self.paper = settings.get("paper") or "A4"
        self.minor_digits = rulebook["currencies"]["minor_digits"]
        self.all_moves, self.vans = totals.moves(self._everybodys), Vans(visits)
        self.technicians = self.vans.named(self._everybodys)
        self.chosen(LedgerChoice())

    def chosen(self, choice: LedgerChoice) -> Totals:
        """These pages, about what fits a choice and nothing else, in the units of the technician it is about [Totals].
        """
        self.choice = choice
        self.about = self.vans.chosen(choice.technician) if choice.technician else None
        own = [visit for visit in self._filed if self._is_about(visit)]
        self.visits = [visit for visit in own if not visit.get("void")]
        self.void = len(own) - len(self.visits)
        self.moves = [row for row in self.all_moves if choice.fits(row) and self._is_about(row["visit"])]
        # Whether somebody else may have used the same cylinders; and whether the pages are about several.
        self.is_shared = len(self.technicians) > 1 or self.about is not None
        self.is_of_several = len(self.vans.named(self.visits)) > 1
        self.technician = self._latest_technician()
        self.phrases = Phrases(self._rulebook, self._language, {"technician": self._latest_units()})
        return self

    def _is_about(self, visit: Visit) -> bool:
        """Whether a visit is of the technician that the pages are about."""
        return self.about is None or self.vans.of(visit) in self.about

    def _latest_technician(self) -> Technician:
        """The technician, from the last visit that names one; of several only their business, as the last one names it.

        Of a technician who was chosen, each part from the last of their visits that has it.
        """
        named = [visit["technician"] for visit in reversed(self.visits) if visit.get("technician")]
        if self.about is None and not self.is_of_several:
            return named[0] if named else {}
        everybodys = [visit["technician"] for visit in reversed(self._everybodys) if visit.get("technician")]
        business = next((one["business"] for one in (*named, *everybodys) if one.get("business")), "")
        if self.about is None or len(self.about) != 1:
            return {"business": business}
        return {"name": self.about[0].label, "business": business,
                "certificate_no": next((one["certificate_no"] for one in named if one.get("certificate_no")), "")}

    def _latest_units(self) -> Units:
        """The technician's units, from the last visit that names any units."""
        units: UnitsOfBoth = {}
        units = next((visit["units"] for visit in reversed(self.visits) if visit.get("units")), units)
        return units.get("technician") or {}

    # The pages -------------------------------------------------------------------------------------------------------

    def day_page(self) -> Sheet:
        """The day on one page: visits, distance, money, cylinders weighed and by the book [data for printing]."""
        say = self.phrases.say
        blocks = [self._visits(), *self._technicians(), *self._money(), *self._cylinders(), *self._transfers()]
        driven = totals.driven_km(self.visits)
        summary = say("accounts", "day_said_no_distance" if driven is None else "day_said", count=len(self.visits),
                      distance=self.phrases.measure("distance", driven or 0.0, 1))
        return self._page("day", summary, blocks)

    def ledger_page(self) -> Sheet:
        """Every mass of refrigerant recovered or charged in the period, and its sums [data for printing]."""
        say = self.phrases.say
        summary = say("accounts", "ledger_said" if self.moves else "ledger_none", count=len(self.moves))
        # Money beside the refrigerant of one vehicle would be taken for that vehicle's.
        whole = self._technicians() if self.choice.is_all_moves else []
        return self._page("ledger", summary, [*self._ledger(), *self._sums(), *self._sums_by_van(), *self._cylinders(),
                                              *self._transfers(), *whole])

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
            ("cylinder", choice.cylinder), ("technician", self._chosen_technician())) if value]
        return [*named, *([phrases.say("accounts", "no_cylinders")] if choice.splits_cylinders else [])]

    def _chosen_technician(self) -> str:
        return self.phrases.listed([van.label for van in self.about or []]) or self.choice.technician

    def _called(self, van: Van) -> str:
        return van.label or self.phrases.say("accounts", "no_technician")

    def _table(self, title: str, columns: Sequence[tuple[str, str]], rows: list[list[str]]) -> TableBlock:
        heads: list[TableColumn] = [{"text": self.phrases.say("accounts_column", name), "kind": kind}
                                    for name, kind in columns]
        return table(title, self.phrases.say("accounts", title), heads, rows)

    def _visits(self) -> TableBlock:
        columns = [("at", "text"), *self._for_several([("technician", "text")]), ("customer", "text"),
                   ("vehicle", "text"), ("outcome", "text"), ("distance", "value"), ("total", "value")]
        return self._table("visits", columns, [self._visit(visit) for visit in self.visits])

    def _for_several(self, cells: list[T]) -> list[T]:
        """Cells of a table that only the pages of several technicians have."""
        return cells if self.is_of_several else []

    def _visit(self, visit: Visit) -> list[str]:
        phrases, bill = self.phrases, totals.bill_of(visit, self.minor_digits)
        driven = visit.get("distance_km")
        outcome = phrases.code("accounts_outcome", visit["outcome"]) if visit.get("outcome") else ""
        who = [(visit.get("customer") or {}).get("name"), (visit.get("place") or {}).get("label")]
        total = "" if bill is None else self._sum(bill["total"], bill["currency"])
        if bill is not None and not bill["paid"]:
            total = phrases.say("accounts", "unpaid", total=total)
        return [clock(visit["started_at"]), *self._for_several([self._called(self.vans.of(visit))]),
                ", ".join(part for part in who if part), _vehicle(visit), outcome,
                "" if driven is None else phrases.measure("distance", driven, 1), total]

    def _technicians(self) -> list[TableBlock]:
        """Visits, distance and money of each technician, with a row for each currency."""
        if not self.is_of_several:
            return []
        columns = [("technician", "text"), ("visits", "value"), ("distance", "value"), ("net", "value"),
                   ("tax", "value"), ("sum", "value"), ("unpaid", "value")]
        rows = [row for one in van_totals.of_vans(self.visits, self.vans, self.minor_digits) for row in self._own(one)]
        return [self._table("technicians", columns, rows)]

    def _own(self, own: VanTotals) -> list[list[str]]:
        driven = own["distance_km"]
        head = [self._called(own["van"]), self.phrases.number(own["visits"], 0),
                "" if driven is None else self.phrases.measure("distance", driven, 1)]
        money = [[self._sum(row[part], row["currency"]) for part in ("net", "tax", "total", "unpaid")]
                 for row in own["money"]] or [[""] * 4]
        return [[*head, *money[0]], *([head[0], "", "", *sums] for sums in money[1:])]

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
        columns = [("cylinder", "text"), *self._for_several([("technician", "text")]), ("first", "value"),
                   ("last", "value"), ("weighed", "value"), ("book", "value"), ("difference", "value")]
        rows = [self._cylinder(row, called) for row, called in self._by_cylinder()]
        if not rows or self.choice.splits_cylinders:
            return []
        notes = ["cylinders_note", *(["cylinders_shared"] if self.is_shared else [])]
        return [{**self._table("cylinders", columns, rows),
                 "notes": [self.phrases.say("accounts", note) for note in notes]}]

    def _by_cylinder(self) -> list[tuple[CylinderTotals, str]]:
        """Each cylinder as long as each technician had it; one that several had, once more for all of them."""
        if not self.is_shared:
            return [(row, "") for row in totals.cylinders(self.moves)]
        found: list[tuple[CylinderTotals, str]] = []
        rows = self.van_cylinders()
        for total in totals.cylinders(self._hands()):
            own = [row for row in rows if row["cylinder"] == total["cylinder"]]
            found += [(row, self._called(row["van"])) for row in own]
            found += [(total, self.phrases.say("accounts", "all_technicians"))] if len(own) > 1 else []
        return found

    def _hands(self) -> list[MassMoved]:
        """The moves that the cylinders' tables follow: everybody's, as the others' explain what changed hands."""
        return [row for row in self.all_moves if self.choice.fits(row)]

    def van_cylinders(self) -> list[VanCylinder]:
        """The cylinders as long as each technician had them, of those that the pages are about [list]."""
        rows = van_totals.cylinders(self._hands(), self.vans)
        return [row for row in rows if self.about is None or row["van"] in self.about]

    def van_transfers(self) -> list[Transfer]:
        """The cylinders that changed hands, to or from those that the pages are about [list]."""
        rows = van_totals.transfers(self._hands(), self.vans) if self.is_shared else []
        return [row for row in rows if self.about is None or {row["giver"], row["taker"]} & set(self.about)]

    def _cylinder(self, row: CylinderTotals, called: str) -> list[str]:
        return [row["cylinder"] or self.phrases.say("accounts", "no_cylinder"), *self._for_several([called]),
                self._mass(row["first_g"]), self._mass(row["last_g"]), self._mass(row["weighed_g"], True),
                self._mass(row["book_g"], True), self._mass(row["difference_g"], True)]

    def _transfers(self) -> list[TableBlock]:
        columns = [("cylinder", "text"), ("giver", "text"), ("taker", "text"), ("given", "text"), ("taken", "text"),
                   ("difference", "value")]
        rows = [[row["cylinder"], self._called(row["giver"]), self._called(row["taker"]),
                 self._weighing(row["last_g"], row["last_at"]), self._weighing(row["first_g"], row["first_at"]),
                 self._mass(row["difference_g"], True)] for row in self.van_transfers()]
        if not rows or self.choice.splits_cylinders:
            return []
        return [{**self._table("transfers", columns, rows), "notes": [self.phrases.say("accounts", "transfers_note")]}]

    def _weighing(self, grams: float | None, at: str | None) -> str:
        phrases = self.phrases
        if grams is None or at is None:
            return self._mass(None)
        when = clock(at) if self.first == self.last else f"{phrases.date(at)}, {clock(at)}"
        return phrases.say("accounts", "weighing", mass=self._mass(grams), at=when)

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
                self._mass(move.get("grams")), move.get("cylinder") or "", self._who(row)]

    def _who(self, row: MassMoved) -> str:
        """Who made a move; among several technicians also whose van it was, if that is another's."""
        by, van = done_by(row), self.vans.of(row["visit"])
        if not self.is_of_several or name_key(by) == name_key(van.label):
            return by
        return self.phrases.say("accounts", "by_van", by=by, technician=self._called(van)) if by else self._called(van)

    def _sums(self) -> list[TableBlock]:
        columns = [("refrigerant", "text"), ("recovered", "value"), ("charged", "value"), ("missing", "text")]
        rows = [self._moved(row) for row in totals.refrigerants(self.moves)]
        return [self._table("sums", columns, rows)] if rows else []

    def _sums_by_van(self) -> list[TableBlock]:
        if not self.is_of_several or not self.moves:
            return []
        columns = [("technician", "text"), ("refrigerant", "text"), ("recovered", "value"), ("charged", "value"),
                   ("missing", "text")]
        rows = [[self._called(row["van"]), *self._moved(row)] for row in van_totals.refrigerants(self.moves, self.vans)]
        return [self._table("sums_by_van", columns, rows)]

    def _moved(self, row: RefrigerantTotals) -> list[str]:
        missing = self.phrases.say("accounts", "without_mass", count=row["unweighed"]) if row["unweighed"] else ""
        return [named_refrigerant(row["refrigerant"], self.phrases), self._mass(row["recovered_g"]),
                self._mass(row["charged_g"]), missing]


def _vehicle(visit: Visit) -> str:
    vehicle = visit.get("vehicle") or {}
    return " ".join(part for part in (vehicle.get("make"), vehicle.get("model"), vehicle.get("plate")) if part)


def done_by(row: MassMoved) -> str:
    """Who made a move: whom it names, otherwise its visit's technician, "" if neither is named [text]."""
    return row["move"].get("by") or (row["visit"].get("technician") or {}).get("name") or ""
