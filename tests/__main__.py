import os, sys  # noqa: E401, I001
sys.path[0] = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))  # not this folder: its names are no modules

"""`python3 tests [--quick] [--long] [arguments of pytest]`: sets up what the tests need, then runs them all.

With --quick it runs all that needs no browser, and installs none; `--help` tells the rest. Written so that a Python too
old for Layby can still read it and say so. No test lives here.
"""

if sys.version_info < (3, 11):
    sys.exit("Layby needs Python 3.11 or newer; this is %d.%d." % sys.version_info[:2])

from demo import ground

arguments = sys.argv[1:]
ground.enter("tests", os.path.dirname(os.path.abspath(__file__)), browsers=not {"--quick", "--help"} & set(arguments))

os.chdir(str(ground.ROOT))
import pytest

if all(argument.startswith("-") for argument in arguments):
    # All tests: one file at a time for each core, or the waiting for browsers alone would take a quarter of an hour.
    cores = str(os.cpu_count() or 1)
    arguments = ["--numprocesses", cores, "--dist", "loadfile", "--durations", "10", *arguments]
sys.exit(pytest.main(arguments))
