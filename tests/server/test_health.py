"""Health, figures and log lines: for whatever passes requests on, counts them or collects what is logged."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from urllib.request import Request

import pytest

from tests.support.ops import Phone, line_of
from tests.support.service import Service

KEY = "a key of at least some length"


@pytest.fixture
def watched(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Service]:
    """A service whose figures and log lines are wanted."""
    monkeypatch.setenv("LAYBY_METRICS_KEY", KEY)
    monkeypatch.setenv("LAYBY_LOG", "json")
    running = Service(tmp_path / "layby").start()
    yield running
    running.stop()


def asked(service: Service, path: str, key: str = "") -> tuple[int, str]:
    """Status and text of an answer to whoever shows this key."""
    headers = {"Authorization": f"Bearer {key}"} if key else {}
    status, _, content = service._ask(Request(service.url + path, headers=headers))
    return status, content.decode()


def test_a_sound_service_says_so_to_everybody(watched: Service) -> None:
    """Without any key, and nothing else."""
    assert asked(watched, "/health") == (200, "ok\n")


def test_figures_count_every_request_and_name_nobody(watched: Service) -> None:
    """By route, method and status, in the text format of Prometheus (its "Exposition formats"); only with the key."""
    phone = Phone("a1de")
    for _ in range(3):
        assert watched.post("/sync", line_of(phone.opening(phone.new_id())))[0] == 200
    assert watched.post("/sync", b"nothing")[0] == 400
    assert asked(watched, "/nowhere")[0] == 404
    for key in ("", "another", KEY[:-1]):
        assert asked(watched, "/metrics", key)[0] == 401
    status, text = asked(watched, "/metrics", KEY)
    assert status == 200
    found = {name: float(value) for name, value in re.findall(r"^(layby_\S+) (\S+)$", text, re.MULTILINE)}
    assert found['layby_requests_total{method="POST",route="/sync",status="200"}'] == 3
    assert found['layby_requests_total{method="POST",route="/sync",status="400"}'] == 1
    assert found['layby_requests_total{method="GET",route="/metrics",status="401"}'] == 3
    assert found['layby_request_seconds_count{method="POST",route="/sync"}'] == 4
    assert "a1de" not in text


def test_log_lines_are_json_and_name_nobody(watched: Service) -> None:
    """Each line an object with its time, its level and where it comes from; a request's with status and time taken."""
    phone = Phone("a1de")
    assert watched.post("/sync", line_of(phone.opening(phone.new_id())))[0] == 200
    assert asked(watched, "/desk/find?text=secret-name")[0] == 401
    watched.stop()
    said = watched.log.read_text("utf-8")
    lines = [json.loads(line) for line in said.splitlines() if line.startswith("{")]
    answers = [line for line in lines if line["of"] == "layby.requests"]
    assert {("POST", "/sync", 200), ("GET", "/desk/find", 401)} <= {
        (line["method"], line["route"], line["status"]) for line in answers}
    assert all(line["ms"] >= 0 and line["level"] == "info" and line["at"].endswith("+00:00") for line in answers)
    assert "secret-name" not in said
    assert "a1de" not in said


def test_without_a_key_there_are_no_figures(tmp_path: Path) -> None:
    """Neither for the owner's key nor for an empty one."""
    running = Service(tmp_path / "layby").start()
    for headers in ({}, {"Authorization": "Bearer "}, running._owner()):
        assert running._ask(Request(running.url + "/metrics", headers=headers))[0] == 401
    running.stop()

