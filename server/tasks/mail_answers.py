"""What a mail server's answer means for the person whose letter it is about.

Nothing is sent here; the sentences come from the book `letters`.
"""

from __future__ import annotations

import re

from sync.kernel.reason import Reason

# Of an enhanced status code, its subject and detail (RFC 3463, sections 3.2 to 3.8; 7.8: RFC 4954, section 6).
ENHANCED = {
    "1.1": "no_address", "1.2": "no_domain", "1.3": "no_address", "1.6": "no_address", "1.10": "no_domain",
    "2.1": "no_mailbox", "2.2": "full", "2.3": "too_large", "3.1": "full", "3.4": "too_large",
    "4.1": "not_reached", "4.2": "not_reached", "4.4": "no_domain", "4.5": "busy",
    "7.0": "unwanted", "7.1": "unwanted", "7.8": "sign_in",
}  # fmt: skip
# The plain codes (RFC 5321, section 4.2.3; 530 and 535: RFC 4954, section 6), for servers that say no more.
PLAIN = {
    "421": "busy", "450": "busy", "451": "busy", "452": "full", "530": "sign_in", "535": "sign_in",
    "550": "no_address", "551": "no_address", "552": "full", "553": "no_address", "554": "unwanted",
}  # fmt: skip
_CODES = re.compile(r"(?P<plain>[245]\d\d)?[ -]?(?:[245]\.(?P<enhanced>\d{1,3}\.\d{1,3}))?")


def meaning_of(reason: Reason | None) -> str | None:
    """What the mail server's answer comes to.

    Args:
        reason: of a letter's last state, with the server's own words as `said` [Reason or None]

    Returns:
        the code of a sentence in `letters.said`; None where no mail server said anything [code or None]
    """
    said = reason["values"].get("said") if reason else None
    if not isinstance(said, str):
        return None
    found = _CODES.match(said)
    plain, enhanced = (found["plain"], found["enhanced"]) if found else (None, None)
    if plain is None and enhanced is None:
        return "not_reached"
    return ENHANCED.get(enhanced or "") or PLAIN.get(plain or "") or "other"
