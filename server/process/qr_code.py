"""QR codes of an address: as characters for a terminal, as a drawing for a page.

Nothing here knows what the address leads to.
"""

from __future__ import annotations

import io

import segno


def in_characters(address: str) -> str:
    """The QR code in half-block characters, dark on light as most cameras expect, for a terminal that is dark or light.

    Args:
        address: what it says [text]

    Returns:
        its lines, with the quiet margin round it [text]
    """
    output = io.StringIO()
    segno.make(address, micro=False).terminal(output, compact=True)
    return output.getvalue()


def as_picture(address: str) -> str:
    """The QR code as a picture that stands in the page itself.

    Args:
        address: what it says [text]

    Returns:
        an address of scheme data:, holding an SVG drawing in black on white with its quiet margin [text]
    """
    return str(segno.make(address, micro=False).svg_data_uri(scale=6, border=4, dark="#000", light="#fff"))
