"""One request as bytes and the answer: sent over its own socket, checked against what every answer must be.

Nothing here makes a request up, and nothing looks into the service except at its process.
"""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import re
import socket
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from tests.hostile.pending import reason_for, reason_of_doing
from tests.support.service import PATIENCE_S, Service

# The processor time that an answer may cost the service; a wall clock would measure what else the machine does. A
# service that doesn't answer at all is waited for as long as anywhere in the tests.
COST_MOST_S = 10.0
PROBLEM = "application/problem+json"
# What may be above 499, if it says so in words: the disk is full or failed, or the service is about to stop.
SAID = (503, 507)
# A Python trace, its addresses, or a path of this machine.
INNER = re.compile(rb"Traceback|File \"|\.py\b[^<]{0,20}line \d|object at 0x[0-9a-f]{6}|site-packages")
# At least three words ending in a full stop; what has no wording in the rulebook comes as a code and its values.
_SENTENCE = re.compile(r"\S+ \S+ .*[.:;]", re.DOTALL)


@dataclass(frozen=True)
class Request:
    """One request: what it tries, the route it is meant for, and its bytes; `is_cut` if it ends too early."""

    kind: str
    route: str
    head: bytes
    body: bytes = b""
    is_cut: bool = False

    @property
    def method(self) -> str:
        """As in the first line [text]."""
        return self.head.split(b" ", 1)[0].decode("latin-1")


@dataclass(frozen=True)
class Answer:
    """What came back, and the service time it took; status 0 if the connection ended without a word."""

    status: int
    content_type: str
    content: bytes
    seconds: float


@dataclass
class Outcome:
    """What was tried and the outcome: counts by kind and status, what was wrong, what is known to be wrong."""

    counts: Counter[tuple[str, int | str]] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)
    pending: Counter[str] = field(default_factory=Counter)
    traces: list[str] = field(default_factory=list)

    def add(self, other: Outcome) -> None:
        """Add the outcome of another attack."""
        self.counts += other.counts
        self.faults += other.faults
        self.pending += other.pending
        self.traces += other.traces

    def note_doing(self, kind: str, outcome: tuple[str, str], where: str, may_refuse: bool) -> None:
        """Count the outcome of a command, from `folders.came_of`, and keep what may not be."""
        came, said = outcome
        self.counts[kind, came] += 1
        wrong = came in ("trace", "logged trace") or (came == "refused" and not may_refuse)
        if came in ("told", "refused") and "Traceback" in said:
            wrong = True
        reason = reason_of_doing(kind, came, said)
        if wrong and reason:
            self.pending[reason] += 1
        elif wrong:
            self.faults.append(f"{kind}: {came}: {said}\n  {where}")

    def note(self, request: Request, answer: Answer, secrets: Iterable[bytes] = ()) -> None:
        """Count one exchange and keep what is wrong with its answer."""
        self.counts[request.kind, answer.status] += 1
        wrong = faults_of(request, answer, secrets)
        reason = reason_for(request.route, answer.status)
        if wrong and reason:
            self.pending[reason] += 1
        elif wrong:
            self.faults.append(f"{'; '.join(wrong)}\n  {request.head[:300]!r}\n  {request.body[:300]!r}"
                               f"\n  {answer.status} {answer.content[:300]!r}")


def exchange(service: Service, request: Request) -> Answer:
    """Send a request, showing a cut by shutting the sending side, and read the whole answer."""
    begun = time_of(service)
    with socket.create_connection(("127.0.0.1", service.port), PATIENCE_S) as line:
        with contextlib.suppress(OSError):  # the service answered and hung up before it had read everything
            line.sendall(request.head + request.body)
            if request.is_cut:
                line.shutdown(socket.SHUT_WR)
        answer = http.client.HTTPResponse(line, method=request.method)
        try:
            answer.begin()
            content = answer.read()
        except (OSError, http.client.HTTPException):
            return Answer(0, "", b"", time_of(service) - begun)
        kind = answer.headers.get("Content-Type", "")
        return Answer(answer.status, kind, content, time_of(service) - begun)


def faults_of(request: Request, answer: Answer, secrets: Iterable[bytes] = ()) -> list[str]:
    """What is wrong with an answer, whatever the request [texts]."""
    wrong = []
    if answer.status >= 500 and answer.status not in SAID:
        wrong.append(f"status {answer.status}")
    if answer.status == 0 and not request.is_cut:
        wrong.append("no answer to a whole request")
    if answer.seconds > COST_MOST_S:
        wrong.append(f"it took {answer.seconds:.0f} s of the service's time")
    if answer.status >= 400 and request.method != "HEAD" and not _is_of_the_server(request, answer):
        wrong += _unsaid(answer)
    if answer.status >= 400 and (INNER.search(answer.content) or any(part in answer.content for part in secrets)):
        wrong.append("the answer shows the inside of the service")
    return wrong


def _is_of_the_server(request: Request, answer: Answer) -> bool:
    """Whether a head was so bad that no application was asked: a bare 400, 414 or 431 without content."""
    return answer.status in (400, 414, 431) and not answer.content and not answer.content_type


def _unsaid(answer: Answer) -> list[str]:
    """A problem has its code and its sentence; a page has a sentence."""
    if answer.content_type.startswith("text/html"):
        text = re.sub(r"<[^>]+>", "\n", answer.content.decode("utf-8", "replace"))
        return [] if _SENTENCE.search(text) else ["a page without a sentence"]
    if answer.content_type != PROBLEM:
        return [f"an error as {answer.content_type or 'nothing'}"]
    try:
        problem = json.loads(answer.content)
    except ValueError:
        return ["a problem that is no JSON"]
    is_said = problem.get("status") == answer.status and problem.get("code") and _SENTENCE.search(problem["detail"])
    return [] if is_said else ["a problem without status, code or sentence"]


def memory_of(service: Service) -> int:
    """What the service's worker has in memory now [bytes]."""
    status = Path(f"/proc/{_worker(service.folder)}/status").read_text("ascii")
    return int(re.findall(r"VmRSS:\s+(\d+) kB", status)[0]) * 1024


def time_of(service: Service) -> float:
    """The processor time that the service's worker has used [s]."""
    fields = Path(f"/proc/{_worker(service.folder)}/stat").read_text("ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")  # utime and stime, proc(5)


def _worker(folder: Path) -> int:
    return int(json.loads((folder / "service.json").read_bytes())["pid"])
