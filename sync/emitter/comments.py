"""Comments: those of the Python source at their statements, and docstrings as JSDoc with the annotated types.

Everything here is explanation; a module without it runs the same.
"""

from __future__ import annotations

import ast
import inspect
import io
import re
import textwrap
import tokenize

from sync.emitter.kinds import Symbol, Unsayable, type_text

TOOLS = re.compile(r"#\s*(noqa|type:|fmt:|ruff:)")
SECTION = re.compile(r"(Args|Returns|Raises|Valid for|Source)\b.*:")
WIDTH = 114


class Comments:
    """The comments of a source that haven't been written yet."""

    def __init__(self, source: str) -> None:
        self.left: list[tuple[int, str]] = []
        tokens = tokenize.generate_tokens(io.StringIO(source).readline) if "#" in source else []
        for token in tokens:
            if token.type == tokenize.COMMENT and not TOOLS.match(token.string):
                self.left.append((token.start[0], token.string.lstrip("# ")))

    def above(self, node: ast.stmt, indent: str) -> list[str]:
        """The comments above a statement or inside its first part, as lines."""
        last = _last_line(node)
        texts = [text for line, text in self.left if line <= last]
        self.left = [(line, text) for line, text in self.left if line > last]
        return [f"{indent}// {text}" for text in texts]


def _last_line(node: ast.stmt) -> int:
    """The last line of a statement, or of the part before its blocks."""
    if isinstance(node, (ast.If, ast.While)):
        return node.test.end_lineno or node.lineno
    if isinstance(node, ast.For):
        return node.iter.end_lineno or node.lineno
    if isinstance(node, (ast.Try, ast.FunctionDef, ast.ClassDef)):
        return node.lineno
    return node.end_lineno or node.lineno


def opening(docstring: str | None, title: str) -> list[str]:
    """The head of a module's section."""
    lines = [f"// {'-' * 8} {title} {'-' * (100 - len(title))}"]
    return [*lines, *(f"// {line}".rstrip() for line in (docstring or "").splitlines())]


def block(lines: list[str], indent: str) -> list[str]:
    """Lines as one JSDoc comment."""
    lines = [line.replace("*/", "*\\/") for line in lines]
    if len(lines) == 1:
        return [f"{indent}/** {lines[0]} */"]
    return [f"{indent}/**", *(f"{indent} * {line}".rstrip() for line in lines), f"{indent} */"] if lines else []


def of_function(node: ast.FunctionDef, names: dict[str, Symbol], indent: str) -> list[str]:
    """A function's docstring and types."""
    text, arguments, gives = _docstring_parts(ast.get_docstring(node) or "")
    lines = list(text)
    for one in node.args.args:
        if one.arg != "self" and one.annotation is not None:
            lines += _tag(
                f"@param {{{type_of(one.annotation, names)}}} {_optional(node, one)}", arguments.get(one.arg, "")
            )
    if node.returns is not None and type_of(node.returns, names) != "null":
        lines += _tag(f"@returns {{{type_of(node.returns, names)}}}", gives)
    return block(lines, indent)


def _optional(node: ast.FunctionDef, parameter: ast.arg) -> str:
    defaulted = node.args.args[len(node.args.args) - len(node.args.defaults) :]
    return f"[{parameter.arg}]" if parameter in defaulted else parameter.arg


def type_of(annotation: ast.expr, names: dict[str, Symbol]) -> str:
    """An annotation as TypeScript writes the type; `any` for what was refused elsewhere."""
    try:
        return type_text(annotation, names)
    except Unsayable:
        return "any"


def _tag(tag: str, text: str) -> list[str]:
    return textwrap.wrap(f"{tag} {text}".rstrip(), WIDTH, subsequent_indent="  ", break_long_words=False)


def _docstring_parts(docstring: str) -> tuple[list[str], dict[str, str], str]:
    """A docstring's own text, what it says about each argument, and about the result."""
    text: list[str] = []
    arguments: dict[str, str] = {}
    gives: list[str] = []
    section, name = "", ""
    for line in inspect.cleandoc(docstring).splitlines():
        if SECTION.match(line):
            section = line.split(":")[0]
        if section == "Args" and (entry := re.match(r" {4}(\w+): (.*)", line)):
            name = entry[1]
            arguments[name] = entry[2]
        elif section == "Args" and line.startswith("    "):
            arguments[name] += " " + line.strip()
        elif section == "Returns" and line.startswith("    "):
            gives.append(line.strip())
        elif section not in ("Args", "Returns"):
            text.append(line)
    while text and not text[-1]:
        text.pop()
    return text, arguments, " ".join(gives)
