import os, sys  # noqa: E401, I001
sys.path[0] = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))  # not this folder: its names are no modules

"""`python3 tests [--long] [arguments of pytest]`: sets up what the tests need, then runs them all.

Written so that a Python too old for Layby can still read it and say so. No test lives here.
"""

if sys.version_info < (3, 11):
    sys.exit("Layby needs Python 3.11 or newer; this is %d.%d." % sys.version_info[:2])

from demo import ground

ground.enter("tests", os.path.dirname(os.path.abspath(__file__)))

os.chdir(str(ground.ROOT))
import pytest

sys.exit(pytest.main(sys.argv[1:]))
