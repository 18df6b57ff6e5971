"""Where each local name begins: Python's names belong to the function, JavaScript's to the block that declares them.

A name begins at its assignment if everything that reads it follows in the same block; otherwise above the first block
that uses it. Nothing is written here.
"""

from __future__ import annotations

import ast
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

Comprehension = (ast.ListComp, ast.DictComp, ast.GeneratorExp)


@dataclass
class Plan:
    """The names that a statement itself declares, those declared before it, and those that never change."""

    at: dict[ast.stmt, set[str]] = field(default_factory=dict)
    before: dict[ast.stmt, list[str]] = field(default_factory=dict)
    constant: set[tuple[ast.stmt, str]] = field(default_factory=set)


class Names:
    """Which names a tree uses and how often it assigns each; calculated once for each node."""

    def __init__(self) -> None:
        self._used: dict[ast.AST, frozenset[str]] = {}
        self._stored: dict[ast.AST, Counter[str]] = {}

    def used(self, node: ast.AST) -> frozenset[str]:
        """The names that a tree uses or assigns, without the own names of functions and comprehensions inside it."""
        if node not in self._used:
            self._used[node] = self._read(node)
        return self._used[node]

    def _read(self, node: ast.AST) -> frozenset[str]:
        if isinstance(node, ast.Name):
            return frozenset({node.id})
        names = frozenset().union(*(self.used(child) for child in ast.iter_child_nodes(node)))
        if isinstance(node, Comprehension):
            return (names - _targets(node.generators[0].target)) | self.used(node.generators[0].iter)
        if isinstance(node, (ast.FunctionDef, ast.Lambda)):
            names -= {one.arg for one in node.args.args}
        return names | {node.name} if isinstance(node, ast.FunctionDef) else names

    def stored(self, node: ast.AST) -> Counter[str]:
        """How often a statement assigns each name, including its blocks."""
        if node not in self._stored:
            counts = Counter([node.name] if isinstance(node, ast.FunctionDef) else [])
            for target in targets_of(node):
                counts.update(_targets(target))
            for block in blocks_of(node):
                for statement in block:
                    counts.update(self.stored(statement))
            self._stored[node] = counts
        return self._stored[node]


def statements_in(body: list[ast.stmt]) -> Iterator[ast.stmt]:
    """Every statement of a function, from top to bottom, without the bodies of functions inside it."""
    for statement in body:
        yield statement
        for block in blocks_of(statement):
            yield from statements_in(block)


def _targets(target: ast.AST) -> set[str]:
    return {node.id for node in ast.walk(target) if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)}


def targets_of(node: ast.AST) -> list[ast.expr]:
    """What a statement itself assigns to."""
    if isinstance(node, ast.Assign):
        return node.targets
    return [node.target] if isinstance(node, (ast.AnnAssign, ast.AugAssign, ast.For)) else []


def declared_by(statement: ast.stmt) -> set[str]:
    """The names that a statement may declare before what follows it."""
    if isinstance(statement, ast.FunctionDef):
        return {statement.name}
    if isinstance(statement, (ast.Assign, ast.AnnAssign)):
        return set().union(*(_targets(target) for target in targets_of(statement)))
    return set()


def plan_of(body: list[ast.stmt], parameters: frozenset[str]) -> Plan:
    """Where the locals of a function begin."""
    plan, names = Plan(), Names()
    counts: Counter[str] = Counter()
    for statement in body:
        counts.update(names.stored(statement))
    for name in counts:
        if name not in parameters:
            for statement, block in _begin(name, body, names, False) or []:
                if block is None:
                    plan.before.setdefault(statement, []).append(name)
                    continue
                plan.at.setdefault(statement, set()).add(name)
                if sum(names.stored(one)[name] for one in block) == 1:
                    plan.constant.add((statement, name))
    return plan


# Where a name begins: the statement that declares it, with the part of the block it is for, or one to declare it above.
Site = tuple[ast.stmt, list[ast.stmt] | None]


def _begin(name: str, block: list[ast.stmt], names: Names, in_loop: bool) -> list[Site] | None:
    """Where a name begins in a block; None if it must begin outside the loop around it."""
    sites: list[Site] = []
    first = None
    for at, statement in enumerate(block):
        if name not in names.used(statement):
            continue
        first = first or statement
        if name in declared_by(statement) and not _reads(statement, name, names):
            return [*sites, (statement, block[at:])]
        inside = _inside(name, statement, names, in_loop)
        if inside is None:
            return None if in_loop else [(first, None)]
        sites += inside
    return sites


def _reads(statement: ast.stmt, name: str, names: Names) -> bool:
    value = getattr(statement, "value", None)
    return isinstance(value, ast.expr) and name in names.used(value)


def _inside(name: str, statement: ast.stmt, names: Names, in_loop: bool) -> list[Site] | None:
    """The same for the blocks of a compound statement; None if the name doesn't begin inside."""
    header: ast.AST | None = None
    if isinstance(statement, ast.For):
        header = statement.iter
    elif isinstance(statement, (ast.If, ast.While)):
        header = statement.test
    elif not isinstance(statement, ast.Try):
        return None
    if header is not None and name in names.used(header):
        return None
    if isinstance(statement, ast.For) and name in _targets(statement.target):
        return [(statement, [statement])]
    loops = in_loop or isinstance(statement, (ast.For, ast.While))
    sites: list[Site] = []
    for block in blocks_of(statement):
        inside = _begin(name, block, names, loops)
        if inside is None:
            return None
        sites += inside
    return sites


def blocks_of(node: ast.AST) -> list[list[ast.stmt]]:
    """The blocks of a compound statement; a function inside keeps its own."""
    if not isinstance(node, (ast.If, ast.For, ast.While, ast.Try)):
        return []
    handlers = [handler.body for handler in node.handlers] if isinstance(node, ast.Try) else []
    return [block for block in (node.body, *handlers, node.orelse) if block]
