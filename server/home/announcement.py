"""The desk's name in its network, answered by multicast DNS (RFC 6762) for as long as the service runs.

No name is chosen here, and nothing is served.
"""

from __future__ import annotations

import logging
import socket
import threading

import ifaddr
from zeroconf import (  # type: ignore[attr-defined]  # it offers AddressResolverIPv4 and does not list it
    AddressResolverIPv4,
    IPVersion,
    NonUniqueNameException,
    ServiceInfo,
    Zeroconf,
)

from server.home.address import HomeAddress

KIND = "_https._tcp.local."
# A laptop that is carried to another network has another address there [s].
LOOK_AGAIN_S = 20.0
ANSWER_WITHIN_MS = 1_000
GOODBYE_WITHIN_S = 3.0
EVERYWHERE = ("0.0.0.0", "::")

log = logging.getLogger("layby.service")


class Announcement:
    """Answers for the desk's name with this computer's addresses, and follows them as they change.

    Args of the constructor:
        home: the name and the port [HomeAddress]
        host: where the service listens; every address of this computer is announced where it listens on all [text]
    """

    def __init__(self, home: HomeAddress, host: str) -> None:
        self.home = home
        self.host = host
        self._over = threading.Event()
        self._responder: Zeroconf | None = None
        self._announced: list[str] = []
        self._thread = threading.Thread(target=self._follow, name="layby-announce", daemon=True)

    def start(self) -> None:
        """Begin, in a thread of its own; a network that does not let it is tried again and again."""
        self._thread.start()

    def stop(self) -> None:
        """Take the name back, so that nobody is sent here any more."""
        self._over.set()
        self._thread.join(GOODBYE_WITHIN_S)

    def _follow(self) -> None:
        while not self._over.is_set():
            addresses = self._addresses()
            if addresses != self._announced:
                self._renew(addresses)
            self._over.wait(LOOK_AGAIN_S)
        self._end()

    def _addresses(self) -> list[str]:
        if self.host not in EVERYWHERE:
            return [self.host]
        every = (str(address.ip) for adapter in ifaddr.get_adapters() for address in adapter.ips if address.is_IPv4)
        return sorted(address for address in every if not address.startswith("127."))

    def _renew(self, addresses: list[str]) -> None:
        self._end()
        if not addresses:
            return
        try:
            self._responder = Zeroconf(interfaces=list(addresses), ip_version=IPVersion.V4Only)
            self._warn_where_taken(self._responder, addresses)
            self._responder.register_service(self._service(addresses), allow_name_change=True)
        except (OSError, NonUniqueNameException) as error:
            log.warning("%s could not be announced on %s: %s", self.home.host, ", ".join(addresses), error)
            self._end()
            return
        self._announced = addresses

    def _service(self, addresses: list[str]) -> ServiceInfo:
        return ServiceInfo(
            KIND, f"Layby {self.home.name}.{KIND}", port=self.home.port, server=f"{self.home.host}.",
            addresses=[socket.inet_aton(address) for address in addresses],
        )

    def _warn_where_taken(self, responder: Zeroconf, addresses: list[str]) -> None:
        """Two desks of one name in one network would take each other's phones away."""
        other = AddressResolverIPv4(f"{self.home.host}.")
        if not other.request(responder, ANSWER_WITHIN_MS):
            return
        foreign = sorted({str(address) for address in other.ip_addresses_by_version(IPVersion.V4Only)} - {*addresses})
        if foreign:
            log.warning("%s is answered for by another computer, too: %s", self.home.host, ", ".join(foreign))

    def _end(self) -> None:
        if self._responder is not None:
            self._responder.close()
        self._responder, self._announced = None, []
