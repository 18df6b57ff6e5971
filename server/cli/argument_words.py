"""What the command line's own parser says, in the reader's language, and arguments with their words.

Nothing is parsed here. argparse asks gettext for its headings and errors by their English text; it is answered from
the book `commands`, where its English stands under codes.
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
    """Let argparse speak the reader's language; what no code stands for it says in English."""
    english, spoken = Words(rulebook.some_words((COMMANDS,), SPOKEN)).find(GROUP), words()
    codes = {text: code for code, text in english.items()} if isinstance(english, dict) else {}

    def said(text: str) -> str:
        found = spoken.find(f"{GROUP}.{codes[text]}") if text in codes else None
        return found if isinstance(found, str) else text

    # The one name by which argparse reaches gettext.
    argparse._ = said  # type: ignore[attr-defined]


def add(parser: argparse.ArgumentParser, name: str, code: str, value: str | None = None, **options: Any) -> None:
    """Give a command an argument, explained by the words.

    Args:
        parser: of the command [ArgumentParser]
        name: of the argument, an option where it begins with dashes [text]
        code: of its explanation in `commands.option` [code]
        value: of the word that stands for its value, in `commands.value`; None for a plain yes [code or None]
        options: for argparse [by name], and what fills the blanks of the explanation under `blanks` [by name]
    """
    if value is not None:
        options["metavar"] = say(f"value.{value}")
    parser.add_argument(name, help=say(f"option.{code}", **options.pop("blanks", {})), **options)
