"""How each part of the settings stands, in a few words: complete, tried and working, due on a day, nothing yet.

Nothing here reads a file; what is known is handed in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from server.tasks.mail_test import Trial
from server.tasks.settings_tasks import SettingRow
from sync.language.formats import Formats
from sync.language.words import Words
from sync.work.backup_folder import DatedBackup


@dataclass(frozen=True)
class Known:
    """What the states are told from: the rows by code, the last test of the mail, phones paired, the newest backup."""

    rows: Mapping[str, SettingRow]
    trial: Trial | None
    phones: int
    newest: DatedBackup | None

    def text(self, row: str, name: str) -> str:
        """What stands in a field of a row [text]; "" where nothing does."""
        return next((one["text"] for one in self.rows[row]["fields"] if one["name"] == name), "")


def states_of(known: Known, words: Words, formats: Formats) -> dict[str, str]:
    """How each part stands.

    Args:
        known: what is known [Known]
        words: the words [Words]
        formats: how days are written [Formats]

    Returns:
        a few words by part, in the order of the page's list [texts by code]
    """
    def say(code: str, **values: str | float) -> str:
        return words.say(f"settings.state.{code}", **values)

    phones = say("paired", count=known.phones) if known.phones else say("nothing")
    return {"business": say(_business(known)), "mail": say(*_mail(known), **_tried(known, formats)),
            "prices": _prices(known, words), "instruments": _due(known, words, formats), "phones": phones,
            "backup": when_words(known.newest["at_ms"], words, formats) if known.newest else say("nothing"),
            "words": _units(known, words)}


def when_words(at_ms: int, words: Words, formats: Formats) -> str:
    """An instant as "today" or its day, with its time on this computer's clock [text]."""
    at = datetime.fromtimestamp(at_ms / 1000).astimezone()
    time = f"{at:%H:%M}"
    if at.date() == datetime.now().astimezone().date():
        return words.say("settings.state.today", time=time)
    return words.say("settings.state.at", day=formats.short_day(at), time=time)


def _business(known: Known) -> str:
    name = known.text("business.name", "technician.business")
    technician = known.text("business.technician", "technician.name")
    reached = known.text("business.reached", "technician.phone") or known.text("business.reached", "technician.email")
    if not (name or technician or reached):
        return "nothing"
    return "complete" if name and technician and reached else "incomplete"


def _mail(known: Known) -> tuple[str]:
    if not known.text("mail.server", "smtp.host"):
        return ("files",)
    if known.trial is None:
        return ("untried",)
    return ("works" if known.trial.worked else "fails",)


def _tried(known: Known, formats: Formats) -> dict[str, str]:
    if known.trial is None:
        return {}
    return {"day": formats.short_day(datetime.fromtimestamp(known.trial.at_ms / 1000).astimezone())}


def _prices(known: Known, words: Words) -> str:
    count = sum(code.startswith("prices.") and code.partition(".")[2].isdigit() for code in known.rows)
    currency = known.text("prices.tax", "currency")
    lines = words.say("settings.state.lines", count=count) if count else ""
    return ", ".join(part for part in (lines, currency) if part) or words.say("settings.state.nothing")


def _due(known: Known, words: Words, formats: Formats) -> str:
    """What of the instruments is due first."""
    days = {one["text"]: code for code, row in known.rows.items() if code.startswith("instruments.")
            for one in row["fields"] if one["kind"] == "day" and one["text"] and one["name"] != "zero.checked"}
    if not days:
        return words.say("settings.state.nothing")
    first = min(days)
    what = "zero_due" if days[first] == "instruments.zero" else "calibration_due"
    over = "_over" if date.fromisoformat(first) < datetime.now().astimezone().date() else ""
    return words.say(f"settings.state.{what}{over}", day=formats.short_day(date.fromisoformat(first)))


def _units(known: Known, words: Words) -> str:
    language = known.text("words.language", "sheet.language") or "en"
    units = [words.unit(name, known.text("words.units", f"units.{name}")) for name in ("pressure", "temperature")]
    paper = known.text("words.paper", "sheet.paper") or words.say("settings.unset.paper")
    return ", ".join([words.term("language", language), *units, paper])
