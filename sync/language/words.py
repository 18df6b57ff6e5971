"""The words of one language: a sentence by its code, with its values filled in and its plural form chosen.

No sentence stands here and no number is formatted; the words are the rulebook's, `sync/rulebook/words/<language>/`.
"""

from __future__ import annotations

from collections.abc import Mapping
from string import Formatter
from typing import Any

from sync.errors import LaybyError
from sync.kernel.word_books import WordTree
from sync.language.locales import SPOKEN, plural_of, words_tag

# The value that selects the plural form of a sentence.
COUNT = "count"


class Words:
    """Sentences by code, such as `errors.not_made`: the name of the book, then its groups, then the sentence."""

    def __init__(self, books: dict[str, WordTree], language: str = SPOKEN) -> None:
        """Take the words of a language.

        Args:
            books: the rulebook's `words` [trees by language tag]
            language: a language tag, such as en-US. What a region doesn't change comes from its language, and what the
                language lacks comes from English [tag]
        """
        self.language = language
        wanted = dict.fromkeys((words_tag(language), language.split("-")[0], SPOKEN))
        self._books = [books[tag] for tag in wanted if tag in books]

    def find(self, code: str) -> str | WordTree | None:
        """What a code refers to: a sentence, its plural forms or a group; None if nothing."""
        for book in self._books:
            found = _at(book, code)
            if found is not None:
                return found
        return None

    def has(self, code: str) -> bool:
        """Whether a code has a sentence."""
        return self.find(code) is not None

    def say(self, code: str, **values: str | float) -> str:
        """The sentence of a code, with its blanks filled.

        Args:
            code: book, groups and name, joined by dots [code]
            values: what fills the blanks, by name; `count` also chooses the plural form

        Returns:
            The sentence [text]

        Raises:
            KeyError: there is no such sentence, or one of its blanks has no value.
        """
        template = self.find(code)
        if isinstance(template, dict):
            count = values.get(COUNT)
            form = plural_of(self.language, count) if isinstance(count, int | float) else "other"
            template = template.get(form, template.get("other"))
        if not isinstance(template, str):
            raise KeyError(code)
        return template.format_map(values)

    def term(self, group: str, code: str) -> str:
        """The trade's word for a code; a code that has no word yet is shown itself, readably."""
        found = self.find(f"terms.{group}.{code}")
        return found if isinstance(found, str) else code.replace("_", " ")

    def unit(self, quantity: str, unit: str) -> str:
        """How a unit is written [label]."""
        return self.term(f"unit.{quantity}", unit)

    def error(self, error: LaybyError) -> str:
        """What is wrong, where, and what to do.

        Args:
            error: the error [code and values]

        Returns:
            One or two sentences; the bare code and values if no wording is on file [text]
        """
        return self.of_error(error.code, error.values) or str(error)

    def of_error(self, code: str, values: Mapping[str, Any]) -> str | None:
        """The sentence for an error code; None if there is none or a value is missing [text]."""
        try:
            return self.say(f"errors.{code}", **values)
        except KeyError:
            return None


def blanks_of(template: str) -> set[str]:
    """The names of a sentence's blanks."""
    return {name for _, name, _, _ in Formatter().parse(template) if name}


def _at(book: WordTree, code: str) -> str | WordTree | None:
    found: str | WordTree | None = book
    for name in code.split("."):
        found = found.get(name) if isinstance(found, dict) else None
    return found
