"""Blobs: photos come in piece by piece, resumed from the true offset, and go out whole.

Nothing here judges a photo; it reads the request, hands the piece to `sync.records.photos` and answers.
"""

from __future__ import annotations

from flask import Blueprint, Response, current_app, request

from server.http.problems import RequestFault, answer_to
from sync.errors import LaybyError
from sync.language.reader import words_of
from sync.records.image_headers import NotAPhoto, head_of
from sync.records.photos import PHOTO_BYTES, PhotoAltered, PhotoStore, TooManyPixels, WrongOffset
from sync.wire.responses import UploadHeaders

TYPE = "application/offset+octet-stream"

pages = Blueprint("blobs", __name__)


def _store() -> PhotoStore:
    store: PhotoStore = current_app.extensions["layby"]["photos"]
    return store


def _count(name: str) -> int:
    text = request.headers.get(name, "")
    if not (text.isascii() and text.isdigit() and len(text) <= 12):
        raise RequestFault("bad_header", name=name, found=text[:40])
    return int(text)


def _piece() -> bytes:
    """The piece as far as it arrived: a phone needn't send again what it sent before it drove out of reach."""
    length = request.content_length
    if length is None or request.headers.get("Transfer-Encoding"):
        raise RequestFault("no_length")
    if length > PHOTO_BYTES:
        raise RequestFault("body_too_large", length=length, limit=PHOTO_BYTES)
    if request.mimetype != TYPE:
        raise RequestFault("wrong_type", found=request.mimetype, wanted=TYPE)
    content: bytes = request.environ["wsgi.input"].read(length)
    return content


def _with_offset(response: Response, offset: int, length: int) -> Response:
    headers: UploadHeaders = {"Upload-Offset": str(offset), "Upload-Length": str(length)}
    response.headers.update(headers)
    return response


def _problem(error: LaybyError, offset: int, length: int) -> Response:
    response = answer_to(error, words_of(current_app.extensions["layby"]["logbook"].rulebook))
    return _with_offset(response, offset, length)


@pages.get("/blobs/<sha>")
def photo(sha: str) -> Response:
    """GET /blobs/<sha256>: the photo, once it is complete. HEAD: how much of it is stored, and of how much."""
    offset, length = _store().offset(sha)
    if length is None or (request.method == "GET" and offset < length):
        raise RequestFault("no_photo", sha=sha)
    if request.method == "HEAD":
        return _with_offset(Response(status=200), offset, length)
    content = _store().bytes_of(sha) or b""
    response = Response(content, content_type=head_of(content).media_type)
    response.headers["Content-Disposition"] = f'inline; filename="{sha[:12]}"'
    return response


@pages.patch("/blobs/<sha>")
def piece(sha: str) -> Response:
    """PATCH /blobs/<sha256>: the next piece of a photo, durable before the answer."""
    offset, length, chunk = _count("Upload-Offset"), _count("Upload-Length"), _piece()
    try:
        end = _store().append(sha, offset, length, chunk)
    except WrongOffset as error:
        return _problem(error, error.values["offset"], length)
    except (PhotoAltered, NotAPhoto, TooManyPixels) as error:
        return _problem(error, 0, length)
    if len(chunk) < (request.content_length or 0):
        return _problem(RequestFault("cut_short", length=request.content_length, came=len(chunk)), end, length)
    return _with_offset(Response(status=204), end, length)
