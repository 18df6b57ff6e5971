"""The reader's language, over real HTTP and real commands: by `--lang`, by the environment, by `Accept-Language`.

The results are compared with the words' own books; tests/house/test_words.py checks that those are complete.
"""

from __future__ import annotations

import json
import os
import re
from pathlib import Path
from typing import Any
from urllib.request import Request, urlopen

import pytest

from server.cli.language import language_of
from sync.language.words import Words
from tests.support import children
from tests.support.ops import Phone, body_of
from tests.support.service import LAYBY, PATIENCE_S, Service
from tests.support.visitor import Visitor, wait_for_key

# The system's language settings must not leak in from the machine that the tests run on.
QUIET = {name: value for name, value in os.environ.items() if not name.startswith(("LC_", "LANG", "LAYBY_LANGUAGE"))}
VISIT = "00000000-0000-7000-8000-000000000001"


def layby(folder: Path, *words: str, **environment: str) -> children.CompletedProcess[str]:
    """A command on a folder, in an environment without any other language setting."""
    return children.run([LAYBY, "--folder", folder, *words], env={**QUIET, **environment})


@pytest.mark.parametrize(("typed", "environment", "language"), [
    ([], {}, "en"),
    ([], {"LANG": "es_MX.UTF-8"}, "es-MX"),
    ([], {"LANG": "es_ES.UTF-8", "LC_ALL": "C.UTF-8"}, "en"),
    ([], {"LANG": "es_ES", "LC_MESSAGES": "POSIX"}, "en"),
    ([], {"LANG": "es_ES", "LC_ALL": ""}, "es-ES"),
    ([], {"LANG": "en_US.UTF-8", "LAYBY_LANGUAGE": "es"}, "es"),
    (["--lang", "es", "check"], {"LAYBY_LANGUAGE": "en"}, "es"),
    (["--lang=en-US"], {"LANG": "es"}, "en-US"),
    (["--lang"], {"LANG": "es"}, "es"),
    ([], {"LANG": "xx_YY"}, "en"),
])
def test_a_command_takes_the_first_that_says_a_language(
    typed: list[str], environment: dict[str, str], language: str
) -> None:
    """The option, Layby's own variable, then the system's in the order of POSIX.1-2017, 8.2; C means English."""
    assert language_of(typed, environment) == language


def test_a_command_speaks_the_language_it_is_asked_for(folder: Path, rulebook: dict[str, Any]) -> None:
    """Its help, the parser's own errors and Layby's errors."""
    spanish = Words(rulebook["words"], "es")
    told = layby(folder, "--lang", "es", "--help").stdout
    assert told.startswith("uso: layby")
    assert "usage" not in told
    assert spanish.say("commands.help.evening").rstrip(".") in " ".join(told.split())
    assert "faltan estos argumentos" in layby(folder, "--lang", "es", "sheet").stderr
    wrong = layby(folder, "sheet", VISIT, LAYBY_LANGUAGE="es")
    assert (wrong.returncode, wrong.stderr) == (2, f"layby: {spanish.say('errors.unknown_visit', visit=VISIT)}\n")
    assert layby(folder, "sheet", VISIT, LANG="C").stderr == f"layby: Visit {VISIT} isn't on file.\n"


def test_a_command_that_the_service_carries_out_keeps_its_language(service: Service, rulebook: dict[str, Any]) -> None:
    """The service was started in English; its answer is in the command's language."""
    spanish = Words(rulebook["words"], "es")
    detail = spanish.say("errors.unknown_visit", visit=VISIT)
    done = layby(service.folder, "--lang", "es", "sheet", VISIT)
    assert done.stderr == f"layby: {spanish.say('errors.handed_back', detail=detail)}\n"


@pytest.mark.parametrize(("wanted", "language"), [
    ("es", "es"), ("es-MX,en;q=0.5", "es-MX"), ("fr, es;q=0.4, en;q=0.9", "en"), ("fr", "en"), (";;,q=", "en"),
])
def test_a_problem_is_said_in_the_language_asked_for(
    service: Service, rulebook: dict[str, Any], wanted: str, language: str
) -> None:
    """RFC 9110, 12.5.4 and 8.5; caches must keep them apart."""
    status, headers, text = Visitor(service).ask("POST", "/sync", None, Accept_Language=wanted)
    assert (status, headers["Content-Language"]) == (401, language)
    assert "Accept-Language" in headers["Vary"]
    assert json.loads(text)["detail"] == Words(rulebook["words"], language).say("errors.not_paired")


def test_a_page_is_in_the_language_that_its_browser_asks_for(service: Service, rulebook: dict[str, Any]) -> None:
    """Its document says so too, and its day is written as in that language."""
    wait_for_key(service)
    visitor = Visitor(service).first()
    status, headers, text = visitor.ask("GET", "/desk?day=2026-06-12", Accept_Language="es-ES,es;q=0.9")
    assert (status, headers["Content-Language"]) == (200, "es-ES")
    assert '<html lang="es-ES">' in text
    assert "<h1>Viernes, 12 de junio de 2026</h1>" in text
    assert Words(rulebook["words"], "es").say("desk.day.none") in text
    _, _, text = visitor.ask("GET", "/desk?day=never", Accept_Language="es")
    assert Words(rulebook["words"], "es").say("desk.fault.title") in text
    assert '<html lang="en">' in visitor.ask("GET", "/desk/phones")[2]


def test_every_page_is_whole_in_spanish(service: Service) -> None:
    """No page fails because of a missing sentence, and none leaves a blank open."""
    wait_for_key(service)
    visitor = Visitor(service)
    for path in ("/desk/first", "/desk/passphrase?key=x"):
        assert visitor.ask("GET", path, Accept_Language="es")[0] == 200
    visitor.first()
    phone = Phone()
    visit = phone.new_id()
    assert service.post("/sync", body_of(phone.opening(visit), phone.plate(visit, "LT 482")))[0] == 200
    for path in ("/desk?day=2026-06-12", "/desk/search?text=LT482", "/desk/search?text=none", "/desk/post",
                 "/desk/phones", "/desk/carry", "/desk/books", "/desk/books?book=day", "/desk/conflicts",
                 "/desk/settings", "/desk/settings?open=mail.server", "/desk/backup",
                 "/desk/rebuild", "/desk/vehicles", "/desk/first"):
        status, _, text = visitor.ask("GET", path, Accept_Language="es")
        assert (status, re.findall(r"\{\w*\}", text)) == (200, []), path


def test_a_refusal_is_kept_in_the_language_of_who_handed_it_in(service: Service, rulebook: dict[str, Any]) -> None:
    """Asked again by another reader, it stays as it was said; the code can be worded in any language."""
    phone = Phone()
    line = body_of({**phone.opening(phone.new_id()), "kind": "no.such"})
    shown = {"Content-Type": "text/plain", **service.bearer(phone.device)}
    problems = []
    for tag in ("es", "en"):
        headers = {**shown, "Accept-Language": tag}
        with urlopen(Request(f"{service.url}/sync", line, headers), timeout=PATIENCE_S) as answer:
            problems.append(json.load(answer)["results"][0]["problem"])
    assert problems[0] == problems[1]
    assert problems[0]["errors"][0]["detail"] == Words(rulebook["words"], "es").say(
        "errors.unknown_code", found='"no.such"')
