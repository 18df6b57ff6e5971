"""The files for running several services: their formats are sound, and they start what there is.

Nothing here starts a container or a unit.
"""

from __future__ import annotations

import argparse
import configparser
import shutil
import sys
from pathlib import Path

import pytest
import yaml

from server.cli.main import _parser
from tests.support import children
from tests.support.service import ROOT

DEPLOY = ROOT / "server" / "deploy"


def accepted(words: list[str]) -> argparse.Namespace:
    """What the command line makes of the words after its own name; fails if it refuses them."""
    return _parser().parse_args(words)


def test_the_unit_starts_a_service_on_its_port(tmp_path: Path) -> None:
    """As systemd.service(5) has it; systemd itself finds no fault where it is here."""
    text = (DEPLOY / "layby@.service").read_text("utf-8")
    unit = configparser.RawConfigParser(strict=False)
    unit.optionxform = str  # type: ignore[method-assign,assignment]  # names keep their capitals
    unit.read_string(text)
    program, *words = unit["Service"]["ExecStart"].replace("%i", "8765").split()
    asked = accepted(words)
    assert (asked.work.__name__, asked.port) == ("serve", 8765)
    analyzer = shutil.which("systemd-analyze")
    if analyzer is not None:
        there = tmp_path / "layby@8765.service"
        there.write_text(text.replace(program, sys.executable), "utf-8")
        assert children.run([analyzer, "verify", str(there)]).stderr == ""


def test_the_containers_are_a_database_desks_and_a_balancer() -> None:
    """By the Compose Specification's names: every key is one of it, and the desk's command is one of Layby's."""
    tree = yaml.safe_load((DEPLOY / "compose.yaml").read_text("utf-8"))
    assert set(tree) == {"name", "services", "volumes"}
    services = tree["services"]
    assert set(services) == {"database", "desk", "balancer"}
    known = {"image", "build", "command", "environment", "volumes", "healthcheck", "restart", "depends_on", "ports"}
    assert [key for one in services.values() for key in one if key not in known] == []
    assert accepted(services["desk"]["command"][1:]).host == "0.0.0.0"
    named = {volume.partition(":")[0] for one in services.values() for volume in one.get("volumes", [])}
    assert named == set(tree["volumes"])
    assert "${DATABASE_PASSWORD}" in services["desk"]["environment"]["LAYBY_DATABASE"]


@pytest.mark.parametrize("name", ["compose.yaml", "layby@.service"])
def test_no_password_stands_in_them(name: str) -> None:
    """Only where one is to be written."""
    text = (DEPLOY / name).read_text("utf-8")
    assert "layby:layby" not in text
    assert text.startswith("# ")
