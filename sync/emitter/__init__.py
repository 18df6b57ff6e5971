"""Makes the phone's module from the kernel: one ES module that says in JavaScript what `sync/kernel` says in Python.

`constructs` is the table of what the kernel may use. Everything else is refused, all of it at once, with file, line and
what to write instead. A rule gives the same result (`==`, through JSON) wherever Python itself raises no error. A
KeyError or TypeError is not promised; it is raised in both only where a name is looked up through another name. The
kernel is only read here, never imported or run.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from sync.emitter.constructs import PRIMITIVES
from sync.emitter.modules import RUNTIME, Kernel, section
from sync.emitter.reports import Refusal, Refused

__all__ = [
    "ERRORS", "KERNEL", "Refusal", "Refused", "emitted", "kernel_paths", "logger_paths", "refusals", "sources",
]  # fmt: skip

KERNEL = Path(__file__).resolve().parent.parent / "kernel"
ERRORS = KERNEL.with_name("errors.py")


def kernel_paths() -> list[Path]:
    """The files of the kernel."""
    return sorted(path for path in KERNEL.glob("*.py") if path.name != "__init__.py")


def logger_paths() -> list[Path]:
    """The files that read a logger's file: a module of its own, which a phone loads when it needs it."""
    return sorted(path for path in KERNEL.with_name("loggers").glob("*.py") if path.name != "__init__.py")


def sources() -> list[str]:
    """Everything that decides what `emitted` makes: the rules, the errors, and the emitter [texts]."""
    paths = [*kernel_paths(), *logger_paths(), ERRORS, RUNTIME, *sorted(Path(__file__).parent.glob("*.py"))]
    return [path.read_text("utf-8") for path in paths]


def emitted(paths: Iterable[Path] | None = None, errors: Path | None = ERRORS) -> str:
    """The text of the module.

    Args:
        paths: the source files, those of the kernel by default [paths]
        errors: the module of errors; None if no error is raised [path]

    Returns:
        an ES module that imports nothing [JavaScript]

    Raises:
        Refused: something is not in the table of constructs.
    """
    kernel, text = _worked_out(paths, errors)
    if kernel.refusals:
        raise Refused(kernel.refusals)
    return text


def refusals(paths: Iterable[Path] | None = None, errors: Path | None = ERRORS) -> list[Refusal]:
    """What `emitted` would refuse, in the order of the files."""
    return _worked_out(paths, errors)[0].refusals


def _worked_out(paths: Iterable[Path] | None, errors: Path | None) -> tuple[Kernel, str]:
    kernel = Kernel(kernel_paths() if paths is None else paths, errors)
    names: set[str] = set()
    lines = RUNTIME.read_text("utf-8").splitlines()
    for module in kernel.order:
        if module.stem != PRIMITIVES:
            lines += section(kernel, module, names)
    return kernel, "\n".join(lines) + "\n"
