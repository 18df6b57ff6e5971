"""Operators: arithmetic, comparison, choice and the joining of conditions, where both languages agree.

Whole numbers of any size are a separate kind and don't mix with others.
"""

from __future__ import annotations

import ast
from dataclasses import replace

from sync.emitter.code import (
    AND,
    CALL,
    CHOICE,
    EQUALITY,
    OR,
    ORDERING,
    PRODUCT,
    SIGN,
    SUM,
    Code,
    Scope,
    all_truths,
    calm,
    code_of,
    truth_of,
    writes,
)
from sync.emitter.constructs import ARITHMETIC, ORDER, SAME
from sync.emitter.kinds import ANY, LIST, NONE, NUMBER, TEXT, TRUTH, WHOLE_NUMBER, Kind, joined


@writes(ast.BinOp)
def _arithmetic(node: ast.BinOp, scope: Scope, wanted: Kind) -> Code:
    scope.report.use(type(node.op).__name__)
    left, right = code_of(node.left, scope, wanted), code_of(node.right, scope, wanted)
    if "whole" in (left.kind.name, right.kind.name):
        left, right = code_of(node.left, scope, WHOLE_NUMBER), code_of(node.right, scope, WHOLE_NUMBER)
        return _whole(node, left, right, scope)
    if isinstance(node.op, ast.FloorDiv):
        return scope.refuse(node, "//", "division")
    if type(node.op) not in ARITHMETIC or LIST.name in (left.kind.name, right.kind.name):
        return scope.refuse(node, type(node.op).__name__, "operator")
    level = SUM if isinstance(node.op, (ast.Add, ast.Sub)) else PRODUCT
    text = f"{left.at(level)} {ARITHMETIC[type(node.op)]} {right.at(level + 1)}"
    return Code(text, level, _of_sum(node.op, left.kind, right.kind))


def _of_sum(op: ast.operator, left: Kind, right: Kind) -> Kind:
    if not isinstance(op, ast.Add) or NUMBER in (left, right):
        return NUMBER
    return TEXT if TEXT in (left, right) else ANY


def _whole(node: ast.BinOp, left: Code, right: Code, scope: Scope) -> Code:
    if (left.kind.name, right.kind.name) != ("whole", "whole"):
        return scope.refuse(node, ast.unparse(node), "whole")
    if isinstance(node.op, ast.FloorDiv):
        return Code(f"floorDivide({left.text}, {right.text})", CALL, WHOLE_NUMBER)
    if type(node.op) not in ARITHMETIC or isinstance(node.op, ast.Div):
        return scope.refuse(node, type(node.op).__name__, "operator")
    level = PRODUCT if isinstance(node.op, ast.Mult) else SUM
    return Code(f"{left.at(level)} {ARITHMETIC[type(node.op)]} {right.at(level + 1)}", level, WHOLE_NUMBER)


@writes(ast.UnaryOp)
def _sign(node: ast.UnaryOp, scope: Scope, wanted: Kind) -> Code:
    if isinstance(node.op, ast.Not):
        return truth_of(node, scope)
    if not isinstance(node.op, ast.USub):
        return scope.refuse(node, type(node.op).__name__, "operator")
    inner = code_of(node.operand, scope, wanted)
    return Code("-" + inner.at(CALL), SIGN, inner.kind)


@writes(ast.BoolOp)
def _choice_of_values(node: ast.BoolOp, scope: Scope, wanted: Kind) -> Code:
    values = [code_of(value, scope, wanted) for value in node.values]
    if all(value.kind == TRUTH for value in values):
        return all_truths(node, scope)
    if isinstance(node.op, ast.And) or not all(calm(value) for value in node.values[1:]):
        return scope.refuse(node, ast.unparse(node), "or")
    code = values[-1]
    for value in reversed(values[:-1]):
        stands = replace(value.kind, optional=False)
        kind = code.kind if value.kind == NONE else joined(stands, code.kind)
        code = Code(f"orElse({value.text}, {code.text})", CALL, kind)
    return code


@writes(ast.Compare)
def _comparison(node: ast.Compare, scope: Scope, wanted: Kind) -> Code:
    parts, left = [], node.left
    for op, right in zip(node.ops, node.comparators, strict=True):
        if len(node.ops) > 1 and right is not node.comparators[-1] and not calm(right):
            return scope.refuse(right, ast.unparse(right), "middle")
        parts.append(_compared(node, op, left, right, scope))
        left = right
    if len(parts) == 1:
        return parts[0]
    return Code(" && ".join(part.at(AND + 1) for part in parts), AND, TRUTH)


def _compared(node: ast.Compare, op: ast.cmpop, first: ast.expr, second: ast.expr, scope: Scope) -> Code:
    scope.report.use(type(op).__name__)
    left, right = code_of(first, scope), code_of(second, scope)
    if (left.kind.name == "whole") != (right.kind.name == "whole"):
        left, right = code_of(first, scope, WHOLE_NUMBER), code_of(second, scope, WHOLE_NUMBER)
    kinds = {left.kind.name, right.kind.name}
    if isinstance(op, (ast.In, ast.NotIn)):
        return _membership(left, right, isinstance(op, ast.NotIn))
    if isinstance(op, (ast.Is, ast.IsNot)) and not isinstance(second, ast.Constant):
        return scope.refuse(node, ast.unparse(node), "identity")
    if "whole" in kinds and not kinds <= {"whole", "none"}:
        return scope.refuse(node, ast.unparse(node), "whole")
    if type(op) in SAME:
        if kinds & {"list", "dict", "object"} and not isinstance(op, (ast.Is, ast.IsNot)):
            return scope.refuse(node, ast.unparse(node), "comparison")
        return Code(f"{left.at(ORDERING)} {SAME[type(op)]} {right.at(ORDERING)}", EQUALITY, TRUTH)
    if "text" in kinds:
        return scope.refuse(node, ast.unparse(node), "text")
    return Code(f"{left.at(SUM)} {ORDER[type(op)]} {right.at(SUM)}", ORDERING, TRUTH)


def _membership(left: Code, right: Code, absent: bool) -> Code:
    if right.kind.name in ("list", "text"):
        text = f"{right.at(CALL)}.includes({left.text})"
    elif right.kind.name == "dict":
        text = f"hasKey({right.text}, {left.text})"
    else:
        text = f"isIn({left.text}, {right.text})"
    return Code("!" + text, SIGN, TRUTH) if absent else Code(text, CALL, TRUTH)


@writes(ast.IfExp)
def _choice(node: ast.IfExp, scope: Scope, wanted: Kind) -> Code:
    test = truth_of(node.test, scope)
    one, other = code_of(node.body, scope, wanted), code_of(node.orelse, scope, wanted)
    if "whole" in (one.kind.name, other.kind.name):
        one, other = code_of(node.body, scope, WHOLE_NUMBER), code_of(node.orelse, scope, WHOLE_NUMBER)
    return Code(f"{test.at(OR)} ? {one.at(OR)} : {other.at(CHOICE)}", CHOICE, joined(one.kind, other.kind))
