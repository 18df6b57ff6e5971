"""Questions for an address by multicast DNS, packed by hand; `python -m tests.support.name_questions NAME INTERFACE`.

The command prints the address that is answered for the name, and fails if nobody answers. No test lives here.
"""

from __future__ import annotations

import re
import socket
import struct
import sys
import time

MARK = 0x1A7B


def question_for(*labels: bytes) -> bytes:
    """A question for the address of a name (RFC 1035, 4.1)."""
    name = b"".join(bytes([len(label)]) + label for label in labels) + b"\0"
    return struct.pack(">6H", MARK, 0, 1, 0, 0, 0) + name + struct.pack(">2H", 1, 1)


def answer_to(question: bytes, waiting_s: float, interface: str = "127.0.0.1") -> bytes | None:
    """What comes back to a question asked once by multicast on an interface (RFC 6762, 5.1 and 6.7)."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asker:
        asker.settimeout(waiting_s)
        asker.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton(interface))
        asker.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_LOOP, 1)
        asker.bind((interface, 0))
        asker.sendto(question, ("224.0.0.251", 5353))
        try:
            return asker.recv(9000)
        except TimeoutError:
            return None


def address_in(answer: bytes) -> str | None:
    """The address in an answer (RFC 1035, 3.2.1 and 3.4.1: a record of class IN, its time to live, four bytes)."""
    record = re.search(rb"\x00\x01.\x01.{4}\x00\x04(.{4})", answer, re.DOTALL)
    return socket.inet_ntoa(record[1]) if record else None


def main() -> int:
    """Ask for half a minute."""
    name, interface = sys.argv[1:]
    ends = time.monotonic() + 30
    while time.monotonic() < ends:
        answer = answer_to(question_for(*name.encode().split(b".")), 1.0, interface)
        address = address_in(answer) if answer else None
        if address:
            sys.stdout.write(f"{address}\n")
            return 0
    return 1


if __name__ == "__main__":
    sys.exit(main())
