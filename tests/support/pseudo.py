"""A language that nobody speaks: every English sentence with other vowels and two fifths more of them.

A text on a screen or a sheet with plain vowels didn't come from the words; one that doesn't fit shows what a longer
language would cut off. Nothing is judged here.
"""

from __future__ import annotations

import re

from sync.kernel.word_books import WordTree

VOWELS = str.maketrans("aeiouAEIOU", "áéíóúÁÉÍÓÚ")
BLANK = re.compile(r"(\{[^}]*\})")
# Codes, commands, addresses and names of formats aren't sentences and stay as they are.
PLAIN = re.compile(r"`[^`]*`|https?://\S+|\b[A-Z0-9][A-Z0-9_./-]+\b|\S+\.(?:json|eml|log|txt|pdf)\b|--[\w-]+")
LENGTHENED = re.compile(r"[áéíóú]")
EVERY = 2


def pseudo(tree: WordTree) -> WordTree:
    """A tree of words with each sentence in the language that nobody speaks."""
    return {code: pseudo(inner) if isinstance(inner, dict) else sentence(inner) for code, inner in tree.items()}


def sentence(text: str) -> str:
    """One sentence: blanks and parts that belong to no sentence stay, vowels change, every second one is doubled."""
    return "".join(part if BLANK.fullmatch(part) else _around_plain(part) for part in BLANK.split(text))


def _around_plain(text: str) -> str:
    pieces, end = [], 0
    for found in PLAIN.finditer(text):
        pieces += [_changed(text[end:found.start()]), found.group()]
        end = found.end()
    return "".join([*pieces, _changed(text[end:])])


def _changed(text: str) -> str:
    changed, seen = [], 0
    for letter in text.translate(VOWELS):
        changed.append(letter)
        if LENGTHENED.match(letter):
            seen += 1
            if seen % EVERY == 0:
                changed.append(letter)
    return "".join(changed)


def outside(text: str, known: str) -> list[str]:
    """The words of a text that have a plain vowel and aren't among known ones, such as a visit's own.

    Args:
        text: what a person reads [text]
        known: everything that people wrote themselves, and what is the same in every language [text]

    Returns:
        the words, each once, in order [list]
    """
    own = set(re.findall(r"[^\W\d_]+", known))
    words = re.findall(r"[^\W\d_]{3,}", text)
    return [word for word in dict.fromkeys(words) if re.search("[aeiouAEIOU]", word) and word not in own]
