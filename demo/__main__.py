import os, sys  # noqa: E401, I001
sys.path[0] = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))  # not this folder: its names are no modules

"""`python3 demo [--once] [--port N]`: sets up what Layby needs, then shows an invented technician's day.

Written so that a Python too old for Layby can still read it and say so. Nothing of the day itself is here.
"""

if sys.version_info < (3, 11):
    sys.exit("Layby needs Python 3.11 or newer; this is %d.%d." % sys.version_info[:2])

from demo import ground

ground.enter("demo", os.path.dirname(os.path.abspath(__file__)))

from demo import show

sys.exit(show.main(sys.argv[1:]))
