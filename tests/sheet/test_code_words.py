"""Every code that a judgement can give has its words on phone and sheet; no words are left of a code that is gone.

The codes are those of the books and those in the kernel's own text; no judgement is made here.
"""

from __future__ import annotations

import ast
from pathlib import Path
from typing import Any

import pytest

import sync.kernel
from sync.kernel.books import Rulebook

KERNEL = Path(str(sync.kernel.__file__)).parent
SIDES = ("high", "low", "usual")
LISTS = ("notes", "signs", "reasons", "credits", "codes")


def appended(*modules: str) -> set[str]:
    """The texts that modules of the kernel append to their lists of codes, or pair with a condition."""
    found: set[str] = set()
    for module in modules:
        for node in ast.walk(ast.parse((KERNEL / f"{module}.py").read_text("utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "append":
                texts = [one for arg in node.args for one in ast.walk(arg)] if _is_list(node.func.value) else []
            elif isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "checks":
                texts = [row.elts[0] for row in ast.walk(node.value) if isinstance(row, ast.Tuple)]
            else:
                continue
            found |= {text.value for text in texts if isinstance(text, ast.Constant) and isinstance(text.value, str)}
    return {code for code in found if not code.startswith("_")}


def _is_list(node: ast.expr) -> bool:
    return getattr(node, "id", getattr(node, "attr", "")) in LISTS


def notes_of(rulebook: Rulebook) -> set[str]:
    """The notes of a comparison, and what is never credited to the work."""
    book = rulebook["comparison"]
    by_name = {f"{name}_not_recorded" for name in book["not_recorded_k"]} | {
        f"{name}_differs" for name in (*book["differs_k"], "running")}
    return by_name | (appended("comparison", "same_day") - reasons_of()) | {"superheat_back"}


def reasons_of() -> set[str]:
    """Why a pair can't be compared."""
    return appended("comparability") - {"running_differs"} | {"refrigerant_unknown", "out_of_table"}


def ranges_of(rulebook: Rulebook) -> set[str]:
    """What lies outside the yardsticks, and why no cause is named."""
    codes = appended("causes") & {"mode_out_of_scope", "not_running"}
    for row in rulebook["yardsticks"]["valid"]:
        codes |= {f"{row['name']}_low", f"{row['name']}_high"}
        codes |= {f"{row['name']}_not_recorded"} if row["needed"] else set()
    return codes | {"refrigerant_unknown", "refrigerant_out_of_scope"}


def evidence_of(rulebook: Rulebook) -> set[str]:
    """Each quantity of the distribution as high, low or usual, each sight as there or not."""
    measured = {f"{name}_{side}" for name in rulebook["distribution"]["observed"] for side in SIDES}
    return measured | {code for look in rulebook["causes"]["looks"] for code in (look, f"no_{look}")}


def test_the_kernel_is_read_as_it_stands() -> None:
    """Codes are found in its text; otherwise the tests below would prove nothing."""
    assert {"face_wet", "blower_differs", "ambient_differs"} <= appended("comparability")
    assert {"vent_warmer", "no_healthy_band", "vent_at_floor", "superheat_back"} <= appended("comparison")
    assert {"load_not_recorded", "ambient_not_recorded", "place_not_recorded"} <= appended("same_day")
    assert {"mode_out_of_scope", "not_running"} <= appended("causes")


@pytest.mark.parametrize(("group", "codes"), [("evidence", evidence_of), ("range", ranges_of)])
def test_causes_have_their_words(group: str, codes: Any, rulebook: Any) -> None:
    """Each code has its words, and there are no words for any other."""
    assert set(rulebook["words"]["en"]["causes"][group]) == codes(rulebook)


def test_a_figure_of_evidence_has_its_kind(rulebook: Any) -> None:
    """A measured quantity says in which unit to read it."""
    assert set(rulebook["strips"]["figures"]) == set(rulebook["distribution"]["observed"])


def test_what_opens_the_circuit_is_said_to_be_for_certified_people(rulebook: Any) -> None:
    """The causes that the book marks are those whose words send a person to certified people."""
    causes = rulebook["words"]["en"]["causes"]["causes"]
    named = {cause for cause in rulebook["causes"]["order"] if "certified" in causes[cause]["takes"]}
    assert set(rulebook["strips"]["certified"]) == named


def test_checks_have_their_words(rulebook: Any) -> None:
    """What to do, and for a reading its name."""
    checks = rulebook["causes"]["checks"]
    words = rulebook["words"]["en"]["causes"]
    assert set(words["checks"]) == {check["what"] for check in checks}
    assert set(words["causes"]) == set(rulebook["causes"]["order"])
    read = {check["quantity"] for check in checks if "quantity" in check}
    assert read <= set(rulebook["words"]["en"]["terms"]["derived"])


def test_a_comparison_has_its_words_on_the_phone(rulebook: Any) -> None:
    """Exactly the notes and reasons."""
    codes = rulebook["words"]["en"]["terms"]
    assert set(codes["comparison_note"]) == notes_of(rulebook)
    assert set(codes["reason"]) == reasons_of()


def test_a_comparison_has_its_words_on_the_sheet(rulebook: Any) -> None:
    """Each note is in one of the groups that the sheet turns into sentences, or has its own sentence."""
    standing = {"superheat_back", "no_healthy_band", "high_side_not_recorded", "vent_at_floor"}
    groups: list[Any] = [rulebook["words"]["en"]["sheet"][group] for group in ("against", "beside", "wider")]
    assert {code for group in groups for code in group} == notes_of(rulebook) - standing
