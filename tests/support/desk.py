"""A desk in this process, whose rulebook is in another folder: what an update, or another language, would bring.

No test lives here. It is the application itself on a real loopback port, without the process that serves a technician.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from werkzeug.serving import make_server

from tests.support.threads import join


@contextmanager
def desk_with(books: Path, folder: Path, port: int = 0) -> Iterator[str]:
    """A desk with its own rulebook, until the end of the block.

    Args:
        books: the rulebook's folder [path]
        folder: the logbook's folder [path]
        port: where it listens; any free one if 0 [number]

    Returns:
        its address [URL]
    """
    from server.app import create_app

    app = create_app({"FOLDER": folder, "RULEBOOK": books})
    server = make_server("127.0.0.1", port, app, threaded=True)
    running = threading.Thread(target=server.serve_forever, daemon=True)
    running.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        join(running)
        server.server_close()
        app.extensions["layby"]["logbook"].close()
