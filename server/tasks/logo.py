"""The business's logo: one picture beside the records under a fixed name, as it was uploaded.

The file alone says whether there is a logo; what is printed of it is made small by the child that prints.
"""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Callable

from server.tasks.setting_rows import LOGO_MOST
from server.tasks.setting_values import Unfit
from sync.errors import NotOwn
from sync.kernel.json_tree import JsonObject
from sync.records.image_headers import NotAPhoto, head_of
from sync.records.photos import PhotoStore
from sync.records.store.files import Files
from sync.sheet.sheet_data import SheetSettings

NAME = "logo"
KINDS = {"image/jpeg": "JPEG", "image/png": "PNG", "image/webp": "WebP"}

log = logging.getLogger("layby.logo")


def held(files: Files) -> bytes | None:
    """The logo of a desk; None if there is none, or none that can be read [bytes or None]."""
    try:
        return files.read(NAME)
    except FileNotFoundError:
        return None
    except (NotOwn, OSError) as error:
        log.warning("the logo is left out: %s", error)
        return None


def kind_of(content: bytes) -> str:
    """The media type of a logo; of bytes that are no picture any more, that of any file [text]."""
    try:
        return head_of(content).media_type
    except NotAPhoto:
        return "application/octet-stream"


def as_setting(files: Files) -> JsonObject:
    """The logo as the rows of the settings know it: its kind, size and digest in one text; empty without one."""
    content = held(files)
    return {} if content is None else {NAME: {"file": f"{_told(content)} {digest_of(content)}"}}


def _told(content: bytes) -> str:
    try:
        head = head_of(content)
    except NotAPhoto:
        return "?"
    return f"{KINDS[head.media_type]}, {head.width} × {head.height} px"


def digest_of(content: bytes) -> str:
    """By what a sheet names a picture [64 hex digits]."""
    return hashlib.sha256(content).hexdigest()


def keep(files: Files, content: bytes) -> bool:
    """Keep a picture as the logo, instead of the one before; whether it is another one.

    Raises:
        Unfit: it can't be taken, and the one before stays. OSError: the disk didn't take it.
    """
    _check(content)
    if content == held(files):
        return False
    files.write(NAME, content)
    return True


def _check(content: bytes) -> None:
    # It loads what opens pictures, which a service needn't have at its start.
    from reports import photos

    if not content:
        raise Unfit("picture_missing")
    if len(content) > LOGO_MOST:
        raise Unfit("picture_large", most=LOGO_MOST // 1_000_000)
    try:
        width, height = photos.size(content)
        if width * height > photos.PIXELS_MOST:
            raise photos.Unusable("too_many_pixels")
    except photos.Unusable as error:
        is_huge = error.code == "too_many_pixels"
        raise Unfit("picture_pixels" if is_huge else "not_picture", most=photos.PIXELS_MOST // 1_000_000) from error


def take_away(files: Files) -> bool:
    """Remove the logo; whether there was one."""
    there = files.size(NAME) is not None
    files.remove(NAME)
    return there


def with_logo(settings: SheetSettings, files: Files) -> SheetSettings:
    """Settings of sheets that name the logo of a desk; the same where there is none [SheetSettings]."""
    content = held(files)
    return settings if content is None else {**settings, "logo": digest_of(content)}


def pictures_of(files: Files) -> Callable[[str], bytes | None]:
    """What gives the pictures that a sheet names by their digests: the photos, and the logo [function]."""
    photos, logo = PhotoStore(files), held(files)
    digest = None if logo is None else digest_of(logo)
    return lambda name: logo if name == digest else photos.bytes_of(name)
