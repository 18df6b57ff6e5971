"""The business's logo: uploaded, replaced, refused and removed at the desk, and printed on the sheets from then on.

A real service, real files; the logos are drawn here. Read back with pypdf, an independent reader.
"""

from __future__ import annotations

import http.client
import stat
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image, ImageDraw
from pypdf import PdfReader

from tests.reports.test_sheet import roles
from tests.server.test_login import layby
from tests.server.test_preview import picture as page_shown
from tests.support import children
from tests.support.desk_pages import form_of, plain, read
from tests.support.ops import Phone, body_of
from tests.support.service import PATIENCE_S, Service
from tests.support.visitor import Visitor

LOGO = "/desk/do/logo"
OPEN = "/desk/settings?open=business.logo"


def drawn(width: int, height: int, kind: str = "PNG") -> bytes:
    """A ring and a bar, as large as asked for."""
    picture = Image.new("RGB", (width, height), "white")
    pen = ImageDraw.Draw(picture)
    pen.ellipse((2, 2, height - 3, height - 3), outline="navy", width=max(1, height // 9))
    pen.rectangle((height // 3, height // 3, width - 3, height // 2), fill="firebrick")
    out = BytesIO()
    picture.save(out, kind)
    return out.getvalue()


WIDE, SQUARE = drawn(640, 160), drawn(200, 200, "WEBP")
_huge = BytesIO()
Image.new("1", (8000, 5001)).save(_huge, "PNG")
HUGE = _huge.getvalue()


@pytest.fixture(autouse=True)
def _no_logo(desk: Service) -> None:
    """Each test begins without one."""
    (desk.folder / "logo").unlink(missing_ok=True)


def chosen(visitor: Visitor, content: bytes | None) -> tuple[int, str]:
    """A file chosen in the row's form and saved [status, page or address]."""
    fields = form_of(visitor.ask("GET", OPEN)[2], LOGO)
    fields.pop("file")
    status, headers, text = visitor.upload(LOGO, content, **fields)
    return status, headers["Location"] if status == 303 else text


def sheet_of(desk: Service, visitor: Visitor, visit: str) -> PdfReader:
    """The newest sheet of a visit, made if it isn't yet, and read back."""
    connection = http.client.HTTPConnection("127.0.0.1", desk.desk_port, timeout=PATIENCE_S)
    connection.request("GET", f"/sheets/{visit}.pdf", headers={"Cookie": visitor.cookie})
    answer = connection.getresponse()
    content = answer.read()
    connection.close()
    assert answer.status == 200, content
    return PdfReader(BytesIO(content))


def figures_of(reader: PdfReader) -> list[str]:
    """What the pictures of a sheet are said to show."""
    return [str(node["/Alt"]) for role, node in roles(reader) if role == "/Figure"]


def sizes_of(reader: PdfReader) -> list[tuple[int, int]]:
    """The pictures inside page one [px, px each]."""
    return [one.image.size for one in reader.pages[0].images if one.image]


def test_a_logo_is_uploaded_replaced_and_removed(desk: Service, visitor: Visitor) -> None:
    """The file is kept as it was, for its owner alone; the row tells what it is and shows it."""
    row = "Logo not set"
    assert row in read(visitor, "/desk/settings")
    for content, told in ((WIDE, "PNG, 640 × 160 px"), (SQUARE, "WebP, 200 × 200 px")):
        assert chosen(visitor, content) == (303, "/desk/settings?set=saved#part-business")
        assert (desk.folder / "logo").read_bytes() == content
        assert stat.S_IMODE((desk.folder / "logo").stat().st_mode) == 0o600
        assert f"Logo {told}" in read(visitor, "/desk/settings")
        status, headers, _ = visitor.ask("GET", "/desk/logo")
        assert (status, headers["Content-Type"]) == (200, f"image/{told.split(',')[0].lower()}")
    seen = form_of(visitor.ask("GET", OPEN)[2], "/desk/do/unset")["seen"]
    assert visitor.press("/desk/do/unset", row="business.logo", seen="0" * 16)[0] == 409
    assert visitor.press("/desk/do/unset", row="business.logo", seen=seen)[0] == 303
    assert not (desk.folder / "logo").exists()
    assert row in read(visitor, "/desk/settings")
    assert visitor.ask("GET", "/desk/logo")[0] == 404
    assert not (desk.folder / "settings.json").exists(), "the other settings were not touched"


@pytest.mark.parametrize(("content", "told"), [
    (None, "Choose a JPEG, PNG or WebP file."), (b"<svg/>", "isn't a JPEG, PNG or WebP picture"),
    (drawn(90, 30, "GIF"), "isn't a JPEG, PNG or WebP picture"), (WIDE + bytes(2_000_000), "larger than 2 MB"),
    (HUGE, "more than 40 million pixels"),
], ids=("none", "markup", "gif", "large", "pixels"))  # fmt: skip
def test_what_cannot_be_printed_is_refused_in_words(
    desk: Service, visitor: Visitor, content: bytes | None, told: str
) -> None:
    """Beside its field, with what to do; the logo before it stays."""
    assert chosen(visitor, SQUARE)[0] == 303
    status, text = chosen(visitor, content)
    assert (status, told in plain(text)) == (422, True)
    assert 'id="fault-logo.file"' in text
    assert "Nothing was saved, and the logo is as it was before." in plain(text)
    assert (desk.folder / "logo").read_bytes() == SQUARE


def test_only_a_file_sent_from_the_page_counts(desk: Service, visitor: Visitor) -> None:
    """A path typed into the form of another row opens nothing; a stale page replaces nothing; nor does a stranger."""
    seen = form_of(visitor.ask("GET", OPEN)[2], LOGO)["seen"]
    typed = {"row": "business.logo", "seen": seen, "logo.file": str(desk.folder / "journal.log")}
    assert visitor.press("/desk/do/set", **typed)[0] == 422
    assert visitor.upload(LOGO, WIDE, row="business.logo", seen="0" * 16)[0] == 409
    assert Visitor(desk).ask("GET", "/desk/logo")[1]["Location"] == "/desk/sign-in"
    assert not (desk.folder / "logo").exists()


def test_the_command_does_the_same(desk: Service, tmp_path: Path) -> None:
    """It takes the path of a file, says what is wrong with one, and removes it."""
    (tmp_path / "wide.png").write_bytes(WIDE)
    (tmp_path / "note.txt").write_text("no picture", "utf-8")
    assert layby(desk, "settings", "business.logo", f"logo.file={tmp_path / 'wide.png'}").strip() == "Saved."
    assert (desk.folder / "logo").read_bytes() == WIDE
    assert "logo.file: PNG, 640 × 160 px" in layby(desk, "settings", "business.logo")
    command = [str(desk.command), "--folder", str(desk.folder), "settings", "business.logo"]
    for name, told in (("note.txt", "isn't a JPEG, PNG or WebP picture"), ("gone.png", "gone.png")):
        refused = children.run([*command, f"logo.file={tmp_path / name}"])
        assert refused.returncode != 0
        assert told in refused.stderr
    assert layby(desk, "settings", "business.logo", "--remove").strip() == "Saved."
    assert not (desk.folder / "logo").exists()


def test_a_sheet_shows_the_logo_and_a_later_one_makes_a_new_revision(desk: Service, visitor: Visitor) -> None:
    """Said to be the business's; the preview shows another one before a sheet is made, and earlier sheets stay."""
    layby(desk, "settings", "business.name", "technician.business=Alder Coast")
    phone = Phone("7e5710")
    visit = phone.new_id()
    assert desk.post("/sync", body_of(phone.opening(visit)))[0] == 200
    bare = figures_of(sheet_of(desk, visitor, visit))
    assert "Alder Coast" not in bare
    assert chosen(visitor, WIDE)[0] == 303
    reader, before = sheet_of(desk, visitor, visit), page_shown(desk, visitor, visit)
    assert figures_of(reader) == ["Alder Coast", *bare]
    assert sizes_of(reader) == [(640, 160)]
    assert chosen(visitor, SQUARE)[0] == 303
    assert page_shown(desk, visitor, visit) != before
    for number, status in ((1, 200), (2, 200), (3, 404)):
        assert visitor.ask("GET", f"/desk/revision.pdf?id={visit}&number={number}")[0] == status
    (desk.folder / "settings.json").unlink()
