"""Layby as a wheel, installed elsewhere: the command runs and finds its page and its rulebook without the checkout.

Other tests cover what the page does; here it only has to arrive.
"""

from __future__ import annotations

import json
import sys
import sysconfig
import zipfile
from pathlib import Path

import pytest

from tests.support import children
from tests.support.service import ROOT, Service

ASSETS = (
    "pwa/index.html",
    "pwa/app.js",
    "pwa/sw.js",
    "sync/kernel/fold.py",
    "sync/emitter/runtime.js",
    "sync/rulebook/units.json",
)


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built from the checkout."""
    place = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "hatchling", "build", "--target", "wheel", "--directory", str(place)]
    children.run(build, cwd=ROOT, check=True)
    return next(place.glob("layby-*.whl"))


@pytest.fixture(scope="module")
def elsewhere(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An environment away from the checkout with the wheel in it; this environment lends its dependencies."""
    place = tmp_path_factory.mktemp("elsewhere") / "venv"
    children.run([sys.executable, "-m", "venv", "--without-pip", str(place)], check=True)
    scripts = place / ("Scripts" if sys.platform == "win32" else "bin")
    python = str(scripts / "python")
    install = [sys.executable, "-m", "pip", "--python", python, "install", "--no-deps", "--no-index", str(wheel)]
    children.run(install, check=True)
    ask = "import sysconfig; print(sysconfig.get_path('purelib'))"
    asked = children.run([python, "-c", ask], check=True)
    # A folder named in a .pth file is searched, but .pth files in it aren't read, so this checkout stays out of sight.
    Path(asked.stdout.strip(), "lent.pth").write_text(sysconfig.get_path("purelib") + "\n", "utf-8")
    return scripts


def test_the_wheel_holds_the_assets(wheel: Path) -> None:
    """Page, service worker, kernels and rulebook are packed beside the Python code; tests and demo aren't."""
    with zipfile.ZipFile(wheel) as packed:
        names = set(packed.namelist())
    assert names >= set(ASSETS)
    assert {name.split("/")[0] for name in names} <= {"server", "sync", "reports", "pwa", "layby-0.1.0.dist-info"}
    committed = {path.relative_to(ROOT).as_posix() for path in (ROOT / "sync" / "rulebook").glob("*.json")}
    assert committed <= names


def test_the_installed_code_is_not_the_checkout(elsewhere: Path, tmp_path: Path) -> None:
    """The other environment finds the packages in itself."""
    ask = "import server, sync, reports; print(server.__file__, sync.__file__, reports.__file__)"
    told = children.run([elsewhere / "python", "-c", ask], cwd=tmp_path, check=True)
    assert all(Path(path).is_relative_to(elsewhere.parent) for path in told.stdout.split())


def test_the_installed_service_serves_page_and_rulebook(elsewhere: Path, folder: Path) -> None:
    """`layby serve` from the wheel answers with a file of the page and a book of the rulebook, byte for byte."""
    service = Service(folder, command=elsewhere / "layby", cwd=folder.parent).start()
    try:
        status, _, picture = service.get("/icons/layby-192.png")
        assert (status, picture) == (200, (ROOT / "pwa" / "icons" / "layby-192.png").read_bytes())
        status, _, book = service.get("/rulebook/units.json")
        assert status == 200
        assert json.loads(book) == json.loads((ROOT / "sync" / "rulebook" / "units.json").read_text("utf-8"))
    finally:
        service.stop()
