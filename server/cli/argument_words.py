"""What the command line's own parser says, in the reader's language, and arguments with their words.

Nothing is parsed here. argparse looks up its headings and errors through gettext by their English text; the answer
comes from the book `commands`, where the English stands under codes.
"""

from __future__ import annotations

import argparse
from typing import Any

from server.cli.language import COMMANDS, say, words
from sync import rulebook
from sync.language.locales import SPOKEN
from sync.language.words import Words

GROUP = "commands.argparse"


def translate_parser() -> None:
    """Let argparse speak the reader's language; texts without a code stay in English."""
    english, spoken = Words(rulebook.some_words((COMMANDS,), SPOKEN)).find(GROUP), words()
    codes = {text: code for code, text in english.items()} if isinstance(english, dict) else {}

    def said(text: str) -> str:
        found = spoken.find(f"{GROUP}.{codes[text]}") if text in codes else None
        return found if isinstance(found, str) else text

    # The one name through which argparse reaches gettext.
    argparse._ = said  # type: ignore[attr-defined]


def add(parser: argparse.ArgumentParser, name: str, code: str, value: str | None = None, **options: Any) -> None:
    """Give a command an argument, with its explanation in the reader's words.

    Args:
        parser: of the command [ArgumentParser]
        name: of the argument; an option if it begins with dashes [text]
        code: of its explanation in `commands.option` [code]
        value: of the word for its value, in `commands.value`; None for a plain yes [code or None]
        options: for argparse [by name]; `blanks` fills the blanks of the explanation [by name]
    """
    if value is not None:
        options["metavar"] = say(f"value.{value}")
    parser.add_argument(name, help=say(f"option.{code}", **options.pop("blanks", {})), **options)
