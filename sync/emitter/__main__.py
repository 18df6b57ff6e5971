"""`python -m sync.emitter`: print the phone's module, or everything that is refused. It writes no file."""

from __future__ import annotations

import sys
from pathlib import Path

from sync.emitter import Refused, emitted

try:
    sys.stdout.write(emitted([Path(name) for name in sys.argv[1:]] or None))
except Refused as refused:
    sys.exit(str(refused))
