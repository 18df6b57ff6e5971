"""Which routes are long work: those that make sheets or books, send letters, or read or change the whole logbook.

Names only: nothing is done here, and a route that isn't named here is answered beside the long ones.
"""

from __future__ import annotations

# The desk's tasks as commands hand them over.
TASKS = frozenset({"evening", "sheet", "approve", "send", "send_test", "reminders", "day", "ledger", "receive",
                   "backup", "export", "erase", "rebuild", "troubles", "conflicts", "aside", "log"})  # fmt: skip
# The forms of the desk's pages.
FORMS = frozenset({"make", "approve", "send", "receive", "sheet", "mend", "export", "erase", "resend", "aside", "try",
                   "backup", "read-back", "restore", "log"})  # fmt: skip
# What is printed on request, or looks at years.
PRINTED = ("/sheets/", "/desk/preview", "/desk/revision", "/desk/books", "/desk/conflicts")

_PATHS = {*(f"/desk/{name}" for name in TASKS), *(f"/desk/do/{name}" for name in FORMS)}


def is_long(path: str) -> bool:
    """Whether a path requests long work.

    Args:
        path: the path of a request, without its query [text]

    Returns:
        whether it belongs to the few threads of long work [yes or no]
    """
    return path in _PATHS or path.startswith(PRINTED)
