"""Calls: of the kernel's own functions and classes, and of the functions and methods in the table.

What is called decides; a function or method that isn't in the table is refused.
"""

from __future__ import annotations

import ast
from dataclasses import replace

from sync.emitter.code import ARROW, CALL, CHOICE, EQUALITY, NOTHING, Code, Scope, code_of, truth_of, writes
from sync.emitter.constructs import BANNED, FUNCTIONS, INSTANCES, METHODS, Row
from sync.emitter.expressions import entry_name, kind_under, module_member, name_after
from sync.emitter.kinds import (
    ANY,
    LIST,
    NONE,
    NUMBER,
    TEXT,
    TRUTH,
    WHOLE_NUMBER,
    Kind,
    Signature,
    Symbol,
    Unsayable,
    joined,
    kind_of,
)

BY_ATTRIBUTE = frozenset({"object", "function"})


@writes(ast.Call)
def _call(node: ast.Call, scope: Scope, wanted: Kind) -> Code:
    if any(isinstance(argument, ast.Starred) for argument in node.args):
        return scope.refuse(node, ast.unparse(node), "starred")
    if isinstance(node.func, ast.Attribute):
        member = module_member(node.func, scope)
        if member is None:
            return _method(node, node.func, scope)
        code_of(node.func, scope)
        return _own(node, member, member.name, scope)
    if isinstance(node.func, ast.Name):
        return _by_name(node, node.func.id, scope)
    function = code_of(node.func, scope)
    return Code(f"{function.at(CALL)}({_listed(node, scope)})", CALL, function.kind.item)


def _by_name(node: ast.Call, name: str, scope: Scope) -> Code:
    if name in scope.local:
        function = code_of(node.func, scope)
        return Code(f"{function.text}({_listed(node, scope)})", CALL, function.kind.item)
    symbol = scope.names.get(name)
    if symbol is not None and symbol.sort in ("class", "error", "function", "constant", "primitive"):
        return _own(node, symbol, name, scope)
    if name in BANNED:
        return scope.refuse(node, name, BANNED[name])
    if name == "isinstance":
        return _instance(node, scope)
    if name == "cast":
        return _cast(node, scope)
    return _function(node, name, scope)


def _listed(node: ast.Call, scope: Scope) -> str:
    if node.keywords:
        scope.refuse(node, ast.unparse(node), "arguments")
    return ", ".join(code_of(argument, scope).text for argument in node.args)


def _own(node: ast.Call, symbol: Symbol, name: str, scope: Scope) -> Code:
    """A function, class or error of the kernel."""
    if symbol.sort == "error":
        values = [
            f"{entry_name(ast.Constant(word.arg), scope)}: {code_of(word.value, scope).text}" for word in node.keywords
        ]
        if node.args or any(word.arg is None for word in node.keywords):
            return scope.refuse(node, ast.unparse(node), "raise")
        return Code(f"new {name}({{ {', '.join(values)} }})", CALL, symbol.kind)
    if symbol.signature is None:
        return Code(f"{name}({_listed(node, scope)})", CALL, symbol.kind.item)
    arguments = _placed(node, symbol.signature, scope)
    new = "new " if symbol.sort == "class" else ""
    return Code(f"{new}{name}({arguments})", CALL, symbol.signature.gives)


def _placed(node: ast.Call, signature: Signature, scope: Scope) -> str:
    """Arguments in the order of the parameters, keyword arguments among them."""
    by_name = {word.arg: word.value for word in node.keywords}
    texts, open_place = [], False
    for i, parameter in enumerate(signature.parameters):
        value = node.args[i] if i < len(node.args) else by_name.pop(parameter.name, None)
        if value is None:
            open_place = True
            if parameter.default is None:
                scope.refuse(node, ast.unparse(node), "arguments")
        elif open_place:
            scope.refuse(node, ast.unparse(node), "arguments")
        else:
            texts.append(code_of(value, scope, parameter.kind).text)
    if by_name or len(node.args) > len(signature.parameters):
        scope.refuse(node, ast.unparse(node), "arguments")
    return ", ".join(texts)


def _function(node: ast.Call, name: str, scope: Scope) -> Code:
    """A Python function that is in the table."""
    if name in ("any", "all"):
        return _quantified(node, name, scope)
    kinds = [kind for function, kind in FUNCTIONS if function == name]
    if not kinds:
        return scope.refuse(node, name, "function" if name not in scope.names else "name")
    if node.keywords or not node.args or (len(node.args) != 1 and name != "range"):
        return scope.refuse(node, ast.unparse(node), "arguments")
    codes = [code_of(value, scope) for value in node.args]
    first = codes[0].kind
    kind = first.name if first.name in kinds and not (first.optional and "any" in kinds) else "any"
    if kind not in kinds and first == ANY and name == "range":
        kind = "number"
    if kind not in kinds:
        return scope.refuse(node, ast.unparse(node), "function")
    scope.report.use(f"{name} of {kind}")
    return _filled(FUNCTIONS[name, kind], codes, truth_of(node.args[0], scope) if name == "bool" else NOTHING)


def _quantified(node: ast.Call, name: str, scope: Scope) -> Code:
    if len(node.args) != 1 or not isinstance(node.args[0], ast.GeneratorExp):
        return scope.refuse(node, ast.unparse(node), "function")
    scope.report.use(f"{name} of list")
    return code_of(node.args[0], scope, Kind("some" if name == "any" else "every"))


def _cast(node: ast.Call, scope: Scope) -> Code:
    """What a reader is told about a value; nothing is done with it."""
    if len(node.args) != 2:
        return scope.refuse(node, ast.unparse(node), "arguments")
    try:
        kind = kind_of(node.args[0], scope.names)
    except Unsayable as unsayable:
        return scope.refuse(unsayable.args[0], ast.unparse(unsayable.args[0]), "annotation")
    scope.report.use("cast of any")
    return replace(code_of(node.args[1], scope), kind=kind)


def _instance(node: ast.Call, scope: Scope) -> Code:
    types = node.args[1] if len(node.args) == 2 else ast.Constant(None)
    if isinstance(types, ast.BinOp) and isinstance(types.op, ast.BitOr):
        types = ast.Tuple([types.left, types.right])
    names = sorted(ast.unparse(one) for one in types.elts) if isinstance(types, ast.Tuple) else [ast.unparse(types)]
    template = INSTANCES.get(" | ".join(name for name in names if name != "tuple"))
    if template is None:
        return scope.refuse(node, ast.unparse(node), "instance")
    scope.report.use("isinstance " + " | ".join(name for name in names if name != "tuple"))
    text = template.format(code_of(node.args[0], scope).at(CALL))
    return Code(text, CALL if text.endswith(")") else EQUALITY, TRUTH)


def _method(node: ast.Call, func: ast.Attribute, scope: Scope) -> Code:
    before = code_of(func.value, scope)
    if before.kind.name in BY_ATTRIBUTE:
        member = scope.class_of(before.kind).members.get(func.attr) if before.kind.of else None
        if member is None or member.signature is None:
            return scope.refuse(node, ast.unparse(func), "method")
        return Code(
            f"{before.at(CALL)}.{func.attr}({_placed(node, member.signature, scope)})", CALL, member.signature.gives
        )
    if func.attr in BANNED:
        return scope.refuse(node, func.attr, BANNED[func.attr])
    kinds = [before.kind.name] if before.kind.name != "any" else ["dict", "list", "text"]
    codes = [_keyword_items(node, scope)] if node.keywords and func.attr == "update" else []
    codes += [code_of(value, scope, _wanted(before, func.attr)) for value in node.args]
    if func.attr == "get" and len(node.args) == 1 and "dict" in kinds:
        named = name_after(node.args[0], scope)
        if named is not None:
            scope.report.use("dict.get of 1")
            entry = joined(kind_under(before.kind, node.args[0], scope), NONE)
            return Code(f"{before.at(CALL)}{named} ?? null", CHOICE, entry)
    for kind in kinds:
        if (kind, func.attr, len(codes)) in METHODS and (not node.keywords or func.attr == "update"):
            scope.report.use(f"{kind}.{func.attr} of {len(codes)}")
            return _filled(METHODS[kind, func.attr, len(codes)], [before, *codes], NOTHING)
    return scope.refuse(node, ast.unparse(func), "method")


def _wanted(before: Code, method: str) -> Kind:
    return before.kind.item if method in ("append", "insert") else ANY


def _keyword_items(node: ast.Call, scope: Scope) -> Code:
    """`d.update(name=value)` as an object."""
    values = [
        f"{entry_name(ast.Constant(word.arg), scope)}: {code_of(word.value, scope).text}" for word in node.keywords
    ]
    return Code("{ " + ", ".join(values) + " }")


def _filled(row: Row, codes: list[Code], truth: Code) -> Code:
    template, gives = row
    if template == "{0}":
        return codes[0]
    holds = template.startswith("{") and not template.startswith("{{") and not template.startswith("{truth}")
    texts = [
        code.at(CALL) if (holds and i == int(template[1])) or "...{" + str(i) in template else code.text
        for i, code in enumerate(codes)
    ]
    text = template.replace("{*}", ", ".join(texts)).format(*texts, truth=truth.text)
    return Code(text, truth.level if template == "{truth}" else CALL, _kind_of_row(gives, codes))


def _kind_of_row(gives: str, codes: list[Code]) -> Kind:
    first = codes[0].kind
    kinds = {
        "number": NUMBER,
        "truth": TRUTH,
        "text": TEXT,
        "whole": WHOLE_NUMBER,
        "none": NONE,
        "list": LIST,
        "dict": Kind("dict"),
        "same": first,
        "item": first.item,
        "list of text": Kind("list", (TEXT,)),
        "list of number": Kind("list", (NUMBER,)),
        "list of items": Kind("list", (first.item,)),
        "list of pairs": Kind("list", (Kind("list", (TEXT, first.item)),)),
        "item or none": joined(first.item, NONE),
    }
    if gives == "item or second":
        return joined(first.item, codes[-1].kind) if first.items else ANY
    return kinds[gives]


@writes(ast.Lambda)
def _arrow(node: ast.Lambda, scope: Scope, wanted: Kind) -> Code:
    names = [one.arg for one in node.args.args]
    if scope.in_loop:
        scope.refuse(node, ast.unparse(node), "closure")
    if len(ast.unparse(node.args).split(",")) != max(len(names), 1) or node.args.defaults:
        return scope.refuse(node, ast.unparse(node), "default")
    body = code_of(node.body, scope.inner(dict.fromkeys(names, ANY)))
    text = f"({body.text})" if body.text.startswith("{") else body.text
    return Code(f"({', '.join(names)}) => {text}", ARROW, Kind("function", (body.kind,)))
