"""An expression as written, the scope it is in, and the two ways to ask for one: its value or its truth.

The writers of single nodes register here; this module knows none of them.
"""

from __future__ import annotations

import ast
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

from sync.emitter.kinds import ANY, NUMBER, TRUTH, Kind, Symbol
from sync.emitter.reports import Report

# How tightly an expression binds; one that binds less tightly than its place requires gets brackets.
ARROW, CHOICE, OR, AND, EQUALITY, ORDERING, SUM, PRODUCT, SIGN, CALL = range(10)


@dataclass(frozen=True)
class Code:
    """An expression as written, how tightly it binds, and what it gives."""

    text: str
    level: int = CALL
    kind: Kind = ANY

    def at(self, level: int) -> str:
        """The text for a place that requires a level."""
        return self.text if self.level >= level else f"({self.text})"


NOTHING = Code("null")


@dataclass
class Scope:
    """Where an expression is: the module's names, what is local, and the class around it."""

    names: dict[str, Symbol]
    report: Report
    local: dict[str, Kind] = field(default_factory=dict)
    classes: dict[str, Symbol] = field(default_factory=dict)
    gives: Kind = ANY
    in_loop: bool = False
    parameters: frozenset[str] = frozenset()

    def inner(self, more: dict[str, Kind]) -> Scope:
        """The scope with additional local names: those of a comprehension or of a function's body."""
        return replace(self, local={**self.local, **more})

    def function(self, parameters: dict[str, Kind], gives: Kind) -> Scope:
        """The scope of a function with these parameters."""
        inner = self.inner(parameters)
        return replace(inner, parameters=frozenset(parameters), gives=gives, in_loop=False)

    def class_of(self, kind: Kind) -> Symbol:
        """The class of an object, or the TypedDict of a dict."""
        return self.classes[kind.of]

    def refuse(self, node: ast.AST, construct: str, reason: str) -> Code:
        """Note a refusal; what stands in its place is never served."""
        self.report.refuse(node, construct, reason)
        return NOTHING


Writer = Callable[[Any, Scope, Kind], Code]
WRITERS: dict[type[ast.expr], Writer] = {}


def writes(*nodes: type[ast.expr]) -> Callable[[Writer], Writer]:
    """Register the writer of some nodes."""

    def register(writer: Writer) -> Writer:
        WRITERS.update(dict.fromkeys(nodes, writer))
        return writer

    return register


def code_of(node: ast.expr, scope: Scope, wanted: Kind = ANY) -> Code:
    """An expression as JavaScript; `wanted` is the kind its place requires, for numbers that may be whole."""
    writer = WRITERS.get(type(node))
    if writer is None:
        return scope.refuse(node, type(node).__name__, "construct")
    scope.report.use(type(node).__name__)
    return writer(node, scope, wanted)


def truth_of(node: ast.expr, scope: Scope) -> Code:
    """An expression of which only the truth matters."""
    if isinstance(node, ast.BoolOp):
        return all_truths(node, scope)
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        return Code("!" + truth_of(node.operand, scope).at(SIGN), SIGN, TRUTH)
    code = code_of(node, scope)
    if code.kind == TRUTH:
        return code
    if code.kind == NUMBER:
        return Code(f"{code.at(EQUALITY)} !== 0", EQUALITY, TRUTH)
    if code.kind.name == "text":
        return Code(f"Boolean({code.text})", CALL, TRUTH)
    if code.kind.name == "list" and not code.kind.optional:
        return Code(f"{code.at(CALL)}.length > 0", ORDERING, TRUTH)
    if code.kind.name in ("object", "function"):
        return scope.refuse(node, ast.unparse(node), "truth")
    return Code(f"truthOf({code.text})", CALL, TRUTH)


def all_truths(node: ast.BoolOp, scope: Scope) -> Code:
    """`and` and `or` where only the truth of each part matters."""
    scope.report.use("BoolOp")
    sign, level = (" && ", AND) if isinstance(node.op, ast.And) else (" || ", OR)
    return Code(sign.join(truth_of(value, scope).at(level + 1) for value in node.values), level, TRUTH)


def calm(node: ast.expr) -> bool:
    """Whether evaluating an expression once too often costs nothing and changes nothing."""
    return not any(
        isinstance(inner, (ast.Call, ast.ListComp, ast.DictComp, ast.GeneratorExp)) for inner in ast.walk(node)
    )
