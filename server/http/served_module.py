"""A module as a phone loads it: what it needs joined, names short, made once for each state of its sources.

What is joined and how names get short are other modules' affairs; nothing is served here.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from server.http import page_module, short_module
from server.http.made import made

# Besides the modules themselves, what decides how they are served.
_MAKERS = ("page_module.py", "short_module.py", "served_module.py")


def served(name: str, modules: Mapping[str, str], entry: str, library: Mapping[str, str]) -> bytes:
    """One module made from everything a first one needs, with short names [UTF-8 bytes].

    Args:
        name: of the file in which it is kept for the next start
        modules, entry, library: as `page_module.joined` takes them

    Raises:
        page_module.Refused: the modules can't be joined.
    """
    def make() -> str:
        return short_module.shortened(page_module.joined(modules, entry, library)).decode()

    makers = [Path(__file__).with_name(maker).read_text("utf-8") for maker in _MAKERS]
    named = [text for part in (modules, library) for module in sorted(part.items()) for text in module]
    return made(name, [entry, *named, *makers], make).encode()
