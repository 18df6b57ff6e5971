"""QR codes of an address: as characters for a terminal, as a drawing for a page.

Nothing here knows what the address leads to.
"""

from __future__ import annotations

import io

import segno


def in_characters(address: str) -> str:
    """The QR code in half-block characters, dark on light as most cameras expect, for dark and light terminals.

    Args:
        address: the text of the code [text]

    Returns:
        its lines, with the quiet margin around it [text]
    """
    output = io.StringIO()
    segno.make(address, micro=False).terminal(output, compact=True)
    return output.getvalue()


def as_picture(address: str) -> str:
    """The QR code as a picture embedded in the page.

    Args:
        address: the text of the code [text]

    Returns:
        an address of scheme data: with an SVG drawing in black on white and its quiet margin [text]
    """
    return str(segno.make(address, micro=False).svg_data_uri(scale=6, border=4, dark="#000", light="#fff"))
