"""The shell: the phone page's files, rulebook, rules and words, served from a list, and which of them a phone keeps.

Nothing outside the list is served, and nothing here knows what the files do.
"""

from __future__ import annotations

import gzip
import hashlib
import json
from dataclasses import dataclass
from functools import cache, cached_property
from html import escape
from pathlib import Path

import brotli
from flask import Blueprint, Response, current_app, request

from server.http import short_module
from server.http.help_texts import help_files
from server.http.later_files import later_files
from server.http.made import made
from server.http.problems import RequestFault
from server.http.served_module import served
from server.http.slim import slim
from sync import rulebook
from sync.emitter import emitted, sources
from sync.language.locales import accepted, chosen, words_tag

PWA = Path(__file__).resolve().parents[2] / "pwa"
TYPES = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".json": "application/json",
    ".webmanifest": "application/manifest+json",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".ico": "image/x-icon",
}
INDEX = "/"
WORKER = "/sw.js"
RULEBOOK = "/rulebook.json"
KERNEL = "/kernel.js"
MANIFEST = "/manifest.webmanifest"
# Where the page's list of languages is, beside the joined module.
LANGUAGES = "/language/chosen.js"
# The page's modules joined, beginning with what its first one needs. Each is also served separately, for a test or a
# person at the developer tools; the page doesn't ask for that.
ENTRY = "/app.js"
PAGE = "/page.js"
# The drawing from which a picture of the manifest was made; no page asks for it.
NOT_SERVED = "/icons/layby-maskable.svg"
# The pictures that a browser requests when it puts the page on the home screen, within reach of the desk.
PICTURES = ".png"
WORTH_PACKING = 256
# The last of eleven steps takes twice as long and saves two in a hundred, which a poor signal is glad of.
BROTLI = 11

pages = Blueprint("shell", __name__)


@dataclass(frozen=True)
class File:
    """One file as it is served."""

    content: bytes
    type: str

    @cached_property
    def sha256(self) -> str:
        """The hash of the content [64 hex digits]."""
        return hashlib.sha256(self.content).hexdigest()

    @cached_property
    def packings(self) -> dict[str, bytes]:
        """The content compressed in each way that a browser may accept, the smallest first; made when first requested.

        Browsers accept Brotli only over https, which is how a phone comes. Empty if compression saves nothing.
        """
        if len(self.content) < WORTH_PACKING or self.type.startswith("image/png"):
            return {}
        return _packed(self.content)


@cache
def _packed(content: bytes) -> dict[str, bytes]:
    """The same content is packed once in a process, and in none that is forked from it."""
    return {"br": brotli.compress(content, quality=BROTLI), "gzip": gzip.compress(content, 9, mtime=0)}


class AppShell:
    """All files by their path, the stock: the paths that a phone's worker keeps, and the version: a hash over these.

    `words` has the paths of the words by language; a worker keeps one of them.

    Args of the constructor:
        books: the rulebook's folder; the package's own if None [path]
        folder: the phone page's folder [path]

    Raises:
        page_module.Refused: the page's modules can't be joined.
    """

    def __init__(self, books: Path | None = None, folder: Path = PWA) -> None:
        paths = {"/" + path.relative_to(folder).as_posix(): path for path in sorted(folder.rglob("*"))}
        paths = {name: path for name, path in paths.items() if path.suffix in TYPES and path.is_file()}
        modules = {name: path.read_text("utf-8") for name, path in paths.items() if name.endswith(".js")}
        worker = modules.pop(WORKER, None)
        self.files: dict[str, File] = {
            name: File(slim(path.read_bytes(), path.suffix), TYPES[path.suffix])
            for name, path in paths.items()
            if name != NOT_SERVED
        }
        self.files[KERNEL] = File(slim(_rules().encode(), ".js"), TYPES[".js"])
        if ENTRY in modules:
            self.files[PAGE] = File(served("page.js", modules, ENTRY, {KERNEL: _rules()}), TYPES[".js"])
        if worker is not None:
            self.files[WORKER] = File(short_module.shortened(worker), TYPES[".js"])
        self.files[RULEBOOK] = File(rulebook.combined(books), TYPES[".json"])
        if "/index.html" in self.files:
            self.files[INDEX] = self.files.pop("/index.html")
        helps = {f"/help/{tag}.json": File(text, TYPES[".json"]) for tag, text in help_files(books).items()}
        apart = {*modules, KERNEL, WORKER}
        self.stock = [path for path in self.files if path not in apart and not path.endswith(PICTURES)]
        self.words = self._speak(books)
        helps |= {path: File(text, TYPES[".js"]) for path, text in later_files(modules, _rules(), books).items()}
        self.files |= helps  # a phone fetches one of each when it has time, and no worker keeps it
        for path in rulebook.files(books):
            self.files[f"/rulebook/{path.name}"] = File(path.read_bytes(), TYPES[".json"])
        self.version = self._digest(sorted({*self.stock, *helps, WORKER, *self.words.values()} & set(self.files)))[:16]
        self._fill(INDEX, b"LAYBY_VERSION", self.version)
        self._fill(WORKER, b'"LAYBY_FILES"', self._list())

    def _speak(self, books: Path | None) -> dict[str, str]:
        """Serve the words of each language, and fill in what the page has to say before it has loaded them."""
        texts = {tag: rulebook.words_of_phone(tag, books) for tag in rulebook.phone_languages(books)}
        paths = {tag: f"/words/{tag}.json" for tag in texts}
        for tag, path in paths.items():
            self.files[path] = File(texts[tag], TYPES[".json"])
        for path in (PAGE, LANGUAGES):
            self._fill(path, b'"LAYBY_LANGUAGES"', json.dumps([*texts]))
        start = {tag: json.loads(text)["phone"]["start"] for tag, text in texts.items() if "-" not in tag}
        for token in ("no_script", "failed"):
            said = [f'<p lang="{tag}">{escape(words[token])}</p>' for tag, words in start.items()]
            self._fill(INDEX, f"LAYBY_{token.upper()}".encode(), "".join(said))
        if rulebook.SPOKEN in start:
            description = start[rulebook.SPOKEN]["description"]
            self._fill(INDEX, b"LAYBY_DESCRIPTION", escape(description))
            self._fill(MANIFEST, b'"LAYBY_DESCRIPTION"', json.dumps(description))
        return paths

    def words_for(self, header: str) -> str | None:
        """The path of the words that a browser with this `Accept-Language` will most likely request [path or None]."""
        tag = chosen(accepted(header), self.words)
        return self.words.get(words_tag(tag)) or self.words.get(tag.split("-")[0])

    def _digest(self, paths: list[str]) -> str:
        """One hash over the paths and hashes of these files [64 hex digits]."""
        running = hashlib.sha256()
        for path in paths:
            running.update(f"{path} {self.files[path].sha256}\n".encode())
        return running.hexdigest()

    def _list(self) -> str:
        """What the worker keeps: all files or none, so one hash proves them all; and one language."""
        words = {tag: self.files[path].sha256 for tag, path in self.words.items()}
        listing = {
            "version": self.version, "sha256": self._digest(self.stock), "files": self.stock, "words": words,
        }
        return json.dumps(listing, separators=(",", ":"))

    def _fill(self, path: str, token: bytes, value: str) -> None:
        if path in self.files:
            file = self.files[path]
            self.files[path] = File(file.content.replace(token, value.encode()), file.type)


@cache
def _rules() -> str:
    """The rules, made from the kernel's Python."""
    return made("kernel.js", sources(), emitted)


def serve(path: str) -> Response:
    """A file of the list, checked with the desk each time, or a real 404.

    Raises:
        RequestFault: no_such_page.
    """
    shell: AppShell = current_app.extensions["layby"]["shell"]
    file = shell.files.get(path)
    if file is None:
        raise RequestFault("no_such_page", path=path[:200])
    packing = next((name for name in file.packings if request.accept_encodings[name] > 0), None)
    response = Response(file.packings[packing] if packing else file.content, content_type=file.type)
    if packing:
        response.headers["Content-Encoding"] = packing
    if file.packings:
        response.headers["Vary"] = "Accept-Encoding"
    response.headers["Cache-Control"] = "no-cache"
    response.set_etag(f"{file.sha256}-{packing}" if packing else file.sha256)
    response.make_conditional(request)
    return response


@pages.get("/")
@pages.get("/index.html")
@pages.get("/pair")
@pages.get("/visit/<uuid:visit>")
@pages.get("/visit/<uuid:visit>/<step>")
def index(visit: object = None, step: str = "") -> Response:
    """The phone page; it decides itself which visit and step to show.

    The words are announced in its head, if their language is known, so that they load beside its modules.
    """
    response = serve(INDEX)
    shell: AppShell = current_app.extensions["layby"]["shell"]
    words = shell.words_for(request.headers.get("Accept-Language", ""))
    if words is not None:
        response.headers["Link"] = f"<{words}>; rel=preload; as=fetch; crossorigin"
        response.vary.add("Accept-Language")
    return response


@pages.get("/<path:path>")
def file(path: str) -> Response:
    """Any other file of the list."""
    return serve("/" + path)
