"""The joined page with short names and without white space, for a phone: no person reads that text.

A name that a section (one module of the page) defines is short everywhere in it; a name that only one of its statements
defines is short there. Properties, what sections give each other, globals and texts stay. That the meaning stays too, a
test proves by comparing the syntax trees and scopes of both texts.
"""

from __future__ import annotations

import itertools
import string
from collections import Counter
from collections.abc import Collection, Iterator

import tree_sitter_javascript
from tree_sitter import Language, Node, Parser

_PARSER = Parser(Language(tree_sitter_javascript.language()))
# How many of the names that several sections define get the same short name in all: what is alike compresses well.
ALIKE = 40
# What stands for a property as well, whose name stays.
_SHORTHANDS = frozenset({"shorthand_property_identifier", "shorthand_property_identifier_pattern"})
_NAMES = frozenset({"identifier", *_SHORTHANDS})
# By the kind of node, in which of its fields it defines names.
_DEFINED = {
    "variable_declarator": "name", "function_declaration": "name", "generator_function_declaration": "name",
    "function_expression": "name", "class_declaration": "name", "arrow_function": "parameter",
    "catch_clause": "parameter", "for_in_statement": "left",
}
# In which field of a pattern the name stands; in other patterns each part is a pattern.
_IN_PATTERN = {"pair_pattern": "value", "assignment_pattern": "left", "object_assignment_pattern": "left"}
_WORD = frozenset((string.ascii_letters + string.digits + "_$").encode())
# After the end of a line, what may begin a statement of its own behind these, so that the end of the line has to stay.
_ENDS = frozenset(b"\"'`)]") | _WORD


def shortened(module: str) -> bytes:
    """A module with short names, and with nothing between its words that JavaScript doesn't need.

    Args:
        module: as `page_module.joined` makes it [JavaScript]

    Raises:
        ValueError: it can't be read.
    """
    source = module.encode()
    root = _PARSER.parse(source).root_node
    if root.has_error:
        raise ValueError("the joined page is no module that can be read")
    bodies = [body for section in root.named_children if (body := _body(section)) is not None]
    sections = [{statement: [*_all(statement)] for statement in body.named_children} for body in bodies]
    own = [dict.fromkeys(name for statement in section for name in _own(statement)) for section in sections]
    often = Counter(name for names in own for name in names)
    alike = dict(zip((name for name, _ in often.most_common(ALIKE)), _made(string.ascii_uppercase, ()), strict=False))
    short: dict[int, bytes] = {}
    for section in sections:
        _shorten(section, alike, short)
    return _written(source, root, short)


def _body(section: Node) -> Node | None:
    """What a section holds; None of anything else."""
    if section.type != "export_statement":
        return None
    return next((node for node in _all(section) if node.type == "statement_block"), None)


def _all(node: Node) -> Iterator[Node]:
    """A node and everything in it, in the order of the text."""
    cursor = node.walk()
    while True:
        here = cursor.node
        assert here is not None
        yield here
        if cursor.goto_first_child():
            continue
        while not cursor.goto_next_sibling():
            if not cursor.goto_parent():
                return


def _shorten(section: dict[Node, list[Node]], alike: dict[str, str], short: dict[int, bytes]) -> None:
    """Note for each place of a name in a section what it becomes there.

    Args:
        section: its statements with everything in them
        alike: names that become the same in every section that can have them so
        short: where it is noted, by the place
    """
    uses = [[(node, _text(node)) for node in nodes if node.type in _NAMES] for nodes in section.values()]
    defined = [dict.fromkeys(name for node in nodes for name in _defined(node)) for nodes in section.values()]
    free = {name for names, places in zip(defined, uses, strict=True) for _, name in places if name not in names}
    often = Counter(name for places in uses for _, name in places)
    own = dict.fromkeys(name for statement in section for name in _own(statement))
    own = dict.fromkeys(sorted(own, key=lambda name: -often[name]))
    wide = {name: alike[name] for name in own if name in alike and alike[name] not in free}
    rest = [name for name in own if name not in wide]
    wide |= dict(zip(rest, _made(string.ascii_uppercase, {*free, *wide.values()}), strict=False))
    for names, places in zip(defined, uses, strict=True):
        inner = [name for name in names if name not in wide]
        known = wide | dict(zip(inner, _made(string.ascii_lowercase, free), strict=False))
        for node, name in places:
            if name in known:
                kept = name + ":" if node.type in _SHORTHANDS else ""
                short[node.start_byte] = (kept + known[name]).encode()


def _own(statement: Node) -> Iterator[str]:
    """The names that a statement of a section defines for the whole section."""
    if statement.type == "lexical_declaration":
        for declarator in statement.named_children:
            yield from _defined(declarator)
    elif statement.type in _DEFINED:
        yield from _defined(statement)


def _defined(node: Node) -> Iterator[str]:
    """The names that a node defines, not counting those of nodes in it."""
    if node.type == "formal_parameters":
        for parameter in node.named_children:
            yield from _pattern(parameter)
    field = node.child_by_field_name(_DEFINED[node.type]) if node.type in _DEFINED else None
    if field is not None and (node.type != "for_in_statement" or node.child_by_field_name("kind") is not None):
        yield from _pattern(field)


def _pattern(node: Node) -> Iterator[str]:
    if node.type in _NAMES:
        yield _text(node)
    elif node.type in _IN_PATTERN:
        inner = node.child_by_field_name(_IN_PATTERN[node.type])
        yield from _pattern(inner) if inner is not None else ()
    elif node.type.endswith("_pattern"):
        for part in node.named_children:
            yield from _pattern(part)


def _text(node: Node) -> str:
    return (node.text or b"").decode()


def _made(letters: str, taken: Collection[str]) -> Iterator[str]:
    """Names such as a, b, ... a0, b0, ... that are not taken and no words of JavaScript."""
    for number in itertools.chain([""], map(str, itertools.count())):
        yield from (letter + number for letter in letters if letter + number not in taken)


def _written(source: bytes, root: Node, short: dict[int, bytes]) -> bytes:
    """The words of a module with their short names, with only the white space that keeps them apart."""
    parts: list[bytes] = []
    end = 0
    for node in _all(root):
        if node.child_count or node.start_byte == node.end_byte or node.type == "comment":
            continue
        gap = source[end:node.start_byte]
        if parts and gap:
            parts.append(_between(parts[-1][-1], source[node.start_byte], gap))
        parts.append(short.get(node.start_byte) or source[node.start_byte:node.end_byte])
        end = node.end_byte
    return b"".join(parts)


def _between(before: int, after: int, gap: bytes) -> bytes:
    """What has to stand in a gap between two words: nothing, a space, or the end of a line that may end a statement.

    Args:
        before, after: the last byte of the one and the first of the other
        gap: what stands there now; white space and comments
    """
    if b"\n" in gap and before in _ENDS and after in _ENDS - frozenset(b")]"):
        return b"\n"
    both = frozenset((before, after))
    return b" " if both <= _WORD or (before == after and before in b"+-/") else b""
