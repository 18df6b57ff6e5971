"""Words: no sentence stands in code or templates, and each language's books are complete, parallel and used.

Read from the source, not run. Tests beside the code cover what a sentence says.
"""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Iterator
from functools import cache
from http import HTTPStatus
from pathlib import Path

import pytest

from sync.language.words import blanks_of

ROOT = Path(__file__).resolve().parents[2]
WORDS = ROOT / "sync" / "rulebook" / "words"
MODULES = sorted(path.relative_to(ROOT).as_posix() for room in ("server", "sync", "reports")
                 for path in (ROOT / room).rglob("*.py"))
TEMPLATES = sorted(path.relative_to(ROOT).as_posix() for room in ("server", "reports")
                   for path in (ROOT / room).rglob("*.html"))
SCRIPTS = sorted(path.relative_to(ROOT).as_posix() for path in (ROOT / "pwa").rglob("*.js"))

# Books whose sentences are taken by the names of their group and of themselves.
BY_GROUP = ("terms", "sheet", "visit")
# What is taken by a rule of its own: which texts of help there are is held in tests/server/test_help.py.
OWN_RULE = ("help",)
# What the service writes into the page before the page has any words (server/http/app_shell.py).
BEFORE_WORDS = "phone.start."
# What speaks to maintainers and to programs, only in English.
OF_MAINTAINERS = {
    "sync/emitter/": "refuses a kernel that its maintainer wrote",
    "sync/physics/build_tables.py": "notes in the tables that it writes, which no phone gets",
    "server/http/openapi.py": "describes the service for other programs",
}
# Errors of the programming language, which are told to nobody in words; Layby's own carry codes.
OF_PYTHON = {"AssertionError", "KeyError", "LookupError", "OSError", "RuntimeError", "TypeError", "ValueError"}
SAYING = {"print", "page"}
SAID_AS = {"help", "description", "title", "epilog", "metavar"}
PLURALS = {"zero", "one", "two", "few", "many", "other"}
WORD = re.compile(r"[^\W\d_]{2,}")
PART = re.compile(r"%(?:\(\w+\))?[sr]")


# Sentences in code ---------------------------------------------------------------------------------------------------


def literal(node: ast.AST) -> str | None:
    """The text of a string; for an f-string with "{}" for what is filled in; None for anything else."""
    if isinstance(node, ast.Constant):
        return node.value if isinstance(node.value, str) else None
    if isinstance(node, ast.JoinedStr):
        return "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values)
    return None


def for_maintainers(node: ast.AST) -> bool:
    """Whether a node holds a docstring, a log line, a pattern, a type, or an error of the programming language."""
    if isinstance(node, ast.Expr):
        return literal(node.value) is not None
    if isinstance(node, ast.Raise):
        called = node.exc.func if isinstance(node.exc, ast.Call) else node.exc
        return isinstance(called, ast.Name) and called.id in OF_PYTHON
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and isinstance(node.func.value, ast.Name):
        return node.func.value.id in ("log", "logging", "re")
    return isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "cast"


def sentences(node: ast.AST, is_said: bool = False) -> Iterator[tuple[int, str]]:
    """The lines and texts under a node that a person would read: three words and a full stop, or three that are told.
    """
    if for_maintainers(node):
        return
    text = literal(node)
    if text is not None:
        if len(WORD.findall(text)) >= 3 and " " in text.strip() and (is_said or re.search(r"[.!?…]\W*$", text)):
            yield getattr(node, "lineno", 0), text
        return
    says = isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in SAYING
    for child in ast.iter_child_nodes(node):
        named = isinstance(child, ast.keyword) and child.arg in SAID_AS
        yield from sentences(child, is_said or says or named)


@pytest.mark.parametrize("name", MODULES)
def test_no_sentence_stands_in_code(name: str) -> None:
    """What a person can read is taken from the words, by its code."""
    if name.startswith(tuple(OF_MAINTAINERS)):
        return
    found = [f"{name}:{line}: {text}" for line, text in sentences(ast.parse((ROOT / name).read_text("utf-8")))]
    assert not found, "\n".join(found)


@pytest.mark.parametrize("name", TEMPLATES)
def test_no_word_stands_in_a_template(name: str) -> None:
    """Text and the attributes that are read aloud come from the words; Layby's name is the same everywhere."""
    source = (ROOT / name).read_text("utf-8")
    markup = re.sub(r"\{\{.*?\}\}|\{%.*?%\}|\{#.*?#\}|<!--.*?-->", "", source, flags=re.DOTALL)
    read = re.findall(r'(?:aria-label|alt|title|placeholder)="([^"]*)"', markup)
    text = " ".join([re.sub(r"<style.*?</style>|<[^>]*>", " ", markup, flags=re.DOTALL), *read])
    assert not [word for word in WORD.findall(text) if word != "Layby"]


# Books of words ------------------------------------------------------------------------------------------------------


def leaves(tree: dict[str, object], path: str = "") -> dict[str, dict[str, str]]:
    """Each sentence of a book by its code within the book: its plural forms, or its one form as "other"."""
    found: dict[str, dict[str, str]] = {}
    for name, value in tree.items():
        code = f"{path}.{name}".lstrip(".")
        if isinstance(value, str):
            found[code] = {"other": value}
        elif isinstance(value, dict) and value and value.keys() <= PLURALS:
            found[code] = value
        elif isinstance(value, dict):
            found |= leaves(value, code)
    return found


@cache
def sentences_of(language: str, book: str) -> dict[str, dict[str, str]]:
    """The sentences of a book in one language."""
    return leaves(json.loads((WORDS / language / f"{book}.json").read_text("utf-8")))


BOOKS = sorted((path.parent.name, path.stem) for path in WORDS.glob("*/*.json"))
ENGLISH = sorted(book for language, book in BOOKS if language == "en")


def is_regional(language: str) -> bool:
    """Whether a language only holds what a region says differently."""
    return "-" in language


@pytest.mark.parametrize(("language", "book"), BOOKS)
def test_a_language_has_all_sentences_of_the_books_it_claims(language: str, book: str) -> None:
    """A language claims a book by having its file; a region says nothing that its language doesn't."""
    own, english = sentences_of(language, book).keys(), sentences_of("en", book).keys()
    lacking = set() if is_regional(language) else english - own
    assert (sorted(lacking), sorted(own - english)) == ([], [])


@pytest.mark.parametrize(("language", "book"), BOOKS)
def test_a_sentence_has_the_same_blanks_in_every_language(language: str, book: str) -> None:
    """Including what argparse fills in; a plural form may leave the count to its words."""
    for code, forms in sentences_of(language, book).items():
        english = sentences_of("en", book)[code]["other"]
        for form, text in forms.items():
            free = {"count"} if len(forms) > 1 and form != "other" else set()
            assert blanks_of(text) - free == blanks_of(english) - free, f"{code}, {form}"
            assert sorted(PART.findall(text)) == sorted(PART.findall(english)), f"{code}, {form}"


@pytest.mark.parametrize(("language", "book"), [pair for pair in BOOKS if not pair[0].startswith("en")])
def test_no_sentence_is_left_in_english(language: str, book: str) -> None:
    """Anything of two words or more differs in another language, except for blanks, names and commands."""
    english = sentences_of("en", book)
    alike = [text for code, forms in sentences_of(language, book).items() for form, text in forms.items()
             if text == english[code].get(form)]
    spoken = (re.sub(r"\{\w*\}|`[^`]*`|layby\S*", "", PART.sub("", text)).split() for text in alike)
    assert [parts for parts in spoken if len([part for part in parts if WORD.search(part)]) > 1] == []


@pytest.mark.parametrize(("language", "book"), BOOKS)
def test_plural_forms_have_one_for_all_other_counts(language: str, book: str) -> None:
    """Without "other", a count could be left without a sentence."""
    assert not [code for code, forms in sentences_of(language, book).items() if "other" not in forms]


@pytest.mark.parametrize(("language", "book"), BOOKS)
def test_a_unit_stays_with_its_number(language: str, book: str) -> None:
    """A non-breaking space joins a blank to the unit after it."""
    torn = re.compile(r"\} (?:MB|GB|kB|s|min|kPa|bar|psi|K|°C|°F|g|kg|oz|lb|V|A|W|rpm|%)(?![\w])")
    assert not [code for code, forms in sentences_of(language, book).items() for text in forms.values()
                if torn.search(text)]


# Codes in use -----------------------------------------------------------------------------------------------------


@cache
def evidence() -> tuple[frozenset[str], tuple[re.Pattern[str], ...]]:
    """Every text and name in the sources, and the patterns of the codes that are put together there."""
    texts: set[str] = {status.name.lower() for status in HTTPStatus}
    put_together: set[str] = set()
    for name in MODULES:
        for node in ast.walk(ast.parse((ROOT / name).read_text("utf-8"))):
            text = literal(node)
            if isinstance(node, ast.JoinedStr):
                put_together.add(str(text))
            elif text is not None:
                texts.add(text)
            if isinstance(node, ast.FunctionDef):
                texts.add(node.name)
    for name in SCRIPTS:
        source = re.sub(r"/\*.*?\*/|//[^\n]*", "", (ROOT / name).read_text("utf-8"), flags=re.DOTALL)
        texts |= set(re.findall(r"[\w.-]+", source))
        put_together |= {re.sub(r"\$\{[^}]*\}", "{}", text) for text in re.findall(r"`([^`]*)`", source)}
    for name in TEMPLATES:
        for block in re.findall(r"\{\{.*?\}\}|\{%.*?%\}", (ROOT / name).read_text("utf-8"), flags=re.DOTALL):
            texts |= set(re.findall(r"[\w.]+", block))
    # A template continues after a full stop, as in `"desk.frame." ~ name`.
    put_together |= {f"{text}{{}}" for text in texts if text.endswith(".")}
    put_together = {text.replace("{}{}", "{}") for text in put_together}
    wanted = (text for text in put_together if re.match(r"[a-z]\w*(\.|_\{)[\w.{}]*$", text) and "{}" in text)
    patterns = (re.compile(re.escape(text).replace(r"\{\}", r"([^.]+)")) for text in sorted(wanted))
    return frozenset(texts), tuple(patterns)


@cache
def of_the_rulebook() -> frozenset[str]:
    """Every name in the rulebook's own books, whether key or text, and the tags of the languages."""
    found = {place.name for place in WORDS.iterdir()}
    for path in WORDS.parent.glob("*.json"):
        found |= set(re.findall(r"\w+", path.read_text("utf-8")))
    return frozenset(found)


@cache
def of_the_fields() -> frozenset[str]:
    """The codes by which the form takes the words of the rows that it asks for, within the book `fields`."""
    codes = {"range.from", "range.to"}  # both ends of a range
    for scope, rows in json.loads((WORDS.parent / "fields.json").read_text("utf-8"))["scopes"].items():
        for path, row in rows.items():
            if "step" not in row:
                continue
            place = f"{scope}.{path}"
            codes |= {row.get("label", place), *row.get("labels", {}).values(), f"note.{place}"}
            codes |= {f"heading.{name}" for name in (scope, row.get("mark"))} | {f"suffix.{row.get('suffix')}"}
            codes |= {f"clock.{row.get('clock')}.{key}" for key in ("start", "stop")}
    return frozenset(codes)


@cache
def pieces() -> frozenset[str]:
    """What is between the open parts of texts that Python puts together, such as `_test` in `{name}_test`."""
    found: set[str] = set()
    for name in MODULES:
        for node in ast.walk(ast.parse((ROOT / name).read_text("utf-8"))):
            if isinstance(node, ast.JoinedStr):
                found |= {piece.strip(".") for piece in str(literal(node)).split("{}")}
    return frozenset(found - {""})


def stands(name: str, more: frozenset[str] = frozenset()) -> bool:
    """Whether a name of a code is in the sources or the rulebook, whole or in two pieces."""
    known = evidence()[0] | of_the_rulebook() | more
    halves = ((name[:end], name[end:]) for end in range(1, len(name)))
    return name in known or any(first in known and {last, last.lstrip("_")} & known for first, last in halves)


def is_used(book: str, code: str) -> bool:
    """Whether a code, or what it is composed of, is in Python, JavaScript, a template or the rulebook.

    Either by itself, with its book or without; or as one of a group that is named as a whole; or as a pattern whose
    open parts are there too. Where a name is open within itself, as in `remind_{}`, its end isn't checked. A label
    belongs to a row of the fields; a term, or a sentence of the sheet, is taken by the names of its group and itself.
    """
    if book == "fields" and not code.startswith("step."):
        return code in of_the_fields()
    if book in BY_GROUP:
        return all(stands(name, pieces()) for name in code.split("."))
    texts, patterns = evidence()
    groups = code.split(".")
    wholes = {f"{book}.{'.'.join(groups[:count])}" for count in range(1, len(groups) + 1)}
    if code in texts or wholes & texts or f"{book}.{code}".startswith(BEFORE_WORDS):
        return True
    for pattern in patterns:
        match = pattern.fullmatch(f"{book}.{code}") or pattern.fullmatch(code)
        if match and ("_(" in pattern.pattern or all(stands(part) for part in match.groups())):
            return True
    return False


@pytest.mark.parametrize("book", [book for book in ENGLISH if book not in OWN_RULE])
def test_every_sentence_is_used(book: str) -> None:
    """A code that nothing takes is deleted."""
    assert [code for code in sentences_of("en", book) if not is_used(book, code)] == []


def test_the_rules_see_what_they_are_to_see() -> None:
    """A sentence in code is found; a log line and a code don't count; a code that nobody takes is found."""
    source = '''
def f():
    """This is a docstring."""
    log.warning("this is for the log.")
    raise ValueError("this is for maintainers.")
    print(f"{count} visits are filed")
    return {"a": "Nothing was found here.", "b": "desk.day.none"}
'''
    assert [line for line, _ in sentences(ast.parse(source))] == [6, 7]
    assert is_used("errors", "not_made")
    assert not is_used("errors", "nobody_takes_this")
    assert is_used("fields", "visit.complaint")
    assert not is_used("fields", "visit.nobody_takes_this")
    assert is_used("terms", "fan.cycling")
    assert not is_used("terms", "fan.nobody_takes_this")
