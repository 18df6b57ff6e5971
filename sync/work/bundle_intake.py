"""Files carried over by hand: what stands in them is taken in as from the network, and each line gets its answer.

Nothing here judges an operation or knows how a part is framed; `intake` and `bundle` do.
"""

from __future__ import annotations

from collections import defaultdict

from sync.errors import DiskFull, LaybyError, sentence
from sync.records.logbook import Logbook
from sync.records.photos import PhotoAltered, PhotoStore
from sync.wire.bundle import Bundle, Piece, digest, read, receipt
from sync.wire.faults import Scalar
from sync.wire.responses import LineFault, LineOfPhoto, LineResult, PhotoResult, Tally
from sync.wire.results import Problem
from sync.work import intake
from sync.work.intake import Refusal

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
        self.results: dict[Place, LineResult] = {}

    def problem(self, code: str, **values: Scalar) -> Problem:
        """What is wrong, as code and sentence."""
        return {"code": code, "detail": sentence(Refusal(code, **values), self.wording)}

    def name_the_unreadable(self) -> None:
        """What is neither an op line nor a piece of a photo."""
        for part, bundle in enumerate(self.bundles):
            for number, code in bundle.faults.items():
                problem = self.problem(code)
                self.results[part, number] = {"line": number, "status": "unreadable", "problem": problem}

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
                for place, result in zip(places, results, strict=True):
                    self.results[place] = {"line": place[1], **result}
            still = [place for place in waiting if self.results[place]["status"] == "deferred"]
            waiting = still if len(still) < len(waiting) else []

    def keep_photos(self) -> None:
        """The photos of all parts; a piece answers for itself with what became of its photo."""
        places: dict[str, list[Place]] = defaultdict(list)
        for part, bundle in enumerate(self.bundles):
            for number, piece in bundle.pieces.items():
                places[piece.photo].append((part, number))
        store = PhotoStore(self.logbook.folder, self.logbook.floor_bytes)
        for photo, mine in places.items():
            result = self._photo_result(store, photo, mine)
            for place in mine:
                row: LineOfPhoto = {"line": place[1], **result, "photo": photo, "offset": self._piece(place).offset}
                self.results[place] = row

    def _piece(self, place: Place) -> Piece:
        return self.bundles[place[0]].pieces[place[1]]

    def _photo_result(self, store: PhotoStore, photo: str, places: list[Place]) -> PhotoResult:
        offset, length = store.offset(photo)
        if offset == length:
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
    offset, length = store.offset(photo)
    start = offset if length == len(content) else 0
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


def receive_bundles(logbook: Logbook, texts: list[bytes], at: int) -> list[tuple[Bundle, list[LineResult]]]:
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
        [(Bundle, list of LineResult) each]

    Raises:
        DiskFull, JournalFailed: what came before may be filed; the same files may be given again.
    """
    parts = _Parts(logbook, texts, at)
    parts.name_the_unreadable()
    parts.file_lines()
    parts.keep_photos()
    results: list[list[LineResult]] = [[] for _ in texts]
    for part, number in sorted(parts.results):
        results[part].append(parts.results[part, number])
    return list(zip(parts.bundles, results, strict=True))


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
    [(bundle, results)] = receive_bundles(logbook, [text], at)
    return receipt(bundle, results)


def tally(results: list[LineResult]) -> Tally:
    """What became of a part's lines, counted.

    Args:
        results: as from `receive_bundles` [list of LineResult]

    Returns:
        {entries, photos: {status: count}, repeats, faults: [{line, detail}]}; statuses are of STATUSES, photos are
        counted once each, faults leave out what only waits for another line [Tally]
    """
    entries = dict.fromkeys(STATUSES, 0)
    photos: dict[str, str] = {}
    for one in results:
        if "photo" in one:
            photos[one["photo"]] = one["status"]
        else:
            entries[one["status"]] += 1
    statuses = list(photos.values())
    faults: list[LineFault] = [
        {"line": one["line"], "detail": one["problem"]["detail"]} for one in results if "problem" in one
    ]
    return {
        "entries": entries,
        "photos": {status: statuses.count(status) for status in STATUSES},
        "repeats": sum(1 for one in results if one.get("repeat") and "photo" not in one),
        "faults": faults,
    }
