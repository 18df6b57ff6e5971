"""How a plate, a VIN or a telephone is compared: by its letters and digits, whatever stands between them.

Nothing is looked up or judged here; what a person wrote stays as it is.
"""

from __future__ import annotations

from sync.kernel.vin import CAPITAL, SMALL

# Spaces, hyphens and dashes, points, and what else people put between the parts of a number.
BETWEEN = " \t\u00a0\u2007\u2009\u202f-\u2010\u2011\u2012\u2013\u2014\u2212._,:;/\\|()[]+*#&'\"\u2019\u00b7\u2022"


def unsigned(text: str) -> str:
    """A text without what stands between its letters and digits, its letters as capitals.

    Args:
        text: a plate, VIN or telephone as it was typed [text]

    Returns:
        what is compared, also a part of one with a part of another [text]

    Source: common practice, no source: a plate is said and written with and without spaces and hyphens.
    """
    bare = text
    for sign in BETWEEN:
        bare = bare.replace(sign, "")
    for i in range(len(SMALL)):
        bare = bare.replace(SMALL[i], CAPITAL[i])
    return bare
