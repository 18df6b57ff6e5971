"""Pages of a sheet as pictures, for a screen that shows no PDF.

It prints nothing; the PDF is one of ours.
"""

from __future__ import annotations

import io
import threading

import pypdfium2

# Sharp where the picture is shown at half of this, which a screen of a phone or a laptop needs [px].
WIDTH = 960
QUALITY = 82

# PDFium allows only one thread at a time.
_alone = threading.Lock()


def pages_of(pdf: bytes) -> list[bytes]:
    """The pages of a PDF as pictures.

    Args:
        pdf: the sheet [bytes]

    Returns:
        a WebP picture of each page [bytes each]
    """
    with _alone:
        document = pypdfium2.PdfDocument(pdf)
        try:
            return [_picture(page) for page in document]
        finally:
            document.close()


def _picture(page: pypdfium2.PdfPage) -> bytes:
    width, _ = page.get_size()
    picture = page.render(scale=WIDTH / width).to_pil()
    out = io.BytesIO()
    picture.save(out, "WEBP", quality=QUALITY, method=2)
    return out.getvalue()
