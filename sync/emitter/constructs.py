"""The table of constructs: what a kernel rule may be written with, and what each becomes in the phone's module.

This table defines the subset. It emits nothing itself, and anything it doesn't list is refused.
"""

from __future__ import annotations

import ast

# Statements and expressions, and what they become. `statements` and `expressions` hold the code that writes them.
STATEMENTS: dict[type[ast.stmt], str] = {
    ast.FunctionDef: "function f(…) {…}; inside a function: const f = (…) => {…}",
    ast.ClassDef: "class; a TypedDict becomes a @typedef, a dataclass a class with its constructor",
    ast.Return: "return",
    ast.Assign: "const or let where the name begins, = afterwards; [a, b] = … for several names",
    ast.AnnAssign: "the same; what is annotated tells what the value is",
    ast.AugAssign: "+=, -=, *=, /= on a name or an attribute",
    ast.If: "if, else if, else",
    ast.For: "for (const x of …); names of a dict, members of a list",
    ast.While: "while",
    ast.Break: "break",
    ast.Continue: "continue",
    ast.Raise: "throw new …; only errors of Layby",
    ast.Try: "try, catch with instanceof; only errors of Layby are caught, the others go on",
    ast.Expr: "a call on its own",
}
EXPRESSIONS: dict[type[ast.expr], str] = {
    ast.Constant: "null, true, false, numbers, text in double quotes",
    ast.Name: "the name; self becomes this",
    ast.Attribute: "an attribute of an object of the kernel, or a name of another module",
    ast.Subscript: "d.name, xs[i], xs.at(-1), .slice(a, b); itemOf(d, key), which refuses a key that is not there",
    ast.Call: "a call, new for a class; the functions and methods are listed below",
    ast.BinOp: "+ - * /, and // between whole numbers",
    ast.UnaryOp: "- and !",
    ast.BoolOp: "&& and ||; `x or default` becomes orElse(x, default)",
    ast.Compare: "=== and !== of scalars, < <= > >= of numbers, membership; a < b < c becomes a < b && b < c",
    ast.IfExp: "condition ? one : other",
    ast.List: "[…]",
    ast.Tuple: "[…]",
    ast.Dict: "{…}",
    ast.ListComp: "xs.filter(…).map(…)",
    ast.DictComp: "Object.fromEntries(xs.map(…))",
    ast.GeneratorExp: "xs.some(…) for any, xs.every(…) for all, xs.map(…) for join",
    ast.JoinedStr: "`…${text}…` of texts and whole numbers",
    ast.Lambda: "(…) => …",
}

ARITHMETIC: dict[type[ast.operator], str] = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/"}
ORDER: dict[type[ast.cmpop], str] = {ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">="}
SETS: dict[type[ast.AST], str] = {
    ast.In: "includes or hasKey",
    ast.NotIn: "the same with !",
    ast.FloorDiv: "floorDivide",
}
SAME: dict[type[ast.cmpop], str] = {ast.Eq: "===", ast.NotEq: "!==", ast.Is: "===", ast.IsNot: "!=="}

# How it is written, and what it gives: "number", "truth", "text", "item" (a member of the first), "none" and so on.
Row = tuple[str, str]

# (function, kind of its first argument); "any" is for a value whose kind the annotations don't tell.
FUNCTIONS: dict[tuple[str, str], Row] = {
    ("abs", "number"): ("Math.abs({0})", "number"),
    ("abs", "any"): ("Math.abs({0})", "number"),
    ("all", "list"): ("{0}", "truth"),
    ("any", "list"): ("{0}", "truth"),
    ("bool", "any"): ("{truth}", "truth"),
    ("cast", "any"): ("{0}", "what it is cast to"),
    ("dict", "dict"): ("{{ ...{0} }}", "same"),
    ("dict", "any"): ("{{ ...{0} }}", "dict"),
    ("float", "number"): ("{0}", "number"),
    ("float", "text"): ("numberOf({0})", "number"),
    ("float", "any"): ("numberOf({0})", "number"),
    ("floor", "number"): ("Math.floor({0})", "number"),
    ("floor", "any"): ("Math.floor({0})", "number"),
    ("int", "text"): ("wholeOf({0})", "whole"),
    ("len", "list"): ("{0}.length", "number"),
    ("len", "any"): ("sizeOf({0})", "number"),
    ("list", "list"): ("[...{0}]", "same"),
    ("list", "any"): ("[...membersOf({0})]", "list"),
    ("ord", "text"): ("{0}.codePointAt(0)", "number"),
    ("range", "number"): ("rangeOf({*})", "list of number"),
    ("sqrt", "number"): ("Math.sqrt({0})", "number"),
    ("sqrt", "any"): ("Math.sqrt({0})", "number"),
    ("str", "text"): ("{0}", "text"),
    ("str", "whole"): ("String({0})", "text"),
}

# isinstance(x, …), by the types as written.
INSTANCES: dict[str, str] = {
    "bool": 'typeof {0} === "boolean"',
    "dict": "isDict({0})",
    "float | int": "isNumber({0})",
    "list": "Array.isArray({0})",
    "str": 'typeof {0} === "string"',
}

# (kind of the receiver, method, number of arguments).
METHODS: dict[tuple[str, str, int], Row] = {
    ("dict", "get", 1): ("getItem({0}, {1})", "item or none"),
    ("dict", "get", 2): ("getItem({0}, {1}, {2})", "item or second"),
    ("dict", "items", 0): ("itemsOf({0})", "list of pairs"),
    ("dict", "pop", 1): ("popItem({0}, {1})", "item"),
    ("dict", "setdefault", 2): ("setDefault({0}, {1}, {2})", "item"),
    ("dict", "update", 1): ("updateItems({0}, {1})", "none"),
    ("dict", "values", 0): ("valuesOf({0})", "list of items"),
    ("list", "append", 1): ("{0}.push({1})", "none"),
    ("list", "extend", 1): ("{0}.push(...{1})", "none"),
    ("list", "index", 1): ("indexIn({0}, {1})", "number"),
    ("list", "insert", 2): ("{0}.splice({1}, 0, {2})", "none"),
    ("list", "remove", 1): ("removeFrom({0}, {1})", "none"),
    ("text", "endswith", 1): ("{0}.endsWith({1})", "truth"),
    ("text", "index", 1): ("indexIn({0}, {1})", "number"),
    ("text", "join", 1): ("{1}.join({0})", "text"),
    ("text", "replace", 2): ("{0}.replaceAll({1}, {2})", "text"),
    ("text", "split", 1): ("{0}.split({1})", "list of text"),
    ("text", "startswith", 1): ("{0}.startsWith({1})", "truth"),
}

# What a module of the kernel may import besides other kernel modules and the errors.
IMPORTS: dict[str, frozenset[str]] = {
    "__future__": frozenset({"annotations"}),
    "collections.abc": frozenset({"Callable", "Mapping", "Sequence"}),
    "dataclasses": frozenset({"dataclass"}),
    "math": frozenset({"floor", "sqrt"}),
    "typing": frozenset({"Any", "cast", "Literal", "NotRequired", "Required", "TypeAlias", "TypedDict"}),
}

# Functions that each language has in its own form: Python in `sync/kernel/primitives.py`, JavaScript in `runtime.js`.
PRIMITIVES = "primitives"
# The annotation for whole numbers of any size.
WHOLE = "Whole"


def rows() -> list[str]:
    """The names of all rows of the table; a report notes those that were used."""
    nodes: list[type[ast.AST]] = [*STATEMENTS, *EXPRESSIONS, *ARITHMETIC, *ORDER, *SAME, *SETS]
    return [
        *(node.__name__ for node in nodes),
        *(f"{name} of {kind}" for name, kind in FUNCTIONS),
        *(f"isinstance {types}" for types in INSTANCES),
        *(f"{kind}.{method} of {count}" for kind, method, count in METHODS),
    ]


# Why something is refused, and what to write instead.
REASONS: dict[str, str] = {
    "annotation": "the annotation is not one the phone's module can say; write plain types, aliases or kernel classes",
    "arguments": "the call does not fit; hand over the arguments that are listed for it, or its parameters, in order",
    "attribute": "of what is not known to be an object of the kernel; annotate it with its class",
    "augmented": "a list or a subscript is not changed in passing; write the assignment out",
    "base": "a class stands alone, or on LaybyError or TypedDict",
    "catch": "only errors of Layby are caught, each by name, without `else` and `finally`",
    "clash": "all modules share one scope; say better what each of them is",
    "closure": "a function made in a loop would see other values in JavaScript; make it outside",
    "comparison": "`==` compares scalars; lists and dicts are compared part by part",
    "comprehension": "one `for` in a comprehension; write a loop",
    "construct": "not in the table of constructs; write it with what is listed there",
    "decorator": "only @dataclass and @dataclass(frozen=True) are known",
    "default": "a parameter's default is a constant, and there is no *args, **kwargs or keyword-only",
    "division": "`//` is for whole numbers of type Whole; write floor(a / b)",
    "else": "a loop has no `else`; keep what happened in a name",
    "format": "an f-string takes texts and whole numbers; other numbers are written differently by the two languages",
    "function": "the function is not in the table; write it out with what is there",
    "identity": "`is` is for None, True and False; compare with ==",
    "import": "the kernel imports its own modules, sync.errors and what the table lists, by their names",
    "instance": "isinstance tells dict, list, str, bool and (int, float); JavaScript knows no more",
    "key": "every object in JavaScript has that name; call the entry something else",
    "keys": "the names of a dict are texts, JavaScript knows no others; keep a list of pairs",
    "method": "the method is not in the table for such a value; write it out, or annotate what it is called on",
    "middle": "the middle of a chained comparison would be worked out twice; give it a name",
    "name": "the name is not known in this module",
    "operator": "the two languages do not work it out alike; write it with + - * / and floor",
    "or": "the right side would be worked out even where the left one stands; write an if",
    "raise": "only errors of Layby are raised, with their values by name",
    "reserved": "JavaScript keeps that word for itself; call it something else",
    "ring": "the modules import each other in a ring",
    "shadow": "the name of something in another module is taken by a local one here; rename one of them",
    "slice": "a slice has a start and an end, no step",
    "sort": "the two languages sort and compare text differently; order by numbers, written out",
    "starred": "arguments are handed over one by one",
    "syntax": "this is not Python",
    "target": "assigned are names, attributes, subscripts, and names in a tuple",
    "text": "the two languages order text differently; compare numbers, or use `primitives`",
    "truth": "an object of the kernel is always true; ask for `is not None`",
    "whole": "whole numbers and others do not mix; annotate both as Whole",
}

# Banned by name, so that the reason is given where somebody writes them.
BANNED: dict[str, str] = {
    **dict.fromkeys(("sorted", "sort", "min", "max", "reversed"), "sort"),
    **dict.fromkeys(("sum", "fsum", "pow", "round", "divmod", "hypot", "log", "exp"), "operator"),
}

# Words that can't be names: JavaScript's own, and the objects that the module calls by name.
_WORDS = """
arguments await break case catch class const continue debugger default delete do else enum eval export extends false
finally for function if implements import in instanceof interface let new null package private protected public return
static super switch this throw true try typeof undefined var void while with yield
Array BigInt Boolean Error Infinity Math NaN Number Object RangeError String
"""
RESERVED = frozenset(_WORDS.split())
# Names that every JavaScript object responds to, so that a plain read of them would find something.
_ANSWERED = """
__defineGetter__ __defineSetter__ __lookupGetter__ __lookupSetter__ __proto__ constructor hasOwnProperty isPrototypeOf
propertyIsEnumerable toLocaleString toString valueOf
"""
INBORN = frozenset(_ANSWERED.split())
