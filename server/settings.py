"""Settings of a desk: how sheets look and how mail leaves, from the environment and `settings.json`.

It opens no connection and keeps nothing; the password is never shown or logged.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from datetime import date
from typing import Any

from sync.errors import LaybyError, NotOwn
from sync.records.store.files import Files

FILE = "settings.json"
PORTS = {"tls": 465, "starttls": 587, "none": 25}
PORT_MOST = 65_535
PAPERS = ("A4", "Letter")
SMTP_TEXTS = ("host", "user", "password", "security", "from", "copy", "ca_file")
SMTP_KEYS = ("host", "port", "user", "password", "security", "from", "copy", "ca_file", "timeout_s", "per_hour")
# Nightly backups of two weeks.
KEPT = 14


class BadSettings(LaybyError):
    """A setting that can't be used; `setting` names it and `file` or the environment holds it."""

    code = "bad_settings"


def load(files: Files, environment: Mapping[str, str] | None = None) -> dict[str, Any]:
    """The settings of a desk; the environment overrides the file.

    Args:
        files: of the logbook [Files]
        environment: variables LAYBY_SMTP_HOST, _PORT, _USER, _PASSWORD, _SECURITY, _FROM, _CA_FILE and LAYBY_PAPER; the
            process's own if None [mapping]

    Returns:
        {sheet: {language, paper: "A4", "Letter" or None for that of each customer's country, technician: what stands in
        for what a visit leaves out}, smtp: {host, port, user, password, security, from, copy, ...} or None if no host
        is named, address: of the desk as phones reach it, or None, calibrations: [{name, until (YYYY-MM-DD)}],
        due: the same by the code of an instrument, backup: {into: folder or None, keep: count}} [mapping]

    Raises:
        BadSettings: the file isn't a JSON object, or a value doesn't fit.
    """
    return of(tree_of(files), os.environ if environment is None else environment)


def of(settings: Mapping[str, Any], variables: Mapping[str, str]) -> dict[str, Any]:
    """What a tree of settings comes to, with the variables that override it [as from `load`].

    Raises:
        BadSettings: a value doesn't fit.
    """
    sheet = {"language": "en", "paper": None, **_section(settings, "sheet")}
    sheet["paper"] = variables.get("LAYBY_PAPER") or sheet["paper"]
    if sheet["paper"] not in (*PAPERS, None):
        raise BadSettings(setting="sheet.paper", value=str(sheet["paper"]))
    if not isinstance(sheet["language"], str):
        raise BadSettings(setting="sheet.language", value=str(sheet["language"]))
    smtp = _section(settings, "smtp")
    smtp.update({key: value for key in SMTP_KEYS if (value := variables.get(f"LAYBY_SMTP_{key.upper()}"))})
    mail = _smtp(smtp) if smtp.get("host") else None
    calibrations = _calibrations(settings.get("calibrations") or [])
    sheet["technician"] = _texts(settings, "technician")
    return {"sheet": sheet, "smtp": mail, "address": settings.get("address"), "calibrations": calibrations,
            "due": _due(settings), "backup": _backup(settings)}


def _backup(settings: Mapping[str, Any]) -> dict[str, Any]:
    """The folder of backups and how many stay."""
    backup = {"into": None, "keep": KEPT, **_section(settings, "backup")}
    if backup["into"] is not None and not isinstance(backup["into"], str):
        raise BadSettings(setting="backup.into", value=type(backup["into"]).__name__)
    if isinstance(backup["keep"], bool) or not isinstance(backup["keep"], int) or backup["keep"] < 1:
        raise BadSettings(setting="backup.keep", value=str(backup["keep"])[:40])
    return backup


def _texts(settings: Mapping[str, Any], name: str) -> dict[str, str]:
    """A section that holds texts alone."""
    section = _section(settings, name)
    for key, value in section.items():
        if not isinstance(value, str):
            raise BadSettings(setting=f"{name}.{key}", value=type(value).__name__)
    return section


def _due(settings: Mapping[str, Any]) -> list[dict[str, str]]:
    """The last day of each instrument's calibration, and that on which the gauges' zero is to be checked."""
    instruments, days = _section(settings, "instruments"), dict[str, Any]()
    for gauge in ("low_gauge", "high_gauge"):
        days[gauge] = _section(instruments, gauge).get("calibrated_until")
    days["thermometer"] = instruments.get("thermometer_calibrated_until")
    days["hygrometer"] = instruments.get("hygrometer_calibrated_until")
    days["zero"] = _section(settings, "zero").get("again")
    return _calibrations([{"name": name, "until": day} for name, day in days.items() if day])


def _calibrations(entries: Any) -> list[dict[str, str]]:
    """Instruments and the last day of each one's calibration."""
    if not isinstance(entries, list):
        raise BadSettings(setting="calibrations", value=type(entries).__name__)
    for entry in entries:
        if not isinstance(entry, dict) or set(entry) != {"name", "until"}:
            raise BadSettings(setting="calibrations", value=json.dumps(entry)[:80])
        try:
            date.fromisoformat(str(entry["until"]))
        except ValueError as error:
            raise BadSettings(setting="calibrations", value=str(entry["until"])) from error
    return [{"name": str(entry["name"]), "until": str(entry["until"])} for entry in entries]


def tree_of(files: Files) -> dict[str, Any]:
    """The settings of a desk as their file holds them; empty without one.

    Raises:
        BadSettings: the file isn't a JSON object.
    """
    try:
        settings = json.loads(files.read(FILE))
    except FileNotFoundError:
        return {}
    except (NotOwn, ValueError, RecursionError) as error:
        raise BadSettings(setting=FILE, value=str(error)) from error
    if not isinstance(settings, dict):
        raise BadSettings(setting=FILE, value=type(settings).__name__)
    return settings


def _section(settings: Mapping[str, Any], name: str) -> dict[str, Any]:
    section = settings.get(name) or {}
    if not isinstance(section, dict):
        raise BadSettings(setting=name, value=type(section).__name__)
    return dict(section)


def _smtp(smtp: dict[str, Any]) -> dict[str, Any]:
    if not smtp.get("from"):
        raise BadSettings(setting="smtp.from", value="")
    unknown = sorted(set(smtp) - set(SMTP_KEYS))
    if unknown:
        raise BadSettings(setting=f"smtp.{unknown[0]}", value="")
    for key in SMTP_TEXTS:
        if not isinstance(smtp.get(key) or "", str):
            raise BadSettings(setting=f"smtp.{key}", value=type(smtp[key]).__name__)
    security = smtp.get("security") or "tls"
    if security not in PORTS:
        raise BadSettings(setting="smtp.security", value=security)
    numbers = {key: _number(smtp, key, usual) for key, usual in
               (("port", PORTS[security]), ("timeout_s", 30), ("per_hour", 0))}
    return {**dict.fromkeys(SMTP_KEYS), **smtp, **numbers, "security": security}


def _number(smtp: dict[str, Any], key: str, usual: int) -> int:
    value = smtp.get(key)
    if value in (None, ""):
        return usual
    text = str(value)
    if isinstance(value, bool) or not (text.isascii() and text.isdigit() and len(text) <= 9) or (
            key == "port" and int(text) > PORT_MOST):
        raise BadSettings(setting=f"smtp.{key}", value=text[:40])
    return int(text)
