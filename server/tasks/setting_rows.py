"""The rows of the settings page as data: which part each belongs to, and the fields of `settings.json` that it holds.

Nothing here reads or writes; how a field is typed is said by its kind.
"""

from __future__ import annotations

from dataclasses import dataclass

# Where a logbook keeps each; the names in front of the first full stop are those of `settings.json`.
TECHNICIAN, SMTP, INSTRUMENTS, UNITS, BACKUP = "technician", "smtp", "instruments", "units", "backup"
# Lists whose entries are rows of their own, by the part that shows them; the name under which one is added.
LISTS = {"prices": "prices", "instruments": "calibrations"}
NEW = "new"
# The row whose value is a file beside `settings.json`, its field, and the largest file that is taken [bytes].
LOGO, LOGO_FILE, LOGO_MOST = "business.logo", "logo.file", 2_000_000


@dataclass(frozen=True)
class Entry:
    """A field of a setting.

    path: where it stands in `settings.json`, or in an entry of a list [dotted path]
    kind: how it is typed: text, host, email, sender, day, whole, number, money, rate, currency, choice, language,
        secret, folder, picture
    most: the longest text, the largest number, or the largest file [bytes]
    quantity: of a number, which is typed in the desk's unit and kept in its canonical one [code]
    choices: the codes to choose from
    needed: whether it can't be left empty
    """

    path: str
    kind: str = "text"
    most: int = 200
    quantity: str = ""
    choices: tuple[str, ...] = ()
    needed: bool = False


# No letter goes without it, so it is asked for with the server as well, as long as there is none.
SENDER = Entry(f"{SMTP}.from", "sender", 300, needed=True)


def _gauge(name: str) -> tuple[Entry, ...]:
    at = f"{INSTRUMENTS}.{name}"
    return (Entry(f"{at}.span_kpa", "number", 20_000, "pressure"), Entry(f"{at}.class_pct", "number", 25),
            Entry(f"{at}.calibrated_until", "day"))


# The parts in the order of the page, and in each its rows.
PARTS: dict[str, dict[str, tuple[Entry, ...]]] = {
    "business": {
        "name": (Entry(f"{TECHNICIAN}.business"),),
        "logo": (Entry(LOGO_FILE, "picture", LOGO_MOST, needed=True),),
        "technician": (Entry(f"{TECHNICIAN}.name"), Entry(f"{TECHNICIAN}.certificate_no", most=100),
                       Entry(f"{TECHNICIAN}.certificate_until", "day")),
        "reached": (Entry(f"{TECHNICIAN}.phone", most=60), Entry(f"{TECHNICIAN}.email", "email", 254)),
    },
    "mail": {
        "server": (Entry(f"{SMTP}.host", "host", 253, needed=True), Entry(f"{SMTP}.port", "whole", 65_535),
                   Entry(f"{SMTP}.security", "choice", choices=("tls", "starttls", "none")), Entry(f"{SMTP}.user")),
        "password": (Entry(f"{SMTP}.password", "secret", 500, needed=True),),
        "sender": (SENDER,),
        "copy": (Entry(f"{SMTP}.copy", "email", 254),),
    },
    "prices": {
        "tax": (Entry("tax_pct", "rate", 100), Entry("currency", "currency", 3)),
    },
    "instruments": {
        "low_gauge": _gauge("low_gauge"),
        "high_gauge": _gauge("high_gauge"),
        "thermometer": (Entry(f"{INSTRUMENTS}.thermometer_c", "number", 20, "temperature_difference"),
                        Entry(f"{INSTRUMENTS}.thermometer_calibrated_until", "day")),
        "hygrometer": (Entry(f"{INSTRUMENTS}.hygrometer_pct", "number", 50),
                       Entry(f"{INSTRUMENTS}.hygrometer_calibrated_until", "day")),
        "zero": (Entry("zero.checked", "day", needed=True), Entry("zero.again", "day")),
    },
    "backup": {
        "into": (Entry(f"{BACKUP}.into", "folder", 1000, needed=True),
                 Entry(f"{BACKUP}.keep", "whole", 1000)),
    },
    "words": {
        "language": (Entry("sheet.language", "language"),),
        "units": (Entry(f"{UNITS}.pressure", "choice", choices=("kpa", "bar", "psi")),
                  Entry(f"{UNITS}.temperature", "choice", choices=("c", "f"))),
        "paper": (Entry("sheet.paper", "choice", choices=("A4", "Letter")),),
    },
}  # fmt: skip
# What an entry of a list holds besides its id.
OF_LIST: dict[str, tuple[Entry, ...]] = {
    "prices": (Entry("text", needed=True), Entry("unit_price", "money", needed=True)),
    "calibrations": (Entry("name", needed=True), Entry("until", "day", needed=True)),
}
# The rows whose setting can be taken away, with what goes then.
REMOVABLE = {"mail.server": SMTP, "mail.password": f"{SMTP}.password", "backup.into": f"{BACKUP}.into"}
# The name of the variable that overrides a field, which then can't be changed here.
VARIABLES = {f"{SMTP}.{key}": f"LAYBY_SMTP_{key.upper()}"
             for key in ("host", "port", "user", "password", "security", "from")} | {"sheet.paper": "LAYBY_PAPER"}
