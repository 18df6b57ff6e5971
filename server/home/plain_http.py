"""An application served over plain http by the side of the service, in a thread of its process.

Two are: the page with the certificate to the network, and the desk's pages to this computer alone.
"""

from __future__ import annotations

import threading

from flask import Flask
from waitress.server import create_server

# Whoever holds a connection and says nothing is let go.
CONNECTIONS_MOST, SILENT_MOST_S, THREADS = 100, 15, 4


def serve_plainly(app: Flask, host: str, port: int, body_most: int) -> None:
    """Serve an application for as long as the process lives.

    Args:
        app: the application [Flask]
        host: the address to listen on [text]
        port: the port [number]
        body_most: the largest body that is taken in [bytes]

    Raises:
        OSError: the port is taken.
    """
    server = create_server(
        app, host=host, port=port, threads=THREADS, connection_limit=CONNECTIONS_MOST, channel_timeout=SILENT_MOST_S,
        max_request_body_size=body_most, ident="",
    )
    threading.Thread(target=server.run, name=f"layby-plain-{port}", daemon=True).start()
