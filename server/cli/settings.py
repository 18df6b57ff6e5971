"""The command for the desk's settings: every row as it stands, and one row changed or taken away.

Nothing is read or written here; the tasks do that, in whichever process holds the folder.
"""

from __future__ import annotations

import argparse
from getpass import getpass
from pathlib import Path

from server.cli.language import say
from server.process.dispatch import desk
from server.tasks.setting_rows import LOGO, LOGO_FILE
from server.tasks.settings_tasks import SettingRow

Arguments = argparse.Namespace

PASSWORD = "mail.password"
SECRET = "smtp.password"


def settings(arguments: Arguments) -> int:
    """Show the settings of this desk, or change one row of them."""
    typed = dict(pair.partition("=")[::2] for pair in arguments.fields)
    if arguments.row == PASSWORD and not typed and not arguments.remove:
        # Typed unseen, and in no list of earlier commands.
        typed = {SECRET: getpass(say("settings.password"))}
    if arguments.row == LOGO and typed.get(LOGO_FILE) and not arguments.remove:
        return _set_logo(arguments, Path(typed[LOGO_FILE]).resolve())
    if typed or arguments.remove:
        is_new = desk(arguments, "setting", row=str(arguments.row), typed=typed, remove=arguments.remove)
        print(say("settings.done") if is_new else say("amend.same"))
        return 0
    rows: list[SettingRow] = desk(arguments, "settings")
    for row in rows:
        if arguments.row in (None, row["code"]):
            _show(row)
    return 0


def _set_logo(arguments: Arguments, file: Path) -> int:
    file.open("rb").close()
    is_new = desk(arguments, "setting", row=LOGO, file=str(file))
    print(say("settings.done") if is_new else say("amend.same"))
    return 0


def _show(row: SettingRow) -> None:
    print(row["code"])
    for field in row["fields"]:
        text = say("settings.kept") if field["kind"] == "secret" and field["is_set"] else field["text"]
        shown = f"{text} {field['unit']}".strip() if text else ""
        print("  " + say("card.field", name=field["name"], value=shown))
        if field["variable"]:
            print("    " + say("settings.variable", name=field["variable"]))
