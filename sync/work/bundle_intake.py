"""Files carried over by hand: what stands in them is taken in as from the network, and each line gets its answer.

Nothing here judges an operation or knows how a part is framed; `intake` and `bundle` do.
"""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from sync.errors import DiskFull, LaybyError, sentence
from sync.records.logbook import Logbook
from sync.records.photos import PhotoAltered, PhotoStore
from sync.wire.bundle import Bundle, Piece, digest, read, receipt
from sync.work import intake
from sync.work.intake import Refusal

Result = dict[str, Any]
# A line's place: which of the files given, and which line of it.
Place = tuple[int, int]
STATUSES = ("accepted", "conflict", "rejected", "deferred", "unreadable")


class _Parts:
    """Several parts that were given at once, and what became of each of their lines so far."""

    def __init__(self, logbook: Logbook, texts: list[bytes], at_ms: int) -> None:
        self.logbook = logbook
        self.at_ms = at_ms
        self.wording = logbook.rulebook.get("wording", {})
        self.bundles = [read(text) for text in texts]
        self.told: dict[Place, Result] = {}

    def problem(self, code: str, **values: Any) -> Result:
        """What is wrong, as code and sentence."""
        return {"code": code, "detail": sentence(Refusal(code, **values), self.wording)}

    def name_the_unreadable(self) -> None:
        """What is neither an op line nor a piece of a photo."""
        for part, bundle in enumerate(self.bundles):
            for number, code in bundle.named.items():
                self.told[part, number] = {"status": "unreadable", "problem": self.problem(code)}

    def file_lines(self) -> None:
        """The op lines of all parts; those that build on later ones are judged again once these are filed."""
        lines: dict[Place, bytes] = {}
        for part, bundle in enumerate(self.bundles):
            lines |= {(part, number): line for number, line in bundle.lines.items()}
        waiting = list(lines)
        while waiting:
            for start in range(0, len(waiting), intake.LINES_MOST):
                places = waiting[start : start + intake.LINES_MOST]
                results = intake.take(self.logbook, [lines[place] for place in places], self.at_ms)
                self.told.update((place, {**result}) for place, result in zip(places, results, strict=True))
            still = [place for place in waiting if self.told[place]["status"] == "deferred"]
            waiting = still if len(still) < len(waiting) else []

    def keep_photos(self) -> None:
        """The photos of all parts; a piece answers for itself with what became of its photo."""
        places: dict[str, list[Place]] = defaultdict(list)
        for part, bundle in enumerate(self.bundles):
            for number, piece in bundle.pieces.items():
                places[piece.photo].append((part, number))
        store = PhotoStore(self.logbook.folder, self.logbook.floor_bytes)
        for photo, mine in places.items():
            result = self._kept(store, photo, mine)
            for place in mine:
                self.told[place] = {**result, "photo": photo, "offset": self._piece(place).offset}

    def _piece(self, place: Place) -> Piece:
        return self.bundles[place[0]].pieces[place[1]]

    def _kept(self, store: PhotoStore, photo: str, places: list[Place]) -> Result:
        held, length = store.offset(photo)
        if held == length:
            return {"status": "accepted", "repeat": True}
        content = self._whole(photo, places)
        if content is None:
            return {"status": "deferred", "problem": self.problem("photo_incomplete", photo=photo[:12])}
        try:
            _append(store, photo, content)
        except DiskFull:
            raise
        except LaybyError as error:
            return {"status": "rejected", "problem": {"code": error.code, "detail": sentence(error, self.wording)}}
        return {"status": "accepted", "repeat": False}

    def _whole(self, photo: str, places: list[Place]) -> bytes | None:
        """A photo's bytes, put together from one part or from all; None where they are not what it is named by."""
        of_part: dict[int, list[Piece]] = defaultdict(list)
        for place in places:
            of_part[place[0]].append(self._piece(place))
        everything = [piece for pieces in of_part.values() for piece in pieces]
        for pieces in (*of_part.values(), everything):
            content = _joined(pieces)
            if content is not None and digest(content) == photo:
                return content
        return None


def _append(store: PhotoStore, photo: str, content: bytes) -> None:
    """Give a whole photo to the store, which may hold a beginning of it from the network."""
    held, length = store.offset(photo)
    start = held if length == len(content) else 0
    try:
        store.append(photo, start, len(content), content[start:])
    except PhotoAltered:
        # The bytes given are proven, so it was the beginning that was bad; the store has dropped it.
        store.append(photo, 0, len(content), content)


def _joined(pieces: list[Piece]) -> bytes | None:
    """Pieces in the order of their offsets; None where they leave a gap. Of two at one offset the first counts."""
    content = b""
    for piece in sorted(pieces, key=lambda piece: piece.offset):
        if piece.offset > len(content):
            return None
        if piece.offset == len(content):
            content += piece.content
    return content


def receive_bundles(logbook: Logbook, texts: list[bytes], at: int) -> list[tuple[Bundle, list[Result]]]:
    """Take in hand-carried files by the same rules as the network's batches; what is not sound is named.

    Files given at once may stand in any order and any number of times: what builds on a line of another file is judged
    again once that is filed, and a photo may lie in pieces over several.

    Args:
        logbook: the open logbook [Logbook]
        texts: the files as the phone wrote them, perhaps damaged on their way [list of bytes]
        at: when they came in [ms since 1970]

    Returns:
        for each file what it holds, and for each of its lines {line, status, id, digest, repeat, problem?}, for a piece
        of a photo {line, status, photo, offset, repeat?, problem?}, the status of what is neither being "unreadable"
        [(Bundle, list of JSON objects) each]

    Raises:
        DiskFull, JournalFailed: what came before may be filed; the same files may be given again.
    """
    parts = _Parts(logbook, texts, at)
    parts.name_the_unreadable()
    parts.file_lines()
    parts.keep_photos()
    told: list[list[Result]] = [[] for _ in texts]
    for part, number in sorted(parts.told):
        told[part].append({"line": number, **parts.told[part, number]})
    return list(zip(parts.bundles, told, strict=True))


def receive_bundle(logbook: Logbook, text: bytes, at: int) -> bytes:
    """Take in one hand-carried file.

    Args:
        logbook: the open logbook [Logbook]
        text: the file as the phone wrote it, perhaps damaged on its way [bytes]
        at: when it came in [ms since 1970]

    Returns:
        the receipt file [UTF-8 bytes]

    Raises:
        DiskFull, JournalFailed: what came before may be filed; the same file may be given again.
    """
    [(bundle, told)] = receive_bundles(logbook, [text], at)
    return receipt(bundle, told)


def tally(told: list[Result]) -> dict[str, Any]:
    """What became of a part's lines, counted.

    Args:
        told: as from `receive_bundles` [list of JSON objects]

    Returns:
        {entries, photos: {status: count}, repeats, faults: [{line, detail}]}; statuses are of STATUSES, photos are
        counted once each, faults leave out what only waits for another line [JSON object]
    """
    entries = dict.fromkeys(STATUSES, 0)
    photos: dict[str, str] = {}
    for one in told:
        if "photo" in one:
            photos[one["photo"]] = one["status"]
        else:
            entries[one["status"]] += 1
    statuses = list(photos.values())
    faults = [{"line": one["line"], "detail": one["problem"]["detail"]} for one in told if "problem" in one]
    return {
        "entries": entries,
        "photos": {status: statuses.count(status) for status in STATUSES},
        "repeats": sum(1 for one in told if one.get("repeat") and "photo" not in one),
        "faults": faults,
    }
