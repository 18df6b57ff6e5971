"""The desk's page of a rebuild: begun by a key, followed by a page that loads itself again until it is done.

The views are made by `sync.work.rebuild`, beside those in use, in a thread of their own.
"""

from __future__ import annotations

import logging
import threading
from dataclasses import dataclass, field

from flask import Response, current_app, redirect, url_for
from werkzeug.wrappers import Response as BaseResponse

from server.desk.login import page, pages
from server.http.sync_routes import logbook
from sync.errors import LaybyError
from sync.language.formats import Formats
from sync.language.reader import language, words_of
from sync.records.logbook import Logbook
from sync.work import rebuild as views
from sync.work.rebuild import Rebuilt

log = logging.getLogger("layby.service")


@dataclass
class Rebuilding:
    """A rebuild of this service: whether it is under way, how far it is [bytes], and what came of it."""

    is_running: bool = False
    done: int = 0
    of: int = 0
    rebuilt: Rebuilt | None = None
    error: LaybyError | None = None
    lock: threading.Lock = field(default_factory=threading.Lock)

    def begin(self, book: Logbook) -> None:
        """Begin, unless one is under way."""
        with self.lock:
            if self.is_running:
                return
            self.is_running, self.done, self.of, self.rebuilt, self.error = True, 0, 0, None, None
        threading.Thread(target=self._run, args=(book,), name="layby-rebuild", daemon=True).start()

    def _run(self, book: Logbook) -> None:
        def watch(done: int, of: int) -> None:
            self.done, self.of = done, of

        try:
            self.rebuilt = views.rebuild(book, watch)
        except LaybyError as error:
            self.error = error
        except (OSError, ValueError) as error:
            # A disk that fails, or a service that ends meanwhile; the next start makes what is missing.
            log.warning("the views could not be made again: %s", error)
            self.error = RebuildFailed(why=str(error))
        finally:
            self.is_running = False


class RebuildFailed(LaybyError):
    """The views couldn't be made again; `why` is the system's word. Those in use stay."""

    code = "rebuild_failed"


def _rebuilding() -> Rebuilding:
    parts = current_app.extensions["layby"]
    state: Rebuilding = parts.setdefault("rebuilding", Rebuilding())
    return state


@pages.post("/desk/do/rebuild")
def begin_rebuild() -> BaseResponse:
    """POST /desk/do/rebuild: begin to make the views again."""
    _rebuilding().begin(logbook())
    return redirect(url_for("deskpages.rebuild"), 303)


@pages.get("/desk/rebuild")
def rebuild() -> Response:
    """GET /desk/rebuild: how far the rebuild is, or what came of the last one."""
    state, words, formats = _rebuilding(), words_of(logbook().rulebook), Formats(language())
    progress = words.say("desk.rebuild.progress", done=formats.number(state.done / 1e6, 1),
                         all=formats.number(state.of / 1e6, 1))
    return page("rebuild", here="settings", running=state.is_running, progress=progress, done_bytes=state.done,
                of_bytes=state.of, rebuilt=state.rebuilt,
                fault=words.error(state.error) if state.error is not None else None)
