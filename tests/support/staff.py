"""People who sign in at a desk by name: an owner, the office and technicians, each with a browser of their own.

No test lives here.
"""

from __future__ import annotations

import html
import re
from dataclasses import dataclass
from typing import Any

from tests.support.service import Service
from tests.support.visitor import PASSPHRASE, Visitor

OWNER, OFFICE, ONE, OTHER = "Ruth Okello", "June Castellane", "Tomas Lindqvist", "Ana Abara"
ROLES = {OFFICE: "office", ONE: "technician", OTHER: "technician"}


@dataclass
class Staff:
    """The visitors by their names, and the id of each."""

    visitors: dict[str, Visitor]
    ids: dict[str, str]

    def __getitem__(self, name: str) -> Visitor:
        return self.visitors[name]


def staff_of(desk: Service, owner: Visitor) -> Staff:
    """Everybody invited by the owner's page and signed in by the link it shows."""
    status, _, text = owner.press("/desk/do/begin", name=OWNER)
    assert status == 303, text
    visitors = {OWNER: owner}
    for name, role in ROLES.items():
        status, _, text = owner.press("/desk/do/invite", name=name, role=role)
        assert status == 200, text
        visitors[name] = joined(desk, text)
    ids = dict(re.findall(r'name="id" value="([0-9a-f-]{36})" aria-label="New link for ([^"]+)"',
                          html.unescape(owner.ask("GET", "/desk/people")[2])))
    return Staff(visitors, {name: identifier for identifier, name in ids.items()})


def joined(desk: Service, page: str) -> Visitor:
    """Somebody who opens the link on a page and chooses a passphrase."""
    found = re.search(r"/desk/passphrase\?key=([\w-]+)", page)
    assert found, page
    visitor = Visitor(desk)
    fields: dict[str, Any] = {"key": found[1], "passphrase": PASSPHRASE, "again": PASSPHRASE}
    status, headers, text = visitor.ask("POST", "/desk/passphrase", fields)
    assert (status, headers["Location"]) == (303, "/desk"), text
    return visitor
