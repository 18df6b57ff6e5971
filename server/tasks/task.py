"""What a task is: a function of the open logbook and of the arguments it was asked with.

No task is done here.
"""

from __future__ import annotations

from collections.abc import Callable

from server.tasks.messages import TaskArguments
from sync.records.logbook import Logbook

# What each gives is in its own signature; of all of them it is only known that it can be sent as JSON.
Task = Callable[[Logbook, TaskArguments], object]
