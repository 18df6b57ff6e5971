"""The report on the proof: runs every test that a row of the tables names, and writes down the outcome.

Run by hand: `python -m tests.proof [--long] [--write]`. It decides nothing that the tests do not decide.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path
from xml.etree import ElementTree

from tests.bench import results
from tests.proof.faults import DESK, PHONE, Fault

TESTS = Path(__file__).resolve().parents[1]
Outcomes = dict[str, Counter[str]]


def outcomes_of(faults: tuple[Fault, ...], is_long: bool) -> Outcomes:
    """The outcome of each test, by its file and name: how many passed, failed or were skipped."""
    files = sorted({fault.test.partition("::")[0] for fault in faults})
    with tempfile.TemporaryDirectory() as place:
        report = Path(place) / "report.xml"
        command = [sys.executable, "-m", "pytest", "-q", "--numprocesses=2", "-p", "no:cacheprovider",
                   f"--junitxml={report}", *(["--long"] if is_long else []), *(str(TESTS / file) for file in files)]
        subprocess.run(command, cwd=TESTS.parent, check=False)
        return read(report)


def read(report: Path) -> Outcomes:
    """The outcomes in a report of pytest's, by file and name."""
    outcomes: Outcomes = {}
    for case in ElementTree.parse(report).iter("testcase"):
        file = case.get("classname", "").removeprefix("tests.").replace(".", "/") + ".py"
        name = f"{file}::{case.get('name', '').partition('[')[0]}"
        kinds = {child.tag for child in case} & {"failure", "error", "skipped"}
        came = "skipped" if "skipped" in kinds else "failed" if kinds else "passed"
        outcomes.setdefault(name, Counter())[came] += 1
        outcomes.setdefault(file, Counter())[came] += 1
    return outcomes


def came(fault: Fault, outcomes: Outcomes) -> str:
    """The outcome of a fault, in words."""
    counts = outcomes.get(fault.test, Counter())
    if not counts:
        return "not tried in this run"
    if counts["failed"]:
        return f"DID NOT HOLD in {counts['failed']} of {counts.total()} tests"
    skipped = f"; {counts['skipped']} not possible on this machine" if counts["skipped"] else ""
    return f"held, {counts['passed']} tests{skipped}" if counts["passed"] else "not possible on this machine"


def main() -> int:
    """Run, print and, if requested, write; 1 if something didn't hold."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--long", action="store_true", help="every moment, kill and schedule; an hour and more")
    parser.add_argument("--write", action="store_true", help="write the table into the results file")
    asked = parser.parse_args()
    run = results.Run.begin("python -m tests.proof" + (" --long" if asked.long else ""))
    outcomes = outcomes_of(DESK + PHONE, asked.long)
    for heading, faults in (("The desk", DESK), ("The phone", PHONE)):
        rows = [(f"{fault.name}: {fault.done}", fault.holds, came(fault, outcomes)) for fault in faults]
        table = results.table(rows, ("what goes wrong", "what must hold", "what came"))
        print(f"\n{heading}\n{table}")
        if asked.write:
            results.PROOF.put(heading + (", at length" if asked.long else ""), run, table)
    return int(any(counts["failed"] for counts in outcomes.values()))


if __name__ == "__main__":
    sys.exit(main())
