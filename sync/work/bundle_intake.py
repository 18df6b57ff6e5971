"""Files carried by hand: their content is taken in as from the network, and each line gets its answer.

Nothing here judges an operation or knows the frame of a part; `intake` and `bundle` do.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from pathlib import Path

from sync.errors import DiskFull, LaybyError
from sync.language.reader import words_of
from sync.records.logbook import Logbook
from sync.records.photos import PhotoAltered, PhotoStore
from sync.wire.bundle import FAULTS_LISTED, PART_BYTES, Bundle, Piece, digest, read, receipt
from sync.wire.faults import Scalar
from sync.wire.responses import LineFault, LineOfPhoto, LineResult, PhotoResult, Tally
from sync.wire.results import Problem, RepeatableResult
from sync.work import intake
from sync.work.intake import Refusal

# A line's place: which of the files given, and which line of it.
Place = tuple[int, int]
STATUSES = ("accepted", "conflict", "rejected", "deferred", "unreadable")


class FileTooLarge(LaybyError):
    """Files that are larger than any part of a bundle; `files` names them."""

    code = "file_too_large"


class _Parts:
    """Several parts that were given at once, and what has happened to each of their lines so far."""

    def __init__(self, logbook: Logbook, texts: list[bytes], at_ms: int, sender: str | None) -> None:
        self.logbook = logbook
        self.at_ms = at_ms
        self.sender = sender
        self.words = words_of(logbook.rulebook)
        self.bundles = [read(text) for text in texts]
        self.results: dict[Place, LineResult] = {}
        self.nameless: dict[int, int] = defaultdict(int)
        self.refused: dict[int, int] = defaultdict(int)

    def problem(self, code: str, **values: Scalar) -> Problem:
        """What is wrong, as code and sentence."""
        return {"code": code, "detail": self.words.error(Refusal(code, **values))}

    def name_the_unreadable(self) -> None:
        """Lines that are neither an op line nor a piece of a photo."""
        for part, bundle in enumerate(self.bundles):
            for number, code in bundle.faults.items():
                problem = self.problem(code)
                self.results[part, number] = {"line": number, "status": "unreadable", "problem": problem}
            if bundle.more:
                problem = self.problem("more_unreadable", count=bundle.more)
                self.results[part, bundle.more_from] = {
                    "line": bundle.more_from, "status": "unreadable", "count": bundle.more, "problem": problem}

    def file_lines(self) -> None:
        """The op lines of all parts; those that build on later ones are judged again once these are filed."""
        lines: dict[Place, bytes] = {}
        for part, bundle in enumerate(self.bundles):
            lines |= {(part, number): line for number, line in bundle.lines.items()}
        waiting = list(lines)
        while waiting:
            for start in range(0, len(waiting), intake.LINES_MOST):
                places = waiting[start : start + intake.LINES_MOST]
                results = intake.take(self.logbook, [lines[place] for place in places], self.at_ms, self.sender)
                for place, result in zip(places, results, strict=True):
                    self._note(place, result)
            still = [place for place in waiting if self._status(place) == "deferred"]
            waiting = still if len(still) < len(waiting) else []

    def _note(self, place: Place, result: RepeatableResult) -> None:
        """Keep what was answered; for lines without an id, which no phone can tell apart, ten and then their number."""
        if result["id"] is None and place not in self.results:
            self.nameless[place[0]] += 1
            if self.nameless[place[0]] > FAULTS_LISTED:
                self.bundles[place[0]].count(place[1], 1)
                return
        if "problem" in result and place not in self.results:
            self.refused[place[0]] += 1
        most = FAULTS_LISTED if self.refused[place[0]] <= FAULTS_LISTED else 1
        self.results[place] = {"line": place[1], **_with_faults(result, most)}

    def _status(self, place: Place) -> str | None:
        return self.results[place]["status"] if place in self.results else None

    def keep_photos(self) -> None:
        """The photos of all parts; each piece's answer is what happened to its photo."""
        places: dict[str, list[Place]] = defaultdict(list)
        for part, bundle in enumerate(self.bundles):
            for number, piece in bundle.pieces.items():
                places[piece.photo].append((part, number))
        store = PhotoStore(self.logbook.files)
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
            return {"status": "rejected", "problem": {"code": error.code, "detail": self.words.error(error)}}
        return {"status": "accepted", "repeat": False}

    def _whole(self, photo: str, places: list[Place]) -> bytes | None:
        """A photo's bytes, assembled from one part or from all; None if they aren't what their name says."""
        of_part: dict[int, list[Piece]] = defaultdict(list)
        for place in places:
            of_part[place[0]].append(self._piece(place))
        everything = [piece for pieces in of_part.values() for piece in pieces]
        for pieces in (*of_part.values(), everything):
            content = _joined(pieces)
            if content is not None and digest(content) == photo:
                return content
        return None


def _with_faults(result: RepeatableResult, most: int) -> RepeatableResult:
    """A result with at most this many of its faults; a line may have two hundred. The journal keeps them all."""
    problem = result.get("problem")
    if problem is None or "errors" not in problem:
        return result
    return {**result, "problem": {**problem, "errors": problem["errors"][:most]}}


def _append(store: PhotoStore, photo: str, content: bytes) -> None:
    """Give a complete photo to the store, which may hold a beginning of it from the network."""
    offset, length = store.offset(photo)
    start = offset if length == len(content) else 0
    try:
        store.append(photo, start, len(content), content[start:])
    except PhotoAltered:
        # The bytes given are verified, so the beginning was bad; the store has dropped it.
        store.append(photo, 0, len(content), content)


def _joined(pieces: list[Piece]) -> bytes | None:
    """Pieces in order of their offsets; None if they leave a gap. Of two at one offset the first counts."""
    content = bytearray()
    for piece in sorted(pieces, key=lambda piece: piece.offset):
        if piece.offset > len(content):
            return None
        if piece.offset == len(content):
            content += piece.content
    return bytes(content)


def texts_of(files: Iterable[Path]) -> list[bytes]:
    """The content of files that may be parts of a bundle [bytes each].

    Raises:
        FileTooLarge: some are larger than a part can be; nothing is read further.
        OSError: one can't be read.
    """
    texts, large = [], []
    for path in files:
        with path.open("rb") as file:
            text = file.read(PART_BYTES + 1)
        if len(text) > PART_BYTES:
            large.append(str(path))
        elif not large:
            texts.append(text)
    if large:
        raise FileTooLarge(files=", ".join(large), limit_mb=PART_BYTES // 1024**2)
    return texts


def receive_bundles(
    logbook: Logbook, texts: list[bytes], at: int, sender: str | None = None
) -> list[tuple[Bundle, list[LineResult]]]:
    """Take in files carried by hand, by the same rules as the network's batches; what isn't intact is named.

    Files given at once may come in any order and any number of times: what builds on a line of another file is judged
    again once that is filed, and a photo may be spread over several files.

    Args:
        logbook: the open logbook [Logbook]
        texts: the files as the phone wrote them, perhaps damaged on the way [list of bytes]
        at: when they came in [ms since 1970]
        sender: the device that hands them in over the network, which must own the entries; None for a person at the
            desk, who may bring any phone's [lower-case hex or None]

    Returns:
        for each file its content, and for each of its op lines {line, status, id, digest, repeat, problem?}, for a
        piece of a photo {line, status, photo, offset, repeat?, problem?}, for anything else {line, status "unreadable",
        problem}, at most ten of these and one more with the `count` of the others [(Bundle, list of LineResult) each]

    Raises:
        DiskFull, JournalFailed: what came before may be filed; the same files may be given again.
    """
    parts = _Parts(logbook, texts, at, sender)
    parts.file_lines()
    parts.keep_photos()
    parts.name_the_unreadable()
    results: list[list[LineResult]] = [[] for _ in texts]
    for part, number in sorted(parts.results):
        results[part].append(parts.results[part, number])
    return list(zip(parts.bundles, results, strict=True))


def receive_bundle(logbook: Logbook, text: bytes, at: int, sender: str | None = None) -> bytes:
    """Take in one file carried by hand.

    Args:
        logbook: the open logbook [Logbook]
        text: the file as the phone wrote it, perhaps damaged on the way [bytes]
        at: when it came in [ms since 1970]
        sender: as for `receive_bundles` [lower-case hex or None]

    Returns:
        the receipt file [UTF-8 bytes]

    Raises:
        DiskFull, JournalFailed: what came before may be filed; the same file may be given again.
    """
    [(bundle, results)] = receive_bundles(logbook, [text], at, sender)
    return receipt(bundle, results)


def _lines_told_of(result: LineResult) -> int:
    return result.get("count", 1) if result["status"] == "unreadable" else 1


def tally(results: list[LineResult]) -> Tally:
    """What happened to a part's lines, counted.

    Args:
        results: as from `receive_bundles` [list of LineResult]

    Returns:
        {entries, photos: {status: count}, repeats, faults: [{line, detail}], more}; statuses are those of STATUSES,
        photos are counted once each; the first ten faults are listed and `more` counts the others [Tally]
    """
    entries = dict.fromkeys(STATUSES, 0)
    photos: dict[str, str] = {}
    faults: list[LineFault] = []
    more = 0
    for one in results:
        count = _lines_told_of(one)
        if "photo" in one:
            photos[one["photo"]] = one["status"]
        else:
            entries[one["status"]] += count
        if "count" not in one and "problem" in one and len(faults) < FAULTS_LISTED:
            faults.append({"line": one["line"], "detail": one["problem"]["detail"]})
        elif "problem" in one:
            more += count
    statuses = list(photos.values())
    return {
        "entries": entries,
        "photos": {status: statuses.count(status) for status in STATUSES},
        "repeats": sum(1 for one in results if one.get("repeat") and "photo" not in one),
        "faults": faults,
        "more": more,
    }
