"""What a task is: a function of the open logbook and of its arguments.

No task is done here.
"""

from __future__ import annotations

from collections.abc import Callable

from server.tasks.messages import TaskArguments
from sync.records.logbook import Logbook

# Each result has its type in its own signature; all they have in common is that they can be sent as JSON.
Task = Callable[[Logbook, TaskArguments], object]
