"""The shell: what the phone downloads is listed with its hashes, and what is listed is served."""

from __future__ import annotations

import gzip
import hashlib
import json
import re
import urllib.request
from pathlib import Path
from typing import Any

import brotli
import pytest

from server.http.app_shell import AppShell
from sync import rulebook as books
from tests.bench.bench_phone import download
from tests.support.ops import uuid7
from tests.support.service import ROOT, Service


def listed(worker: bytes) -> dict[str, Any]:
    """The list that the service worker carries."""
    found = re.search(rb'const shell=(\{"version".*?\});', worker)
    assert found is not None
    told: dict[str, Any] = json.loads(found[1])
    return told


def without_notes(value: Any) -> Any:
    """A book without its notes about itself."""
    if not isinstance(value, dict):
        return value
    return {name: without_notes(inner) for name, inner in value.items() if not name.startswith("about")}


def test_every_listed_file_is_served_as_listed(service: Service) -> None:
    """Together they have the hash of the list; each has its own ETag and is requested each time."""
    status, headers, worker = service.get("/sw.js")
    assert (status, headers["Cache-Control"]) == (200, "no-cache")
    told, whole = listed(worker), hashlib.sha256()
    for tag, digest in told["words"].items():
        status, headers, content = service.get(f"/words/{tag}.json")
        assert (status, hashlib.sha256(content).hexdigest(), json.loads(content)["language"]) == (200, digest, tag)
    for path in told["files"]:
        status, headers, content = service.get(path)
        digest = hashlib.sha256(content).hexdigest()
        assert (status, headers["ETag"]) == (200, f'"{digest}"'), path
        assert headers["Cache-Control"] == "no-cache"
        whole.update(f"{path} {digest}\n".encode())
    assert whole.hexdigest() == told["sha256"]
    assert set(told["files"]) == {
        "/", "/page.js", "/rulebook.json", "/style.css", "/manifest.webmanifest", "/icons/layby.svg",
    }  # fmt: skip


def test_all_that_the_page_names_is_kept_but_for_the_pictures_of_an_installation(service: Service) -> None:
    """The browser loads those when it puts the page on the home screen; without them each newer page is smaller."""
    texts = [service.get(path)[2].decode() for path in ("/", "/manifest.webmanifest")]
    paths = {path for text in texts for path in re.findall(r'(?:href|src)"?[=:] ?"(/[^"]+)"', text)}
    pictures = {path for path in paths if path.endswith(".png")}
    assert len(pictures) == 3
    assert paths - pictures <= set(listed(service.get("/sw.js")[2])["files"])
    for path in pictures:
        status, headers, content = service.get(path)
        assert (status, headers["Content-Type"], content[:4]) == (200, "image/png", b"\x89PNG")


def test_the_page_bears_the_version_of_the_list(service: Service) -> None:
    """At every address that a visit may have."""
    version = listed(service.get("/sw.js")[2])["version"]
    for path in ("/", "/index.html", f"/visit/{uuid7(5, 5)}", f"/visit/{uuid7(5, 5)}/before"):
        status, headers, content = service.get(path)
        assert (status, headers["Content-Type"]) == (200, "text/html; charset=utf-8")
        assert f'name="layby-version" content="{version}"'.encode() in content
        assert b"LAYBY_VERSION" not in content


def comment_lines(written: list[bytes]) -> set[int]:
    """The numbers of the lines that contain only a comment, of one line or of several."""
    numbers: set[int] = set()
    within = False
    for number, line in enumerate(written):
        text = line.strip()
        opens = text.startswith(b"/*") and (text.endswith(b"*/") or b"*/" not in text)
        if within or opens or text.startswith(b"//"):
            numbers.add(number)
        within = (within or opens) and b"*/" not in text
    return numbers


def test_a_comment_that_has_its_lines_to_itself_is_left_out_and_so_is_a_type(tmp_path: Path) -> None:
    """Anything else beside code, or in a text, is served as written."""
    (tmp_path / "odd.js").write_text(
        "// a line /* that opens nothing\n"
        "const one = 1;\n"
        "  /**\n"
        "   * @param {string} text  two * stars ** and a / stroke\n"
        "   **/\n"
        "  const two = /** @type {number} */ (one);\n"
        "/** @type {number} */ (two).toFixed();\n"
        "/* alone */\n"
        "/* one */ const three = 3; /* another */\n"
        'const text = "/* no comment */ // nor this";\n',
        "utf-8",
    )
    assert AppShell(folder=tmp_path).files["/odd.js"].content.decode().split("\n") == [
        "const one = 1;",
        "const two = (one);",
        "(two).toFixed();",
        "/* one */ const three = 3; /* another */",
        'const text = "/* no comment */ // nor this";',
        "",
    ]


def test_a_module_is_served_without_comments_and_white_space_in_front(service: Service) -> None:
    """Every other line is the file's own, except for types; no line begins within a text of several lines."""
    for path in sorted((ROOT / "pwa").rglob("*/*.js")):
        written = path.read_bytes().split(b"\n")
        served = service.get("/" + path.relative_to(ROOT / "pwa").as_posix())[2].split(b"\n")
        comments = comment_lines(written)
        code = [line.strip() for number, line in enumerate(written) if number not in comments]
        kept = [re.sub(rb"/\*\* @type .*?\*/ ?", b"", line) for line in code if line]
        filled = [number for number, line in enumerate(kept) if b'"LAYBY_' in line]
        served = [line for line in served if line]
        for number in filled:
            assert re.fullmatch(re.sub(rb'"LAYBY_\w+"', rb".+", kept[number]), served[number])
        assert [line for number, line in enumerate(served) if number not in filled] == [
            line for number, line in enumerate(kept) if number not in filled
        ]
        for number in range(len(written)):
            assert b"\n".join(written[:number]).count(b"`") % 2 == 0, (path.name, number)


def test_the_page_asks_for_its_one_module(service: Service) -> None:
    """No module is requested only after another has been read."""
    addresses = re.findall(r'<script type="module" src="([^"]+)">', service.get("/")[2].decode())
    assert addresses == [path for path in listed(service.get("/sw.js")[2])["files"] if path.endswith(".js")]


def test_the_rulebook_is_served_for_the_phone_and_book_by_book(service: Service) -> None:
    """All that judges is what the desk itself reads, without notes; each book is the committed file to the byte."""
    served, whole = json.loads(service.get("/rulebook.json")[2]), books.load()
    assert served["hash"] == whole["hash"]
    assert set(served) == set(whole) - {"words", "words_hash", "sheet_layout"}
    assert served["yardsticks"] == {
        name: part for name, part in without_notes(whole["yardsticks"]).items() if name != "published"
    }
    for name in set(served) - {"hash", "yardsticks", "fields"}:
        assert served[name] == without_notes(whole[name]), name
    for path in books.files():
        assert service.get(f"/rulebook/{path.name}")[2] == path.read_bytes()


def test_of_the_fields_those_are_served_that_the_phone_asks_for_or_judges(service: Service) -> None:
    """Each as in the book, except its row on the sheet; the others have neither a step nor a range."""
    served, whole = json.loads(service.get("/rulebook.json")[2])["fields"], books.load()["fields"]["scopes"]
    left = 0
    for scope, rows in without_notes(whole).items():
        for path, row in rows.items():
            one = served["scopes"].get(scope, {}).get(path)
            left += one is None
            desk = {"required", "sheet"} if one is not None else {"step", "range"}
            assert one in (None, {key: row[key] for key in row if key not in desk}), path
            assert one is not None or not desk & set(row), path
    assert left
    assert list(served) == ["scopes"]


def test_a_whole_number_travels_without_a_fraction() -> None:
    """It is the same number to JavaScript (ECMA-262, 6.1.6.1); the desk's own books keep theirs."""
    fractions: list[str] = []
    json.loads(books.combined(), parse_float=lambda text: fractions.append(text) or text)
    assert fractions
    assert not [text for text in fractions if float(text).is_integer()]


def test_an_unchanged_file_is_not_sent_again(service: Service) -> None:
    """304 for the given ETag, compressed or not."""
    unpacked = {"identity": bytes, "gzip": gzip.decompress, "gzip, deflate, br": brotli.decompress}
    for accepted, unpack in unpacked.items():
        request = urllib.request.Request(service.url + "/rulebook.json", headers={"Accept-Encoding": accepted})
        with urllib.request.urlopen(request) as answer:
            content, etag = answer.read(), answer.headers["ETag"]
            assert answer.headers["Vary"] == "Accept-Encoding"
            if accepted != "identity":
                assert answer.headers["Content-Encoding"] == accepted.rpartition(", ")[2]
                assert len(content) < 100_000
        assert unpack(content) == books.combined()
        request.add_header("If-None-Match", etag)
        status, _, content = service._ask(request)
        assert (status, content) == (304, b"")


def test_any_change_is_another_version(tmp_path: Path) -> None:
    """A byte in a script, another name, a book: the version differs; the same content again: it doesn't."""
    page, book = tmp_path / "pwa", tmp_path / "books"
    page.mkdir()
    book.mkdir()
    (page / "index.html").write_text("LAYBY_VERSION")
    (page / "app.js").write_text("1")
    (book / "units.json").write_text("{}")
    versions = [AppShell(book, page).version, AppShell(book, page).version]
    assert versions[0] == versions[1]
    (page / "app.js").write_text("2")
    versions.append(AppShell(book, page).version)
    (page / "app.js").rename(page / "main.js")
    versions.append(AppShell(book, page).version)
    (book / "units.json").write_text('{"a": 1}')
    versions.append(AppShell(book, page).version)
    (page / "index.html").write_text("LAYBY_VERSION!")
    versions.append(AppShell(book, page).version)
    assert len(set(versions)) == 5
    assert AppShell(book, page).files["/"].content == f"{versions[-1]}!".encode()


def test_the_words_of_a_language_are_served_whole(service: Service) -> None:
    """Only the books that a phone reads, as committed."""
    status, headers, content = service.get("/words/en.json")
    assert (status, headers["Content-Type"], headers["Cache-Control"]) == (200, "application/json", "no-cache")
    served = json.loads(content)
    assert served.pop("language") == "en"
    assert served == {name: books.load()["words"]["en"][name] for name in books.PHONE_WORDS}


def book_of_words(place: Path, **languages: dict[str, Any]) -> Path:
    """A folder of books with these words, and nothing else [path]."""
    for language, named in languages.items():
        folder = place / "words" / language.replace("_", "-")
        folder.mkdir(parents=True)
        for name, book in named.items():
            (folder / f"{name}.json").write_text(json.dumps(book), "utf-8")
    return place


START = {"start": {"description": "A book & more", "no_script": "Turn it on.", "failed": "Load it again."}}
ANFANG = {"start": {"description": "Ein Buch", "no_script": "Bitte einschalten.", "failed": "Neu laden."}}


def test_a_language_without_words_for_the_screens_is_not_offered(tmp_path: Path) -> None:
    """Half of its screens would be in English; a region says what differs, and the rest is its language's."""
    english = {"phone": START, "terms": {"colour": "colour", "hood": "bonnet"}}
    folder = book_of_words(
        tmp_path, en=english, en_US={"terms": {"colour": "color"}}, de={"phone": ANFANG}, es={"terms": {"x": "y"}},
    )
    shell = AppShell(folder)
    assert set(shell.words) == {"de", "en", "en-US"}
    american = json.loads(shell.files["/words/en-US.json"].content)
    assert american == {"language": "en-US", "phone": START, "terms": {"colour": "color", "hood": "bonnet"}}
    page, manifest = (shell.files[path].content.decode() for path in ("/", "/manifest.webmanifest"))
    assert '<p lang="de">Bitte einschalten.</p><p lang="en">Turn it on.</p></noscript>' in page
    assert '<p lang="de">Neu laden.</p><p lang="en">Load it again.</p></div>' in page
    assert 'content="A book &amp; more"' in page
    assert json.loads(manifest)["description"] == "A book & more"
    for path in ("/page.js", "/language/chosen.js"):
        code = shell.files[path].content.decode().replace(" ", "")
        assert '=["de","en","en-US"];' in code, path


@pytest.mark.parametrize(("wanted", "path"), [
    ("en-US,en;q=0.9", "/words/en-US.json"), ("pt-BR, en-GB;q=0.5", "/words/en.json"), ("", "/words/en.json"),
])
def test_the_words_are_named_ahead_in_the_head_of_the_page(wanted: str, path: str, service: Service) -> None:
    """By the browser's first preference, so that they load beside the page's modules."""
    request = urllib.request.Request(service.url, headers={"Accept-Language": wanted})
    with urllib.request.urlopen(request) as answer:
        assert answer.headers["Link"] == f"<{path}>; rel=preload; as=fetch; crossorigin"
        assert "Accept-Language" in answer.headers["Vary"]


def test_an_american_phone_is_named_american_words_ahead(tmp_path: Path) -> None:
    """Where there are such; a region of Spanish gets the Spanish ones."""
    shell = AppShell(book_of_words(tmp_path, en={"phone": START}, en_US={"phone": {}}, es={"phone": ANFANG}))
    assert shell.words_for("en-US") == "/words/en-US.json"
    assert shell.words_for("es-MX,en;q=0.5") == "/words/es.json"
    assert shell.words_for("fr") == "/words/en.json"


def test_what_a_phone_downloads_stays_small() -> None:
    """Compressed, with the rulebook and all pictures: an afternoon's poor signal has to be enough."""
    assert download()[0] <= 140_000
