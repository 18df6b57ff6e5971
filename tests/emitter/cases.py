"""What is called in each piece of Python under `snippets`, and what the emitter refuses.

The expected results aren't written here: Python gives them, and the generated module has to give the same.
"""

from __future__ import annotations

from typing import Any

Calls = list[tuple[str, list[Any]]]

TREE = {"a": 1.5, "constructor": None, "list": [1, 2], "deep": {"x": "y"}, "none": None, "zero": 0, "text": ""}
ANYTHING = [None, True, False, 0, 1, -2.5, "", "a", [], [0], {}, {"a": 0}]


def calls(*lists: list[Any]) -> Calls:
    """A call of `f` with each of these argument lists."""
    return [("f", list(given)) for given in lists]


CALLS: dict[str, Calls] = {
    "constants": calls([]),
    "arithmetic": calls([0.1, 0.2], [3, 7], [-1e150, 3.3]),
    "text_and_templates": calls(["aXbXX", "X"], ["köä/", "ä/"], ["a.b", "."], ["$&", "$"]),
    "places_in_a_text": calls(["abc"], [""], ["a\U0001f697é"]),
    "numbers_of_things": calls([1], [2.5], ["3.25"], ["1e3"], [True], [" 7 "]),
    "numbers_of_known_things": calls([2.5, "1.5"], [-3.7, "-2"], [0, "0"]),
    "arithmetic_functions_of_anything": calls([{"x": -2.25, "y": 2}], [{"x": 9, "y": 0.25}]),
    "truth_of_anything": calls(*[[one] for one in ANYTHING]),
    "truth_of_known_kinds": calls(
        [0, "", [], {}, False, None], [2, "x", [0], {"a": 0}, True, "m"], [0, "x", [], {"a": 1}, True, ""]
    ),
    "choices": calls([1, 2], [2, 2], [3, 1], [1, 5]),
    "identity": calls(*[[one] for one in ANYTHING]),
    "equality_of_scalars": calls([1, 1.0], ["a", "a"], [None, None], [None, 0], ["1", 1], [True, True], ["", None]),
    "membership": calls(
        [{"a": 1}, ["a"], "cab", {"a": 1}, "a"],
        [{"__proto__": 1}, [], "", [], "toString"],
        [{"b": 1}, ["constructor"], "x", {"b": 1}, "constructor"],
    ),
    "kinds_of_anything": calls(*[[one] for one in ANYTHING]),
    "reading_dicts": calls(
        *[[TREE, key] for key in ("a", "none", "absent", "constructor", "__proto__", "toString", "text")]
    ),
    "reading_by_a_name": calls([{"__proto__": 1}, "__proto__"], [{"constructor": {}}, "constructor"], [{"7": 7}, "7"]),
    "writing_dicts": calls(
        ["a", {"b": 1}], ["__proto__", {"constructor": 2}], ["x", {"__proto__": {"deep": 1}}], ["7", {"1": 2}]
    ),
    "going_through_dicts": calls(
        [{"b": 1, "a": 2}, ["x"]], [{}, {"k": 1, "__proto__": 2}], [{"__proto__": 1}, "aé\U0001f697"]
    ),
    "lists": calls([[1, 2, 3], 1], [[], 0], [[5], 1]),
    "copies_of_anything": calls([{"x": {"a": 1}}], [{"x": {"__proto__": 2}}]),
    "told_types": calls([{"a": ["x", "y"]}, "a"], [{"__proto__": []}, "__proto__"]),
    "comprehensions": calls(
        [[]], [[{"name": "a", "size": 2}, {"name": "b", "size": None}]], [[{"name": "__proto__", "size": 1}]]
    ),
    "loops": calls([[]], [[1, -1, 2, 200, 3]]),
    "where_names_begin": calls([[1, 2, 3], True], [[5], False]),
    "functions_inside": calls([1], [2.5]),
    "classes": calls([0], [10]),
    "raising": [("f", [5]), ("f", [50]), ("f", [-1]), ("g", [-1]), ("g", [50])],
    "records": calls([[{"name": "x"}, {"size": {"value": 1, "sure": True}}, {"marks": []}, {"marks": ["m"]}]]),
    "whole_numbers": calls(["7", "2"], ["-7", "2"], ["7", "-2"], ["123456789012345678901234567890", "97"], ["-8", "4"]),
    "left_to_each_language": calls(
        [
            {
                "numbers": [0, -0.0, 1.5, 1e21, 1e-7, 123456789012345680000, 5e-324, 0.1, 100, 2.5e-6],
                "texts": ["", 'a"b\\', "\n\t\u0001", "é\U0001f697\u2028"],
                "names": {"b": 1, "a": 2, "7": 3, "": 4, "\U0001f697": 5, "\uffee": 6, "__proto__": 7},
            },
        ]
    ),
}

# The head of each refused piece.
HEAD = """from __future__ import annotations
from dataclasses import dataclass
from typing import Any
from sync.kernel.primitives import Whole

"""

# (Python after the head, line after the head, reason), one for each reason.
REFUSED: list[tuple[str, int, str]] = [
    ("def f(x: set[str]) -> None:\n    return None\n", 1, "annotation"),
    ("def g(x: float) -> float:\n    return x\n\ndef f() -> float:\n    return g()\n", 5, "arguments"),
    ("def f(x: Any) -> Any:\n    return x.size\n", 2, "attribute"),
    ('def f(d: dict[str, float]) -> None:\n    d["a"] += 1\n', 2, "augmented"),
    ('class A(float):\n    """A."""\n', 1, "base"),
    ("def f() -> float:\n    try:\n        return 1\n    except KeyError:\n        return 2\n", 4, "catch"),
    (
        "def f() -> Any:\n    found = []\n    for i in range(3):\n        found.append(lambda: i)\n    return found\n",
        4,
        "closure",
    ),
    ("def f(a: list[float], b: list[float]) -> bool:\n    return a == b\n", 2, "comparison"),
    ("def f(a: list[Any]) -> Any:\n    return [y for x in a for y in x]\n", 2, "comprehension"),
    ("def f() -> Any:\n    with f():\n        return 1\n", 2, "construct"),
    ("@dataclass(order=True)\nclass A:\n    x: float\n", 2, "decorator"),
    ("def f(*xs: float) -> None:\n    return None\n", 1, "default"),
    ("def f(x: float) -> float:\n    return x // 2\n", 2, "division"),
    ("def f(xs: list[float]) -> float:\n    for x in xs:\n        return x\n    else:\n        return 0\n", 2, "else"),
    ('def f(x: float) -> str:\n    return f"{x}"\n', 2, "format"),
    ("def f(x: float) -> Any:\n    return repr(x)\n", 2, "function"),
    ("def f(x: Any, y: Any) -> bool:\n    return x is y\n", 2, "identity"),
    ("import os\n", 1, "import"),
    ("def f(x: Any) -> bool:\n    return isinstance(x, int)\n", 2, "instance"),
    ('def f(x: Any) -> Any:\n    return x["constructor"]\n', 2, "key"),
    ("def f(x: dict[str, float], at: float) -> Any:\n    return x[at]\n", 2, "keys"),
    ("def f(x: Any) -> Any:\n    return x.strip()\n", 2, "method"),
    ("def g(x: float) -> float:\n    return x\n\ndef f(x: float) -> bool:\n    return 0 < g(x) < 1\n", 5, "middle"),
    ("def f() -> Any:\n    return x\n", 2, "name"),
    ("def f(x: float) -> float:\n    return x ** 2\n", 2, "operator"),
    ("def g() -> Any:\n    return 1\n\ndef f(x: Any) -> Any:\n    return x or g()\n", 5, "or"),
    ('def f() -> None:\n    raise ValueError("x")\n', 2, "raise"),
    ("def f(new: float) -> float:\n    return 1\n", 1, "reserved"),
    ("def f(x: list[float]) -> Any:\n    return x[::2]\n", 2, "slice"),
    ("def f(x: list[float]) -> Any:\n    return sorted(x)\n", 2, "sort"),
    ("def g(x: float) -> float:\n    return x\n\ndef f(x: list[float]) -> Any:\n    return g(*x)\n", 5, "starred"),
    ("def f(:\n", 1, "syntax"),
    ("def f(x: list[float]) -> None:\n    x[0:1] = [1]\n", 2, "target"),
    ("def f(x: str, y: str) -> bool:\n    return x < y\n", 2, "text"),
    (
        "class A:\n    def __init__(self) -> None:\n        self.x: float = 1\n\n"
        "def f(a: A) -> Any:\n    return 1 if a else 2\n",
        6,
        "truth",
    ),
    ("def f(x: Whole, y: float) -> Any:\n    return x + y\n", 2, "whole"),
]
# The same between two modules: (one, other, line in the other, reason).
REFUSED_TOGETHER: list[tuple[str, str, int, str]] = [
    ("def _a() -> float:\n    return 1\n", "def _a() -> float:\n    return 2\n", 1, "clash"),
    ("from sync.kernel import other\n", "from sync.kernel import one\n", 1, "ring"),
    (
        "def size(x: float) -> float:\n    return x\n",
        "from sync.kernel import one\n\ndef f(size: float) -> float:\n    return one.size(size)\n",
        4,
        "shadow",
    ),
]
